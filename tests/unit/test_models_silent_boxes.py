"""What silences of boxes are thought to be, learnt over a whole log: on logs of plain busy boxes."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from simulated_outages import DAY, HOUR, START
from simulated_pairs import pairs

from audit.declarations.load import load_declarations
from audit.models.antenna_health import DEAD, UNKNOWN, health, logs_of
from audit.models.health_beliefs import HealthBeliefs
from audit.models.reads import Reads
from audit.models.silent_birds import absences_of
from audit.models.silent_boxes import learnt_habits


@pytest.fixture(scope="module")
def beliefs():
    settings = load_declarations().settings
    return HealthBeliefs(
        **{one.name: settings[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
    )


@pytest.fixture(scope="module")
def log():
    """Five sound boxes; the first lost one night, the second the last three, the third one of its birds."""
    made = pairs(3, quality="good", ghosts=False, once=True)
    sound = [box for box in range(made.boxes) if box not in {spell.box for spell in made.spells}][:5]
    reads, end = made.reads, START + made.nights * DAY
    keep = np.isin(reads.box, sound)
    keep &= ~((reads.box == sound[0]) & (reads.at >= START + 4 * DAY) & (reads.at < START + 5 * DAY))
    keep &= ~((reads.box == sound[1]) & (reads.at >= end - 3 * DAY))
    one = reads.tag[reads.box == sound[2]].min()
    keep &= ~((reads.tag == one) & (reads.at >= START + 4 * DAY) & (reads.at < START + 6 * DAY))
    kept = Reads(reads.box[keep], reads.tag[keep], reads.at[keep], reads.antenna[keep])
    return kept, sound, (int(reads.at.min()), int(reads.at.max()) + 1)


def test_boxes_may_stand_in_any_order(log, beliefs):
    logs = logs_of(log[0], beliefs, span=log[2])
    plain = learnt_habits(logs, beliefs)
    order = np.random.default_rng(5).permutation(len(logs)).tolist()
    moved = learnt_habits([logs[k] for k in order], beliefs)
    for name in plain.usual.__slots__:
        assert getattr(moved.usual, name) == pytest.approx(getattr(plain.usual, name)), name
    for place, k in enumerate(order):
        told = [(one.silence, one.neighbours, one.dead, one.away) for one in plain.boxes[k].silent]
        again = [(one.silence, one.neighbours, one.dead, one.away) for one in moved.boxes[place].silent]
        assert [one[:2] for one in again] == [one[:2] for one in told]
        for one, other in zip(told, again, strict=True):
            assert other[2] == pytest.approx(one[2])
            assert other[3] == pytest.approx(one[3])


def test_what_is_learnt_of_all_boxes_is_the_sum_of_what_each_shows(log, beliefs):
    logs = logs_of(log[0], beliefs, span=log[2])
    known = learnt_habits(logs, beliefs)
    silent = [one for box in known.boxes for one in box.silent]
    within = [one.dead for one in silent if not (one.silence.opens or one.silence.closes)]
    ends = [one.dead for one in silent if one.silence.opens or one.silence.closes]
    assert known.usual.dead == pytest.approx(sum(within))
    assert known.usual.ends == pytest.approx(len(ends) - sum(ends))
    assert known.usual.nights == sum(len(box.habits.whole) for box in known.boxes)
    # one night in the first box, surely, and nothing in the others
    assert within == [pytest.approx(1.0, abs=0.1)]
    # the bird of the third box that stayed away for two nights is one absence; others are nestlings by chance
    absences = [absences_of(box, beliefs.away) for box in known.boxes]
    assert absences[2][0] == pytest.approx(1.0, abs=0.05)
    away = sum(float(one.away.sum()) for one in silent)
    assert known.usual.missed == pytest.approx(sum(float(one.sum()) for one in absences) + away)
    assert known.usual.asked == sum(float(box.asked.sum()) for box in known.boxes)
    # beliefs are worth as much as half an absence
    assert known.usual.away == pytest.approx(
        (known.usual.missed + 0.5) / (known.usual.asked + 0.5 / beliefs.away)
    )


def test_at_an_end_of_the_log_more_is_asked(log, beliefs):
    reads, boxes, span = log

    def states(moved):
        told = health(reads, moved, span=span)
        middle = {boxes[0]: START + 4 * DAY + 13 * HOUR, boxes[1]: span[1] - DAY}
        return {
            box: set(told.state[(told.box == box) & (told.start <= at) & (told.end > at)].tolist())
            for box, at in middle.items()
        }

    known = states(beliefs)
    assert known[boxes[0]] == {DEAD}
    # three nights without anybody at the end may be dead or left: only how much is asked decides
    assert states(replace(beliefs, dead_from_end=0.2))[boxes[1]] == {DEAD}
    strict = states(replace(beliefs, dead_from_end=0.9999))
    assert strict == {boxes[0]: {DEAD}, boxes[1]: {UNKNOWN}}
    strict = states(replace(beliefs, dead_from=0.999999, dead_from_end=0.2))
    assert strict == {boxes[0]: {UNKNOWN}, boxes[1]: {DEAD}}
