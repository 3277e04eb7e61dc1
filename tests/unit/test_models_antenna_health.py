"""When antennas were awake, asleep or dead: on invented logs whose dead spells are known."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from simulated_health import DAY, HOUR, START, Habits, invent
from simulated_pairs import pairs

from audit.declarations.load import load_declarations
from audit.models.antenna_health import ASLEEP, AWAKE, DEAD, UNKNOWN, health
from audit.models.health_beliefs import HealthBeliefs
from audit.models.night_habits import pause_chance
from audit.models.reads import INNER, OUTER, Reads


@pytest.fixture(scope="module")
def beliefs():
    settings = load_declarations().settings
    return HealthBeliefs(
        **{one.name: settings[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
    )


def _told(made, beliefs):
    return health(made.reads, beliefs, markers=made.markers, span=made.span)


def _dead(spells, box, side):
    mine = (spells.state == DEAD) & (spells.box == box) & (spells.antenna == side)
    return list(zip(spells.start[mine].tolist(), spells.end[mine].tolist(), strict=True))


def test_pieces_follow_without_gaps_and_fill_the_log(beliefs):
    made = invent(3, Habits(dead_one=1, asleep=(11, 16), boxes=4))
    spells = _told(made, beliefs)
    for box in range(4):
        for side in (OUTER, INNER):
            mine = (spells.box == box) & (spells.antenna == side)
            assert spells.start[mine][0] == made.span[0]
            assert spells.end[mine][-1] == made.span[1]
            assert (spells.start[mine][1:] == spells.end[mine][:-1]).all()
            assert (np.diff(spells.state[mine]) != 0).all()
    assert np.isnan(spells.efficiency[spells.state == UNKNOWN]).all()
    assert (spells.efficiency[(spells.state == DEAD) | (spells.state == ASLEEP)] == 0).all()
    awake = spells.efficiency[spells.state == AWAKE]
    assert ((awake > 0) & (awake < 1)).all()


@pytest.mark.parametrize("seed", range(3))
def test_an_antenna_dead_for_nights_is_found_where_birds_tell(seed, beliefs):
    habits = Habits(dead_one=1, dead_nights=(2, 4), adults=(2, 2), away=0.01, trips=(6, 10), everywhere=True)
    made = invent(seed, habits)
    spells = _told(made, beliefs)
    assert len(made.dead) == habits.boxes
    for box, side, start, end in made.dead:
        ((low, high),) = _dead(spells, box, side)
        # true ends are noons, at which nobody flies: the spell ends at the reads around them
        assert abs(low - start) < 12 * HOUR
        assert abs(high - end) < 12 * HOUR
        assert _dead(spells, box, 1 - side) == []


@pytest.mark.parametrize("seed", range(100, 104))
def test_none_is_invented_in_a_thousand_quiet_nights(seed, beliefs):
    made = invent(
        seed,
        Habits(
            boxes=4, nights=40, inner=(0.5, 0.7), outer=(0.6, 0.9), trips=(1, 8), storm=0.03, everywhere=True
        ),
    )
    assert not (_told(made, beliefs).state == DEAD).any()


@pytest.mark.parametrize("which", ["dead_one", "dead_both"])
def test_a_marker_tells_of_everything(which, beliefs):
    made = invent(5, Habits(**{which: 1}, dead_nights=(1, 2), marker_min=15, whole_nights=False))
    spells = _told(made, beliefs)
    for box, side_or_both, start, end in made.dead:
        for side in (OUTER, INNER) if side_or_both == 2 else (side_or_both,):
            ((low, high),) = _dead(spells, box, side)
            assert abs(low - start) < 0.75 * HOUR
            assert abs(high - end) < 0.75 * HOUR
    assert not (spells.state == UNKNOWN).any()


def test_a_lost_marker_makes_no_dead_antenna(beliefs):
    made = invent(6, Habits(marker_min=15, boxes=2, adults=(2, 2), away=0.0, storm=0.0))
    reads = made.reads
    kept = (reads.tag != made.markers[0]) | (reads.at < START + 15 * DAY)
    made.reads = Reads(reads.box[kept], reads.tag[kept], reads.at[kept], reads.antenna[kept])
    assert not (_told(made, beliefs).state == DEAD).any()


def test_one_silent_night_of_one_bird_is_unknown(beliefs):
    made = invent(
        7, Habits(boxes=3, adults=(1, 1), chicks=(0, 0), dead_both=1, dead_nights=(1, 1), away=0, storm=0)
    )
    spells = _told(made, beliefs)
    for box, _, start, end in made.dead:
        middle = (start + end) // 2
        for side in (OUTER, INNER):
            here = (
                (spells.box == box)
                & (spells.antenna == side)
                & (spells.start <= middle)
                & (middle < spells.end)
            )
            assert spells.state[here].tolist() == [UNKNOWN]


def _faithful(away, silent=((0, 12, 14),), boxes=8, nights=50):
    """One bird in each box, heard ten times a night but in nights it is `away`, or its box `silent`."""
    rng = np.random.default_rng(11)
    rows = []
    for box in range(boxes):
        for night in range(nights):
            gone = (box, night) in away or any(b == box and low <= night < high for b, low, high in silent)
            if not gone:
                at = START + night * DAY + np.sort(rng.integers(9 * HOUR, 17 * HOUR, 10))
                rows += [(box, box + 1, int(moment) + 900 * side, side) for moment in at for side in (0, 1)]
    table = np.array(sorted(rows), dtype=np.int64)
    return Reads(
        *(table[:, k].astype(kind) for k, kind in enumerate((np.int32, np.int32, np.int64, np.int8)))
    )


@pytest.mark.parametrize(
    ("away", "told"),
    [
        # nobody in the log ever stayed away: it is the logger
        ((), [DEAD]),
        # birds of other boxes stay away again and again: so may this one
        (tuple((box, night + box) for box in range(1, 7) for night in (3, 9, 20, 33)), [UNKNOWN]),
    ],
)
def test_a_lone_bird_is_believed_as_faithful_as_the_birds_of_the_log(away, told, beliefs):
    spells = health(_faithful(away), beliefs)
    middle = START + 13 * DAY + 13 * HOUR
    for side in (OUTER, INNER):
        mine = (spells.box == 0) & (spells.antenna == side)
        assert spells.state[mine & (spells.start <= middle) & (middle < spells.end)].tolist() == told
    others = spells.state[spells.box > 0]
    assert DEAD not in others


def test_no_silence_speaks_against_itself(beliefs):
    # two boxes fell silent, weeks apart: neither makes absences of birds common for the other
    spells = health(_faithful((), ((0, 12, 14), (3, 30, 32))), beliefs)
    assert {int(box) for box in spells.box[spells.state == DEAD]} == {0, 3}


def test_pauses_as_long_as_others_tell_of_no_dead_logger():
    rng = np.random.default_rng(2)
    pauses = rng.exponential(0.2, 400)
    # an exponential pause, by hand: exp(-m / mean) of all moments have room for m
    for length in (0.2, 0.6, 1.4):
        found = pause_chance(pauses, float(pauses.sum()), length, 10)
        assert found == pytest.approx(np.exp(-length / 0.2), rel=0.6)
    assert pause_chance(pauses[:5], 1.0, 0.5, 10) == 1.0


def test_four_birds_silent_for_three_nights_and_back_again_are_a_dead_logger(beliefs):
    habits = Habits(boxes=2, adults=(4, 4), chicks=(0, 0), dead_both=1, dead_nights=(3, 3), away=0, storm=0)
    made = invent(8, habits)
    spells = _told(made, beliefs)
    for box, _, start, end in made.dead:
        for side in (OUTER, INNER):
            ((low, high),) = _dead(spells, box, side)
            # true ends are noons: the middles of hours in which nobody flies
            assert abs(low - start) < 3 * HOUR
            assert abs(high - end) < 3 * HOUR


@pytest.mark.parametrize(("asleep", "known"), [((23, 2), True), ((22, 3.5), True), (None, False)])
def test_a_logger_that_sleeps_every_night_is_seen(asleep, known, beliefs):
    made = invent(9, Habits(boxes=2, adults=(2, 2), trips=(12, 14), asleep=asleep))
    spells = _told(made, beliefs)
    slept = spells.state == ASLEEP
    assert slept.any() == known
    if known:
        full = slept & (spells.end - spells.start > HOUR)
        assert set((spells.start[full] % DAY / HOUR).tolist()) == {asleep[0]}
        assert set((spells.end[full] % DAY / HOUR).tolist()) == {asleep[1]}


def test_birds_that_start_at_one_sharp_hour_make_no_sleep(beliefs):
    # parents here come from 21:00 to 05:00, evenly, each night to the minute
    made = pairs(3, ghosts=False)
    assert not (health(made.reads, beliefs).state == ASLEEP).any()


@pytest.mark.parametrize("marker_min", [0.0, 15.0])
def test_only_a_marker_tells_of_sleep_while_birds_rest(marker_min, beliefs):
    made = invent(9, Habits(boxes=2, adults=(2, 2), trips=(12, 14), asleep=(8, 18), marker_min=marker_min))
    assert (_told(made, beliefs).state == ASLEEP).any() == bool(marker_min)


def test_a_logger_asleep_beside_a_rare_weak_marker_is_not_dead_every_night(beliefs):
    habits = Habits(boxes=3, nights=8, asleep=(2, 5), marker_min=60.0, marker_heard=0.6)
    spells = _told(invent(11, habits), beliefs)
    assert (spells.state == ASLEEP).any()
    assert not (spells.state == DEAD).any()


@pytest.mark.parametrize("step_h", [1, -1])
def test_sleep_beside_a_clock_that_was_set_is_no_dead_hour_of_every_day(step_h, beliefs):
    made = invent(9, Habits(boxes=2, nights=20, adults=(2, 2), asleep=(9, 15), marker_min=15))
    at = np.where(made.reads.at >= START + 12 * DAY, made.reads.at + step_h * HOUR, made.reads.at)
    shown = np.lexsort((at, made.reads.tag, made.reads.box))
    r = made.reads
    reads = Reads(r.box[shown], r.tag[shown], at[shown], r.antenna[shown])
    spells = health(reads, beliefs, markers=made.markers, span=made.span)
    dead = spells.state == DEAD
    # the hour that the clock left out is all that may look dead
    assert (spells.end - spells.start)[dead].sum() <= 2 * 2 * 1.5 * HOUR
    assert (spells.state == ASLEEP).sum() >= 2 * 2 * 18


def test_a_quiet_day_while_one_antenna_is_dead_does_not_make_the_other_dead(beliefs):
    # a bird crosses each 110 minutes of 24 days; of four the outer antenna is dead, and of one nobody stirs
    hours = np.arange(0, 24 * DAY, 110 * HOUR // 60)
    day = hours // DAY
    inner, outer = hours[day != 13], hours[(day < 12) | (day >= 16)] + 1000
    at = START + np.concatenate([inner, outer])
    side = np.repeat([INNER, OUTER], [len(inner), len(outer)]).astype(np.int8)
    order = np.argsort(at, kind="stable")
    zeros = np.zeros(len(at), dtype=np.int32)
    spells = health(Reads(zeros, zeros, at[order], side[order]), beliefs)
    assert _dead(spells, 0, OUTER)
    assert all(end - start < 1.5 * DAY for start, end in _dead(spells, 0, INNER))


@pytest.mark.parametrize(("every_h", "dead"), [(8, True), (2, False)])
def test_of_two_silences_with_as_much_missed_the_long_one_is_deafness_sooner(every_h, dead, beliefs):
    # the inner antenna hears every crossing, the outer two of three, and six that follow each other not
    when = np.arange(150) * every_h * HOUR
    heard = (np.arange(150) % 3 != 0) & ((np.arange(150) < 76) | (np.arange(150) > 81))
    at = START + np.concatenate([when, when[heard] + 1000])
    side = np.repeat([INNER, OUTER], [150, heard.sum()]).astype(np.int8)
    order = np.argsort(at, kind="stable")
    zeros = np.zeros(len(at), dtype=np.int32)
    spells = health(Reads(zeros, zeros, at[order], side[order]), beliefs)
    assert bool(_dead(spells, 0, OUTER)) == dead


def test_a_marker_at_one_antenna_tells_of_a_logger_at_which_nobody_was_heard(beliefs):
    habits = Habits(dead_both=1, dead_nights=(2, 3), boxes=3, adults=(2, 2), chicks=(3, 4), marker_min=15)
    made = invent(12, habits)
    inner_alone = (made.reads.tag != made.markers[0]) | (made.reads.antenna == INNER)
    made.reads = Reads(*(getattr(made.reads, name)[inner_alone] for name in ("box", "tag", "at", "antenna")))
    spells = _told(made, beliefs)
    for box, _, start, end in made.dead:
        for side in (OUTER, INNER):
            (found,) = _dead(spells, box, side)
            assert abs(found[0] - start) < HOUR
            assert abs(found[1] - end) < HOUR


def test_birds_that_rest_at_one_antenna_by_day_make_no_dead_one(beliefs):
    # twenty crossings of each bird by night, rests that both antennas hear by day; one day the outer one only
    rows = []
    for night in range(12):
        dusk = START + night * DAY
        for tag in range(3):
            for k in range(20):
                at = dusk + 10 * HOUR * k // 20 + tag * 300_000
                way = (OUTER, INNER) if k % 2 else (INNER, OUTER)
                rows += [(tag, at + 2000 * i + 500 * j, one) for i, one in enumerate(way) for j in range(3)]
            for k in range(16):
                at = dusk + 11 * HOUR + k * 40 * 60_000 + tag * 420_000
                rows.append((tag, at, OUTER))
                if night != 6:
                    rows.append((tag, at + 3000, INNER))
    tag, at, antenna = (np.array(column) for column in zip(*sorted(rows), strict=True))
    zero = np.zeros(len(at), dtype=np.int32)
    spells = health(Reads(zero, tag.astype(np.int32), at.astype(np.int64), antenna.astype(np.int8)), beliefs)
    assert len(_dead(spells, 0, INNER)) == 0
    assert len(_dead(spells, 0, OUTER)) == 0


def test_no_reads_no_spells(beliefs):
    none = Reads(*(np.zeros(0, dtype=kind) for kind in (np.int32, np.int32, np.int64, np.int8)))
    assert len(health(none, beliefs).box) == 0
