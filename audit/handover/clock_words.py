"""What is told of the clocks of loggers, in sentences."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from audit.handover.clock_record import shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from audit.handover.clock_record import ClockTold

__all__ = ["clock_sentences"]

_MINUTE_S, _HOUR_S, _DAY_S = 60, 3600, 86_400
#: So many seconds a day are told.
_DRIFTS = 0.05


def clock_sentences(
    told: Sequence[ClockTold],
    doubtful: Mapping[str, Iterable[tuple[int, float]]],
    *,
    change: bool,
    rounds: float = 0.0,
    unsure: Mapping[str, float] | None = None,
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
    unsure : mapping of str to float, optional
        Box -> seconds by which its clock would be ahead, where that is left open.
    """
    off = [one for one in told if one.changed]
    if off:
        if any(one.reference == "marker on the round" for one in off):
            yield (
                "Marker tags are taken to beat at round moments, at multiples of their interval since "
                f"midnight ({rounds:.2f}): where they seem to beat beside these, the clock is off by that. "
                "By whole intervals, and so by whole hours, it may have been off besides from the "
                "start; only a visit tells that."
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
    for label, ahead in sorted((unsure or {}).items()):
        yield (
            f"{label}: if marker tags beat at round moments, which is not sure ({rounds:.2f}), its clock was "
            f"{_amount(abs(ahead))} {'ahead' if ahead > 0 else 'behind'} at its first reads; it is taken to "
            "be right then. A team can declare what holds: reading.marker_on_the_round."
        )
    for box, each in groupby(told, key=lambda one: (one.box, one.antenna)):
        pieces = [*each]
        if any(piece.changed or piece.offset_s is None for piece in pieces) or (
            not change and len(pieces) > 1
        ):
            where = box[0] + (f", {box[1]} antenna" if box[1] else "")
            yield f"{where}: " + "; ".join(_piece(piece) for piece in pieces) + "."
    for box_label, holes in sorted(doubtful.items()):
        for moment, p in holes:
            yield (
                f"{box_label}: nothing was logged for about an hour before {shown(moment)}; its clock may "
                f"have been put on by an hour then ({p:.2f}), which is not taken to be so."
            )


def _piece(piece: ClockTold) -> str:
    when = f"from {shown(piece.start)} to {shown(piece.end)} by its own showing"
    if piece.offset_s is None:
        return f"nothing tells when the reads {when} really were, so they go out as logged"
    ahead = "ahead" if piece.offset_s > 0 else "behind"
    amount = _amount(abs(piece.offset_s))
    words = f"its clock was {amount} {ahead} {when}" if amount != "0 s" else f"its clock was right {when}"
    if abs(piece.drift_s_per_day) >= _DRIFTS:
        way = "gained" if piece.drift_s_per_day > 0 else "lost"
        words += f" and {way} {abs(piece.drift_s_per_day):.1f} s a day"
    return words + ("" if piece.changed else ", and its moments go out as logged")


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
