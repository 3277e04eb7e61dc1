"""What became of every ring that was issued: the ledger of a season. Evidence, no findings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.models.ring_number import bare, join_ring, split_ring
from audit.rules.case import Case
from audit.rules.fates import CODES, FATES, NO_DAY, Fate, Habits, settle
from audit.rules.ringings import ringings_of
from audit.rules.stock import issued_strings
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Container, Iterator, Mapping, Sequence

    import pandas as pd

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.rules.fates import Codes, Flags, Integers
    from audit.rules.ringings import Key
    from audit.rules.stock import IssuedString
    from audit.season import Season

__all__ = [
    "LostElsewhere",
    "OtherRing",
    "RingLedger",
    "RingLine",
    "SeriesUse",
    "Worn",
    "lay_ledger",
    "meant_instead",
]

#: Fates that the losses can tell, by the word in the table.
_LOSSES = {fate.value: fate for fate in (Fate.LOST, Fate.DESTROYED, Fate.RETURNED, Fate.PASSED_ON)}
_LARGEST = np.iinfo(np.int64).max


@dataclass(frozen=True, slots=True)
class Worn:
    """One handling as the ledger tells it; texts are empty where nothing was typed, the day is ISO 8601."""

    ring: str
    label: str
    day: str
    box: str
    species: str
    ringer: str

    @property
    def sheet(self) -> str:
        """Sheet of the row."""
        return split_label(self.label)[0] if self.label else ""

    @property
    def row(self) -> int | None:
        """Row of the sheet."""
        return split_label(self.label)[1] if self.label else None


@dataclass(frozen=True, slots=True)
class RingLine:
    """One ring of one string.

    Attributes
    ----------
    ring : str
        Its number.
    string : IssuedString
        The string it belongs to.
    fate, likely : Fate
        What became of it as typed; and if what the findings suggest had been typed.
    date : str
        Day on which it was put on, or of its loss; ISO 8601.
    worn : Worn or None
        The handling at which it was put on, or first met.
    remark : str
        What else there is to say.
    conflict : bool
        Whether the tables tell two fates that exclude each other.
    """

    ring: str
    string: IssuedString
    fate: Fate
    likely: Fate
    date: str
    worn: Worn | None
    remark: str
    conflict: bool


@dataclass(frozen=True, slots=True)
class OtherRing:
    """A ring on a bird that is in no string.

    Attributes
    ----------
    asked : bool
        Whether it is a question: put on this season, and not issued. Else a bird that bore it already.
    """

    worn: Worn
    asked: bool


@dataclass(frozen=True, slots=True)
class LostElsewhere:
    """A ring among the losses that is in no string."""

    ring: str
    fate: Fate
    date: str


@dataclass(frozen=True, slots=True)
class SeriesUse:
    """The rings of one series that were put on, where there is no list of what was issued.

    Attributes
    ----------
    first, last : str
        Lowest and highest ring put on.
    used, lost : int
        How many rings were put on, and how many losses the series has.
    gaps : tuple of str
        Rings between them that are on no bird and among no losses, as ranges.
    missing : int
        How many these are.
    """

    first: str
    last: str
    used: int
    lost: int
    gaps: tuple[str, ...]
    missing: int


@dataclass(frozen=True)
class RingLedger:
    """The rings of all strings; arrays have one entry per ring, string by string.

    Attributes
    ----------
    strings : tuple of IssuedString
        In order of series and number.
    starts : array of int
        Where the rings of each string begin; one entry more than there are strings.
    fate, likely : array of int
        Codes of `FATES`.
    row : array of int
        Handling at which a ring was put on, or first met; -1 for none.
    loss : array of int
        Row of the losses; -1 for none.
    times : array of int
        In how many handlings it stands as newly put on.
    quarrel : array of bool
        On a bird and among the losses.
    torn : array of bool
        Among the losses with two fates.
    twice : array of bool
        Issued in more than one string.
    unread : tuple of IssuedString
        Strings that cannot be laid out: their ends do not go together, or they are too long to be one.
    worn, lost : tuple of sequences
        Columns of the handlings with a ring, as in `Worn`, and of the losses: ring, fate, date.
    others : tuple of OtherRing
        Rings on birds that are in no string.
    lost_elsewhere : tuple of LostElsewhere
        Losses that are in no string.
    series : tuple of SeriesUse
        What was put on of series that have no string in the stock, single rings left out; of all series where
        no string is laid out.
    has_stock : bool
        Whether there is any row in the stock.
    """

    strings: tuple[IssuedString, ...]
    unread: tuple[IssuedString, ...]
    starts: Integers
    fate: Codes
    likely: Codes
    row: Integers
    loss: Integers
    times: Integers
    quarrel: Flags
    torn: Flags
    twice: Flags
    worn: tuple[Sequence[str], ...]
    lost: tuple[Sequence[str], ...]
    others: tuple[OtherRing, ...]
    lost_elsewhere: tuple[LostElsewhere, ...]
    series: tuple[SeriesUse, ...]
    has_stock: bool

    def __len__(self) -> int:
        return int(self.fate.size)

    def span(self, which: int) -> slice:
        """Where the rings of a string stand in the arrays."""
        return slice(int(self.starts[which]), int(self.starts[which + 1]))

    def counts(self, which: int, *, likely: bool = False) -> dict[Fate, int]:
        """Count the rings of a string by fate: the counts sum to its length."""
        codes = (self.likely if likely else self.fate)[self.span(which)]
        numbers = np.bincount(codes, minlength=len(FATES))
        return dict(zip(FATES, numbers.tolist(), strict=True))

    @cached_property
    def total(self) -> Mapping[Fate, int]:
        """Count all rings by fate."""
        return dict(zip(FATES, np.bincount(self.fate, minlength=len(FATES)).tolist(), strict=True))

    @cached_property
    def conflict(self) -> Flags:
        """Rings of which the tables tell what cannot all be true."""
        found: Flags = self.quarrel | self.torn | (self.times > 1) | self.twice
        return found

    def names(self, which: int, fate: Fate, *, likely: bool = False) -> list[str]:
        """List the rings of a string that have one fate, as ranges."""
        span = self.span(which)
        places = np.flatnonzero((self.likely if likely else self.fate)[span] == CODES[fate])
        string = self.strings[which]
        return _ranges(string.stem, string.width, places + string.first)

    def lines(self, which: int | None = None) -> Iterator[RingLine]:
        """Tell every ring of one string, or of all."""
        chosen = range(len(self.strings)) if which is None else (which,)
        for one in chosen:
            string, span = self.strings[one], self.span(one)
            yield from (
                self._line(string, string.first + place - span.start, place)
                for place in range(span.start, span.stop)
            )

    def conflicts(self) -> list[RingLine]:
        """Tell the rings of which the tables tell what cannot all be true."""
        found = []
        for place in np.flatnonzero(self.conflict).tolist():
            which = int(np.searchsorted(self.starts, place, side="right")) - 1
            string = self.strings[which]
            found.append(self._line(string, string.first + place - int(self.starts[which]), place))
        return found

    def _line(self, string: IssuedString, serial: int, place: int) -> RingLine:
        row, loss = int(self.row[place]), int(self.loss[place])
        fate = FATES[self.fate[place]]
        worn = self._worn(row) if row >= 0 else None
        date = ""
        if fate is Fate.ON_A_BIRD and worn:
            date = worn.day
        elif loss >= 0:
            date = self.lost[2][loss]
        return RingLine(
            join_ring(string.stem, serial, string.width),
            string,
            fate,
            FATES[self.likely[place]],
            date,
            worn,
            self._remark(place, worn, loss),
            bool(self.conflict[place]),
        )

    def _worn(self, row: int) -> Worn:
        return Worn(*(column[row] for column in self.worn))

    def _remark(self, place: int, worn: Worn | None, loss: int) -> str:
        said = []
        if loss >= 0 and worn:
            _, word, day = (column[loss] for column in self.lost)
            when = f" on {day}" if day else ""
            if self.quarrel[place]:
                said.append(f"on a bird, and among the losses: {word or Fate.LOST}{when}")
            else:
                at = " ".join(filter(None, (worn.box, worn.day)))
                said.append(f"was on a bird ({at}) before" if at else "was on a bird before")
        if self.torn[place]:
            said.append("among the losses with two fates")
        if self.times[place] > 1:
            said.append(f"stands as newly put on in {self.times[place]} rows")
        elif worn and not self.times[place]:
            said.append("put on before this season")
        if self.twice[place]:
            said.append("issued in two strings")
        if self.likely[place] != self.fate[place]:
            said.append(f"by the findings probably {FATES[self.likely[place]]}")
        return "; ".join(said)


def lay_ledger(season: Season, declared: Declarations, report: Report | None = None) -> RingLedger:
    """Tell what became of every ring of every string issued.

    Parameters
    ----------
    season : Season
        The season as typed; it is not changed.
    declared : Declarations
        Numbers of ``ledger.yaml``.
    report : Report, optional
        Of its findings, suggestions with a high chance to be what was meant decide `RingLedger.likely`;
        what was typed alone decides `RingLedger.fate`.

    Returns
    -------
    RingLedger
        The order of rows in the tables has no part in it.
    """
    stock = issued_strings(season)
    strings, unread = _laid_out(stock, declared)
    starts = np.concatenate(([0], np.cumsum([s.last - s.first + 1 for s in strings], dtype=np.int64))).astype(
        np.int64
    )
    handled, lost = _handled(season, declared), _lost(season)
    habits = Habits(
        int(declared.settings["ledger.part"].value), int(declared.rings.limits["order.own_least"].value)
    )
    early = _early(strings, handled, float(declared.settings["ledger.first_year"].value))
    typed = _tell(strings, starts, handled, lost)
    fate = _settled(typed, starts, early, habits)
    likely = fate
    if report is not None:
        least = float(declared.settings["ledger.p_likely"].value)
        meant = meant_instead(report, "ring", least)
        if meant:
            other = _tell(strings, starts, handled.with_rings(meant), lost.with_rings(meant))
            likely = _settled(other, starts, early, habits)
    listed = {string.key for string in strings}
    series = {
        key: use
        for key, use in _series(handled, lost)
        if not strings or (key not in listed and use.used >= habits.least)
    }
    return RingLedger(
        strings,
        unread,
        starts,
        fate,
        likely,
        typed.row,
        typed.loss,
        typed.times,
        typed.quarrel,
        typed.torn,
        _issued_twice(strings, starts),
        handled.shown,
        lost.shown,
        tuple(_others(handled, typed.known, strings, series)),
        _lost_elsewhere(lost, typed.known_losses),
        tuple(series.values()),
        bool(stock),
    )


def meant_instead(report: Report, field: str, least: float) -> dict[str, str]:
    """Cells of one column that the findings would mend with at least some probability, by row label."""
    best: dict[str, tuple[float, str]] = {}
    for finding in report.findings:
        for suspect in finding.suspects:
            p = suspect.p_fix or 0.0
            if suspect.cell.field == field and suspect.suggested and p >= least:
                best[suspect.cell.label] = max(
                    best.get(suspect.cell.label, (0.0, "")), (p, suspect.suggested)
                )
    return {label: text for label, (_, text) in best.items()}


@dataclass(frozen=True)
class _Handled:
    """Handlings with a ring, in an order of their own: first ringings first, by day, box and label.

    `said_new` marks those whose event says so, `lately` those of this season.
    """

    ring: list[str]
    day: Integers
    first: Flags
    said_new: Flags
    lately: Flags
    shown: tuple[list[str], ...]

    def with_rings(self, meant: Mapping[str, str]) -> _Handled:
        labels = self.shown[1]
        ring = [meant.get(label, ring) for label, ring in zip(labels, self.ring, strict=True)]
        return _Handled(ring, self.day, self.first, self.said_new, self.lately, self.shown)


@dataclass(frozen=True)
class _Lost:
    """Losses, in an order of their own: by day, fate and label."""

    ring: list[str]
    fate: Codes
    day: Integers
    labels: list[str]
    shown: tuple[list[str], ...]

    def with_rings(self, meant: Mapping[str, str]) -> _Lost:
        ring = [meant.get(label, ring) for label, ring in zip(self.labels, self.ring, strict=True)]
        return _Lost(ring, self.fate, self.day, self.labels, self.shown)


@dataclass(frozen=True)
class _Told:
    """What the tables tell of each ring; `known` marks handlings whose ring is in a string."""

    code: Codes
    new: Flags
    day: Integers
    row: Integers
    loss: Integers
    times: Integers
    quarrel: Flags
    torn: Flags
    known: Flags
    known_losses: Flags


def _laid_out(
    stock: Sequence[IssuedString], declared: Declarations
) -> tuple[tuple[IssuedString, ...], tuple[IssuedString, ...]]:
    """Strings that are laid out ring by ring, in order, and those that cannot be."""
    longest = declared.settings["ledger.longest"].value
    room = declared.settings["ledger.most_rings"].value
    laid, unread = [], []
    for string in sorted(stock, key=lambda s: (s.key, s.first, s.last, s.label)):
        length = string.last - string.first + 1
        if string.fault or length > min(longest, room) or string.last > _LARGEST:
            unread.append(string)
        else:
            room -= length
            laid.append(string)
    return tuple(laid), tuple(unread)


def _texts(frame: pd.DataFrame, name: str) -> list[str]:
    if name not in frame.columns:
        return [""] * len(frame)
    return [value if isinstance(value, str) else "" for value in frame[name].tolist()]


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


def _handled(season: Season, declared: Declarations) -> _Handled:
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
    # an unknown day comes last
    order = np.lexsort((_rank(labels), _rank(box), np.where(day == NO_DAY, _LARGEST, day), ~first))
    order = order[np.array([bool(rings[i]) for i in order.tolist()], dtype=bool)]
    shown = tuple([column[i] for i in order.tolist()] for column in columns)
    new, lately = first[order], order < now
    return _Handled(shown[0], day[order], new, new & (events[order] == "ringed"), lately, shown)


def _met(frame: pd.DataFrame) -> dict[str, Any]:
    return {
        "frame": frame,
        "ring": _texts(frame, "ring"),
        "label": [str(label) for label in frame.index],
        "day": _days(frame, "date")[1],
        "box": _texts(frame, "box"),
        "species": _texts(frame, "species"),
        "ringer": _texts(frame, "ringer"),
        "event": _texts(frame, "event"),
    }


def _lost(season: Season) -> _Lost:
    if not season.has("ring_losses", "ring"):
        return _Lost([], np.zeros(0, np.int8), np.zeros(0, np.int64), [], ([], [], []))
    frame = season.frame("ring_losses")
    day, days = _days(frame, "date")
    words = [word.strip().casefold() for word in _texts(frame, "fate")]
    codes = np.array([CODES[_LOSSES.get(word, Fate.LOST)] for word in words], dtype=np.int8)
    labels, rings = [str(label) for label in frame.index], _texts(frame, "ring")
    order = np.lexsort((_rank(labels), codes, day)).tolist()
    order = [i for i in order if rings[i]]
    shown = tuple([column[i] for i in order] for column in (rings, words, days))
    return _Lost(shown[0], codes[order], day[order], [labels[i] for i in order], shown)


def _places(
    strings: Sequence[IssuedString], starts: Integers, texts: Sequence[str]
) -> tuple[Integers, Integers]:
    """Pairs of a text and a place in the ledger, as two arrays; a ring issued twice has two places."""
    by_key: dict[tuple[str, int], list[tuple[int, int]]] = {string.key: [] for string in strings}
    for i, text in enumerate(texts):
        stem, digits = split_ring(text)
        found = by_key.get((bare(stem), len(digits)))
        if found is not None and digits and int(digits) <= _LARGEST:
            found.append((int(digits), i))
    ordered = {key: np.array(sorted(found), dtype=np.int64).reshape(-1, 2) for key, found in by_key.items()}
    which, where = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for string, start in zip(strings, starts.tolist(), strict=False):
        rings = ordered[string.key]
        low, high = np.searchsorted(rings[:, 0], (string.first, string.last + 1))
        which.append(rings[low:high, 1])
        where.append(rings[low:high, 0] - string.first + start)
    return np.concatenate(which), np.concatenate(where)


def _tell(strings: Sequence[IssuedString], starts: Integers, handled: _Handled, lost: _Lost) -> _Told:
    size = int(starts[-1])
    code, row, loss = np.full(size, -1, np.int8), np.full(size, -1, np.int64), np.full(size, -1, np.int64)
    rows, places = _places(strings, starts, handled.ring)
    known = np.zeros(len(handled.ring), dtype=bool)
    known[rows] = True
    times = np.bincount(places[handled.first[rows]], minlength=size).astype(np.int64)
    back = np.argsort(-rows, kind="stable")
    # the first of its rows is written last
    row[places[back]] = rows[back]
    seen_last = np.full(size, NO_DAY)
    np.maximum.at(seen_last, places, handled.day[rows])
    gone, at = _places(strings, starts, lost.ring)
    known_losses = np.zeros(len(lost.ring), dtype=bool)
    known_losses[gone] = True
    turn = np.argsort(gone, kind="stable")
    # of several losses the last one counts
    loss[at[turn]] = gone[turn]
    low, high = np.full(size, len(FATES), np.int8), np.full(size, -1, np.int8)
    np.minimum.at(low, at, lost.fate[gone])
    np.maximum.at(high, at, lost.fate[gone])
    on, off = row >= 0, loss >= 0
    code[off] = lost.fate[loss[off]]
    day = np.full(size, NO_DAY)
    day[on] = handled.day[row[on]]
    gone_on = np.full(size, NO_DAY)
    gone_on[off] = lost.day[loss[off]]
    # a worn ring may be taken off a bird and destroyed, but on a later day than the one it was put on
    taken_off = (
        on
        & off
        & (code == CODES[Fate.DESTROYED])
        & (day != NO_DAY)
        & (gone_on > day)
        & (gone_on >= seen_last)
    )
    code[on & ~taken_off] = CODES[Fate.ON_A_BIRD]
    return _Told(
        code,
        on & (times > 0),
        day,
        row,
        loss,
        times,
        on & off & ~taken_off,
        off & (low != high),
        known,
        known_losses,
    )


def _settled(told: _Told, starts: Integers, early: Sequence[bool], habits: Habits) -> Codes:
    fate = np.full(told.code.size, CODES[Fate.IN_HAND], np.int8)
    for which, before in enumerate(early):
        span = slice(int(starts[which]), int(starts[which + 1]))
        fate[span] = settle(told.code[span], told.new[span], told.day[span], early=before, habits=habits)
    return fate


def _early(strings: Sequence[IssuedString], handled: _Handled, share: float) -> list[bool]:
    """Whether each string may have been in use before this season."""
    days = handled.day[handled.lately & (handled.day != NO_DAY)]
    years = np.sort(days.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64))
    if not years.size:
        return [True] * len(strings)
    first = np.datetime64(int(years[int(share * years.size)]), "Y").item().year
    return [string.issued is None or string.issued.year < first for string in strings]


def _issued_twice(strings: Sequence[IssuedString], starts: Integers) -> Flags:
    twice = np.zeros(int(starts[-1]), dtype=bool)
    by_key: dict[tuple[str, int], list[int]] = {}
    for which, string in enumerate(strings):
        by_key.setdefault(string.key, []).append(which)
    for mine in by_key.values():
        first = np.array([strings[w].first for w in mine], dtype=np.int64)
        last = np.array([strings[w].last for w in mine], dtype=np.int64)
        reach = np.concatenate(([-1], np.maximum.accumulate(last)[:-1]))
        if not (first <= reach).any():
            continue
        serial = np.concatenate([np.arange(a, b + 1) for a, b in zip(first, last, strict=True)])
        where = np.concatenate([np.arange(starts[w], starts[w + 1]) for w in mine])
        _, back, number = np.unique(serial, return_inverse=True, return_counts=True)
        twice[where] = number[back] > 1
    return twice


def _others(
    handled: _Handled, known: Flags, strings: Sequence[IssuedString], unlisted: Container[Key]
) -> Iterator[OtherRing]:
    """Rings on birds that are in no string, each once."""
    lowest: dict[tuple[str, int], int] = {}
    for string in strings:
        lowest[string.key] = min(string.first, lowest.get(string.key, string.first))
    told: set[str] = set()
    for i in np.flatnonzero(~known & handled.lately).tolist():
        ring = bare(handled.ring[i])
        if ring in told:
            continue
        told.add(ring)
        stem, digits = split_ring(handled.ring[i])
        key = bare(stem), len(digits)
        # without a word on the event, a number below all strings is one of earlier years
        later = bool(handled.first[i]) and int(digits or 0) > lowest.get(key, int(digits or 0))
        asked = key not in unlisted and bool(handled.said_new[i] or later) and bool(strings)
        yield OtherRing(Worn(*(column[i] for column in handled.shown)), asked)


def _lost_elsewhere(lost: _Lost, known: Flags) -> tuple[LostElsewhere, ...]:
    found = {}
    for i in np.flatnonzero(~known).tolist():
        found[lost.ring[i]] = LostElsewhere(lost.ring[i], FATES[lost.fate[i]], lost.shown[2][i])
    return tuple(found[ring] for ring in sorted(found))


def _series(handled: _Handled, lost: _Lost) -> Iterator[tuple[Key, SeriesUse]]:
    """Rings put on, by series."""
    used: dict[Key, dict[int, str]] = {}
    for i in np.flatnonzero(handled.first & handled.lately).tolist():
        stem, digits = split_ring(handled.ring[i])
        if digits and int(digits) <= _LARGEST:
            used.setdefault((bare(stem), len(digits)), {}).setdefault(int(digits), stem)
    gone: dict[Key, set[int]] = {}
    for ring in lost.ring:
        stem, digits = split_ring(ring)
        if digits:
            gone.setdefault((bare(stem), len(digits)), set()).add(int(digits))
    for key, stems in sorted(used.items()):
        yield key, _one_series(key, stems, gone.get(key, set()))


def _one_series(key: tuple[str, int], stems: dict[int, str], gone: set[int]) -> SeriesUse:
    numbers, width = sorted(stems), key[1]
    stem = stems[numbers[0]]
    gaps: list[str] = []
    missing = 0
    for below, above in pairwise(numbers):
        if above - below < 2:  # noqa: PLR2004 - next to each other
            continue
        inside = sorted(n for n in gone if below < n < above)
        for low, high in zip([below, *inside], [*inside, above], strict=True):
            if high - low > 1:
                gaps.append(_range(stem, width, low + 1, high - 1))
                missing += high - low - 1
    first, last = (join_ring(stem, n, width) for n in (numbers[0], numbers[-1]))
    return SeriesUse(first, last, len(numbers), len(gone), tuple(gaps), missing)


def _ranges(stem: str, width: int, serials: Integers) -> list[str]:
    breaks = np.flatnonzero(np.diff(serials) > 1)
    firsts = serials[np.concatenate(([0], breaks + 1))] if serials.size else serials
    lasts = serials[np.concatenate((breaks, [serials.size - 1]))] if serials.size else serials
    return [_range(stem, width, low, high) for low, high in zip(firsts.tolist(), lasts.tolist(), strict=True)]


def _range(stem: str, width: int, low: int, high: int) -> str:
    """Write a run of rings: its first and last number."""
    if low == high:
        return join_ring(stem, low, width)
    return f"{join_ring(stem, low, width)} to {join_ring(stem, high, width)}"
