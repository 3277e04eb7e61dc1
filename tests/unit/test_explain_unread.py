"""What was meant in cells that cannot be read, are impossible, or empty."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pandas as pd
import pytest
from typed_season import gather

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.explain.unread import mend_unread
from audit.explain.unread_writing import Writing
from audit.rules import declared as declared_rule
from audit.rules import reading
from audit.rules.plain import plain_text

DECLARED = load_declarations()


def broods() -> list[dict[str, Any]]:
    """Four boxes on each of three days, four young a box, all weighed in a bag of about 30 g."""
    rows = []
    for week in range(3):
        day = dt.date(2026, 6, 6) + dt.timedelta(days=7 * week)
        clock = dt.datetime(day.year, day.month, day.day, 9, 30)
        for box in range(4):
            for bird in range(4):
                number = len(rows)
                net = 300 + 10 * bird + 3 * box
                rows.append(
                    {
                        "date": day,
                        "time": f"{clock:%H:%M}",
                        "box": f"SL-{4 * week + box + 1:02d}",
                        "species": "barn_owl",
                        "ring": f"SV{1000 + number:05d}",
                        "ring_leg": "L",
                        "age": "1",
                        "event": "ringed",
                        "gross_g": net + 30 + week,
                        "bag_g": 30 + week,
                        "net_g": net,
                        "wing_mm": 120 + 9 * bird + 2 * box,
                        "brood_size": 4 + box % 2,
                    }
                )
                clock += dt.timedelta(minutes=4 + number % 3)
            clock += dt.timedelta(minutes=25)
    return rows


def mended(
    changes: dict[tuple[int, str], str], rows: list[dict[str, Any]] | None = None, **tables: Any
) -> list:
    typed = [{name: plain_text(value) for name, value in row.items()} for row in rows or broods()]
    for (row, field), text in changes.items():
        typed[row][field] = text
    frames = {name: pd.DataFrame(content).map(plain_text) for name, content in tables.items()}
    season = read_season({"handlings": pd.DataFrame(typed), **frames}, schemas=DECLARED)
    gathered = gather(season, DECLARED, [reading.RULE, declared_rule.RULE])
    return [f for f in mend_unread(season, DECLARED, gathered.findings) if f.severity != "note"]


#: Row whose cells are spoilt: the second bird of the third box of the second day.
ROW = 25


@pytest.mark.parametrize(
    ("field", "typed", "meant"),
    [
        ("bag_g", "3q", "31"),
        ("gross_g", "34&", "347"),
        ("net_g", "e16", "316"),
        ("brood_size", "r", "4"),
        ("brood_size", "0.4", "4"),
        ("brood_size", "-2", "4"),
        ("date", "2026-0y-13", "2026-06-13"),
        ("date", "w026-06-13", "2026-06-13"),
        ("date", "13-2026-06", "2026-06-13"),
        ("date", ':#2026-06-13"', "2026-06-13"),
        ("date", "", "2026-06-13"),
        ("box", "", "SL-07"),
        ("ring_leg", "K", "L"),
        ("event", "rinhed", "ringed"),
    ],
)
def test_what_was_meant(field: str, typed: str, meant: str) -> None:
    (finding,) = mended({(ROW, field): typed})
    (suspect,) = finding.suspects
    assert (suspect.cell.label, suspect.cell.field) == (f"handlings!{ROW + 2}", field)
    assert suspect.suggested == meant
    assert suspect.p_fix is not None
    assert suspect.p_fix > 0.9


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        (
            "bag_g",
            "3q",
            (
                "'3q' cannot be read as a mass; gross 347 g less net 316 g leaves 31 g (q"
                " stands beside 1 on a keyboard)."
            ),
        ),
        (
            "brood_size",
            "-2",
            (
                "The column 'brood_size' says -2, below the least that is possible, 0; 3"
                " other birds of box SL-07 on"
                " 2026-06-13 have brood size 4."
            ),
        ),
        (
            "brood_size",
            "r",
            (
                "'r' cannot be read as a brood size; 3 other birds of box SL-07 on"
                " 2026-06-13 have brood size 4"
                " (r stands beside 4 on a keyboard)."
            ),
        ),
        (
            "brood_size",
            "0.4",
            (
                "'0.4' is no whole number, but this column counts; 3 other birds of box"
                " SL-07 on 2026-06-13 have brood"
                " size 4 (out by ten)."
            ),
        ),
        (
            "date",
            "13-2026-06",
            (
                "'13-2026-06' cannot be read as a date; the rows above and below say"
                " 2026-06-13 (its parts are"
                " exchanged)."
            ),
        ),
        ("box", "", "The column 'box' may not be empty; the rows above and below say SL-07."),
        (
            "ring_leg",
            "K",
            (
                "The column 'ring_leg' takes L, R; 'K' is none of them; 3 other birds of"
                " the visit have L (K stands"
                " beside L on a keyboard)."
            ),
        ),
    ],
)
def test_why(field: str, typed: str, said: str) -> None:
    (finding,) = mended({(ROW, field): typed})
    assert finding.message == said


def test_a_time_lies_between_those_above_and_below() -> None:
    rows = broods()
    above, here, below = (rows[ROW + step]["time"] for step in (-1, 0, 1))
    assert (above, here, below) == ("11:01", "11:05", "11:10")
    (finding,) = mended({(ROW, "time"): "1-:05"})
    suspect = finding.suspects[0]
    assert suspect.suggested == "11:05"
    assert finding.message == (
        "'1-:05' cannot be read as a time of day; the row stands between 11:01 and 11:10:"
        " 11:05 was probably meant"
        " (- for 1)."
    )


def test_a_wing_is_weighed_by_its_brood() -> None:
    (finding,) = mended({(ROW, "wing_mm"): "13e"})
    suspect = finding.suspects[0]
    # e stands beside 3 and 4; both would suit, so that neither is sure
    assert suspect.suggested in ("133", "134")
    assert suspect.p_fix is not None
    assert 0.25 <= suspect.p_fix < 0.7


def test_nothing_is_suggested_where_nothing_is_likely() -> None:
    (finding,) = mended({(ROW, "wing_mm"): "-871"})
    assert finding.suspects[0].suggested == ""
    assert finding.suspects[0].p_fix is None
    assert finding.message == "The column 'wing_mm' says -871 mm, below the least that is possible, 0 mm."


def test_rings_and_other_findings_stay_as_they_are() -> None:
    assert mended({}) == []
    findings = mended({(ROW, "gross_g"): "1e9"})
    assert [f.suspects[0].cell.field for f in findings] == ["gross_g"]


def test_the_table_of_visits_tells_a_date() -> None:
    rows = broods()
    lone = [rows[0], rows[ROW], rows[-1]]
    visits = [{"date": row["date"], "time": "09:00", "box": row["box"], "alive": 4} for row in rows[::4]]
    (finding,) = mended({(1, "date"): "2026-06-"}, lone, visits=visits)
    assert finding.suspects[0].suggested == "2026-06-13"
    assert "box SL-07 was visited on 2026-06-13" in finding.message


def test_a_small_sheet_and_an_empty_column_do_no_harm() -> None:
    row = {"date": "2026-06-06", "box": "SL-01", "ring": "SV01000", "wing_mm": "q"}
    season = read_season({"handlings": pd.DataFrame([row])}, schemas=DECLARED)
    gathered = gather(season, DECLARED, [reading.RULE])
    (finding,) = mend_unread(season, DECLARED, gathered.findings)
    assert finding.rule == "reading.unreadable"


def test_a_gross_below_its_bag_tells_nothing_about_the_wing() -> None:
    rows = broods()
    typed = [{name: plain_text(value) for name, value in row.items()} for row in rows]
    # the only bird of its kind, with nothing but its bag to go by
    typed[ROW] |= {"wing_mm": "q5", "gross_g": "20", "net_g": "", "age": "4", "box": "SL-30"}
    season = read_season({"handlings": pd.DataFrame(typed)}, schemas=DECLARED)
    gathered = gather(season, DECLARED, [reading.RULE])
    found = mend_unread(season, DECLARED, gathered.findings)
    assert [s.cell.field for finding in found for s in finding.suspects] == ["wing_mm"]


def test_a_point_elsewhere_is_one_of_all_such_slips() -> None:
    writing = Writing("number", "0123456789.", unit=0.1)
    found = list(writing.scaled("20,5", DECLARED.settings["explain.unread.point_places"].value))
    assert [text for text, _ in found] == ["205", "2.05", "2050", "0.2", "20500", "0.02"]
    assert sum(share for _, share in found) == pytest.approx(1)
    assert found[0][1] > found[2][1]
    assert list(writing.scaled("20.5", [1])) == [("205", 0.5), ("2.05", 0.5)]
    for typed in ("0", "-3", "x", ""):
        assert list(writing.scaled(typed, [1])) == []
    assert list(Writing("date", "0123456789.").scaled("20.5", [1])) == []
