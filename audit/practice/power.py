"""The self-test of a season: the share of known slips that an audit of this very sheet would find."""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.models.interval import Share, wilson
from audit.practice.blind_spots import blind_spots
from audit.practice.kinds import ways_of
from audit.practice.planting import Planter, deed_of
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import numpy as np

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.practice.key import Slip
    from audit.practice.kinds import Way
    from audit.season import Season

__all__ = ["Power", "Tally", "measure_power"]

#: Kinds in a row that find no room on a sheet before the sheet is audited as it is.
_PATIENCE = 6
_LIMITS = (
    "spacing.apart",
    "spacing.rows_per_slip",
    "power.each",
    "power.audits_most",
    "power.confidence",
    "power.seldom",
)


@dataclass(frozen=True, slots=True)
class Tally:
    """What became of the slips of one kind in one column.

    Attributes
    ----------
    field, kind, says : str
        Column; short name of the kind; what happened, for a ringer.
    found, mended : Share
        A changed cell is blamed by an error or suspect; the first suggestion is right in every changed cell.
    """

    field: str
    kind: str
    says: str
    found: Share
    mended: Share

    @property
    def name(self) -> str:
        """Column and kind: ``tag.neighbours``."""
        return f"{self.field}.{self.kind}"

    @property
    def planted(self) -> int:
        """How many slips were planted."""
        return self.found.trials


@dataclass(frozen=True, slots=True)
class Power:
    """What an audit of one season can see.

    Attributes
    ----------
    season : str
        Name of the season.
    rows, closed : int
        Handlings; how many of them were left alone, since the audit blames them as they are.
    audits : int
        How often the season was audited with slips in it.
    tallies : tuple of Tally
        By column, in the order of the columns of the sheet.
    absent : tuple of (columns, kinds)
        Columns that the sheet does not have, and the kinds of slip (column, what happened) that it therefore
        cannot hold.
    roomless : tuple of (column, kind)
        Kinds for which no row has room, and what they say.
    headers : mapping of str to str
        Column -> header as typed.
    bothered, innocent : int
        Rows without a slip that were newly blamed; rows without a slip in all audits.
    stopped : bool
        Whether the test ended before every kind had its number, for want of room in a small season.
    blind : tuple of str
        Sentences: what this sheet cannot show, and what would show it.
    confidence : float
        Level of the intervals.
    seldom : float
        Share below which a kind counts as seldom found.
    """

    season: str
    rows: int
    closed: int
    audits: int
    tallies: tuple[Tally, ...]
    absent: tuple[tuple[tuple[str, ...], tuple[tuple[str, str], ...]], ...]
    roomless: tuple[tuple[str, str], ...]
    headers: dict[str, str]
    bothered: int
    innocent: int
    stopped: bool
    blind: tuple[str, ...]
    confidence: float
    seldom: float

    @property
    def planted(self) -> int:
        """How many slips were planted in all."""
        return sum(tally.planted for tally in self.tallies)

    def by_field(self) -> dict[str, list[Tally]]:
        """Group the tallies by column."""
        grouped: dict[str, list[Tally]] = {}
        for tally in self.tallies:
            grouped.setdefault(tally.field, []).append(tally)
        return grouped


def measure_power(
    season: Season,
    declared: Declarations,
    audit: Callable[[Season], Report],
    rng: np.random.Generator,
    *,
    each: int | None = None,
) -> Power:
    """Plant slips of every kind into a season, audit it again and count what is seen.

    Parameters
    ----------
    season : Season
        The user's own; never changed. Rows that its audit blames are left alone.
    audit : callable
        Audits a season.
    rng : numpy.random.Generator
        Source of chance; the same one gives the same figures.
    each : int, optional
        Slips of each kind in each column; as declared by default. The same slip is never made twice, so that
        a small season may hold fewer.

    Returns
    -------
    Power
        Shares found and mended, and what the sheet cannot show.
    """
    limit = {name: declared.settings[f"practice.{name}"].value for name in _LIMITS}
    before = audit(season)
    blamed = {suspect.cell.label for finding in before.above_notes for suspect in finding.suspects}
    labels = [str(label) for label in season.frame("handlings").index]
    closed = blamed.intersection(labels)
    planter = Planter(season, declared, rng, int(limit["spacing.apart"]), closed=closed)
    trial = _Trial(planter, each or int(limit["power.each"]))
    at_once = max(1, len(labels) // int(limit["spacing.rows_per_slip"]))
    audits = bothered = 0
    while trial.waiting and audits < limit["power.audits_most"]:
        slips = trial.sheet(at_once)
        if not slips:
            break
        audits += 1
        first = _suggestions(audit(planter.sheet()))
        for slip in slips:
            trial.count(slip, first)
        wrong = {label for slip in slips for label in slip.labels}
        bothered += len({label for label, _ in first}.intersection(labels) - wrong - closed)
    return Power(
        season=season.name,
        rows=len(labels),
        closed=len(closed),
        audits=audits,
        tallies=tuple(trial.tallies(float(limit["power.confidence"]))),
        absent=trial.absent(),
        roomless=trial.roomless(),
        headers=_headers(season),
        bothered=bothered,
        innocent=audits * (len(labels) - len(closed)) - trial.rows_changed,
        stopped=bool(trial.waiting),
        blind=blind_spots(season),
        confidence=float(limit["power.confidence"]),
        seldom=float(limit["power.seldom"]),
    )


class _Trial:
    """Slips still to be planted, and what became of the others."""

    def __init__(self, planter: Planter, each: int) -> None:
        self._planter = planter
        self._ways = [way for way in ways_of() if planter.can_hold(way)]
        self._made: dict[str, set[tuple[tuple[str, str, str], ...]]] = {way.name: set() for way in self._ways}
        self._planted: Counter[str] = Counter()
        self._found: Counter[str] = Counter()
        self._mended: Counter[str] = Counter()
        self.rows_changed = 0
        self.waiting: deque[Way] = deque()
        for _ in range(each):
            for place in planter.rng.permutation(len(self._ways)):
                self.waiting.append(self._ways[int(place)])

    def sheet(self, most: int) -> list[Slip]:
        """Begin a new sheet and plant slips until it is full."""
        self._planter.begin()
        put_off: list[Way] = []
        spent: set[str] = set()
        while self.waiting and len(self._planter.slips) < most and len(put_off) < _PATIENCE:
            way = self.waiting.popleft()
            if way.name in spent:
                continue
            was_empty = not self._planter.slips
            slip = self._planter.add(way, but=self._made[way.name])
            if slip is not None:
                self._made[way.name].add(deed_of(slip))
            elif was_empty:
                spent.add(way.name)
            else:
                put_off.append(way)
        # first in turn on the next sheet; a kind that found no room on an empty one will find none later
        rest = [way for way in (*put_off, *self.waiting) if way.name not in spent]
        self.waiting = deque(rest)
        return list(self._planter.slips)

    def count(self, slip: Slip, first: dict[tuple[str, str], str]) -> None:
        """Count one slip against the cells that are now blamed, with their first suggestions."""
        self._planted[slip.name] += 1
        self._found[slip.name] += any(change.place in first for change in slip.changes)
        self._mended[slip.name] += all(first.get(change.place) == change.meant for change in slip.changes)
        self.rows_changed += len(slip.labels)

    def tallies(self, confidence: float) -> Iterator[Tally]:
        fields = list(dict.fromkeys(self._planter.season.frame("handlings").columns))
        for way in sorted(self._ways, key=lambda way: fields.index(way.field)):
            n = self._planted[way.name]
            if n:
                yield Tally(
                    field=way.field,
                    kind=way.kind.name,
                    says=way.kind.says,
                    found=wilson(self._found[way.name], n, confidence),
                    mended=wilson(self._mended[way.name], n, confidence),
                )

    def absent(self) -> tuple[tuple[tuple[str, ...], tuple[tuple[str, str], ...]], ...]:
        """Columns that are not there, and what can therefore not go wrong in them."""
        lacking: dict[tuple[str, ...], list[tuple[str, str]]] = {}
        texts = self._planter.hand.sheet.texts
        for way in ways_of():
            missing = tuple(name for name in way.needs if not any(texts.get(name, ())))
            if missing:
                lacking.setdefault(missing, []).append((way.field, way.kind.says))
        return tuple((columns, tuple(names)) for columns, names in lacking.items())

    def roomless(self) -> tuple[tuple[str, str], ...]:
        """Kinds that were tried and found no row."""
        waiting = {way.name for way in self.waiting}
        return tuple(
            (way.field, way.kind.says)
            for way in self._ways
            if not self._planted[way.name] and way.name not in waiting
        )


def _suggestions(report: Report) -> dict[tuple[str, str], str]:
    """Every cell blamed by an error or suspect -> its first suggestion, empty where there is none."""
    first: dict[tuple[str, str], str] = {}
    for finding in report.above_notes:
        for suspect in finding.suspects:
            place = (suspect.cell.label, suspect.cell.field)
            first[place] = first.get(place) or suspect.suggested
    return first


def _headers(season: Season) -> dict[str, str]:
    """Column -> header as typed, on the first sheet that has it."""
    table = season.tables["handlings"]
    sheets = dict.fromkeys(split_label(str(label))[0] for label in table.frame.index)
    return {
        str(field): next(
            (table.columns[sheet, field].header for sheet in sheets if (sheet, field) in table.columns),
            str(field),
        )
        for field in table.frame.columns
    }
