"""What surrounds the records of a season: where boxes lie, what lay in them, whose codes are written."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.handover.exchange.handled import Handled, handled_rows, texts_of
from audit.handover.exchange.history import Histories, histories
from audit.models.great_circle import bearing_deg, distance_km
from audit.models.tag_text import comparable

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Mapping

    from audit.declarations import Declarations
    from audit.declarations.exchange import ExchangeDeclarations
    from audit.declarations.sender import Sender
    from audit.season import Season

__all__ = ["Round", "Say", "Visit", "lay_round"]

#: Takes a check, a field and a sentence: a question to the record that is being written.
Say = Callable[[str, str, str], None]

#: A box on a day.
Visit = tuple[str, "dt.date | None"]


@dataclass(frozen=True, slots=True)
class Round:
    """All that a record depends on beside its own row.

    Attributes
    ----------
    rows : tuple of Handled
        The clean season, in sheet order.
    lives : Histories
    points : mapping of str to (float, float)
        Latitude and longitude of each box that has both.
    young : mapping of (str, date) to int
        Live young by box and day, as the visits tell.
    nesting : frozenset of (str, date)
        Boxes and days with eggs or young.
    tags_in_stock : frozenset of str
        Keys of tags that were in hand.
    has_tag_stock : bool
    hatched : mapping of str to set of date
        Days on which a bird hatched, by ring.
    """

    declared: Declarations
    rows: tuple[Handled, ...]
    lives: Histories
    points: Mapping[str, tuple[float, float]]
    young: Mapping[Visit, int]
    nesting: frozenset[Visit]
    tags_in_stock: frozenset[str]
    has_tag_stock: bool
    hatched: Mapping[str, set[dt.date]]
    replaced: re.Pattern[str]
    death: re.Pattern[str]
    _places: dict[str, dict[str, str]] = field(default_factory=dict)
    _ways: dict[tuple[str, str], tuple[float, float]] = field(default_factory=dict)

    @property
    def exchange(self) -> ExchangeDeclarations:
        """The exchange code as declared."""
        return self.declared.exchange

    @property
    def sender(self) -> Sender:
        """Who sends the season."""
        return self.declared.sender

    def once_for(self, box: str, make: Callable[[], dict[str, str]]) -> dict[str, str]:
        """Return what is written of a box, made once."""
        if box not in self._places:
            self._places[box] = make()
        return self._places[box]

    def way(self, start: str, end: str) -> tuple[float, float] | None:
        """Kilometres and direction from one box to another; None where one of them has no co-ordinates."""
        if start not in self.points or end not in self.points:
            return None
        if (start, end) not in self._ways:
            points = (*self.points[start], *self.points[end])
            radius = float(self.exchange.choice("earth_radius_km"))
            self._ways[start, end] = (float(distance_km(*points, radius)), float(bearing_deg(*points)))
        return self._ways[start, end]


def lay_round(season: Season, declared: Declarations) -> Round:
    """Lay out a season once for all its records."""
    rows = handled_rows(season, declared)
    young, nesting = _visits(season)
    nestlings = {(one.box, one.day) for one in rows if one.age == "1" or one.brood_size}
    hatched: dict[str, set[dt.date]] = defaultdict(set)
    for one in rows:
        if one.hatched is not None and one.ring_key:
            hatched[one.ring_key].add(one.hatched)
    exchange = declared.exchange
    return Round(
        declared=declared,
        rows=tuple(rows),
        lives=histories(rows, handled_rows(season, declared, "earlier")),
        points=_points(season),
        young=young,
        nesting=frozenset(nesting | nestlings),
        tags_in_stock=_tags_in_stock(season),
        has_tag_stock=season.has("tag_stock", "tag"),
        hatched=hatched,
        replaced=_words(declared.rules["ring_order"].limits["ringed_again_words"].value),
        death=_words(exchange.choice("words_of_death"), ends=True),
    )


def _points(season: Season) -> dict[str, tuple[float, float]]:
    if not season.has("boxes", "box", "latitude", "longitude"):
        return {}
    frame = season.frame("boxes")
    told = frame[["latitude", "longitude"]].notna().all(axis=1)
    frame = frame[told]
    return {
        box: (float(latitude), float(longitude))
        for box, latitude, longitude in zip(
            texts_of(frame, "box"), frame["latitude"].tolist(), frame["longitude"].tolist(), strict=True
        )
        if box
    }


def _visits(season: Season) -> tuple[dict[Visit, int], set[Visit]]:
    young: dict[Visit, int] = {}
    nesting: set[Visit] = set()
    if not season.has("visits", "box", "date"):
        return young, nesting
    frame = season.frame("visits")
    columns = [
        frame[name].fillna(-1).tolist() if name in frame.columns else [-1] * len(frame)
        for name in ("alive", "eggs")
    ]
    days = frame["date"].tolist()
    for box, day, alive, eggs in zip(texts_of(frame, "box"), days, *columns, strict=True):
        # a missing date is unequal to itself
        if not box or day != day:  # noqa: PLR0124 - see above
            continue
        at = (box, day.date())
        if alive >= 0:
            young[at] = max(int(alive), young.get(at, 0))
        if alive > 0 or eggs > 0:
            nesting.add(at)
    return young, nesting


def _tags_in_stock(season: Season) -> frozenset[str]:
    if not season.has("tag_stock", "tag"):
        return frozenset()
    texts = texts_of(season.frame("tag_stock"), "tag")
    return frozenset(comparable(text.upper()) for text in texts if text)


def _words(words: Iterable[object], *, ends: bool = False) -> re.Pattern[str]:
    """Find any of the words at the start of a word, or as whole words where they end, too."""
    listed = "|".join(re.escape(str(word)) for word in words)
    end = r"(?!\w)" if ends else ""
    return re.compile(rf"(?<!\w)(?:{listed}){end}", re.IGNORECASE)
