"""The models asked of the boxes of a log, with their declared numbers."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np

from audit.archive.exchanged import find_exchanged
from audit.archive.log_codes import tag_codes
from audit.archive.markers import find_markers, without_tags
from audit.models.antenna_health import health
from audit.models.ghosts import find_ghosts
from audit.models.health_beliefs import HealthBeliefs
from audit.models.passages import Limits, learn_habits
from audit.models.passages import passages as find_passages
from audit.models.swapped import SwapLimits

if TYPE_CHECKING:
    from audit.archive.clock import Clocks
    from audit.declarations import Declarations
    from audit.models.passage_weighing import Habits
    from audit.models.reads import Passages, Reads, Spells
    from audit.models.swapped import Swap

__all__ = ["Models"]


class Models:
    """The models with their declared numbers, and the marker tags met so far."""

    def __init__(self, declared: Declarations, tags: tuple[str, ...], clocks: Clocks | None = None) -> None:
        def under(name: str) -> dict[str, object]:
            start = f"antennas.{name}."
            return {
                key.removeprefix(start): limit.value
                for key, limit in declared.settings.items()
                if key.startswith(start)
            }

        numbers, health_numbers, swap_numbers = under("passages"), under("health"), under("swapped")
        self.swap_limits = SwapLimits(
            # declared numbers are of any kind; the form has checked them
            **{field.name: swap_numbers[field.name] for field in fields(SwapLimits)}  # type: ignore[arg-type]
        )
        # declared numbers are of any kind; the form has checked them
        self.limits = Limits(**{field.name: numbers[field.name] for field in fields(Limits)})  # type: ignore[arg-type]
        self.beliefs = HealthBeliefs(
            # declared numbers are of any kind; the form has checked them
            **{field.name: health_numbers[field.name] for field in fields(HealthBeliefs)}  # type: ignore[arg-type]
        )
        limits = declared.loggers.limits
        named = {str(tag) for tag in limits["reading.marker_tags"].value}
        labels = {*tag_codes([*named, *tags])[0]} & named if named else set()
        self.named = {code for code, tag in enumerate(tags) if tag in labels}
        self.markers = set(self.named)
        self.exchanged: dict[int, Swap] = {}
        self.exchanged_from = float(limits["reading.exchanged_from"].value)
        self.ghosts: set[int] = set()
        self.tags = tags
        self.clocks = clocks
        self.reads_most = int(declared.settings["antennas.ghosts.reads_most"].value)
        self.times_rarer = float(declared.settings["antennas.ghosts.times_rarer"].value)
        self.least_s = float(limits["reading.marker_least_s"].value)
        self.gap: float | None = None
        self.habits: Habits | None = None

    def learn(self, reads: Reads) -> None:
        """Learn from some boxes what then holds for all that are asked."""
        markers = self.named | find_markers(reads, self.beliefs, self.least_s)
        noise = find_ghosts(self.tags, reads, self.limits.gap_s, self.reads_most, self.times_rarer).ghost
        birds = without_tags(reads, set(np.flatnonzero(noise).tolist()) - markers)
        spells = health(birds, self.beliefs, markers=markers)
        self.gap, self.habits = learn_habits(without_tags(birds, markers), spells, self.limits)

    def ask(self, reads: Reads) -> tuple[Passages, Spells]:
        """Find passages and the state of antennas of some boxes."""
        markers = self.named | find_markers(reads, self.beliefs, self.least_s)
        self.markers |= markers
        if self.clocks is not None:
            reads = self.clocks.set_right(reads, markers, self.limits.gap_s)
        noise = find_ghosts(self.tags, reads, self.limits.gap_s, self.reads_most, self.times_rarer).ghost
        ghosts = set(np.flatnonzero(noise).tolist()) - markers
        self.ghosts |= ghosts
        birds = without_tags(reads, ghosts)
        spells = health(birds, self.beliefs, markers=markers)
        known = self.beliefs, self.swap_limits
        self.exchanged |= find_exchanged(birds, markers, self.limits.gap_s, known, self.exchanged_from)
        found = find_passages(without_tags(birds, markers), spells, self.limits, self.gap, self.habits)
        return found, spells
