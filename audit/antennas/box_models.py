"""The models asked of the boxes of a log, with their declared numbers."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.antennas.hands import Hands
from audit.antennas.judging import Judge
from audit.antennas.log_codes import tag_codes
from audit.antennas.markers import find_markers
from audit.antennas.over_boxes import ghosts_over, markers_over
from audit.antennas.stray_stamps import Stray, stray_limits, without_strays
from audit.models.box_log import DAY_MS
from audit.models.ghosts import find_ghosts
from audit.models.health_beliefs import HealthBeliefs
from audit.models.passage_limits import Limits
from audit.models.swapped import SwapLimits

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence
    from concurrent.futures import Future

    from numpy.typing import NDArray

    from audit.antennas.clock import Clocks
    from audit.antennas.detection_log import DetectionLog
    from audit.declarations import Declarations
    from audit.models.passage_habits import Habits
    from audit.models.reads import Crossings, Passages, Reads, Spells
    from audit.models.swapped import Swap

__all__ = ["Models"]


class Models:
    """The models with their declared numbers, and the marker tags met so far."""

    def __init__(
        self,
        declared: Declarations,
        tags: tuple[str, ...],
        clocks: Clocks | None = None,
        hands: Hands | None = None,
        given: Collection[str] = (),
    ) -> None:
        def under(name: str) -> dict[str, object]:
            start = f"antennas.{name}."
            return {
                key.removeprefix(start): limit.value
                for key, limit in declared.settings.items()
                if key.startswith(start)
            }

        numbers, health_numbers, swap_numbers = under("passages"), under("health"), under("swapped")
        limits = declared.loggers.limits
        # declared numbers are of any kind; the form has checked them
        self.judge = Judge(
            Limits(**{field.name: numbers[field.name] for field in fields(Limits)}),  # type: ignore[arg-type]  # settings carry no types
            HealthBeliefs(**{field.name: health_numbers[field.name] for field in fields(HealthBeliefs)}),  # type: ignore[arg-type]  # settings carry no types
            SwapLimits(**{field.name: swap_numbers[field.name] for field in fields(SwapLimits)}),  # type: ignore[arg-type]  # settings carry no types
            float(limits["reading.exchanged_from"].value),
        )
        named = {str(tag) for tag in limits["reading.marker_tags"].value} | {*declared.loggers.moments.by_tag}
        named |= {*declared.loggers.held}
        labels = {*tag_codes([*named, *tags])[0]} & named if named else set()
        self.named = {code for code, tag in enumerate(tags) if tag in labels}
        self.markers = set(self.named)
        self.learning: Future[tuple[float, Habits | None]] | None = None
        self.exchanged: dict[int, Swap] = {}
        self.ghosts: set[int] = set()
        #: Noise by all reads of a log of several chunks; None where each lot of boxes is to show its own.
        self.noise: set[int] | None = None
        self.strays: dict[int, list[Stray]] = {}
        self.stray_limits = stray_limits(declared)
        self.tags = tags
        #: Tags of the log that were given out, whatever way either is written: these are never noise.
        code = tag_codes([*given, *tags])[1]
        out = {code[text] for text in given if text in code}
        self.given = tuple(tag for tag in tags if code.get(tag) in out)
        self.clocks = clocks
        self.reads_most = int(declared.settings["antennas.ghosts.reads_most"].value)
        self.times_rarer = float(declared.settings["antennas.ghosts.times_rarer"].value)
        self.least_s = float(limits["reading.marker_least_s"].value)
        self.hands = Hands(0) if hands is None else hands

    def raised(self, boxes: Sequence[str], young: Mapping[str, Mapping[str, int]]) -> None:
        """Hand in the tags that were put on the nestlings of each box, and when.

        Parameters
        ----------
        boxes : sequence of str
            Labels by code.
        young : mapping of str to mapping of str to int
            Box -> tag -> day, in milliseconds since 1970.
        """
        code = tag_codes([*sorted({tag for tags in young.values() for tag in tags}), *self.tags])[1]
        here = {code[tag]: nr for nr, tag in enumerate(self.tags) if tag in code}
        found = {
            nr: {here[code[tag]]: day for tag, day in young[box].items() if code.get(tag) in here}
            for nr, box in enumerate(boxes)
            if box in young
        }
        self.judge = replace(self.judge, young=found)

    def learn(self, reads: Reads) -> None:
        """Learn from some boxes what then holds for all that are asked; their clocks are set right first.

        Another process learns, where there is one: what is asked next waits for it only at last.
        """
        markers = self._markers(reads)
        if self.clocks is not None:
            reads = self.clocks.aside().set_right(reads, markers, self.judge.limits.gap_s)
        reads, _ = without_strays(reads, self.stray_limits)
        ghosts = self._ghosts(reads, markers)
        thread = ThreadPoolExecutor(1)
        self.learning = thread.submit(self.hands.ask, self.judge.learn, reads, markers, ghosts)
        thread.shutdown(wait=False)

    def heed(self, log: DetectionLog, heard: Mapping[str, NDArray[Any]]) -> None:
        """Tell marker tags and noise by all reads of a log: a chunk sees a part of them only.

        Parameters
        ----------
        log : DetectionLog
        heard : mapping of str to numpy.ndarray
            As `over_boxes.heard_of` gives it.
        """
        self.named |= markers_over(log, heard, self.judge.beliefs, self.least_s)
        gap_s = self.judge.limits.gap_s
        self.noise = ghosts_over(log, heard, gap_s, self.reads_most, self.times_rarer, self.given)

    def around(self, first: NDArray[np.int64], last: NDArray[np.int64]) -> None:
        """Hand in when each box of the whole log began and ended; a clock that went astray tells nothing."""
        if len(first):
            far = self.judge.beliefs.season_d * DAY_MS
            begun, ended = (one[np.abs(one - np.median(one)) <= far] for one in (first, last))
            span = (int(begun.min()), int(ended.max()) + 1) if len(begun) and len(ended) else None
            self.judge = replace(self.judge, span=span)

    def ask(self, reads: Reads) -> tuple[Passages, Spells, Crossings]:
        """Find passages, the state of antennas and the crossings they heard, of some boxes."""
        markers = self._markers(reads)
        self.markers |= markers
        if self.clocks is not None:
            reads = self.clocks.set_right(reads, markers, self.judge.limits.gap_s)
        reads, strays = without_strays(reads, self.stray_limits)
        self.strays |= strays
        if self.clocks is not None:
            self.clocks.heard.remember(reads, strays)
        ghosts = self._ghosts(reads, markers)
        self.ghosts |= ghosts
        judged = self.hands.judge(self._taught(), reads, markers, ghosts)
        self.exchanged |= judged.exchanged
        return judged.passages, judged.spells, judged.crossings

    def _taught(self) -> Judge:
        if self.learning is None:
            return self.judge
        gap, habits = self.learning.result()
        return replace(self.judge, gap=gap, habits=habits)

    def _markers(self, reads: Reads) -> set[int]:
        return self.named | find_markers(reads, self.judge.beliefs, self.least_s)

    def _ghosts(self, reads: Reads, markers: set[int]) -> set[int]:
        if self.noise is not None:
            return self.noise - markers
        gap_s = self.judge.limits.gap_s
        noise = find_ghosts(self.tags, reads, gap_s, self.reads_most, self.times_rarer, self.given).ghost
        return set(np.flatnonzero(noise).tolist()) - markers
