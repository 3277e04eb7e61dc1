"""Slips planted into a season, well apart from each other, with the key to them."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from audit.practice.hand import Hand
from audit.practice.key import Change, Key, Slip
from audit.practice.kinds import ways_of
from audit.practice.typist import Typist
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    import numpy as np

    from audit.declarations import Declarations
    from audit.practice.hand import Typed
    from audit.practice.kinds import Way
    from audit.practice.sheet import Sheet
    from audit.season import Reading, Season, Table

__all__ = ["Planter", "plant", "restore"]

#: What one slip does: row label, column and text of each cell.
Deed = tuple[tuple[str, str, str], ...]

#: Columns by which rows belong together: a slip in one of them is seen from the others.
_TIES = ("ring", "tag", "box")


@dataclass
class Planter:
    """Puts slips into one season, one at a time, so that no two meddle with each other.

    Attributes
    ----------
    season : Season
        The season as it was; never changed.
    apart : int
        Rows of the sheet between two slips and, where `alone`, places in the order of rings.
    alone : bool
        Whether no two slips may befall the same box, the same bird, or rings near each other.
    closed : collection of str
        Labels of rows that may hold no slip.
    tilted : bool
        Whether wrong digits are drawn as declared; else all are alike.
    slips : list of Slip
        What was planted since the last `begin`.
    """

    season: Season
    declared: Declarations
    rng: np.random.Generator
    apart: int
    alone: bool = True
    closed: Collection[str] = ()
    tilted: bool = False
    slips: list[Slip] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Lay out the sheet."""
        self.hand = Hand.over(self.season, self.declared, self.rng, tilted=self.tilted)
        self._typist = Typist.at(self.season, self.declared)
        self._row_of = {label: i for i, label in enumerate(self.hand.sheet.labels)}
        self._tied = _tied_rows(self.hand.sheet)
        self._by_ring = sorted(range(len(self._row_of)), key=lambda i: self.hand.sheet.text(i, "ring"))
        self._rank = {i: rank for rank, i in enumerate(self._by_ring)}
        self._was_read = _by_cell(self.season.readings)
        self.begin()

    def begin(self) -> None:
        """Begin a new sheet: all slips planted so far are forgotten."""
        self.slips = []
        self._near = {self._row_of[label] for label in self.closed if label in self._row_of}
        self._wrong: set[int] = set()

    def can_hold(self, way: Way) -> bool:
        """Whether the season has every column that a slip needs, with something in it."""
        return all(any(self.hand.sheet.texts.get(name, ())) for name in way.needs)

    def add(self, way: Way, *, but: Collection[Deed] = ()) -> Slip | None:
        """Plant one slip in a row of chance.

        Parameters
        ----------
        way : Way
            Kind and column.
        but : collection of tuples of (label, field, typed)
            Slips that are not to be made again.

        Returns
        -------
        Slip or None
            None where no row has room for it.
        """
        if not self.can_hold(way):
            return None
        for place in self.rng.permutation(len(self._row_of)):
            i = int(place)
            if i in self._near or not self.hand.sheet.text(i, way.field):
                continue
            slip = self._make(way, i)
            if slip is None or deed_of(slip) in but:
                continue
            rows = {self._row_of[label] for label in slip.labels}
            around = self._around(rows, slip.changes)
            if rows & self._near or around & self._wrong:
                continue
            self._near |= around
            self._wrong |= rows
            self.slips.append(slip)
            return slip
        return None

    def sheet(self) -> Season:
        """Return the season with every slip that was planted since the last `begin`."""
        typed = {change.place: change.typed for slip in self.slips for change in slip.changes}
        values: dict[tuple[str, str], Any] = {}
        readings: dict[tuple[str, str], tuple[Reading, ...]] = {}
        for (label, name), text in typed.items():
            values[label, name], readings[label, name] = self._typist.read(label, name, text)
        return _retyped(self.season, values, typed, readings)

    def _make(self, way: Way, i: int) -> Slip | None:
        cells = way.kind.make(self.hand, i, way.field)
        changes = tuple(change for cell in cells if (change := self._change(cell)) is not None)
        # every cell that a slip names must become another value, or it is no slip of this kind
        if not cells or len(changes) < len(cells):
            return None
        size, relative = _size(changes[0])
        return Slip(way.kind.name, way.field, changes, size, relative)

    def _change(self, cell: Typed) -> Change | None:
        i, name, text = cell
        label, meant = self.hand.sheet.labels[i], self.hand.sheet.text(i, name)
        if not text or not meant:
            return None
        value, readings = self._typist.read(label, name, text)
        if plain_text(value) == meant and not any(self._is_fault(reading) for reading in readings):
            return None
        stood = str(self.season.tables["handlings"].typed.at[label, name])
        return Change(label, name, meant, text, stood, tuple(self._was_read.get((label, name), ())))

    def _is_fault(self, reading: Reading) -> bool:
        """Whether a cell was understood, but only against what stands there."""
        return self.declared.rules["reading"].outcomes[reading.kind].severity != "note"

    def _around(self, rows: Collection[int], changes: Sequence[Change]) -> set[int]:
        """Rows from which a slip may be seen."""
        last = len(self._row_of) - 1
        around = {k for i in rows for k in range(max(0, i - self.apart), min(last, i + self.apart) + 1)}
        if not self.alone:
            return around
        for i in rows:
            for name in _TIES:
                around.update(self._tied.get((name, self.hand.sheet.text(i, name)), ()))
            rank = self._rank[i]
            around.update(self._by_ring[max(0, rank - self.apart) : rank + self.apart + 1])
        for change in changes:
            # a wrong ring may be another bird's
            around.update(self._tied.get((change.field, change.typed), ()))
        return around


def plant(
    season: Season,
    declared: Declarations,
    rng: np.random.Generator,
    *,
    kinds: Iterable[str] | Mapping[str, float] | None = None,
    each: int | None = None,
    number: int | None = None,
    rate: float | None = None,
    apart: int | None = None,
    alone: bool = True,
    closed: Collection[str] = (),
    tilted: bool = False,
) -> tuple[Season, Key]:
    """Plant slips into a season.

    Parameters
    ----------
    season : Season
        A season without slips; it is not changed.
    declared : Declarations
        What the columns hold, and the words of other species.
    rng : numpy.random.Generator
        Source of chance; the same one gives the same slips.
    kinds : names, or mapping of name to share, optional
        Kinds (``digit``), columns (``tag``) or both (``tag.digit``); with shares, how often each is drawn,
        divided evenly over all that a name stands for. All kinds evenly by default.
    each, number, rate : int, int, float, optional
        Slips of every kind and column; slips in all; slips per row. One of them; one of each by default.
    apart : int, optional
        Rows between two slips; as declared by default.
    alone : bool
        Whether no two slips may befall the same box or bird, or rings near each other.
    closed : collection of str, optional
        Labels of rows that may hold no slip.
    tilted : bool
        Whether wrong digits are drawn as declared, those that look alike more often; else all are alike.

    Returns
    -------
    Season, Key
        A new season, with text and value of each changed cell in agreement; what was changed.

    Raises
    ------
    ValueError
        A name is unknown, or more than one of `each`, `number` and `rate` is given.
    """
    if sum(given is not None for given in (each, number, rate)) > 1:
        raise ValueError("Give one of each, number and rate.")
    apart = int(declared.settings["practice.spacing.apart"].value) if apart is None else apart
    planter = Planter(season, declared, rng, apart, alone, closed, tilted)
    shares = _shares(kinds)
    if number is None and rate is None:
        queue = [way for _ in range(1 if each is None else each) for way in shares]
    else:
        wanted = number if number is not None else rng.binomial(len(planter.hand.sheet.labels), rate or 0.0)
        queue = _drawn(
            {way: share for way, share in shares.items() if planter.can_hold(way)}, int(wanted), rng
        )
    short: Counter[str] = Counter()
    for way in queue:
        if planter.add(way) is None:
            short[way.name] += 1
    return planter.sheet(), Key(tuple(planter.slips), dict(short))


def restore(season: Season, declared: Declarations, key: Key) -> Season:
    """Put the true values back, so that the season is as it was before the slips."""
    typist = Typist.at(season, declared)
    changes = key.changes.values()
    return _retyped(
        season,
        {change.place: typist.value(change.field, change.meant) for change in changes},
        {change.place: change.stood for change in changes},
        {change.place: change.readings for change in changes},
    )


def deed_of(slip: Slip) -> Deed:
    """Return what a slip does, to tell whether it was made before."""
    return tuple((change.label, change.field, change.typed) for change in slip.changes)


def _shares(kinds: Iterable[str] | Mapping[str, float] | None) -> dict[Way, float]:
    if kinds is None:
        return dict.fromkeys(ways_of(), 1.0)
    if not hasattr(kinds, "items"):
        return dict.fromkeys(ways_of(tuple(kinds)), 1.0)
    shares: dict[Way, float] = defaultdict(float)
    for name, share in kinds.items():
        ways = ways_of((name,))
        for way in ways:
            shares[way] += share / len(ways)
    return {way: share for way, share in shares.items() if share > 0}


def _drawn(shares: Mapping[Way, float], number: int, rng: np.random.Generator) -> list[Way]:
    ways, total = list(shares), sum(shares.values())
    if not ways:
        return []
    drawn = rng.choice(len(ways), size=number, p=[shares[way] / total for way in ways])
    return [ways[int(place)] for place in drawn]


def _size(change: Change) -> tuple[float | None, float | None]:
    try:
        if change.field == "date":
            days = dt.date.fromisoformat(change.typed) - dt.date.fromisoformat(change.meant)
            return float(days.days), None
        if change.field not in _MEASURED:
            return None, None
        size = float(change.typed) - float(change.meant)
        return round(size, 6), (size / float(change.meant) if float(change.meant) else None)
    except ValueError:
        return None, None


_MEASURED = ("gross_g", "bag_g", "net_g", "wing_mm", "brood_size")


def _tied_rows(sheet: Sheet) -> dict[tuple[str, str], list[int]]:
    tied: dict[tuple[str, str], list[int]] = defaultdict(list)
    for name in _TIES:
        for i, text in enumerate(sheet.texts.get(name, ())):
            if text:
                tied[name, text].append(i)
    return tied


def _by_cell(readings: Iterable[Reading]) -> dict[tuple[str, str], list[Reading]]:
    found: dict[tuple[str, str], list[Reading]] = defaultdict(list)
    for reading in readings:
        found[reading.label, reading.field].append(reading)
    return found


def _retyped(
    season: Season,
    values: Mapping[tuple[str, str], Any],
    texts: Mapping[tuple[str, str], str],
    readings: Mapping[tuple[str, str], Collection[Reading]],
) -> Season:
    """Return a season with other values, texts and readings in some cells."""
    table = season.tables["handlings"]
    tables = {**season.tables, "handlings": _with_cells(table, values, texts)}
    kept = [reading for reading in season.readings if (reading.label, reading.field) not in texts]
    new = [reading for place in texts for reading in readings.get(place, ())]
    return replace(season, tables=tables, readings=(*kept, *new))


def _with_cells(
    table: Table, values: Mapping[tuple[str, str], Any], texts: Mapping[tuple[str, str], str]
) -> Table:
    frame, typed = table.frame.copy(), table.typed.copy()
    for (label, name), value in values.items():
        frame.at[label, name] = value
        typed.at[label, name] = texts[label, name]
    return replace(table, frame=frame, typed=typed)
