"""What is said of dead spells on the command line."""

from __future__ import annotations

import numpy as np
import pytest

from audit.handover.passages.passages_record import Heard, PassagesRecord
from audit.handover.passages.passages_text import passages_text
from audit.models.reads import Passages, Spells

_BOXES = tuple(f"SL-{nr:02d}" for nr in range(1, 13))
_DAY = 86_400_000
_AWAKE, _DEAD = 0, 2


def _said(spells: list[tuple[int, int, int, int]], marked: tuple[int, ...] = ()) -> str:
    """Text of a log with spells (box, antenna, first and last day), and boxes with a marker tag."""
    columns = np.array([(*one[:2], one[2] * _DAY, one[3] * _DAY) for one in spells], dtype=np.int64)
    state = np.full(len(spells), _DEAD, dtype=np.int8)
    told = Spells(
        columns[:, 0].astype(np.int32), columns[:, 1].astype(np.int8), *columns[:, 2:].T, state, 0.0 * state
    )
    boxes = np.arange(len(_BOXES))
    at = np.append(boxes, marked).astype(np.int64)
    tags = np.append(0 * boxes, np.ones(len(marked))).astype(np.int64)
    heard = Heard(at, tags, 0 * at + 5, 0 * at, 0 * at + 9 * _DAY)
    record = PassagesRecord(
        "log",
        _BOXES,
        ("999000000001337", "999000000009999"),
        Passages(*np.zeros((6, 0), dtype=np.int64)),
        told,
        heard,
        (),
        markers=(1,),
    )
    return " ".join(passages_text(record).split())


def test_a_dead_logger_told_by_birds_alone_may_be_birds_that_stayed_away():
    said = _said([(0, 0, 3, 4), (0, 1, 3, 4)])
    assert (
        "No marker tag was heard at SL-01, where both antennas are called dead at once: birds that all "
        "stayed away would look the same. Ask what was seen there in that time." in said
    )


@pytest.mark.parametrize(
    ("spells", "marked"),
    [
        # a marker tag tells
        ([(0, 0, 3, 4), (0, 1, 3, 4)], (0,)),
        # one antenna heard what the other did not
        ([(0, 0, 3, 4)], ()),
        ([(0, 0, 3, 4), (0, 1, 5, 6)], ()),
        ([(0, 0, 3, 4), (1, 1, 3, 4)], ()),
    ],
)
def test_where_more_than_silence_tells_nothing_is_added(spells, marked):
    said = _said(spells, marked)
    assert "dead spell" in said
    assert "No marker tag" not in said


def test_many_boxes_are_not_all_named():
    said = _said([(box, side, 3, 4) for box in range(12) for side in (0, 1)], marked=(1,))
    assert "No marker tag was heard at SL-01, SL-03, " in said
    assert "SL-09 and 3 more, where" in said
