"""Codes, numbers and boxes that cannot be read: what column, siblings and the bird's own rows say."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd
import pytest

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.explain.unread_boxes import BoxBeliefs
from audit.explain.unread_codes import CodeBeliefs
from audit.explain.unread_sheet import Belief, Tables
from audit.explain.unread_witnesses import Witnesses
from audit.rules.plain import plain_text

DECLARED = load_declarations()
FIRST = dt.date(2026, 6, 6)
LATER = FIRST + dt.timedelta(days=14)


def seen(rows: list[dict[str, Any]], **tables: list[dict[str, Any]]) -> Witnesses:
    frames = {
        name: pd.DataFrame(content).map(plain_text) for name, content in {"handlings": rows, **tables}.items()
    }
    laid = Tables(read_season(frames, schemas=DECLARED), DECLARED, frozenset())
    sheet = laid.sheet("handlings")
    assert sheet is not None
    return Witnesses(laid, sheet)


def bird(number: int, box: str | None = "SL-01", day: dt.date = FIRST, **cells: Any) -> dict[str, Any]:
    return {"date": day, "box": box, "ring": f"SV{1000 + number:05d}", **cells}


def told(belief: Belief | None, value: str) -> str:
    assert belief is not None
    return belief.because(belief.plain.index(value))


def log_of(belief: Belief | None, value: str) -> float:
    assert belief is not None
    return float(belief.log_prior[belief.plain.index(value)])


# codes


def code(rows: list[dict[str, Any]], row: int = 0) -> Belief | None:
    return CodeBeliefs(seen(rows)).code("ring_leg", row, ["L", "R"])


def test_a_code_without_siblings_is_as_usual_in_the_column() -> None:
    legs = ["L"] * 6 + ["R"] * 3
    rows = [bird(0, "SL-99"), *(bird(i + 1, f"SL-{i + 1:02d}", ring_leg=leg) for i, leg in enumerate(legs))]
    belief = code(rows)
    # half a row more of each of two values, as for any share (Jeffreys 1946, as remembered)
    assert np.exp(log_of(belief, "L")) == pytest.approx(6.5 / 10)
    assert np.exp(log_of(belief, "R")) == pytest.approx(3.5 / 10)
    assert told(belief, "L") == "6 of 9 rows have L"
    assert told(belief, "R") == ""


def test_a_code_is_that_of_the_birds_of_the_visit() -> None:
    others = [bird(10 + i, "SL-02", ring_leg="L") for i in range(6)]
    belief = code([bird(0), bird(1, ring_leg="R"), bird(2, ring_leg="R"), *others])
    assert told(belief, "R") == "2 other birds of the visit have R"
    assert log_of(belief, "R") > log_of(belief, "L")
    belief = code([bird(0), bird(1, ring_leg="R"), *others])
    assert told(belief, "R") == "1 other bird of the visit has R"


def test_a_code_is_that_of_the_same_bird_at_its_other_visits() -> None:
    own = [bird(0, day=LATER, ring_leg="R"), bird(0, day=LATER + dt.timedelta(days=7), ring_leg="R")]
    mates = [bird(i, ring_leg="L") for i in range(1, 4)]
    assert told(code([bird(0), *mates, own[0]]), "R") == "the same bird has R in 1 other row"
    belief = code([bird(0), *mates, *own])
    assert told(belief, "R") == "the same bird has R in 2 other rows"
    assert told(belief, "L") == "3 other birds of the visit have L"


# numbers


def number(values: list[float | None], row: int = 0, unit: float = 1.0) -> Belief | None:
    rows = [bird(i, wing_mm=value) for i, value in enumerate(values)]
    return CodeBeliefs(seen(rows)).number("wing_mm", row, unit)


def test_a_number_lies_among_those_of_its_siblings() -> None:
    belief = number([None, 150, 160, 170])
    assert told(belief, "150") == told(belief, "170") == "its siblings have 150 to 170"
    assert told(belief, "149") == told(belief, "171") == ""
    assert log_of(belief, "160") > log_of(belief, "185") > log_of(belief, "60")
    assert told(number([None, 150, 150]), "150") == "its siblings have 150"
    assert told(number([None, 150, 150]), "151") == ""


def test_numbers_are_tried_from_nought_to_a_little_beyond_the_largest() -> None:
    beyond = DECLARED.settings["explain.unread.beyond_column"].value
    belief = number([None, 100, 200])
    assert belief is not None
    assert belief.plain == [str(k) for k in range(int(200 * beyond) + 2)]
    tenths = number([None, 1.5, 2], unit=0.1)
    assert tenths is not None
    assert tenths.plain[:3] == ["0", "0.1", "0.2"]
    assert float(tenths.plain[-1]) == pytest.approx(2 * beyond, abs=0.11)
    assert number([None, None]) is None
    many = DECLARED.settings["explain.unread.most_numbers"].value
    assert number([None, 200], unit=200 * beyond / (2 * many)) is None


# boxes


def box(rows: list[dict[str, Any]], row: int, **tables: list[dict[str, Any]]) -> Belief | None:
    return BoxBeliefs(seen(rows, **tables)).box(row)


def two_visits(empty: int) -> list[dict[str, Any]]:
    """Four birds each of five boxes of a day, with brood sizes by box and five minutes a bird."""
    rows = []
    for place in range(20):
        at = 570 + 5 * place + 20 * (place // 4)
        rows.append(
            bird(
                place,
                f"SL-{place // 4 + 1:02d}",
                time=f"{at // 60:02d}:{at % 60:02d}",
                brood_size=4 + place // 4 % 2,
            )
        )
    rows[empty]["box"] = None
    return rows


def test_a_box_is_that_of_the_rows_above_and_below() -> None:
    belief = box(two_visits(5), 5)
    assert told(belief, "SL-02") == "the rows above and below say SL-02"
    assert told(belief, "SL-01") == ""
    assert belief is not None
    assert max(belief.plain, key=lambda label: log_of(belief, label)) == "SL-02"


@pytest.mark.parametrize(("row", "own", "other"), [(4, "SL-02", "SL-01"), (7, "SL-02", "SL-03")])
def test_between_two_boxes_brood_size_and_time_tell(row: int, own: str, other: str) -> None:
    rows = two_visits(row)
    both = box(rows, row)
    assert log_of(both, own) > log_of(both, other) + 2
    side = "below" if row == 4 else "above"
    assert told(both, own) == f"the row {side} of 2026-06-06 says {own}"
    # either of both is enough, and each makes it surer
    sizes = box([{name: cell for name, cell in one.items() if name != "time"} for one in rows], row)
    times = box([{name: cell for name, cell in one.items() if name != "brood_size"} for one in rows], row)
    for less in (sizes, times):
        assert 0.5 < log_of(less, own) - log_of(less, other) < log_of(both, own) - log_of(both, other)


def test_a_bird_and_the_table_of_visits_tell_its_box() -> None:
    rows = [bird(0, None), *(bird(i, f"SL-{i:02d}", LATER) for i in range(1, 8)), bird(0, "SL-05", LATER)]
    assert told(box(rows, 0), "SL-05") == "the bird was in box SL-05 at its other visit"
    visits = [{"date": FIRST, "box": "SL-09"}]
    visits += [{"date": LATER, "box": f"SL-{i:02d}"} for i in range(1, 8)]
    belief = box([bird(99, None), *rows[1:]], 0, visits=visits)
    assert told(belief, "SL-09") == "box SL-09 was visited on 2026-06-06"
    # eight of eight rows stand in the table of visits, and eight boxes share what is left
    share = 8.5 / 9
    assert log_of(belief, "SL-09") - log_of(belief, "SL-07") == pytest.approx(
        np.log(share / ((1 - share) / 7))
    )
    assert told(box([bird(99, None), *rows[1:]], 0), "SL-05") == ""
