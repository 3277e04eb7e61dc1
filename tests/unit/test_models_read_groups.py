"""Groups of reads: a worked example, ties, and the definition one read after the other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.read_groups import (
    INNER_ONLY,
    LOOK_IN,
    LOOK_OUT,
    OUTER_ONLY,
    TIE,
    WAY_IN,
    WAY_OUT,
    group_reads,
)
from audit.models.reads import Reads

O, I = 0, 1  # noqa: E741 - outer and inner, as in the handbook's sequences


def reads_of(*rows):
    """Rows of box, tag, seconds, antenna, in their order."""
    box, tag, at, antenna = (np.array(column) for column in zip(*rows, strict=True))
    return Reads(
        box.astype(np.int32),
        tag.astype(np.int32),
        np.round(at * 1000).astype(np.int64),
        antenna.astype(np.int8),
    )


def clock(text):
    hours, minutes, seconds = map(int, text.split(":"))
    return (hours + 24 * (hours < 12)) * 3600 + minutes * 60 + seconds


#: The project's own worked example of a night (own reasoning, no outside source): gap 10 s.
NIGHT = [
    ("21:14:03", O), ("21:14:04", O), ("21:14:06", I),
    ("21:31:40", I), ("21:31:42", O),
    ("22:05:10", O), ("22:05:12", O),
    ("23:10:00", I),
    ("23:40:20", I), ("23:40:21", O),
    ("02:00:00", O), ("02:00:03", I), ("02:00:05", O),
]  # fmt: skip


def test_the_night_of_the_worked_example():
    groups = group_reads(reads_of(*[(0, 0, clock(at), antenna) for at, antenna in NIGHT]), 10)
    assert groups.kind.tolist() == [WAY_IN, WAY_OUT, OUTER_ONLY, INNER_ONLY, WAY_OUT, LOOK_IN]
    assert groups.fresh.tolist() == [True, False, False, False, False, False]
    assert (groups.stop - groups.start).tolist() == [3000, 2000, 2000, 0, 1000, 5000]
    assert groups.inward[0] == clock("21:14:06") * 1000
    assert groups.outward[1] == clock("21:31:42") * 1000


@pytest.mark.parametrize(
    ("sequence", "kind"),
    [
        ([(0, O), (1, I)], WAY_IN),
        ([(0, I), (1, O)], WAY_OUT),
        ([(0, O), (1, I), (2, O)], LOOK_IN),
        ([(0, I), (1, O), (2, I)], LOOK_OUT),
        ([(0, O), (1, O)], OUTER_ONLY),
        ([(0, I)], INNER_ONLY),
        ([(0, O), (0, I)], -1),
        ([(0, O), (0, I), (1, I)], -1),
        ([(0, I), (1, O), (1, I), (2, O)], WAY_OUT),
    ],
)
def test_a_group_is_classed_by_its_ends(sequence, kind):
    groups = group_reads(reads_of(*[(0, 0, *one) for one in sequence]), 10)
    assert groups.kind.tolist() == [kind]


def test_a_tie_is_told():
    groups = group_reads(reads_of((0, 0, 0, O), (0, 0, 0, I), (0, 0, 2, I)), 10)
    assert (groups.first.tolist(), groups.last.tolist()) == ([TIE], [I])


def test_a_bird_that_rests_first_passes_at_its_last_turn():
    rest = [(0, 0, t, O) for t in range(0, 300, 5)]
    groups = group_reads(reads_of(*rest, (0, 0, 301, I)), 10)
    assert groups.inward.tolist() == [301_000]


def test_other_birds_and_boxes_begin_other_groups():
    groups = group_reads(reads_of((0, 0, 0, O), (0, 1, 1, O), (1, 1, 2, O), (1, 1, 3, I)), 10)
    assert (groups.end - groups.begin).tolist() == [1, 1, 2]
    assert groups.fresh.all()


@pytest.mark.parametrize("gap", [10.0, np.inf])
def test_a_gap_that_nothing_exceeds_keeps_the_reads_of_a_bird_together(gap):
    groups = group_reads(reads_of((0, 0, 0, O), (0, 0, 86_400, I), (0, 1, 0, O)), gap)
    assert (groups.end - groups.begin).tolist() == ([2, 1] if gap == np.inf else [1, 1, 1])


def test_no_reads_make_no_groups():
    none = Reads(*(np.empty(0, dtype=kind) for kind in (np.int32, np.int32, np.int64, np.int8)))
    assert len(group_reads(none, 10).begin) == 0


ROWS = st.lists(
    st.tuples(st.integers(0, 2), st.integers(0, 2), st.integers(0, 60), st.integers(0, 1)), min_size=1
)


@settings(max_examples=40, deadline=None)
@given(ROWS, st.integers(1, 20))
def test_groups_are_those_of_a_plain_loop(rows, gap):
    # reference: the definition, one read after the other
    rows = sorted(rows)
    groups = group_reads(reads_of(*rows), gap)
    plain = []
    for row in rows:
        same = plain and plain[-1][-1][:2] == row[:2] and row[2] - plain[-1][-1][2] <= gap
        if same:
            plain[-1].append(row)
        else:
            plain.append([row])
    assert (groups.end - groups.begin).tolist() == [len(one) for one in plain]
    for k, one in enumerate(plain):
        times = [[at for _, _, at, side in one if side == antenna] for antenna in (O, I)]
        if times[O] and times[I]:
            assert groups.heard[k] == 2
            first = TIE if min(times[O]) == min(times[I]) else int(min(times[I]) < min(times[O]))
            last = TIE if max(times[O]) == max(times[I]) else int(max(times[I]) > max(times[O]))
            assert (groups.first[k], groups.last[k]) == (first, last)
        else:
            assert groups.heard[k] == int(not times[O])
        for moment in (groups.inward[k], groups.outward[k]):
            assert one[0][2] * 1000 <= moment <= one[-1][2] * 1000
