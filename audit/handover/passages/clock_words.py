"""What is told of the clocks of loggers, in sentences."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from audit.handover.passages.clock_record import shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from audit.handover.passages.clock_record import ClockTold, LeftOpen

__all__ = ["clock_sentences", "clocks_beside_sheet"]

_MINUTE_S, _HOUR_S, _DAY_S = 60, 3600, 86_400
#: So many seconds a day are told.
_DRIFTS = 0.05
#: What tells the time in any case.
_OR_HELD = "; or hold a test tag to the antennas at a planned visit and declare that, reading.held_tags"


def clock_sentences(
    told: Sequence[ClockTold],
    doubtful: Mapping[str, Iterable[tuple[int, float]]],
    *,
    change: bool,
    rounds: float = 0.0,
    unsure: Mapping[str, LeftOpen] | None = None,
) -> Iterator[str]:
    """Say of each clock that was off by how much and when, and what was done about it.

    Parameters
    ----------
    told : sequence of ClockTold
        By box.
    doubtful : mapping
        Box -> first moments after holes of an hour that may be steps, and how likely that is.
    change : bool
        Moments may be set right; else a person wanted them as logged.
    rounds : float
        Probability that marker tags beat at round moments.
    unsure : mapping of str to LeftOpen, optional
        Box -> by how much its clock would be ahead, where that is left open.
    """
    off = [one for one in told if one.changed]
    if off:
        if any(one.reference == "marker on the round" for one in off):
            yield (
                "Marker tags are taken to beat at round moments, at multiples of their interval since "
                f"midnight or, if they beat more rarely, at full hours ({rounds:.2f}): where they seem "
                "to beat beside these, the clock is off by that. "
                "By whole intervals, and so by whole hours, it may have been off besides from the "
                "start; only a visit tells that. If marker tags were started at any moment, declare "
                "reading.marker_on_the_round: no in loggers.yaml."
            )
        if any(one.reference == "marker moments" for one in off):
            yield (
                "Marker tags beat at the moments that are declared (reading.marker_moments in loggers.yaml): "
                "where they were read beside these, the clock is off by that."
            )
        if any(one.reference == "markers together" for one in off):
            yield (
                "Marker tags are taken to beat together, since several boxes have them at one moment of the "
                "interval: where one beats beside it, the clock is off by that. If each was started for "
                "itself, declare reading.marker_on_the_round: no in loggers.yaml."
            )
        if any((one.offset_s or 0) > _DAY_S / 2 and one.reference != "visits" for one in off):
            yield (
                "A clock that was set back by whole days is taken to have been ahead until then, and right "
                "since; was it set wrongly, the later moments are that much too early. Look at a visit of "
                "which the day is known."
            )
        by_first = any(one.reference == "first reads" for one in off)
        yield (
            "Clocks of loggers were set right, box by box; logger_clock.csv has every change, and who wants "
            "the moments as logged can ask for them so."
        )
        if by_first:
            yield (
                "A marker tag tells how a clock went, and not what time it was: where no visit tells more, a "
                "clock is taken to be right at its first reads."
            )
    for label, one in sorted((unsure or {}).items()):
        yield f"{label}: {_left_open(one)}"
    for box, each in groupby(told, key=lambda one: (one.box, one.antenna)):
        pieces = [*each]
        if any(piece.changed or piece.offset_s is None for piece in pieces) or (
            not change and len(pieces) > 1
        ):
            where = box[0] + (f", {box[1]} antenna" if box[1] else "")
            yield f"{where}: " + "; ".join(_piece(lines) for lines in _wholes(pieces)) + "."
    for box_label, holes in sorted(doubtful.items()):
        for moment, p in holes:
            yield (
                f"{box_label}: nothing was logged for about an hour before {shown(moment)}; its clock may "
                f"have been put on by an hour then ({p:.2f}), which is not taken to be so."
            )


def clocks_beside_sheet(hours: int) -> str:
    """Say that all loggers keep another time than the sheet."""
    return (
        f"All loggers that hand reads tell of run {_amount(abs(hours) * _HOUR_S)} "
        f"{'ahead of' if hours > 0 else 'behind'} the times on the sheet: they probably keep another time, "
        "such as winter time. Their moments are left as they are; loggers.yaml can add minutes to them."
    )


def _left_open(one: LeftOpen) -> str:
    if one.declared:
        return (
            f"by the moments at which its marker tag is declared to beat its clock was {_ahead(one.off_s)} "
            "when visits call it right. Visits are believed; look whether reading.marker_moments in "
            "loggers.yaml are by the time of the sheets."
        )
    if one.rare and not one.taken:
        beside = f"{_amount(abs(one.off_s))} {'after' if one.off_s > 0 else 'before'}"
        return (
            f"by its clock its marker tag beats {beside} a full hour, and more rarely than once in an hour. "
            f"It is left open whether the clock was {_ahead(one.off_s)} at its first reads ({one.p:.2f}) or "
            "the tag beats then, so the clock is taken to be right at them. Declare when it beats in "
            f"loggers.yaml, reading.marker_moments{_OR_HELD}."
        )
    other = one.off_s - one.every_s if one.off_s > 0 else one.off_s + one.every_s
    told = (
        f"if its marker tag beats at round moments, its clock was {_ahead(one.off_s)} at its first reads "
        f"({one.p:.2f}), or {_ahead(other)} and so on, by whole intervals; if the marker was started at any "
        "moment, its beats do not tell. "
    )
    done = (
        "It is set right by the first, as the likeliest."
        if one.taken
        else "That is not sure enough, so the clock is taken to be right at its first reads."
    )
    return (
        f"{told}{done} Declare what holds in loggers.yaml, reading.marker_on_the_round: yes or no, or when "
        f"it beats, reading.marker_moments{_OR_HELD}."
    )


def _wholes(pieces: Iterable[ClockTold]) -> Iterator[list[ClockTold]]:
    """Put together the lines of each time in which nobody touched the clock."""
    whole: list[ClockTold] = []
    for one in pieces:
        if whole and not one.goes_on:
            yield whole
            whole = []
        whole.append(one)
    if whole:
        yield whole


def _piece(lines: Sequence[ClockTold]) -> str:
    piece, last_line = lines[0], lines[-1]
    when = f"from {shown(piece.start)} to {shown(last_line.end)} by its own showing"
    if piece.offset_s is None:
        return f"nothing tells when the reads {when} really were, so they go out as logged"
    first, last = _ahead(piece.offset_s), _ahead(last_line.offset_end_s or 0.0)
    words = f"its clock was {first} {when}"
    if len(lines) > 1:
        when = f"at {shown(piece.start)} and {last} at {shown(last_line.end)} by its own showing"
        words = f"its clock was {first} {when}, and drifted unevenly between, as logger_clock.csv has it"
    elif abs(piece.drift_s_per_day) >= _DRIFTS:
        way = "gained" if piece.drift_s_per_day > 0 else "lost"
        when = f"at {shown(piece.start)} and {last} at {shown(piece.end)} by its own showing"
        words = f"its clock was {first} {when}, for it {way} {abs(piece.drift_s_per_day):.1f} s a day"
    return words + ("" if piece.changed else ", and its moments go out as logged")


def _ahead(seconds: float) -> str:
    amount = _amount(abs(seconds))
    return "right" if amount == "0 s" else f"{amount} {'ahead' if seconds > 0 else 'behind'}"


def _amount(seconds: float) -> str:
    """Write a span.

    Examples
    --------
    >>> _amount(78.4), _amount(3600.2), _amount(90 * 60), _amount(400 * 86_400)
    ('78 s', '60 min', '90 min', '400 days')
    """
    if seconds >= 2 * _DAY_S:
        return f"{seconds / _DAY_S:,.0f} days"
    if seconds >= 2 * _HOUR_S and round(seconds) % _HOUR_S < 1:
        return f"{seconds / _HOUR_S:.0f} h"
    if seconds >= 10 * _MINUTE_S and round(seconds) % _MINUTE_S < 1:
        return f"{seconds / _MINUTE_S:.0f} min"
    return f"{seconds:,.0f} s"
