"""Birds heard at another box while their own was silent: against scipy, and on plain logs of two boxes."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.stats import beta
from simulated_health import DAY, HOUR, START

from audit.declarations.load import load_declarations
from audit.models.antenna_health import DEAD, health, logs_of
from audit.models.birds_elsewhere import with_elsewhere
from audit.models.box_habits import box_habits
from audit.models.health_beliefs import HealthBeliefs
from audit.models.reads import Reads

_NIGHTS = 40
_SILENT = 20


@pytest.fixture(scope="module")
def beliefs():
    settings = load_declarations().settings
    return HealthBeliefs(
        **{one.name: settings[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
    )


def _log(elsewhere=(), boxes=6):
    """One bird in each box, heard ten times a night; that of the first also at the second box in some nights.

    The first box is silent in one night.
    """
    rng = np.random.default_rng(3)
    rows = []
    for box in range(boxes):
        for night in range(_NIGHTS):
            at = START + night * DAY + np.sort(rng.integers(9 * HOUR, 17 * HOUR, 10))
            if (box, night) != (0, _SILENT):
                rows += [(box, box + 1, int(moment) + 900 * side, side) for moment in at for side in (0, 1)]
    for night in elsewhere:
        rows += [(1, 1, START + night * DAY + 12 * HOUR + 400 * k, k % 2) for k in range(6)]
    table = np.array(sorted(rows), dtype=np.int64)
    return Reads(
        *(table[:, k].astype(kind) for k, kind in enumerate((np.int32, np.int32, np.int64, np.int8)))
    )


def _of_first(reads, beliefs):
    logs = logs_of(reads, beliefs)
    return with_elsewhere(logs, box_habits(logs, beliefs), beliefs)[0]


def _states(reads, beliefs):
    told = health(reads, beliefs)
    middle = START + _SILENT * DAY + 13 * HOUR
    return set(told.state[(told.box == 0) & (told.start <= middle) & (told.end > middle)].tolist())


@pytest.mark.parametrize("other", [0, 1, 6])
def test_how_much_likelier_it_stayed_away_is_told_by_its_other_nights(other, beliefs):
    one = _of_first(_log([*range(other), _SILENT]), beliefs)
    (silent,) = [q for q in one.silent if not (q.silence.opens or q.silence.closes)]
    here = int((one.habits.whole & (one.habits.bouts[0] > 0)).sum())
    usual = beta(0.5 + other, 0.5 + here - other).mean()
    assert silent.elsewhere.tolist() == pytest.approx([beliefs.elsewhere / usual])


def test_a_bird_that_uses_two_boxes_in_most_nights_tells_nothing_by_it(beliefs):
    one = _of_first(_log([*range(_NIGHTS - 2)]), beliefs)
    assert [q.elsewhere.tolist() for q in one.silent] == [[1.0]]


def test_a_bird_heard_at_no_other_box_meanwhile_tells_nothing_by_it(beliefs):
    for nights in ((), (3, 8)):
        one = _of_first(_log(nights), beliefs)
        assert [q.elsewhere.tolist() for q in one.silent] == [[1.0]]


def test_a_box_whose_bird_was_at_another_one_is_not_dead(beliefs):
    # a bird alone that hardly ever stays away: which of the two it was is seen at the other box
    sure = replace(beliefs, dead_from=0.5)
    assert _states(_log(), sure) == {DEAD}
    assert DEAD not in _states(_log([_SILENT]), sure)
    # one that is at both in every second night is there by habit
    assert _states(_log(range(0, _NIGHTS, 2)), sure) == {DEAD}


def test_two_reads_at_another_box_may_be_noise(beliefs):
    reads = _log([_SILENT])
    extra = np.flatnonzero((reads.box == 1) & (reads.tag == 1))[2:]
    kept = Reads(*(np.delete(one, extra) for one in (reads.box, reads.tag, reads.at, reads.antenna)))
    assert [q.elsewhere.tolist() for q in _of_first(kept, beliefs).silent] == [[1.0]]
