"""The page of the gate: whole, escaped, readable without JavaScript, and it says everything once."""

from __future__ import annotations

from dataclasses import replace

import pytest
from decided_small import decided, say, small_season
from lxml import html

from audit.declarations.breach import Breach
from audit.declarations.validation import Judged, Validation
from audit.findings import NotRun
from audit.handover.gate.broken_cells import Unseen
from audit.handover.gate.found import found_items
from audit.handover.gate.gate import Gate
from audit.handover.gate.item import in_order
from audit.handover.gate.left import log_items, rule_items
from audit.handover.gate.page import gate_page, gate_piece
from audit.handover.gate.said import said_in
from audit.handover.gate.wording import cells_named, engine_sentence, headline, listed_words, what_is_seen

SCRIPT = "<script>alert(1)</script>"


def gate_without_an_engine(made, *validations, not_run=()):
    """Make the gate of a season, with answers of an engine that was not asked."""
    season, said = made.clean, said_in(made.replayed)
    items = [
        *found_items(made.report.findings, season, said, 0.5),
        *log_items(made.replayed, made.damaged, {}),
        *rule_items(replace(made.report, not_run=not_run), ["tag_code"]),
    ]
    return Gate("sallow", in_order(items, season), validations, rows=6, notes=2)


@pytest.fixture(scope="module")
def made(declared):
    season = small_season(declared, ("Net", 3, "395"), ("Sex", 4, SCRIPT), ("Net", 6, "395"))
    log = [
        say(season, "keep", (3, "net_g", None), reason="<b>Looked up</b>.", rules=["tare.not_subtracted"]),
        say(season, "ask", (7, "bag_g", None), who="MK", reason="Wet?"),
    ]
    return decided(season, declared, log)


@pytest.fixture(scope="module")
def gate(made):
    judged = (
        Judged("date", "needed", holds=True),
        Judged("sex", "enum", holds=False, cells=6, empty=1, broken=1),
        Judged("net_g", "minimum", holds=True, cells=6),
    )
    handlings = Validation("handlings", 6, judged, (Breach("handlings!4", "sex", "enum"),), {}, "engine 1")
    boxes = Validation("boxes", 3, (Judged("box", "unique", holds=True, cells=3),), (), {}, "engine 1")
    not_run = (
        NotRun("earlier", "no earlier season was given"),
        NotRun("tag_code", "'handlings' has no column 'tag'"),
    )
    return gate_without_an_engine(made, handlings, boxes, not_run=not_run)


@pytest.fixture(scope="module")
def page(gate, made):
    return html.document_fromstring(gate_page(gate, made))


def test_it_stands_alone_and_runs_nothing(gate, made):
    text = gate_page(gate, made)
    page = html.document_fromstring(text)
    assert not page.xpath("//script|//link|//img|//iframe|//object|//*[@onclick or @onload]")
    assert "http" not in text.replace("http-equiv", "")
    assert SCRIPT not in text
    assert "<b>Looked up" not in text
    assert "Looked up" in text


def test_its_sections_in_order(page):
    assert [h.text_content() for h in page.xpath("//h2")] == [
        "Rules that your team asks for and that did not run",
        "Errors",
        "Questions still open",
        "Kept against the audit",
        "What was not checked",
        "What the second engine was asked",
        "Where the limits come from",
    ]
    assert all(table.xpath("./caption") for table in page.xpath("//table"))


def test_the_verdict_is_said_first_and_names_what_shuts(page):
    lead = page.xpath("string(//p[@class='lead'])")
    assert lead == "The gate is shut: 1 rule that must run and did not, 2 errors and 1 open question."
    assert page.xpath("boolean(//div[@class='verdict shut'])")


def test_each_line_has_place_bird_text_and_suggestion(page):
    rows = page.xpath("//table[starts-with(caption, 'Errors')]/tbody/tr")
    told = [[cell.text_content() for cell in row.xpath("th|td")] for row in rows]
    assert [line[:4] for line in told] == [
        ["handlings G4", "Sex", "SL-02 2026-05-05 SV01003", SCRIPT],
        ["handlings F6", "Net", "SL-03 2026-05-06 SV01005", "395"],
    ]
    assert told[1][4].startswith("ERROR Gross 350 g less bag 22 g is 328 g, but net says 395")
    assert "suggested 328" in told[1][4]


def test_what_was_kept_is_told_with_who_and_why(page):
    (row,) = page.xpath("//table[starts-with(caption, 'Kept')]/tbody/tr")
    told = [cell.text_content() for cell in row.xpath("th|td")]
    assert told[0] == "handlings F3"
    assert told[-2:] == ["kept by AB on 2026-07-02", "<b>Looked up</b>."]


def test_tables_of_the_engine_say_what_was_expected_of_how_many_cells(page):
    handlings, boxes = page.xpath("//details")
    assert handlings.get("open") is not None
    assert boxes.get("open") is None
    assert handlings.xpath("string(summary)") == "handlings 6 rows, 3 expectations: 1 broken"
    rows = handlings.xpath(".//table[1]/tbody/tr")
    assert [[cell.text_content() for cell in row.xpath("th|td")] for row in rows[:3]] == [
        ["date", "the column is there", "", "", "", "held"],
        ["sex", "one of M, F, U", "5", "1", "1", "ERROR broken"],
        ["net_g", "at least 0 g", "6", "0", "0", "held"],
    ]
    broken = handlings.xpath(".//table[starts-with(caption, 'Broken')]/tbody/tr")
    assert [[cell.text_content() for cell in row.xpath("th|td")] for row in broken] == [
        ["handlings G4", "Sex", SCRIPT, "one of M, F, U"]
    ]


def test_no_meaning_by_colour_alone_and_no_look_of_the_engine(page, gate, made):
    assert {b.text_content() for b in page.xpath("//table[@class='items']//b")} == {"ERROR"}
    assert "great" not in gate_page(gate, made).casefold()


def test_a_notebook_shows_a_piece_of_it(gate):
    piece = gate_piece(gate)
    assert piece == gate._repr_html_()
    assert "<h1" not in piece
    assert headline(gate) in piece
    assert "What the second engine was asked" not in piece


def test_an_open_gate_says_so_and_what_it_does_not_mean(made):
    gate = Gate("sallow", (), rows=6)
    text = gate_page(gate, made)
    assert "The gate is open: nothing holds the 6 handlings of sallow back." in text
    assert "It does not make a value true." in text
    assert "verdict shut" not in text
    assert repr(gate) == (
        "The gate is open: nothing holds the 6 handlings of sallow back.\n\n"
        "The second engine checked no table."
    )


def test_a_long_gate_is_told_in_part_and_says_so(made, gate):
    first = next(item for item in gate.items if item.sort == "error")
    many = tuple(
        replace(first, cells=(replace(first.cells[0], label=f"handlings!{row}"),)) for row in range(2, 80)
    )
    long = Gate("sallow", many, rows=90)
    assert "\n66 more places on the page of the gate.\n" in repr(long)
    assert "28 more lines on the page of the gate." in gate_piece(long)
    assert "more lines" not in gate_page(long, made)


def test_sentences_on_what_an_engine_cannot_see():
    unseen = Unseen((("a!2", "net_g"),), (), (("-", 12), ("n/a", 1)))
    gate = Gate("sallow", (), unseen=unseen, not_looked_up=(("handlings.box", "boxes"),))
    opening = "Engines see values, not texts: to them a cell that could not be read is empty."
    assert what_is_seen(gate) == [
        f"{opening} The rule 'reading' tells of each; there is 1 such cell.",
        "Texts that were taken for no value: '-' in 12 cells, 'n/a' in 1 cell.",
        "The column handlings.box was not looked up: there is no table boxes.",
    ]
    assert what_is_seen(Gate("sallow", ()))[0].endswith("there are none.")


def test_sentences_that_count(gate):
    assert engine_sentence(gate) == (
        "The second engine (engine 1) held 2 tables against 4 expectations: 1 is broken, in 1 cell."
    )
    assert listed_words(gate) == (
        "Listed, and not in the way: 1 rule that did not run, 1 finding kept against the audit and 2 notes "
        "of the audit."
    )


def test_many_cells_of_one_sheet_name_it_once(gate):
    item = next(item for item in gate.items if item.sort == "error")
    cells = tuple(
        replace(item.cells[0], label=f"handlings!{row}", where=f"handlings G{row}") for row in range(2, 10)
    )
    assert cells_named(replace(item, cells=cells[:2])) == "handlings G2, G3"
    assert cells_named(replace(item, cells=cells)) == "handlings G2, G3, G4, G5, G6, G7 and 2 more"


def test_typed_text_cannot_steer_a_terminal(gate):
    item = next(item for item in gate.items if item.sort == "error")
    evil = replace(item, cells=(replace(item.cells[0], text="\x1b[2J395"),))
    assert "\x1b" not in repr(Gate("sallow", (evil,)))
