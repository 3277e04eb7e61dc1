"""Antennas exchanged: seen by young birds, and by nothing else."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from simulated_detections import Sky, by_counts, by_events
from simulated_health import Habits, invent, random_habits
from simulated_pairs import pairs

from audit.antennas.exchanged import find_exchanged
from audit.declarations.load import load_declarations
from audit.models.antenna_health import logs_of
from audit.models.box_log import Heard, box_logs
from audit.models.health_beliefs import HealthBeliefs
from audit.models.last_crossings import last_crossings, turn_share
from audit.models.read_groups import INNER_ONLY, WAY_IN, WAY_OUT
from audit.models.reads import Reads
from audit.models.swapped import Swap, SwapLimits, swapped


@pytest.fixture(scope="module")
def limits():
    settings = load_declarations().settings
    return SwapLimits(
        **{one.name: settings[f"antennas.swapped.{one.name}"].value for one in fields(SwapLimits)}
    )


def _boxes(made, *, mirror):
    reads = made.reads
    side = (1 - reads.antenna).astype(np.int8) if mirror else reads.antenna
    turned = Reads(reads.box, reads.tag, reads.at, side)
    return [log.groups for log in box_logs(turned, 10.0, 600.0, np.zeros(0, dtype=np.int64), 3, made.span)]


@pytest.mark.parametrize("seed", range(4))
def test_boxes_with_a_brood_tell(seed, limits):
    habits = Habits(boxes=5, chicks=(3, 5), nights=35)
    made = invent(seed, habits)
    right, wrong = ([swapped(one, limits) for one in _boxes(made, mirror=way)] for way in (False, True))
    assert max(one.p for one in right) < 0.05
    # broods that come too late, or too early for the log, tell nothing
    assert all(one.p > 0.9 for one in wrong if one.young >= 3)
    assert any(one.young >= 3 for one in wrong)
    assert all(one.young_mirrored == one.young for one in wrong)


def test_no_box_is_called_exchanged_that_is_not(limits):
    for seed in range(20, 28):
        made = invent(seed, random_habits(np.random.default_rng(seed)))
        assert all(swapped(one, limits).p < 0.5 for one in _boxes(made, mirror=False))


def test_tags_known_to_be_of_nestlings_tell_at_once(limits):
    # first inside only, then out, in, out, in
    kinds = np.array([1, 3, 2, 3, 2], dtype=np.int8)
    by = np.array([[False, True, True, True, True], [True, True, True, True, True]])
    at = np.arange(5, dtype=np.int64) * 3_600_000
    two = Heard(
        np.repeat([4, 5], 5).astype(np.int32),
        np.tile(at, 2),
        np.tile(at, 2),
        np.tile(by, 2),
        np.tile(kinds, 2),
    )
    turn = {2: 3, 3: 2}
    mirrored = Heard(
        two.tag,
        two.begin,
        two.stop,
        two.by[::-1],
        np.array([turn.get(k, 0) for k in two.kind.tolist()], dtype=np.int8),
    )
    known = frozenset({4, 5})
    assert swapped(two, limits, hatched=known).p < 0.001
    found = swapped(mirrored, limits, hatched=known)
    # 0.02 beforehand, twice odds of nine: 81 / (49 + 81)
    assert found.p == pytest.approx(81 / 130)
    assert found.sentence == "2 of 2 young birds were first heard as from outside."
    # birds that nobody knows to be young tell nothing within hours
    assert swapped(mirrored, limits).p == pytest.approx(limits.before)


def test_a_young_bird_that_contradicts_itself_tells_nothing(limits):
    # first at the inner antenna alone, as in a right box; then its first crossing is one to the inside
    kinds = np.array([1, WAY_IN, WAY_OUT], dtype=np.int8)
    by = np.array([[False, True, True], [True, True, True]])
    at = np.arange(3, dtype=np.int64) * 3_600_000
    one = Heard(np.full(3, 4, dtype=np.int32), at, at, by, kinds)
    found = swapped(one, limits, hatched=frozenset({4}))
    assert (found.young, found.p) == (0, pytest.approx(limits.before))


@pytest.mark.parametrize(("days_before", "told"), [(2, True), (20, False)])
def test_nestlings_that_cannot_have_flown_tell_of_their_box(days_before, told, limits):
    # two birds at the outer antenna alone, then outer before inner, and back: a mirror of what nestlings do
    start = 20_600 * 86_400_000
    at = start + np.array([0, 3_600_000, 3_601_000, 7_200_000, 7_201_000])
    side = np.array([0, 0, 1, 1, 0], dtype=np.int8)
    two = Reads(
        np.zeros(10, dtype=np.int32), np.repeat([4, 5], 5).astype(np.int32), np.tile(at, 2), np.tile(side, 2)
    )
    log = next(box_logs(two, 10.0, 600.0, np.zeros(0, dtype=np.int64), 3, None))
    day = start - days_before * 86_400_000
    found = find_exchanged([log], limits, 0.5, {0: {4: day, 5: day}})
    assert bool(found) is told
    assert not find_exchanged([log], limits, 0.5)
    # the odds of two nestlings, as above
    assert not told or found[0].p == pytest.approx(81 / 130)


def test_nothing_known_is_said():
    assert Swap(0.02, 0, 0).sentence == "No bird tells which antenna is the inner one."


@pytest.fixture(scope="module")
def found_in(limits):
    declared = load_declarations()
    beliefs = HealthBeliefs(
        **{one.name: declared.settings[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
    )
    told_from = declared.loggers.limits["reading.exchanged_from"].value

    def find(reads, **other):
        return find_exchanged(logs_of(reads, beliefs), limits, other.get("told_from", told_from))

    return find


@pytest.mark.parametrize("invented", [by_events, by_counts])
@pytest.mark.parametrize("nestlings", [0, 3])
def test_no_box_of_other_generators_is_called_exchanged(invented, nestlings, found_in):
    # the grown birds of both go in first in most nights
    reads = invented(Sky(seed=431, boxes=4, nights=14, nestlings=nestlings)).reads
    assert not found_in(reads)
    assert all(swap.young_mirrored == 0 for swap in found_in(reads, told_from=0.0).values())


def test_an_antenna_that_sleeps_at_first_is_not_taken_for_the_inner_one(found_in):
    sky = Sky(seed=432, boxes=4, nights=14, dead=tuple((box, 1, 0.0, 4.0) for box in range(4)))
    assert all(swap.young_mirrored == 0 for swap in found_in(by_events(sky).reads, told_from=0.0).values())


def test_a_box_in_which_one_antenna_never_read_is_not_judged(found_in):
    reads = by_events(Sky(seed=433, boxes=2, nights=6)).reads
    kept = (reads.box == 1) | (reads.antenna == 0)
    one = Reads(reads.box[kept], reads.tag[kept], reads.at[kept], reads.antenna[kept])
    assert list(found_in(one, told_from=0.0)) == [1]


def _mirror(reads):
    side = (1 - reads.antenna).astype(np.int8)
    order = np.lexsort((side, reads.at, reads.tag, reads.box))
    return Reads(reads.box[order], reads.tag[order], reads.at[order], side[order])


def test_two_parents_that_bring_prey_tell_and_one_does_not(found_in):
    reads = pairs(3, quality="good", ghosts=False, once=True).reads
    assert not found_in(reads)
    boxes = set(reads.box.tolist())
    found = found_in(_mirror(reads))
    assert len(found) > 0.9 * len(boxes)
    assert all(swap.feeders_mirrored == swap.feeders == 2 for swap in found.values())
    assert "2 of 2 birds that bring prey were heard out for moments" in found[min(found)].sentence
    # the first parent of each box alone, without its mate and its young
    first = np.array([reads.tag[reads.box == box].min() for box in range(int(reads.box.max()) + 1)])
    lone = reads.tag == first[reads.box]
    lone = Reads(reads.box[lone], reads.tag[lone], reads.at[lone], reads.antenna[lone])
    assert not found_in(_mirror(lone))


def test_birds_that_visit_several_boxes_tell_which_side_is_outside(found_in):
    # a night each in one of two boxes: in at dawn, out at dusk
    rows = []
    for tag in range(2):
        for night in range(8):
            box = (night + tag) % 2
            for at, way in ((night * 86_400 + 18_000, (0, 1)), (night * 86_400 + 75_600, (1, 0))):
                rows += [(box, tag, 1000 * (at + 60 * tag + i), side) for i, side in enumerate(way)]
    box, tag, at, side = (np.array(column) for column in zip(*sorted(rows), strict=True))
    reads = Reads(box.astype(np.int32), tag.astype(np.int32), at.astype(np.int64), side.astype(np.int8))
    assert not found_in(reads)
    found = found_in(_mirror(reads))
    assert set(found) == {0, 1}
    assert all((one.visitors, one.visitors_mirrored, one.feeders) == (2, 2, 0) for one in found.values())


def _gone(last, *, nights=(3, 5, 7), turns=8):
    """Birds that cross in turns until a night of their own, then another one that stays."""
    rows = []
    for tag, (way, night) in enumerate(zip(last, nights, strict=True)):
        kinds = [way if nr % 2 == 0 else WAY_IN + WAY_OUT - way for nr in range(turns)][::-1]
        rows += [
            (tag, (night + 20_600) * 86_400_000 - 3_600_000 * (turns - nr), k) for nr, k in enumerate(kinds)
        ]
    tag, begin, kind = (np.array(column) for column in zip(*rows, strict=True))
    return Heard(tag.astype(np.int32), begin, begin, np.ones((2, len(tag)), dtype=bool), kind.astype(np.int8))


END = (20_600 + 20) * 86_400_000


def test_birds_that_left_for_good_went_out_last(limits):
    right, wrong = _gone([WAY_OUT] * 3), _gone([WAY_IN] * 3)
    assert last_crossings(right, END, limits) == [1, 1, 1]
    assert swapped(right, limits, until=END).p < limits.before / 100
    found = swapped(wrong, limits, until=END)
    # 21 turns and none repeated: 22 / 23 is more than gone_out, 0.95; 19 to 1 for each night, and 1 to 49
    assert turn_share(wrong) == pytest.approx(22 / 23)
    assert found.p == pytest.approx(19**3 / (19**3 + 49))
    assert found.sentence == (
        "In 3 of 3 nights in which birds left for good, these were last heard going in."
    )


def test_birds_that_may_still_be_there_or_elsewhere_tell_nothing(limits):
    wrong = _gone([WAY_IN] * 3)
    assert swapped(wrong, limits).p == pytest.approx(limits.before)
    soon = int(wrong.stop.max()) + 4 * 86_400_000
    assert last_crossings(wrong, soon, limits) == [-1, -1]
    assert not last_crossings(wrong, END, limits, {0, 1, 2})
    # heard once more at one antenna, each may have crossed once more
    last = np.append(np.flatnonzero(np.diff(wrong.tag)), len(wrong.tag) - 1)
    wrong.kind[last] = INNER_ONLY
    assert not last_crossings(wrong, END, limits)


def test_birds_gone_in_one_night_count_once(limits):
    killed = _gone([WAY_IN] * 3, nights=(5, 5, 5))
    assert last_crossings(killed, END, limits) == [-1]
    assert swapped(killed, limits, until=END).p < 0.5
    assert last_crossings(_gone([WAY_IN, WAY_OUT], nights=(5, 5)), END, limits) == [0]


def test_where_crossings_are_often_missed_the_last_one_tells_little(limits):
    # every second crossing is missed, so that each bird only ever comes in
    missed = _gone([WAY_IN] * 3)
    missed.kind[:] = WAY_IN
    assert turn_share(missed) < 0.5
    assert swapped(missed, limits, until=END).p == pytest.approx(limits.before)


def test_birds_that_bring_prey_once_a_night_tell_and_one_that_broods_does_not(limits):
    def bird(tag, inside_s, outside_s, a_night):
        rows = []
        for night in range(20_600, 20_612):
            at = night * 86_400_000 + 75_600_000
            for _ in range(a_night):
                rows += [(tag, at, WAY_IN), (tag, at + 1000 * inside_s, WAY_OUT)]
                at += 1000 * (inside_s + outside_s)
        return rows

    def told(*birds):
        tag, begin, kind = (
            np.array(column) for column in zip(*(row for one in birds for row in one), strict=True)
        )
        both = np.ones((2, len(tag)), dtype=bool)
        return swapped(Heard(tag.astype(np.int32), begin, begin, both, kind.astype(np.int8)), limits)

    pair = told(bird(0, 90, 5400, 3), bird(1, 120, 7200, 2))
    assert (pair.feeders, pair.feeders_mirrored) == (2, 0)
    mirrored = told(bird(0, 5400, 90, 3), bird(1, 7200, 120, 2))
    assert (mirrored.feeders_mirrored, mirrored.p > 0.95) == (2, True)
    # a bird that broods, in a right box: in for hours, out for three minutes; alone it is never enough
    assert told(bird(0, 7000, 180, 3)).p < 0.5
    assert told(bird(0, 7000, 180, 3), bird(1, 90, 5400, 3)).p < 0.05
