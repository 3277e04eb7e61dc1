"""Whether birds that cross tell more of two clocks than markers and visits do."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from audit.antennas.loggers_apart import told_better
from audit.models.reads import INNER, OUTER


def known(antenna, by, beat_s=300.0):
    return SimpleNamespace(
        by=by, memory=SimpleNamespace(antenna=antenna), clock=SimpleNamespace(beat_s=beat_s)
    )


BOTH = [known(OUTER, "marker on the round"), known(INNER, "marker on the round")]


@pytest.mark.parametrize(
    ("judged", "apart_s", "better"),
    [
        (BOTH, 19.0, True),
        (BOTH, -151.0, True),
        # a marker may be mistaken by whole beats, and birds tell of these
        (BOTH, 600.9, False),
        (BOTH, -299.0, False),
        ([known(OUTER, "visits", float("nan")), known(INNER, "visits", float("nan"))], 3600.0, True),
        # where one clock alone is known, or none, the birds tell
        (BOTH[:1], 19.0, False),
        ([BOTH[0], known(INNER, "first reads")], 19.0, False),
        ([], 19.0, False),
    ],
)
def test_birds_move_no_clock_that_is_known_by_more(judged, apart_s, better):
    assert told_better(judged, apart_s, 2.0) is better
