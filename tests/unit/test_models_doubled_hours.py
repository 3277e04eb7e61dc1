"""An hour told twice, in rows sorted by time, of a logger whose clock was put back."""

from __future__ import annotations

import numpy as np
import pytest

from audit.antennas.clock_numbers import clock_numbers
from audit.antennas.logger_memory import Memory
from audit.antennas.one_clock import clock_of
from audit.declarations.load import load_declarations
from audit.models.doubled_hours import doubled_hour

HOUR = 3_600_000
DAY = 24 * HOUR
START = 20_570 * DAY
NUMBERS = clock_numbers(load_declarations())
NONE = np.zeros(0, dtype=np.int64)


def _sorted_log(seed, minutes, *, heard=0.94, put_back=True, days=8):
    """True moments and what was shown, sorted by what was shown; positions of beats of two antennas."""
    random = np.random.default_rng(seed)
    beats = START + np.repeat(np.arange(0, days * 1440, minutes) * 60_000, 2)
    beats = beats[random.random(len(beats)) < heard] + 100
    birds = START + np.floor(random.uniform(0, days, 400)) * DAY + random.uniform(18, 27, 400) * HOUR
    true = np.concatenate([beats, birds.astype(np.int64)])
    when = START + 4.3 * DAY
    shown = true - np.where(put_back & (true >= when), HOUR, 0)
    order = np.argsort(shown, kind="stable")
    is_beat = (np.arange(len(true)) < len(beats))[order]
    return true[order], shown[order], np.flatnonzero(is_beat)


@pytest.mark.parametrize("minutes", [1, 10, 15, 30, 60])
def test_an_hour_told_twice_is_put_in_order(minutes):
    true, shown, beats = _sorted_log(2, minutes)
    place = np.arange(len(shown))
    memory = Memory(place, np.where(np.isin(place, beats), 1, 0), shown, -1, beats)
    clock, memory, _ = clock_of(memory, (), NUMBERS)
    assert len(clock.pieces) == 2
    assert clock.pieces[1].p > 0.9
    off = np.abs(memory.at - clock.offset - true[memory.place])
    # reads of the hour itself may be of either side
    assert (off <= 2000).mean() > 0.98
    assert off.max() <= HOUR + 2000


@pytest.mark.parametrize("minutes", [1, 15, 60])
@pytest.mark.parametrize("heard", [0.5, 0.94])
def test_no_hour_is_told_twice_by_a_right_clock(minutes, heard):
    for seed in range(5):
        _, shown, beats = _sorted_log(seed, minutes, heard=heard, put_back=False)
        birds = np.delete(shown, beats)
        found = doubled_hour(shown[beats].astype(float), minutes * 60_000.0, birds, NONE, NUMBERS.limits)
        assert found is None or found.p < 0.5


def test_an_hour_that_is_no_whole_number_of_beats_is_not_looked_for():
    beats = START + np.arange(500) * 420_000.0
    assert doubled_hour(beats, 420_000.0, NONE, NONE, NUMBERS.limits) is None
