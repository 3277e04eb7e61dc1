"""By how many whole intervals a clock was off, where it was set meanwhile."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pandas as pd
import pytest

from audit import passages
from audit.antennas.clock_numbers import clock_numbers
from audit.antennas.round_markers import RoundMarkers
from audit.declarations.load import load_declarations
from audit.models.clock_turns import turns_of
from audit.models.marker_phase import MarkerPhase, Setting
from audit.models.round_weighing import weigh_phases

LIMITS = clock_numbers(load_declarations()).rounds
START = 1_777_593_600_000  # 2026-05-01, midnight
DAY = 86_400.0
#: One beat between two reads, and perhaps some that were missed.
SHORT = ((0, 1.0), (-1, 0.02), (-2, 0.0004))


def _along(phase):
    return weigh_phases([phase], LIMITS).along[0]


def test_a_clock_set_right_meanwhile_tells_which_beat_it_was_off_by():
    set_right = MarkerPhase(131.4, 300.0, (Setting(-131.9, -193.6, 1, SHORT),))
    (turn, p), (after, p_after) = _along(set_right)
    assert (turn, after) == (0, 0)
    assert p > LIMITS.certain > weigh_phases([MarkerPhase(131.4, 300.0)], LIMITS).p[0]
    assert p_after > 0.97


def test_the_step_tells_that_the_nearest_beat_is_the_wrong_one():
    # 200 s ahead, and so 100 s behind by the nearest beat; set back by 200.3 s
    (turn, p), (after, _) = _along(MarkerPhase(-100.0, 300.0, (Setting(-200.3, -200.3, 1, SHORT),)))
    assert (turn, after) == (1, 1)
    assert p > LIMITS.sure


def test_a_logger_that_slept_tells_when_it_was_right_though_not_what_it_was_before():
    slept = tuple((more, 0.5) for more in range(-60, 60))
    (_, p), (after, p_after) = _along(MarkerPhase(131.4, 300.0, (Setting(-131.9, -193.6, 1, slept),)))
    assert p < LIMITS.sure < LIMITS.certain < p_after
    assert after == 0


def test_a_clock_set_wrongly_keeps_what_it_was_before():
    along = _along(
        MarkerPhase(-0.3, 900.0, (Setting(-100.2, -99.0, 1, SHORT), Setting(0.5, 102.0, 2, SHORT)))
    )
    assert [turn for turn, _ in along] == [0, 0, 0]
    assert min(p for _, p in along) > LIMITS.certain


def test_days_tie_nothing():
    days = tuple((more, 1.0) for more in range(3))
    found = turns_of(MarkerPhase(20.0, 900.0, (Setting(-86_400.0 - 20, -86_420.0, 1, days),)), LIMITS)
    assert found.tied == (False,)
    (turn, p), later = found.along(np.full(len(found.like), 1 / len(found.like)))
    assert later == (turn, p)


def test_the_chain_adds_up_what_all_turns_in_all_orders_do():
    # the definition, summed over every combination: one way to share two kinds of clocks
    limits = replace(LIMITS, scales_s=(2.0, 100.0), parts=1, beyond=0.0, trusted_part=1e9)
    phase = MarkerPhase(
        40.0, 100.0, (Setting(-45.0, -50.0, 1, SHORT), Setting(10.0, 54.0, 2, ((0, 1.0), (1, 0.3))))
    )
    off, ways = (40.0, -5.0, 50.0), [dict(one.ways) for one in phase.again]
    chances: dict[tuple[int, ...], float] = {}
    for states in product(range(-9, 10), repeat=3):
        ahead = np.array(off) + np.array(states) * 100
        likely = np.prod(np.exp(-0.5 * (ahead / 100) ** 2) / np.sqrt(2 * np.pi))
        steps = zip(np.diff(states).tolist(), ways, strict=True)
        chances[states] = likely * np.prod([way.get(step, 0.0) for step, way in steps])
    found = turns_of(phase, limits)
    wide = 0 if found.like[0] > found.like[1] else 1
    assert np.exp(found.like[wide]) == pytest.approx(sum(chances.values()), rel=1e-3)
    middle = (found.likely.shape[2] - 2) // 2
    for place, turn in product(range(3), (-1, 0, 1)):
        share = sum(chance for states, chance in chances.items() if states[place] == turn) / sum(
            chances.values()
        )
        assert found.chances[place, wide, middle + turn] == pytest.approx(share, abs=1e-4)


def test_a_rare_marker_is_believed_where_the_clock_was_set_to_it():
    def ahead(*again):
        phase = MarkerPhase(-101.0, 3600.0, again, rare=True)
        rounds = RoundMarkers("weigh", LIMITS)
        rounds.weigh({7}, {(0, -1): phase})
        return rounds.ahead((0, -1), phase)

    assert ahead() is None
    assert [by for _, by, _ in ahead(Setting(101.2, 138.0, 1, ((0, 1.0), (-6, 0.02)))).pieces] == [
        -101.0,
        -101.0,
    ]
    # set to a minute that is nothing round
    assert ahead(Setting(-700.0, -690.0, 1, ((0, 1.0), (-6, 0.02)))) is None


@pytest.mark.parametrize(("every", "ahead"), [(300, 130.0), (300, -160.0), (21_600, -100.0)])
def test_a_log_of_a_clock_that_was_set_right_at_a_visit(every, ahead, tmp_path):
    random, rows = np.random.default_rng(29), []
    visit = 9 * DAY + 11 * 3600.0
    rows += [(at, "inner", "999000000109999") for at in np.arange(0, 20 * DAY, every)]
    for bird in range(3):
        for night in range(20):
            for nr, at in enumerate(np.sort(random.uniform(0, 8 * 3600, 6)) + night * DAY + 75_600):
                sides = ("outer", "inner") if nr % 2 else ("inner", "outer")
                rows += [(at + 1.5 * k, side, f"99900000010000{bird}") for k, side in enumerate(sides)]
    # in the order in which they were stored
    frame = pd.DataFrame(sorted(rows), columns=["at", "antenna", "tag"])
    true = frame.pop("at")
    shown = true + np.where(true < visit, ahead, 0.4)
    moments = pd.to_datetime(np.rint(shown * 1000).astype("int64") + START, unit="ms")
    frame["detected_at"] = moments.dt.strftime("%Y-%m-%dT%H:%M:%S.%f")
    frame.assign(box="SL-01").to_csv(tmp_path / "log.csv", index=False)
    before, after = passages(tmp_path / "log.csv").clock().itertuples()
    assert (before.moments, after.moments) == ("set right", "as logged")
    assert before.offset_s == pytest.approx(ahead, abs=2)
    assert before.p_offset > LIMITS.certain
    assert after.offset_s == pytest.approx(0.4, abs=2)
