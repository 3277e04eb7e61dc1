"""Declared numbers by which the clocks of loggers are judged."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

from audit.models.clock_limits import ClockLimits
from audit.models.marker_phase import RoundLimits
from audit.models.two_loggers import ApartLimits
from audit.models.visit_anchors import AnchorLimits

if TYPE_CHECKING:
    from audit.declarations import Declarations

__all__ = ["ClockNumbers", "clock_numbers"]


@dataclass(frozen=True, slots=True)
class ClockNumbers:
    """Numbers of ``antennas.clock``, and what a team declared of its loggers.

    Attributes
    ----------
    limits : ClockLimits
    anchor : AnchorLimits
    hours : AnchorLimits
        For reads that tell whole hours only.
    apart : ApartLimits
    rounds : RoundLimits
    on_the_round : str
        ``yes`` or ``no`` where a team knows whether markers beat at round moments, else ``weigh``.
    interval_s : float or None
        Seconds between two beats of the marker tags, where they are declared.
    zones : tuple of str
        Names of time zones in which clocks may have been changed.
    held_s : float
        By how many seconds a tag is held to an antenna sooner or later than is told.
    """

    limits: ClockLimits
    anchor: AnchorLimits
    hours: AnchorLimits
    apart: ApartLimits
    rounds: RoundLimits
    on_the_round: str
    interval_s: float | None
    zones: tuple[str, ...]
    held_s: float

    @property
    def when_held(self) -> ClockNumbers:
        """The same where visits tell the time by tags held to the antennas."""
        return replace(self, limits=replace(self.limits, visit_s=self.held_s))


def clock_numbers(declared: Declarations) -> ClockNumbers:
    """Take the declared numbers."""
    start = "antennas.clock."
    # declared numbers are of any kind; the form has checked them
    numbers: dict[str, Any] = {
        key.removeprefix(start): tuple(limit.value) if isinstance(limit.value, list) else limit.value
        for key, limit in declared.settings.items()
        if key.startswith(start)
    }

    def under(prefix: str, kind: Any) -> dict[str, Any]:  # noqa: ANN401 - any of the dataclasses
        return {one.name: numbers[prefix + one.name] for one in fields(kind)}

    anchor = AnchorLimits(**under("anchor_", AnchorLimits))
    loggers = declared.loggers.limits
    asked = loggers["reading.marker_on_the_round"].value
    return ClockNumbers(
        ClockLimits(**under("", ClockLimits)),
        anchor,
        replace(anchor, within_s=float(numbers["hours_within_s"]), pooled=1.0),
        ApartLimits(**under("apart_", ApartLimits)),
        RoundLimits(**under("round_", RoundLimits)),
        # both are written where a question is answered
        ("yes" if asked else "no") if isinstance(asked, bool) else str(asked),
        float(loggers["reading.marker_every_s"].value) or None,
        tuple(str(zone) for zone in loggers["reading.clock_zones"].value),
        float(numbers["held_s"]),
    )
