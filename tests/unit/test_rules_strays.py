"""Single rows that belong to the visit next to them: which of box and date is wrong, and when neither."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from clean_round import broods, clean_round, old_birds, seen_again
from typed_season import ask, blamed, typed_season

from audit.findings import Finding
from audit.rules import boxes, dates, strays

Row = dict[str, Any]
SIZES = (5, 4, 5, 6, 4, 5, 4, 5, 3, 4, 5, 4)


def change(rows: list[Row], *places: int, **cells: Any) -> list[Row]:
    return [{**row, **cells} if i in places else row for i, row in enumerate(rows)]


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def season() -> tuple[list[Row], list[Row]]:
    """First and second visits, kept box by box, and the table of visits."""
    rows = broods(*SIZES)
    rows += seen_again(rows)
    rows = sorted(rows, key=lambda row: (row["box"], row["date"]))
    visits = [
        {"date": when, "box": box} for when, box in dict.fromkeys((row["date"], row["box"]) for row in rows)
    ]
    return rows, visits


def findings(**tables: list[Row]) -> list[Finding]:
    made = typed_season(**tables)
    doubted: frozenset[tuple[str, str]] = frozenset()
    found: list[Finding] = []
    for rule in (boxes.RULE, dates.RULE):
        here = [answer for answer in ask(rule, made, doubted=doubted) if isinstance(answer, Finding)]
        doubted |= {
            (suspect.cell.label, suspect.cell.field)
            for finding in here
            if finding.severity != "note"
            for suspect in finding.suspects
        }
        found += here
    return found


@pytest.mark.parametrize("place", [2, 5, 9, 12, 25])
def test_a_box_without_a_visit_that_day(place: int) -> None:
    rows, visits = season()
    typed = "SL-12" if rows[place]["box"] != "SL-12" else "SL-02"
    wrong = change(rows, place, box=typed)
    found = blamed(findings(handlings=wrong, visits=visits))
    assert found == {(f"handlings!{place + 2}", "box"): ("boxes.among_others", rows[place]["box"])}


@pytest.mark.parametrize("place", [0, 4, 7, 9, 24])
def test_a_day_without_a_visit_more_than_a_slip_away(place: int) -> None:
    rows, visits = season()
    typed = rows[place]["date"] + dt.timedelta(days=4)
    wrong = change(rows, place, date=typed)
    found = blamed(findings(handlings=wrong, visits=visits))
    meant = rows[place]["date"].isoformat()
    assert found == {(f"handlings!{place + 2}", "date"): ("dates.slip", meant)}


def test_the_sentence_says_what_speaks_for_it() -> None:
    rows, visits = season()
    # the last row of a first visit, with a box that was not visited on that day
    (finding,) = findings(handlings=change(rows, 4, box="SL-07", ring="SV09000"), visits=visits)
    assert finding.message == (
        "This row says box SL-07, but belongs to the visit to box SL-01 on 2026-06-01: no visit is listed "
        "where it stands and just this row is lacking there."
    )


def test_the_box_is_told_by_the_bird_where_the_sheet_is_sorted_by_ring() -> None:
    rows, visits = season()
    rows.sort(key=lambda row: (row["ring"], row["date"]))
    (finding,) = findings(handlings=change(rows, 31, box="SL-11"), visits=visits)
    assert blamed([finding]) == {("handlings!33", "box"): ("boxes.among_others", rows[31]["box"])}


def test_a_listed_visit_with_one_bird_is_innocent() -> None:
    rows, visits = season()
    typed = rows[2]["date"] + dt.timedelta(days=4)
    listed = [*visits, {"date": typed, "box": rows[2]["box"]}]
    assert not blamed(findings(handlings=change(rows, 2, date=typed), visits=listed))


@pytest.mark.parametrize("options", [{}, {"event": False}, {"visits": 3}, {"ringers": 1}])
@pytest.mark.parametrize("seed", [21])
def test_a_clean_round_is_innocent(options: dict[str, Any], seed: int) -> None:
    tables = clean_round(30, seed=seed, **options)
    rows = old_birds(tables["handlings"])
    for handlings in (
        rows,
        sorted(rows, key=lambda row: row["ring"]),
        sorted(rows, key=lambda row: (row["box"], row["date"])),
        sorted(rows, key=lambda row: row["wing_mm"]),
    ):
        assert blamed(findings(handlings=handlings)) == {}
        assert blamed(findings(handlings=handlings, visits=tables["visits"], boxes=tables["boxes"])) == {}


def test_box_or_date_where_nothing_tells() -> None:
    # a row of SL-01 on the day of SL-02, between the two: the ring is of a third place
    rows, visits = season()
    rows = sorted(rows, key=lambda row: row["date"])
    wrong = change(rows, 4, date=rows[5]["date"], ring="SV09000", brood_size=None)
    found = findings(handlings=wrong, visits=visits)
    named = {suspect.cell.field for finding in found for suspect in finding.suspects}
    assert named == {"box", "date"}
    (finding,) = found
    assert sum(suspect.p_error for suspect in finding.suspects) == pytest.approx(1, abs=0.1)


def test_a_label_of_a_form_of_its_own() -> None:
    rows, _ = season()
    wrong = change(rows, 4, box="SLL-01", ring="SV09000", brood_size=None)
    (finding,) = findings(handlings=wrong)
    assert blamed([finding]) == {("handlings!6", "box"): ("boxes.among_others", "SL-01")}
    assert "no other box is written like SLL-01" in finding.message


def test_of_two_places_as_likely_always_the_same_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    rows, visits = season()
    wrong = change(rows, 9, box="SL-12")
    candidates = strays._candidates
    monkeypatch.setattr(strays, "_odds", lambda *_: (5.0, ("it stands beside its rows",)))
    told = []
    for turned in (False, True):

        def given(*asked: Any, turned: bool = turned) -> list[tuple[str, int]]:
            near = {*candidates(*asked), ("SL-05", asked[0].visit[asked[2]][1])}
            return sorted(near, reverse=turned)

        monkeypatch.setattr(strays, "_candidates", given)
        told.append([one.suspects for one in findings(handlings=wrong, visits=visits)])
    assert told[0] == told[1] != []
