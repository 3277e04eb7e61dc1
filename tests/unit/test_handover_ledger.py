"""The ledgers as text, page and tables."""

from __future__ import annotations

import csv
import datetime as dt
from typing import TYPE_CHECKING, Any

import pytest
from clean_round import broods
from golden_file import hold_against_golden
from typed_season import typed_season

import audit
from audit.declarations import load_declarations
from audit.handover.ledger.ledger_files import RING_COLUMNS, TAG_COLUMNS, write_ledger
from audit.handover.ledger.ledger_page import ledger_page
from audit.handover.ledger.ledger_text import ledger_text
from audit.handover.ledger.ledger_words import questions
from audit.handover.table_file import unguard
from audit.refusal import Refusal
from audit.rules.ring_ledger.laid import lay_ledger
from audit.rules.tag_ledger import lay_tag_ledger

if TYPE_CHECKING:
    from pathlib import Path

    from audit.rules.ring_ledger.ledger import RingLedger
    from audit.rules.tag_ledger import TagLedger
    from audit.season import Season

DECLARED = load_declarations()
Row = dict[str, Any]


def slipped_season(**more: list[Row]) -> Season:
    """A season with one thing of each kind to ask about."""
    rows = [row for i, row in enumerate(broods(3, 5, 4)) if i != 4]
    rows[2] = {**rows[2], "ring": "SV01936"}
    rows = [{**row, "tag": f"9990000000000{20 + i}", "species": "barn_owl"} for i, row in enumerate(rows)]
    rows[7] = {**rows[7], "tag": rows[6]["tag"]}
    stock = [
        {"prefix": "SV", "first": "01031", "last": "01060", "issued_to": "AB", "issued": dt.date(2026, 4, 1)},
        {"prefix": "SV", "first": "05001", "last": "05030", "issued_to": "IP", "issued": dt.date(2025, 4, 1)},
        {"prefix": "SV", "first": "06100", "last": "06001"},
    ]
    losses = [
        {"ring": "SV01059", "fate": "returned", "date": dt.date(2026, 9, 1)},
        {"ring": rows[0]["ring"], "fate": "lost", "date": rows[0]["date"]},
        {"ring": "XK00001", "fate": "lost"},
    ]
    tables = {
        "handlings": rows,
        "ring_stock": stock,
        "ring_losses": losses,
        "tag_stock": [{"tag": f"9990000000000{20 + i}", "batch": "B1"} for i in range(14)],
        "tag_reads": [{"read_at": dt.datetime(2026, 6, 1, 9), "tag": "999000000000033"}],
    }
    return typed_season(DECLARED, **(tables | more))


def ledgers(season: Season) -> tuple[str, RingLedger, TagLedger]:
    return season.name, lay_ledger(season, DECLARED), lay_tag_ledger(season, DECLARED)


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_the_text() -> None:
    hold_against_golden("ledger.txt", ledger_text(*ledgers(slipped_season())) + "\n")


def test_the_text_without_a_stock() -> None:
    rows = [{"date": row["date"], "box": row["box"], "ring": row["ring"]} for row in broods(2, 3)]
    season = typed_season(DECLARED, handlings=[*rows[:1], *rows[2:]])
    hold_against_golden("ledger_without_stock.txt", ledger_text(*ledgers(season)) + "\n")


def test_long_lists_are_cut_and_say_so() -> None:
    rows = [{**row, "ring": f"SV{1031 + 3 * i:05d}"} for i, row in enumerate(broods(*[3] * 12))]
    stock = [
        {"prefix": "SV", "first": f"{n:05d}", "last": f"{n + 1:05d}", "issued": dt.date(2026, 4, 1)}
        for n in range(1030, 1230, 2)
    ]
    name, rings, tags = ledgers(typed_season(DECLARED, handlings=rows, ring_stock=stock))
    lines = ledger_text(name, rings, tags, shown=3).splitlines()
    assert "  (31 more lines in the files)" in lines
    assert lines[-1] == f"  {len(questions(rings, tags)) - 3} more questions in the files."
    assert next(line for line in lines if line.startswith("  all")).split()[1] == "200"


def test_the_page_stands_alone_and_says_it_all() -> None:
    told = ledgers(slipped_season())
    page = ledger_page(*told)
    assert "<script" not in page
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert page.count("<figure>") == 2
    for sentence in questions(told[1], told[2]):
        assert sentence.split(":")[0] in page
    assert "Rings by string; each line sums to its rings" in page


def test_texts_of_the_sheet_are_no_markup() -> None:
    rows = [{**row, "box": "<b>SL", "species": "<i>"} for row in broods(3)]
    stock = [{"prefix": "SV", "first": "01031", "last": "01040", "issued_to": "<script>alert(1)</script>"}]
    season = typed_season(DECLARED, handlings=rows, ring_stock=stock, ring_losses=[{"ring": "SV01031"}])
    page = ledger_page(*ledgers(season))
    assert "<script" not in page
    assert "<b>SL" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_the_tables_have_a_line_for_every_ring_and_tag(tmp_path: Path) -> None:
    season = slipped_season()
    name, rings, tags = ledgers(season)
    written = write_ledger(name, rings, tags, tmp_path / "out")
    assert [path.name for path in written] == ["ring-ledger.csv", "tag-ledger.csv", "ledger.html"]
    lines = read(written[0])
    assert tuple(lines[0]) == RING_COLUMNS
    assert len(lines) == len(rings) + len(rings.others) + len(rings.lost_elsewhere)
    assert len({line["ring"] for line in lines}) == len(lines)
    assert lines[0] == {
        **dict(
            zip(RING_COLUMNS[:5], ("SV01031", "SV", "SV01031 to SV01060", "AB", "2026-04-01"), strict=True)
        ),
        "fate": "on a bird",
        "likely_fate": "on a bird",
        "date": "2026-06-01",
        "box": "SL-01",
        "species": "barn_owl",
        "ringer": "AB",
        "sheet": "handlings",
        "row": "2",
        "remark": "on a bird, and among the losses: lost on 2026-06-01",
    }
    assert {line["ring"]: line["remark"] for line in lines[len(rings) :]} == {
        "SV01936": "put on, but in none of the strings",
        "XK00001": "in none of the strings",
    }
    tagged = read(written[1])
    assert tuple(tagged[0]) == TAG_COLUMNS
    assert [line["fate"] for line in tagged].count("read, on no row") == 1


def test_a_formula_does_not_run(tmp_path: Path) -> None:
    season = slipped_season(
        ring_stock=[{"prefix": "SV", "first": "01031", "last": "01060", "issued_to": "=1+1"}],
        tag_stock=[{"tag": "999000000000020", "batch": "@B1"}],
    )
    written = write_ledger(*ledgers(season), tmp_path)
    assert (read(written[0])[0]["holder"], unguard(read(written[0])[0]["holder"])) == ("'=1+1", "=1+1")
    assert read(written[1])[0]["batch"] == "'@B1"


def test_no_file_that_was_read_is_replaced(tmp_path: Path) -> None:
    source = tmp_path / "ring-ledger.csv"
    source.write_text("ring\n", encoding="utf-8")
    with pytest.raises(Refusal):
        write_ledger(*ledgers(slipped_season()), tmp_path, inputs=(source,))
    assert source.read_text(encoding="utf-8") == "ring\n"
    assert [path.name for path in tmp_path.iterdir()] == ["ring-ledger.csv"]


def test_a_notebook_shows_it() -> None:
    season = slipped_season()
    told = audit.ledger(season, audit.check(season, schemas=DECLARED), schemas=DECLARED)
    page = told.table()
    assert "Rings by string" in page._repr_html_()
    assert repr(page).startswith("Ledger of the season test.")
    for chart in (told.rings(), told.tags()):
        bundle = chart._repr_mimebundle_()
        assert bundle["image/svg+xml"].startswith("<svg role=")
    assert told.questions() == questions(told.ring_ledger, told.tag_ledger)
    nothing = audit.ledger(typed_season(DECLARED, handlings=broods(3)))
    assert nothing.rings()._repr_mimebundle_() == {"text/plain": "No string of rings is in the stock."}
    assert nothing.tags()._repr_mimebundle_() == {"text/plain": "No list of tags was read."}
    assert nothing.questions() == []
