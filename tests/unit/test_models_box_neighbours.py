"""Boxes that fell silent together: by hand on drawn nights, and against a plain count of each time."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from simulated_health import DAY, HOUR, START, Habits, invent

from audit.declarations.load import load_declarations
from audit.models.antenna_health import logs_of
from audit.models.box_habits import box_habits, rates
from audit.models.box_neighbours import with_neighbours
from audit.models.health_beliefs import HealthBeliefs
from audit.models.reads import Reads

SPELL = START + 12 * DAY, START + 15 * DAY


@pytest.fixture(scope="module")
def beliefs():
    settings = load_declarations().settings
    return HealthBeliefs(
        **{one.name: settings[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
    )


@pytest.fixture(scope="module")
def logs(beliefs):
    """Five boxes with a pair each; two of them say nothing for three days, a third for one of these."""
    pairs = Habits(boxes=5, nights=30, adults=(2, 2), chicks=(0, 0), trips=(12, 14), away=0, storm=0)
    made = invent(5, pairs)
    reads, keep = made.reads, np.ones(len(made.reads.at), dtype=bool)
    for box, end in ((0, SPELL[1]), (1, SPELL[1]), (2, SPELL[0] + DAY)):
        keep &= ~((reads.box == box) & (reads.at >= SPELL[0]) & (reads.at < end))
    left = Reads(reads.box[keep], reads.tag[keep], reads.at[keep], reads.antenna[keep])
    return logs_of(left, beliefs, span=made.span)


def test_boxes_that_fell_silent_in_the_same_days_are_counted(logs, beliefs):
    known = with_neighbours(logs, box_habits(logs, beliefs), beliefs)
    long = [
        {silent.neighbours for silent in one.silent if silent.silence.end - silent.silence.start > 2 * DAY}
        for one in known
    ]
    # box 2 came back after a day, and was heard while the two others said nothing
    assert long == [{(1, 4)}, {(1, 4)}, set(), set(), set()]
    (short,) = {silent.neighbours for silent in known[2].silent if silent.mass > 1 / 2}
    assert short == (2, 4)


def test_rates_of_several_silences_are_those_of_each_by_a_plain_count(logs, beliefs):
    habits = box_habits(logs, beliefs)[3].habits
    starts = START + np.array([2, 5, 12, 29]) * DAY
    ends = starts + np.array([20, 30, 80, 10]) * HOUR
    found = rates(habits, starts, ends, beliefs)
    for k, moments in enumerate(zip(starts, ends, strict=True)):
        edges = habits.night(np.array(moments))
        whole = np.flatnonzero(habits.whole)
        sides = whole[whole <= edges[0]][::-1], whole[whole >= edges[1]]
        for told, columns in zip(found, sides, strict=True):
            for bird in range(len(habits.tags)):
                nights = habits.bouts[bird, columns[: beliefs.around]].tolist()
                while nights and not nights[-1]:
                    nights.pop()
                plain = sum(nights) / len(nights) if len(nights) >= beliefs.around_least else 0.0
                assert told[k, bird] == plain


def test_a_box_alone_has_no_neighbours(logs, beliefs):
    (one,) = with_neighbours(logs[:1], box_habits(logs[:1], beliefs), beliefs)
    assert {silent.neighbours for silent in one.silent} == {(0, 0)}
