"""Birds of earlier seasons, by their rings and tags: witnesses for those that are met again."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.declarations.species import species_index
from audit.models.ring_number import bare, split_ring
from audit.models.spelling import SlipIndex
from audit.models.tag_text import comparable
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import pandas as pd

    from audit.rules.case import Case
    from audit.rules.heeded import Columns
    from audit.rules.ring_rows import Key

__all__ = ["EARLIER", "EarlierBirds", "Meeting", "earlier_birds", "earlier_rings", "earlier_tags"]

#: Columns of earlier seasons on which anything depends.
EARLIER: Columns = {
    "earlier": ("date", "box", "species", "ring", "tag", "age", "event", "sex", "wing_mm"),
}


@dataclass(frozen=True, slots=True)
class Meeting:
    """One handling of an earlier season.

    Attributes
    ----------
    label : str
        Row label.
    day : int
        Days since 1970.
    box, species, ring, tag, age, event, sex : str
        Empty where missing; the species by its slug, empty where the text means none.
    wing : float
        Millimetres; NaN where missing.
    """

    label: str
    day: int
    box: str
    species: str
    ring: str
    tag: str
    age: str
    event: str
    sex: str
    wing: float

    @property
    def date(self) -> str:
        """Day, as ISO 8601."""
        return str(np.datetime64(self.day, "D"))


@dataclass(frozen=True)
class EarlierBirds:
    """Dated handlings of earlier seasons with a ring, in order of day.

    Attributes
    ----------
    meetings : tuple of Meeting
    """

    meetings: tuple[Meeting, ...]

    @cached_property
    def of_ring(self) -> Mapping[str, tuple[Meeting, ...]]:
        """Meetings by ring without separators, in order of day."""
        found: dict[str, list[Meeting]] = defaultdict(list)
        for meeting in self.meetings:
            found[bare(meeting.ring)].append(meeting)
        return {ring: tuple(met) for ring, met in found.items()}

    def of_tag(self, habit: str | None) -> Mapping[str, tuple[Meeting, ...]]:
        """Meetings by tag, however written, in order of day.

        Parameters
        ----------
        habit : str or None
            The way of writing that most tags of the season share.
        """
        found: dict[str, list[Meeting]] = defaultdict(list)
        for meeting in self.meetings:
            if meeting.tag:
                found[comparable(meeting.tag, habit)].append(meeting)
        return {key: tuple(met) for key, met in found.items()}

    @cached_property
    def in_box(self) -> Mapping[str, frozenset[str]]:
        """Rings, without separators, by the box in which each was met last."""
        found: dict[str, set[str]] = defaultdict(set)
        for ring, met in self.of_ring.items():
            found[met[-1].box].add(ring)
        return {box: frozenset(rings) for box, rings in found.items()}

    @cached_property
    def index(self) -> SlipIndex:
        """The rings without separators, filed for questions about single slips."""
        return SlipIndex(self.of_ring)

    @cached_property
    def ends(self) -> Mapping[Key, tuple[int, int]]:
        """Lowest and highest number of each series of earlier rings."""
        return {key: (min(numbers), max(numbers)) for key, numbers in self._numbers(self.of_ring).items()}

    @cached_property
    def put_on(self) -> Mapping[Key, frozenset[int]]:
        """Numbers of each series that were put on a bird in an earlier season, as far as events tell."""
        ringed = (ring for ring, met in self.of_ring.items() if met[0].event != "re-encountered")
        return {key: frozenset(numbers) for key, numbers in self._numbers(ringed).items()}

    @staticmethod
    def _numbers(rings: Iterable[str]) -> dict[Key, list[int]]:
        numbers: dict[Key, list[int]] = defaultdict(list)
        for ring in rings:
            stem, digits = split_ring(ring)
            if digits:
                numbers[stem, len(digits)].append(int(digits))
        return numbers

    def span(self, key: Key) -> int:
        """How many numbers a series of earlier rings stretches over; one where there is none."""
        low, high = self.ends.get(key, (0, 0))
        return high - low + 1

    def count(self, key: Key) -> int:
        """How many rings of a series there are."""
        return self._counts.get(key, 0)

    @cached_property
    def _counts(self) -> Mapping[Key, int]:
        counts: dict[Key, int] = defaultdict(int)
        for ring in self.of_ring:
            stem, digits = split_ring(ring)
            counts[stem, len(digits)] += 1
        return counts


def earlier_birds(case: Case) -> EarlierBirds:
    """Lay out the birds of earlier seasons; there are none where none were given."""
    return case.lay_out(_lay_out, EARLIER)


def earlier_rings(case: Case) -> frozenset[str]:
    """Rings that were on a bird in an earlier season, without separators."""
    return frozenset(earlier_birds(case).of_ring)


def earlier_tags(case: Case, habit: str | None = None) -> frozenset[str]:
    """Keys of the tags that were on a bird in an earlier season.

    Parameters
    ----------
    habit : str or None
        The way of writing that most tags of the season share.
    """
    return frozenset(earlier_birds(case).of_tag(habit))


def _lay_out(case: Case) -> EarlierBirds:
    if not case.season.has("earlier", "date", "ring"):
        return EarlierBirds(())
    frame = case.frame("earlier")
    told = frame["date"].notna() & (frame["ring"].fillna("") != "")
    frame = frame[told].sort_values("date", kind="stable")
    index = species_index(case.declared.species)
    species = _texts(frame, "species")
    slugs = {text: index.resolve(text) or "" for text in set(species)}
    wing = (
        frame["wing_mm"].to_numpy(dtype=np.float64, na_value=np.nan)
        if "wing_mm" in frame.columns
        else np.full(len(frame), np.nan)
    )
    return EarlierBirds(
        tuple(
            Meeting(label, day, box, slugs[kind], ring, tag, age, event, sex, size)
            for label, day, box, kind, ring, tag, age, event, sex, size in zip(
                frame.index.tolist(),
                frame["date"].to_numpy().astype("datetime64[D]").astype(np.int64).tolist(),
                _texts(frame, "box"),
                species,
                _texts(frame, "ring"),
                _texts(frame, "tag"),
                _texts(frame, "age"),
                _texts(frame, "event"),
                _texts(frame, "sex"),
                wing.tolist(),
                strict=True,
            )
        )
    )


def _texts(frame: pd.DataFrame, name: str) -> list[str]:
    return [text.strip() for text in texts_in(frame, name)]
