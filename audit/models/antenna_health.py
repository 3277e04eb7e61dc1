"""When each antenna was awake, asleep or dead, and how well it heard."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, HOUR_MS, BoxLog, box_logs
from audit.models.deaf_antennas import beats_due, deaf_between, is_long
from audit.models.hidden_activity import hides_activity
from audit.models.marker_beats import Beat, find_beat
from audit.models.nightly_sleep import nightly_sleep, sleep_beside_beats, sleeps_between
from audit.models.piece_efficiency import ASLEEP, AWAKE, DEAD, UNKNOWN, Piece, efficiency_of_pieces, inside
from audit.models.reads import INNER, OUTER, Reads, Spells
from audit.models.recurring_silences import joined, recurring_silences
from audit.models.silence import Silence, silences
from audit.models.silent_boxes import learnt_habits, odds_of_dead
from audit.models.spell_edges import dead_between

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from audit.models.box_habits import BoxHabits
    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.read_groups import Groups
    from audit.models.silent_boxes import Learnt

    Ints = NDArray[np.int64]

__all__ = ["ASLEEP", "AWAKE", "DEAD", "UNKNOWN", "health", "logs_of", "spells_of"]

_MINUTE_S = 60.0
_NO_TAGS: tuple[int, ...] = ()


def health(
    reads: Reads,
    beliefs: HealthBeliefs,
    *,
    gap: float = 10.0,
    markers: Iterable[int] = _NO_TAGS,
    span: tuple[int, int] | None = None,
) -> Spells:
    """Tell when each antenna was awake, asleep or dead, and how well it heard.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    beliefs : HealthBeliefs
    gap : float
        Reads of a bird further apart than so many seconds belong to two groups.
    markers : iterable of int
        Codes of the marker tags.
    span : tuple of int, optional
        When the first logger of the whole log began and the last ended, in milliseconds: the nights before
        the first read of a box, and behind its last, are then told as well. Without it each box goes from
        its first read to its last.

    Returns
    -------
    Spells
        By box and antenna, in order. An antenna is called dead when the evidence is at least
        ``beliefs.sure``: beats of a marker that stay away, or birds that only the other antenna hears, or
        birds that were heard night after night. A long silence of which nothing tells is unknown.
    """
    return spells_of(logs_of(reads, beliefs, gap=gap, markers=markers, span=span), beliefs)


def logs_of(
    reads: Reads,
    beliefs: HealthBeliefs,
    *,
    gap: float = 10.0,
    markers: Iterable[int] = _NO_TAGS,
    span: tuple[int, int] | None = None,
    birds: tuple[Reads, Groups] | None = None,
) -> list[BoxLog]:
    """Lay out boxes, for `spells_of` and whoever else asks about the antennas; all as in `health`.

    `birds` is as in `audit.models.box_log.box_logs`.
    """
    if not len(reads.at):
        return []
    marks = np.array(sorted(markers), dtype=np.int64)
    bout, season = beliefs.bout_min * _MINUTE_S, beliefs.season_d * DAY_MS
    return list(box_logs(reads, gap, bout, marks, beliefs.reads_least, span, season, birds))


def spells_of(logs: list[BoxLog], beliefs: HealthBeliefs) -> Spells:
    """Tell of boxes that are laid out what `health` tells."""
    known = learnt_habits(logs, beliefs)
    found = [_of_box(logs, known, which, beliefs) for which in range(len(logs))]
    efficiency = efficiency_of_pieces(logs, found, beliefs)
    rows: list[tuple[int, int, int, int, int, float]] = []
    for log, sides, told in zip(logs, found, efficiency, strict=True):
        for side, pieces in enumerate(sides):
            for piece, value in zip(pieces, told[side].tolist(), strict=True):
                rows.append((log.box, side, piece.start, piece.end, piece.state, value))
    columns = list(zip(*rows, strict=True)) if rows else [()] * 6
    kinds = (np.int32, np.int8, np.int64, np.int64, np.int8, np.float64)
    return Spells(*(np.array(column, dtype=kind) for column, kind in zip(columns, kinds, strict=True)))


def _of_box(
    logs: list[BoxLog], known: Learnt, which: int, beliefs: HealthBeliefs
) -> tuple[list[Piece], list[Piece]]:
    log = logs[which]
    beats = [[_beat(times, beliefs) for side, times in log.beats if side == s] for s in (OUTER, INNER)]
    # a beat once in hours tells nothing of the hours between
    rare = beliefs.sleep_h * HOUR_MS
    marked = [beat for each in beats for beat in each if beat and beat.interval <= rare]
    if marked:
        sleeps = sleep_beside_beats(log.all_times, marked, beliefs)
    else:
        sleeps = [one for one in nightly_sleep(log.all_times, beliefs) if hides_activity(log, one, beliefs)]
    slept = sleeps_between(sleeps, log.start, log.end)
    if marked:
        slept = joined(slept, recurring_silences(log.all_times, marked, beliefs))
    dead: tuple[list[tuple[int, int]], list[tuple[int, int]]] = ([], [])
    unknown: tuple[list[tuple[int, int]], list[tuple[int, int]]] = ([], [])
    skip = np.zeros(len(log.bouts.tag), dtype=np.bool_)
    # what an antenna was deaf to must not be taken for how well it hears: twice
    for turn in range(2):
        told_now = [
            deaf_between(log, side, slept, [b for b in beats[side] if b], skip, beliefs)
            for side in (OUTER, INNER)
        ]
        skip = inside(log.bouts, [spell for one in told_now for spell in one[0]])
        if turn:
            told_now = [
                one
                if any(beat and beat.interval <= rare for beat in beats[side])
                else _of_nights(known.boxes[which], *one, beliefs)
                for side, one in enumerate(told_now)
            ]
            dead, unknown = (told_now[0][0], told_now[1][0]), (told_now[0][1], told_now[1][1])
    told = [beat for each in beats for beat in each if beat]
    both = _both_silent(logs, known, which, slept, told, dead, beliefs)
    return (
        _pieces(log, slept, [*dead[0], *both[0]], [*unknown[0], *both[1]]),
        _pieces(log, slept, [*dead[1], *both[0]], [*unknown[1], *both[1]]),
    )


def _of_nights(
    known: BoxHabits, dead: list[tuple[int, int]], unknown: list[tuple[int, int]], beliefs: HealthBeliefs
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Leave open what no marker tells and what covers none of the hours in which birds pass.

    Birds that rest at one antenna while nobody passes look like deafness of the other.
    """
    edges = np.array(dead, dtype=np.int64).reshape(-1, 2)
    enough = (np.diff(known.habits.share(edges))[:, 0] >= beliefs.alone_part).tolist()
    sure = [one for one, all_right in zip(dead, enough, strict=True) if all_right]
    return sure, unknown + [one for one, all_right in zip(dead, enough, strict=True) if not all_right]


def _beat(times: Ints, beliefs: HealthBeliefs) -> Beat | None:
    return find_beat(times, beliefs.beats_least, beliefs.beat, beliefs.worth)


def _both_silent(
    logs: list[BoxLog],
    known: Learnt,
    which: int,
    slept: Ints,
    beats: list[Beat],
    dead: tuple[list[tuple[int, int]], list[tuple[int, int]]],
    beliefs: HealthBeliefs,
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Spells in which the whole logger was dead, and in which nothing tells."""
    log, found, unknown = logs[which], [], []
    within, at_end, perhaps = (
        float(np.log(p / (1 - p))) for p in (beliefs.dead_from, beliefs.dead_from_end, beliefs.perhaps_from)
    )
    quiet = silences(log.all_times, log.start, log.end, beliefs.quiet_h * HOUR_MS)
    edges = np.array([(one.start, one.end) for one in quiet], dtype=np.int64).reshape(-1, 2)
    nights = np.diff(known.boxes[which].habits.share(edges))[:, 0]
    for silence, mass in zip(quiet, nights.tolist(), strict=True):
        # most are days in which nobody stirs
        if mass < beliefs.night_part and silence.end - silence.start <= beliefs.long_h * HOUR_MS:
            continue
        if all(_covered(silence, spells) for spells in dead):
            continue
        # where one antenna was dead and the other heard nothing for just as long, the logger may have been
        slack = beliefs.silence_h * HOUR_MS
        alone = [both for spells in dead for one in spells if (both := _within(one, silence, slack))]
        odds, rate = odds_of_dead(known, which, silence, beliefs, one_dead=bool(alone))
        sure = at_end if silence.opens or silence.closes else within
        if beats and not (silence.opens or silence.closes):
            odds += sum(
                -np.log(1 - beat.heard) * len(beats_due(beat, silence, slept, beliefs.sure)) for beat in beats
            )
        if odds >= sure:
            # what one antenna missed tells when it was dead, what neither heard when the logger was
            found += [*alone, dead_between(known.boxes[which].habits, silence, rate)]
        elif odds >= perhaps or is_long(silence, slept, beliefs):
            unknown.append((silence.start, silence.end))
    return found, unknown


def _covered(silence: Silence, spells: list[tuple[int, int]]) -> bool:
    shared = sum(max(0, min(end, silence.end) - max(start, silence.start)) for start, end in spells)
    return shared > (silence.end - silence.start) / 2


def _within(spell: tuple[int, int], silence: Silence, slack: float) -> tuple[int, int] | None:
    """Take what of a spell lies in a silence, if but a little does not."""
    if spell[0] < silence.start - slack or spell[1] > silence.end + slack:
        return None
    found = max(spell[0], silence.start), min(spell[1], silence.end)
    return found if found[0] < found[1] else None


def _pieces(
    log: BoxLog, slept: Ints, dead: list[tuple[int, int]], unknown: list[tuple[int, int]]
) -> list[Piece]:
    """Cut the time of a log; dead goes before asleep, and asleep before unknown."""
    layers = ((DEAD, dead), (ASLEEP, [tuple(one) for one in slept.tolist()]), (UNKNOWN, unknown))
    edges = np.unique([log.start, log.end, *(t for _, spells in layers for one in spells for t in one)])
    edges = edges[(edges >= log.start) & (edges <= log.end)]
    state = np.zeros(len(edges) - 1, dtype=np.int64)
    for value, spells in reversed(layers):
        for start, end in spells:
            state[(edges[:-1] >= start) & (edges[1:] <= end)] = value
    cut = np.flatnonzero(np.diff(state, prepend=-1))
    return [
        Piece(int(edges[i]), int(edges[j]), int(state[i]))
        for i, j in zip(cut.tolist(), [*cut[1:].tolist(), len(edges) - 1], strict=True)
    ]
