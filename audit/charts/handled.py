"""The birds handled in a season as plain arrays, laid out once for all pictures of single findings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.declarations.species import species_index
from audit.models.time_of_day import minutes_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from audit.declarations import Declarations
    from audit.season import Season

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Words = NDArray[np.object_]

__all__ = ["COLUMNS", "NO_DAY", "NUMBERS", "Groups", "Handled", "days_of", "handled_of", "iso", "short_day"]

#: Columns that hold a number.
NUMBERS: tuple[str, ...] = ("gross_g", "bag_g", "net_g", "wing_mm", "age_days")
_TEXTS = ("box", "ring", "tag", "event", "ringer", "age")
#: Columns that the layout depends on.
COLUMNS: tuple[str, ...] = (*_TEXTS, *NUMBERS, "date", "time", "hatch_date", "species")

NO_DAY = int(np.iinfo(np.int64).min)
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_AGAIN = "re-encountered"


@dataclass(frozen=True, slots=True)
class Groups:
    """Rows that share something, found in no time.

    Examples
    --------
    >>> groups = Groups.of(np.array([4, -1, 0, 4]))
    >>> groups.of_row(0).tolist(), groups.of_row(1).tolist()
    ([0, 3], [1])
    """

    codes: Ints
    order: Ints
    starts: Ints

    @classmethod
    def of(cls, codes: Ints) -> Groups:
        """Group rows by their codes, whole numbers from 0; below 0 a row shares nothing."""
        order = np.argsort(codes, kind="stable").astype(np.int64)
        top = int(codes.max(initial=-1)) + 1
        starts = np.searchsorted(codes[order], np.arange(top + 1)).astype(np.int64)
        return cls(codes, order, starts)

    def rows(self, code: int) -> Ints:
        """Rows of a code, in sheet order."""
        if not 0 <= code < len(self.starts) - 1:
            return np.array([], dtype=np.int64)
        return self.order[self.starts[code] : self.starts[code + 1]]

    def of_row(self, row: int) -> Ints:
        """Rows that share their code with a row, itself included."""
        code = int(self.codes[row])
        return self.rows(code) if code >= 0 else np.array([row], dtype=np.int64)


@dataclass(frozen=True, slots=True)
class Handled:
    """The handlings, one entry per row, in sheet order.

    Attributes
    ----------
    labels : list of str
        Row labels.
    place : mapping of str to int
        Position of each label.
    day : numpy.ndarray of int
        Days since 1970; `NO_DAY` where missing.
    texts : mapping of str to numpy.ndarray of str
        Box, ring, tag, event, ringer and age code as read; empty where missing.
    numbers : mapping of str to numpy.ndarray
        Grams, millimetres, days; NaN where missing.
    hatched : numpy.ndarray
        Days since 1970; NaN where missing.
    minute : numpy.ndarray
        Time of day in minutes; NaN where missing.
    slug : numpy.ndarray of str
        Declared species; empty where the text means none.
    visit, bird, of_day, of_box : Groups
        Rows of one box and day, one ring, one day, one box.
    order : numpy.ndarray of int
        Rows with a date in the order of handling: by day, then as typed.
    rank : numpy.ndarray of int
        Place of each row in `order`; -1 without a date.
    """

    labels: list[str]
    place: Mapping[str, int]
    day: Ints
    texts: Mapping[str, Words]
    numbers: Mapping[str, Floats]
    hatched: Floats
    minute: Floats
    slug: Words
    visit: Groups
    bird: Groups
    of_day: Groups
    of_box: Groups
    order: Ints
    rank: Ints

    @property
    def order_known(self) -> Flags:
        """Whether a row has a date."""
        flags: Flags = self.rank >= 0
        return flags

    @property
    def again(self) -> Flags:
        """Whether the bird had been ringed before."""
        flags: Flags = self.texts["event"] == _AGAIN
        return flags

    def tip(self, row: int) -> str:
        """Say where a row stands and what it is about, for a tooltip."""
        sheet, _, number = self.labels[row].rpartition("!")
        told = [f"{sheet}, row {number}", self.texts["box"][row], iso(self.day[row]), self.texts["ring"][row]]
        return "; ".join(text for text in told if text)


def iso(day: float) -> str:
    """Write a day, counted from 1970, as ISO 8601; empty where there is none.

    Examples
    --------
    >>> iso(20624)
    '2026-06-20'
    """
    if not np.isfinite(day) or day == NO_DAY:
        return ""
    return str(np.datetime64(int(day), "D"))


def short_day(day: float) -> str:
    """Write a day, counted from 1970, without its year; empty where there is none.

    Examples
    --------
    >>> short_day(20624)
    '20 Jun'
    """
    text = iso(day)
    return f"{int(text[-2:])} {_MONTHS[int(text[-5:-3]) - 1]}" if text else ""


def handled_of(season: Season, declared: Declarations) -> Handled:
    """Lay out the handlings of a season, which must have that table."""
    frame = season.frame("handlings")
    n = len(frame)

    def texts(name: str) -> Words:
        if name not in frame.columns:
            return np.full(n, "", dtype=object)
        return frame[name].fillna("").astype("str").to_numpy(dtype=object)

    def numbers(name: str) -> Floats:
        if name not in frame.columns:
            return np.full(n, np.nan)
        return frame[name].to_numpy(dtype=np.float64, na_value=np.nan)

    words = {name: texts(name) for name in _TEXTS}
    day = days_of(frame, "date")
    hatched = days_of(frame, "hatch_date").astype(np.float64)
    hatched[hatched == NO_DAY] = np.nan
    labels = [str(label) for label in frame.index]
    box, of_day, bird = (
        _codes(some) for some in (words["box"], np.where(day == NO_DAY, "", day), words["ring"])
    )
    together = np.where((box >= 0) & (of_day >= 0), box * (int(of_day.max(initial=0)) + 1) + of_day, -1)
    dated = np.flatnonzero(day != NO_DAY)
    order = dated[np.argsort(day[dated], kind="stable")]
    rank = np.full(n, -1, dtype=np.int64)
    rank[order] = np.arange(len(order))
    return Handled(
        labels=labels,
        place={label: row for row, label in enumerate(labels)},
        day=day,
        texts=words,
        numbers={name: numbers(name) for name in NUMBERS},
        hatched=hatched,
        minute=_minutes(frame),
        slug=_species(frame, declared),
        visit=Groups.of(_codes(together, missing=-1)),
        bird=Groups.of(bird),
        of_day=Groups.of(of_day),
        of_box=Groups.of(box),
        order=order,
        rank=rank,
    )


def _codes(values: NDArray[np.generic], missing: object = "") -> Ints:
    found: Ints = pd.factorize(values)[0].astype(np.int64)
    none = np.asarray(values == missing, dtype=bool)
    # the code of what is missing stays unused, which only costs an empty group
    return np.where(none, -1, found)


def days_of(frame: pd.DataFrame, name: str) -> Ints:
    """Return a column of dates as days since 1970, `NO_DAY` where missing."""
    if name not in frame.columns:
        return np.full(len(frame), NO_DAY, dtype=np.int64)
    values = frame[name].to_numpy(dtype="datetime64[D]")
    return np.where(np.isnat(values), NO_DAY, values.astype(np.int64))


def _minutes(frame: pd.DataFrame) -> Floats:
    if "time" not in frame.columns:
        return np.full(len(frame), np.nan)
    texts = frame["time"].fillna("").astype("str")
    meant = {text: minutes_of(text) for text in texts.unique()}
    return texts.map(meant).to_numpy(dtype=np.float64)


def _species(frame: pd.DataFrame, declared: Declarations) -> Words:
    if "species" not in frame.columns:
        usual = str(declared.settings["season.species.default_species"].value)
        return np.full(len(frame), usual, dtype=object)
    index = species_index(declared.species)
    texts = frame["species"].fillna("").astype("str")
    meant = {text: index.resolve(text) or "" for text in texts.unique()}
    return texts.map(meant).to_numpy(dtype=object)
