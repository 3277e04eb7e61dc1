"""What a trainer sees: counts, intervals held against another library, trends, and what to practise next."""

from __future__ import annotations

from functools import cache

import pytest
from golden_file import hold_against_golden
from scipy.stats import binomtest

from audit.declarations import load_declarations
from audit.practice.exercise.levels import levels_of
from audit.practice.exercise.overview import overview_of
from audit.practice.exercise.overview_page import overview_page, overview_text
from audit.practice.exercise.progress import Progress
from audit.practice.exercise.score import KindScore
from audit.practice.exercise.sheet_record import SheetRecord

shipped = cache(load_declarations)


def record(number, mended, *, slips=1, found=None, who="AB", blamed=0, kind="tare"):
    found = mended if found is None else found
    return SheetRecord(
        str(number), "", who, f"{who}-{number}", kind, "barn_owl",
        (KindScore(kind, slips, found, mended, 0),), 90, blamed,
    )  # fmt: skip


def overview(*records, again=()):
    return overview_of(Progress(records, tuple(again)), levels_of(shipped()), shipped())


def test_shares_and_their_intervals_are_those_of_another_library():
    (view,) = overview(*(record(i, int(i % 3 > 0), found=1) for i in range(10))).trainees
    (line,) = view.kinds
    assert (line.sheets, line.found.hits, line.mended.hits, line.mended.trials) == (10, 10, 6, 10)
    for share in (line.found, line.mended, view.innocent):
        # scipy.stats.binomtest, method Wilson without correction
        told = binomtest(share.hits, share.trials).proportion_ci(0.95, method="wilson")
        assert (share.low, share.high) == pytest.approx((told.low, told.high))


@pytest.mark.parametrize(
    ("mended", "trend"),
    [
        ([1], "too few to tell"),
        ([0, 1], "no clear change"),
        ([0] * 8 + [1] * 8, "better"),
        ([1] * 8 + [0] * 8, "worse"),
        ([1, 0] * 8, "no clear change"),
    ],
)
def test_only_halves_whose_intervals_keep_apart_make_a_trend(mended, trend):
    (view,) = overview(*(record(i, one) for i, one in enumerate(mended))).trainees
    assert view.kinds[0].trend == trend


def test_blamed_cells_are_counted_and_told_of():
    (view,) = overview(record(1, 1, blamed=2), record(2, 1, blamed=1)).trainees
    assert (view.blamed, view.innocent.hits, view.innocent.trials) == (3, 0, 2)
    assert "innocent cells were changed" in view.advice


def test_the_words_of_an_overview():
    told = overview(
        *(record(i, 1, kind="one_digit") for i in range(3)),
        record(3, 0, slips=2, found=1, blamed=1),
        record(1, 1, who="MK"),
        again=[record(9, 1)],
    )
    hold_against_golden("practice_overview.txt", overview_text(told) + "\n")
    page = overview_page(told)
    assert "no certificate" in page
    assert all(view.who in page for view in told.trainees)


def test_an_empty_overview_says_so():
    assert "No practice sheet has been marked yet." in overview_text(overview())
    assert "No practice sheet has been marked yet." in overview_page(overview())
