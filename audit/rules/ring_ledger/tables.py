"""Handlings with a ring and losses, each in an order of their own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.rules.case import Case
from audit.rules.fates import CODES, NO_DAY, Fate
from audit.rules.ring_ledger.lines import Worn
from audit.rules.ringings import ringings_of
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from audit.declarations import Declarations
    from audit.rules.fates import Codes, Flags, Integers
    from audit.season import Season

__all__ = ["LARGEST", "Handled", "Lost", "handled_of", "losses_of"]

#: Numbers beyond are no serial number, and no day.
LARGEST = np.iinfo(np.int64).max
#: Fates that the losses can tell, by the word in the table.
_LOSSES = {fate.value: fate for fate in (Fate.LOST, Fate.DESTROYED, Fate.RETURNED, Fate.PASSED_ON)}


@dataclass(frozen=True)
class Handled:
    """Handlings with a ring, in an order of their own: first ringings first, by day, box and label.

    `said_new` marks those whose event says so, `lately` those of this season.
    """

    ring: list[str]
    day: Integers
    first: Flags
    said_new: Flags
    lately: Flags
    shown: tuple[list[str], ...]

    def with_rings(self, meant: Mapping[str, str]) -> Handled:
        """Return the same with what was probably meant, by row label, in place of rings as typed."""
        labels = self.shown[1]
        ring = [meant.get(label, ring) for label, ring in zip(labels, self.ring, strict=True)]
        return Handled(ring, self.day, self.first, self.said_new, self.lately, self.shown)


@dataclass(frozen=True)
class Lost:
    """Losses, in an order of their own: by day, fate and label."""

    ring: list[str]
    fate: Codes
    day: Integers
    labels: list[str]
    shown: tuple[list[str], ...]

    def with_rings(self, meant: Mapping[str, str]) -> Lost:
        """Return the same with what was probably meant, by row label, in place of rings as typed."""
        ring = [meant.get(label, ring) for label, ring in zip(self.labels, self.ring, strict=True)]
        return Lost(ring, self.fate, self.day, self.labels, self.shown)


def handled_of(season: Season, declared: Declarations) -> Handled:
    """Gather the handlings of this season and of the earlier ones that were handed over."""
    parts = [_met(season.frame(name)) for name in ("handlings", "earlier") if season.has(name, "ring")]
    now = len(season.frame("handlings")) if season.has("handlings", "ring") else 0
    columns = tuple([text for part in parts for text in part[field]] for field in Worn.__slots__)
    rings, labels, _, box = columns[: len(("ring", "label", "day", "box"))]
    day = np.concatenate([np.zeros(0, np.int64), *(_days(part["frame"], "date")[0] for part in parts)])
    events = np.array([text for part in parts for text in part["event"]], dtype=object)
    first = events != "re-encountered"
    if season.has("handlings", "ring", "date", "box"):
        first[:now] = ringings_of(Case(season, declared, declared.rules["ring_stock"])).first
    first[now:] = False
    first = _first_by_label(first, (_rank(rings), _rank(box), day, _rank(events.tolist())), _rank(labels))
    # an unknown day comes last
    order = np.lexsort((_rank(labels), _rank(box), np.where(day == NO_DAY, LARGEST, day), ~first))
    order = order[np.array([bool(rings[i]) for i in order.tolist()], dtype=bool)]
    shown = tuple([column[i] for i in order.tolist()] for column in columns)
    new, lately = first[order], order < now
    return Handled(shown[0], day[order], new, new & (events[order] == "ringed"), lately, shown)


def _first_by_label(first: Flags, alike: tuple[Integers, ...], label: Integers) -> Flags:
    """Of rows that differ in nothing but their place, let the label decide which are first, not the place."""
    turn = np.lexsort((label, *alike))
    together = np.ones(len(turn), dtype=bool)
    together[1:] = np.any([key[turn][1:] != key[turn][:-1] for key in alike], axis=0)
    group = np.cumsum(together) - 1
    count = np.bincount(group, first[turn]).astype(np.int64)
    nth = np.arange(len(turn)) - np.flatnonzero(together)[group]
    found = np.zeros(len(first), dtype=bool)
    found[turn] = nth < count[group]
    return found


def _met(frame: pd.DataFrame) -> dict[str, Any]:
    return {
        "frame": frame,
        "ring": texts_in(frame, "ring"),
        "label": [str(label) for label in frame.index],
        "day": _days(frame, "date")[1],
        "box": texts_in(frame, "box"),
        "species": texts_in(frame, "species"),
        "ringer": texts_in(frame, "ringer"),
        "event": texts_in(frame, "event"),
    }


def losses_of(season: Season) -> Lost:
    """Gather the rings among the losses."""
    if not season.has("ring_losses", "ring"):
        return Lost([], np.zeros(0, np.int8), np.zeros(0, np.int64), [], ([], [], []))
    frame = season.frame("ring_losses")
    day, days = _days(frame, "date")
    words = [word.strip().casefold() for word in texts_in(frame, "fate")]
    codes = np.array([CODES[_LOSSES.get(word, Fate.LOST)] for word in words], dtype=np.int8)
    labels, rings = [str(label) for label in frame.index], texts_in(frame, "ring")
    order = np.lexsort((_rank(labels), codes, day)).tolist()
    order = [i for i in order if rings[i]]
    shown = tuple([column[i] for i in order] for column in (rings, words, days))
    return Lost(shown[0], codes[order], day[order], [labels[i] for i in order], shown)


def _days(frame: pd.DataFrame, name: str) -> tuple[Integers, list[str]]:
    if name not in frame.columns:
        return np.full(len(frame), NO_DAY), [""] * len(frame)
    days = frame[name].to_numpy(dtype="datetime64[D]")
    texts = ["" if text == "NaT" else text for text in np.datetime_as_string(days).tolist()]
    return np.where(np.isnat(days), NO_DAY, days.astype(np.int64)), texts


def _rank(texts: Sequence[str]) -> Integers:
    return np.asarray(
        np.unique(np.array(texts, dtype=object).astype(str), return_inverse=True)[1], dtype=np.int64
    )
