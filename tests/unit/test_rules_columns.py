"""Columns taken out of the handlings once for all that see the same cells in doubt."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from typed_season import typed_season

from audit.rules.case import Case
from audit.rules.columns import as_typed, codes_of, days_of_rows, numbers_of, numbers_of_rows, words_of

if TYPE_CHECKING:
    from audit.declarations import Declarations

SEASON = typed_season(
    handlings=[
        {"date": "2026-06-06", "box": "SL-01", "ring": "SV01001", "species": " barn owl ", "net_g": 373},
        {"date": "2026-06-06", "box": "SL-01", "ring": "SV01002", "species": "barn owl", "net_g": 368},
        {"date": None, "box": "SL-02", "ring": "SV01001", "species": None, "net_g": None},
    ]
)


def case_of(declared: Declarations, *doubted: tuple[str, str]) -> Case:
    return Case(SEASON, declared, declared.rules["growth"], frozenset(doubted))


def test_a_cell_in_doubt_is_missing_and_its_column_alone_is_taken_out_again(declared: Declarations) -> None:
    plain = case_of(declared)
    doubting = replace(plain, doubted=frozenset({("handlings!2", "net_g"), ("handlings!3", "wing_mm")}))
    assert np.array_equal(numbers_of(plain, "net_g"), [373, 368, np.nan], equal_nan=True)
    assert np.array_equal(numbers_of(doubting, "net_g"), [np.nan, 368, np.nan], equal_nan=True)
    assert numbers_of(as_typed(doubting), "net_g") is numbers_of(plain, "net_g")
    for take in (words_of, codes_of):
        assert take(doubting, "ring") is take(plain, "ring")
    assert SEASON.frame("handlings")["net_g"].tolist()[:2] == [373, 368]


def test_the_whole_table_and_a_column_of_it_say_the_same(declared: Declarations) -> None:
    case = case_of(declared, ("handlings!3", "ring"), ("handlings!2", "date"), ("handlings!4", "net_g"))
    frame = case.sure("handlings")
    for name in frame.columns:
        assert frame[name].isna().tolist() == list(case.sure_column("handlings", name).isna())
    assert frame["ring"].isna().tolist() == [False, True, False]
    assert np.isnan(days_of_rows(case)).tolist() == [True, False, True]


def test_what_is_not_there_is_missing_everywhere(declared: Declarations) -> None:
    case = case_of(declared)
    assert np.isnan(numbers_of(case, "wing_mm")).all()
    assert words_of(case, "sex").tolist() == ["", "", ""]
    assert codes_of(case, "tag").tolist() == [-1, -1, -1]
    assert words_of(case, "species").tolist() == ["barn owl", "barn owl", ""]
    assert numbers_of_rows(case, "tag").tolist() == [0, 0, 0]
    assert numbers_of_rows(case, "date", "box").tolist() == [0, 0, 1]
    assert numbers_of_rows(case, "date", "box", missing=False).tolist() == [0, 0, -1]
