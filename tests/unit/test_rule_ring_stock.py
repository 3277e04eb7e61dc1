"""Was every ring in stock?"""

from __future__ import annotations

import datetime as dt

import pytest
from clean_round import broods, clean_round
from typed_season import ask, blamed, typed_season

from audit.findings import Finding, NotRun
from audit.rules.ring_stock import RULE

STOCK = [
    {"prefix": "SV", "first": "01001", "last": "01100", "issued_to": "AB", "issued": dt.date(2026, 4, 1)},
    {"prefix": "SV", "first": "SV05001", "last": "SV05100", "issued_to": "IP", "issued": dt.date(2026, 4, 1)},
]


def change(rows: list[dict], index: int, **cells: object) -> list[dict]:
    return [{**row, **cells} if i == index else row for i, row in enumerate(rows)]


def findings(**tables: list[dict]) -> list[Finding]:
    return [answer for answer in ask(RULE, typed_season(**tables)) if isinstance(answer, Finding)]


def test_a_ring_of_no_string_is_mended_from_the_stock() -> None:
    (finding,) = findings(handlings=change(broods(3, 5, 4), 5, ring="SV01936"), ring_stock=STOCK)
    assert blamed([finding]) == {("handlings!7", "ring"): ("ring_stock.not_issued", "SV01036")}
    assert finding.message == (
        "Ring SV01936 is in none of the 2 strings issued: "
        "SV01036 is one slip away, in stock and on no other bird."
    )


def test_an_incomplete_stock_proves_nothing() -> None:
    answers = ask(RULE, typed_season(handlings=broods(3, 5, 4, start=2031), ring_stock=STOCK))
    assert [type(a) for a in answers] == [NotRun]


def test_birds_seen_again_need_no_stock() -> None:
    rows = change(broods(3, 5, 4), 5, ring="DEK123456", event="re-encountered")
    assert findings(handlings=rows, ring_stock=STOCK) == []


def test_a_ring_used_though_lost_blames_the_line_in_the_losses() -> None:
    rows = [row for i, row in enumerate(broods(3, 5, 4)) if i != 5]
    losses = [{"ring": "SV01038", "fate": "destroyed"}]
    (finding,) = findings(handlings=rows, ring_stock=STOCK, ring_losses=losses)
    assert blamed([finding]) == {("ring_losses!2", "ring"): ("ring_stock.used_after_loss", "SV01036")}
    assert finding.severity == "error"
    assert finding.message == (
        "Ring SV01038 is on a bird, but the losses say that it was destroyed: "
        "the line in the losses is one slip away from SV01036, which is on no bird."
    )


def test_a_lost_ring_typed_by_a_slip_blames_the_row() -> None:
    rows = change(broods(3, 5, 4), 5, ring="SV01096")
    losses = [{"ring": "SV01096", "fate": "lost"}]
    (finding,) = findings(handlings=rows, ring_losses=losses)
    assert blamed([finding]) == {("handlings!7", "ring"): ("ring_stock.used_after_loss", "SV01036")}


def test_rings_used_before_issue_blame_the_day_of_issue() -> None:
    stock = [{**STOCK[0], "issued": dt.date(2026, 6, 3)}]
    (finding,) = findings(handlings=broods(3, 5, 4), ring_stock=stock)
    assert {s.cell.field for s in finding.suspects} == {"issued"}
    stock = [{**STOCK[0], "issued": dt.date(2026, 6, 2)}]
    (finding,) = findings(handlings=broods(3, 5, 4), ring_stock=stock)
    assert {s.cell.label for s in finding.suspects} == {"handlings!2", "handlings!3", "handlings!4"}


def test_another_ringer_is_a_note_unless_rings_are_shared_freely() -> None:
    rows = change(broods(3, 5, 4), 5, ringer="IP")
    (finding,) = findings(handlings=rows, ring_stock=STOCK)
    assert (finding.rule, finding.severity) == ("ring_stock.other_ringer", "note")
    rows = [{**row, "ringer": "IP" if i % 2 else "AB"} for i, row in enumerate(rows)]
    assert findings(handlings=rows, ring_stock=STOCK) == []


def test_a_row_that_two_share_is_of_either_string() -> None:
    assert findings(handlings=change(broods(3, 5, 4), 5, ringer="IP/AB"), ring_stock=STOCK) == []


@pytest.mark.parametrize(
    ("first", "last", "outcome"),
    [
        ("01100", "01001", "string_fault"),
        ("SV01001", "SW01100", "string_fault"),
        ("01001", "1100", "string_fault"),
        ("01001", "01137", "string_length"),
    ],
)
def test_ends_of_a_string_that_do_not_go_together(first: str, last: str, outcome: str) -> None:
    stock = [{**STOCK[0], "first": first, "last": last}, STOCK[1]]
    found = findings(handlings=broods(3, start=5031), ring_stock=stock)
    assert {finding.rule for finding in found} >= {f"ring_stock.{outcome}"}


@pytest.mark.parametrize(("first", "last"), [("01001", "01100"), ("01031", "01100"), ("01001", "01200")])
def test_whole_part_and_several_strings_are_innocent(first: str, last: str) -> None:
    stock = [{**STOCK[0], "first": first, "last": last}]
    assert findings(handlings=broods(3, 5, 4), ring_stock=stock) == []


def test_a_loss_outside_the_stock_is_a_note() -> None:
    losses = [{"ring": "SV07001", "fate": "lost"}]
    (finding,) = findings(handlings=broods(3, 5, 4), ring_stock=STOCK, ring_losses=losses)
    assert (finding.rule, finding.severity) == ("ring_stock.loss_not_issued", "note")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_clean_round_is_innocent(seed: int) -> None:
    tables = clean_round(30, seed=seed)
    stock = [{"prefix": "SV", "first": f"{n:05d}", "last": f"{n + 99:05d}"} for n in range(1001, 9901, 100)]
    assert findings(handlings=tables["handlings"], ring_losses=tables["ring_losses"], ring_stock=stock) == []


@pytest.mark.parametrize("end", ["SVX!1", "SV²", "SVØ", "SV"])
def test_an_end_of_a_string_without_a_serial_number(end: str) -> None:
    stock = [{"prefix": "SV", "first": end, "last": "01100"}]
    assert [f.rule for f in findings(handlings=broods(3), ring_stock=stock)] == ["ring_stock.string_fault"]


def counted_over() -> tuple[list[dict], list[dict]]:
    """SV01036 was lost in the middle of a brood, and the rings after it were typed as if it had been used."""
    rows = broods(3, 5, 4)
    # what follows this brood begins where it should: one ring is on no bird
    rows = [{**row, "ring": f"SV{1032 + i:05d}"} if i >= 8 else row for i, row in enumerate(rows)]
    return rows, [{"ring": "SV01036", "fate": "lost", "date": rows[5]["date"]}]


def test_rings_counted_on_over_a_lost_one_blame_the_rows() -> None:
    rows, losses = counted_over()
    (finding,) = findings(handlings=rows, ring_stock=STOCK, ring_losses=losses)
    assert [(s.cell.label, s.cell.field, s.suggested) for s in finding.suspects] == [
        ("handlings!7", "ring", "SV01037"),
        ("handlings!8", "ring", "SV01038"),
        ("handlings!9", "ring", "SV01039"),
    ]
    assert finding.message == (
        "Ring SV01036 is on a bird, but the losses say that it was lost: "
        "3 rings probably counted on over it, since SV01039 is on no bird."
    )


def test_a_ring_met_again_was_not_lost() -> None:
    rows, losses = counted_over()
    again = {**rows[5], "event": "re-encountered", "date": rows[-1]["date"] + dt.timedelta(days=9)}
    (finding,) = findings(handlings=[*rows, again], ring_stock=STOCK, ring_losses=losses)
    assert {s.cell.label for s in finding.suspects} == {"ring_losses!2"}


def test_where_nothing_tells_both_cells_are_asked_about() -> None:
    rows = broods(3, 5, 4)
    # 1036 was lost and 1037 put on, or the other way round
    rows = [row for i, row in enumerate(rows) if i != 6]
    losses = [{"ring": "SV01036", "fate": "destroyed", "date": rows[5]["date"]}]
    (finding,) = findings(handlings=rows, ring_stock=STOCK, ring_losses=losses)
    assert {(s.cell.label, s.suggested) for s in finding.suspects} == {
        ("handlings!7", "SV01037"),
        ("ring_losses!2", "SV01037"),
    }
    assert sum(s.p_error for s in finding.suspects) == pytest.approx(1, abs=0.05)
    assert finding.message == (
        "Ring SV01036 is on a bird, but the losses say that it was destroyed: "
        "one of both is wrong, and SV01037 is on no bird."
    )


def test_a_worn_ring_may_be_taken_off_and_destroyed() -> None:
    rows = broods(3, 5, 4)
    later = rows[5]["date"] + dt.timedelta(days=20)
    again = {**rows[5], "ring": "SV01050", "event": "ringed", "date": later}
    losses = [{"ring": rows[5]["ring"], "fate": "destroyed", "date": later}]
    (finding,) = findings(handlings=[*rows, again], ring_losses=losses)
    assert (finding.rule, finding.severity) == ("ring_stock.taken_off", "note")
    lost = [{**losses[0], "fate": "lost"}]
    (finding,) = findings(handlings=[*rows, again], ring_losses=lost)
    assert finding.rule == "ring_stock.used_after_loss"


@pytest.mark.parametrize(
    ("fates", "outcome", "severity"),
    [(("lost", "destroyed"), "two_fates", "suspect"), (("lost", "lost"), "lost_twice", "note")],
)
def test_a_ring_is_lost_once(fates: tuple[str, str], outcome: str, severity: str) -> None:
    losses = [{"ring": "SV01093", "fate": fate} for fate in fates]
    (finding,) = findings(handlings=broods(3, 5, 4), ring_stock=STOCK, ring_losses=losses)
    assert (finding.rule, finding.severity) == (f"ring_stock.{outcome}", severity)


def test_a_ring_cannot_be_lost_before_its_string_was_issued() -> None:
    losses = [{"ring": "SV01093", "fate": "lost", "date": dt.date(2026, 3, 31)}]
    (finding,) = findings(handlings=broods(3, 5, 4), ring_stock=STOCK, ring_losses=losses)
    assert blamed([finding]) == {("ring_losses!2", "date"): ("ring_stock.loss_before_issue", "")}
    assert finding.message == (
        "Ring SV01093 was lost on 2026-03-31, before its string was issued on 2026-04-01."
    )
    same_day = [{**losses[0], "date": dt.date(2026, 4, 1)}]
    assert findings(handlings=broods(3, 5, 4), ring_stock=STOCK, ring_losses=same_day) == []


def test_strings_share_no_rings() -> None:
    stock = [STOCK[0], {**STOCK[0], "first": "01091", "last": "01190"}]
    (finding,) = findings(handlings=broods(3, 5, 4), ring_stock=stock)
    assert {(s.cell.label, s.cell.field) for s in finding.suspects} == {
        ("ring_stock!2", "last"),
        ("ring_stock!3", "first"),
    }
    assert finding.message == (
        "Rings SV01091 to SV01100 are in two strings as issued: SV01001 to SV01100 and SV01091 to SV01190."
    )


def test_the_rest_of_a_string_may_be_handed_on() -> None:
    stock = [STOCK[0], {**STOCK[0], "first": "01040", "issued_to": "IP"}]
    rows = [{**row, "ringer": "IP"} if row["ring"] >= "SV01040" else row for row in broods(3, 5, 4)]
    (finding,) = findings(handlings=rows, ring_stock=stock)
    assert (finding.rule, finding.severity) == ("ring_stock.part_twice", "note")


def test_a_slip_in_an_end_of_a_string_blames_the_end_and_not_the_rings() -> None:
    stock = [{**STOCK[0], "first": "01041"}, STOCK[1]]
    (finding,) = findings(handlings=broods(3, 5, 4), ring_stock=stock)
    assert blamed([finding]) == {("ring_stock!2", "first"): ("ring_stock.string_end", "01001")}
    assert finding.message == (
        "10 rings from SV01031 to SV01040 were put on and are in no string: "
        "with SV01001 as its first ring the string SV01041 to SV01100 would have 100."
    )
    # a part of a string whose other part nobody uses
    assert findings(handlings=broods(3, start=1041), ring_stock=stock) == []


def test_the_end_that_would_cut_off_rings_put_on_is_right() -> None:
    stock = [{**STOCK[0], "last": "01170"}]
    (finding,) = findings(handlings=broods(3, 5, 4), ring_stock=stock)
    assert blamed([finding]) == {("ring_stock!2", "last"): ("ring_stock.string_end", "01100")}
    assert finding.message == (
        "The string SV01001 to SV01170 has 170 rings; strings have 100, "
        "and the last one is one slip away from SV01100."
    )


def test_rings_of_a_string_that_ends_before_it_begins_are_innocent() -> None:
    stock = [{**STOCK[0], "first": "SV01801", "last": "SV01100"}, STOCK[1]]
    (finding,) = findings(handlings=broods(3, 5, 4), ring_stock=stock)
    assert blamed([finding]) == {("ring_stock!2", "first"): ("ring_stock.string_fault", "SV01001")}
    stock = [{**STOCK[0], "first": "SV01831", "last": "SV01100"}, STOCK[1]]
    (finding,) = findings(handlings=broods(3, 5, 4), ring_stock=stock)
    assert blamed([finding]) == {
        ("ring_stock!2", "first"): ("ring_stock.string_fault", ""),
        ("ring_stock!2", "last"): ("ring_stock.string_fault", ""),
    }
