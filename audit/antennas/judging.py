"""What the models say of whole boxes, by themselves: nothing is asked of the log, and nothing is kept."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.antennas.exchanged import find_exchanged
from audit.antennas.markers import without_tags
from audit.models.antenna_health import health, logs_of, spells_of
from audit.models.passages import learn_habits, passages_and_crossings
from audit.models.read_gap import find_gap
from audit.models.read_groups import group_reads

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.passage_habits import Habits
    from audit.models.passage_limits import Limits
    from audit.models.reads import Crossings, Passages, Reads, Spells
    from audit.models.swapped import Swap, SwapLimits

__all__ = ["Judge", "Judged"]


@dataclass(frozen=True, slots=True)
class Judged:
    """What is said of some boxes.

    Attributes
    ----------
    passages : Passages
    spells : Spells
    crossings : Crossings
    exchanged : dict
        Code of the box -> how sure it is that its antennas are exchanged, and why.
    """

    passages: Passages
    spells: Spells
    crossings: Crossings
    exchanged: dict[int, Swap]


@dataclass(frozen=True, slots=True)
class Judge:
    """Numbers of the models, and what was learnt of a log.

    Attributes
    ----------
    limits : Limits
    beliefs : HealthBeliefs
    swap_limits : SwapLimits
    exchanged_from : float
        The least probability of exchanged antennas that is told.
    gap : float or None
        Seconds that part two groups of reads; None where each lot of boxes is to show its own.
    habits : Habits or None
        Of birds and antennas; None where each lot of boxes is to show its own.
    span : tuple of int or None
        When the loggers of the whole log began and ended, in milliseconds; None where each box is to show its
        own.
    young : mapping of int to mapping of int to int
        Code of the box -> codes of tags put on its nestlings, with the day, in milliseconds since 1970.
    """

    limits: Limits
    beliefs: HealthBeliefs
    swap_limits: SwapLimits
    exchanged_from: float
    gap: float | None = None
    habits: Habits | None = None
    span: tuple[int, int] | None = None
    young: Mapping[int, Mapping[int, int]] = field(default_factory=dict)

    def learn(
        self, reads: Reads, markers: Collection[int], ghosts: Collection[int]
    ) -> tuple[float, Habits | None]:
        """Learn the gap and the habits from whole boxes, sorted by box, tag, time and antenna."""
        birds = without_tags(reads, ghosts)
        spells = health(birds, self.beliefs, gap=self._gap(birds), markers=markers)
        return learn_habits(without_tags(birds, markers), spells, self.limits)

    def __call__(self, reads: Reads, markers: Collection[int], ghosts: Collection[int]) -> Judged:
        """Judge whole boxes, sorted by box, tag, time and antenna."""
        birds = without_tags(reads, ghosts)
        gap, own = self._gap(birds), without_tags(birds, markers)
        # both models ask for the same groups
        groups = group_reads(own, gap)
        logs = logs_of(birds, self.beliefs, gap=gap, markers=markers, span=self.span, birds=(own, groups))
        spells = spells_of(logs, self.beliefs)
        exchanged = find_exchanged(logs, self.swap_limits, self.exchanged_from, self.young)
        del logs
        known = groups if gap == self.gap else None
        found, crossed = passages_and_crossings(own, spells, self.limits, self.gap, self.habits, known)
        return Judged(found, spells, crossed, exchanged)

    def _gap(self, birds: Reads) -> float:
        """Seconds that part two groups: a logger that stores a tag rarely parts no rest into single reads."""
        limits = self.limits
        found = self.gap
        if found is None:
            found = find_gap(birds, limits)
        return max(found, limits.gap_s)
