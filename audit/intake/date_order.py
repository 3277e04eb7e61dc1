"""Which number of a date is the month: decided for the whole column, by what cannot be and by neighbours."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from audit.intake.date_text import calendar_day

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from audit.intake.date_column import DateColumn, Nearest
    from audit.intake.date_text import DateParts, DateTexts

    #: The days that one date may be, by order.
    Readings = Mapping["Order", dt.date]

__all__ = ["ORDERS", "DateOrders", "Order"]

Order = Literal["day first", "month first", "year first"]
ORDERS: tuple[Order, ...] = ("day first", "month first", "year first")

#: A leap year, so that 29 February is a day until the year is known.
_LEAP = 2000
_LONGEST_MONTH = 31


@dataclass(frozen=True, slots=True)
class DateOrders:
    """Finds the order of a column.

    Attributes
    ----------
    texts : DateTexts
    year : int or None
        Year of the season, for dates typed without one where no neighbour has one.
    clear_ratio : float
        So many times closer to their neighbours dates must lie in one order than in another.
    thin_evidence : int
        Up to so many dates that have only one reading may be slips themselves.
    many_last : int
        So many last numbers behind one first number are days, not years.
    """

    texts: DateTexts
    year: int | None
    clear_ratio: float
    thin_evidence: int
    many_last: int

    def readings(self, column: DateColumn, years: Nearest) -> dict[int, Readings]:
        """List the days that each open date of a column may be, by row."""
        year_first = self._year_may_lead(column, years)
        return {i: self._readings(parts, years.at(i), year_first) for i, parts in column.parts.items()}

    def order(self, readings: Mapping[int, Readings], column: DateColumn) -> tuple[Order, bool]:
        """Find the order of the column, and whether anything in it showed that order."""
        known = column.known_days()
        pairs = {i: found for i, found in readings.items() if not column.parts[i].settled}
        sure = Counter(
            next(iter(found)) for found in pairs.values() if len(found) == 1 and "year first" not in found
        )
        open_rows = {i: found for i, found in pairs.items() if len(set(found.values())) > 1}
        if sure:
            (best, count), *rest = sure.most_common()
            if count > self.thin_evidence or not open_rows:
                if not rest or count > rest[0][1]:
                    return best, True
            elif not rest and not self._against(best, open_rows, known):
                return best, True
        nearest = self._by_neighbours(open_rows, known)
        if nearest is not None:
            return nearest, True
        return "day first", False

    def _year_may_lead(self, column: DateColumn, years: Nearest) -> bool:
        """Whether dates of three two-digit numbers may begin with the year: one first, many last numbers."""
        triples = {parts.triple for parts in column.parts.values() if parts.triple}
        first, last = {triple[0] for triple in triples}, {triple[2] for triple in triples}
        full_year = self.texts.full_year
        days = sum(calendar_day(full_year(f"{a:02}"), b, c) is not None for a, b, c in triples)
        if days * 2 <= len(triples):
            return False
        if any(number > _LONGEST_MONTH for number in first):
            return True
        seasons = years.values() | ({self.year} if self.year is not None else set())
        if {full_year(f"{number:02}") for number in first} <= seasons:
            return not {full_year(f"{number:02}") for number in last} <= seasons
        return len(first) == 1 and len(last) >= self.many_last

    def _readings(self, parts: DateParts, year: int | None, year_first: bool) -> Readings:
        year = parts.year if parts.year is not None else year if year is not None else self.year
        found: dict[Order, dt.date | None] = {}
        if parts.settled:
            only = calendar_day(year if year is not None else _LEAP, parts.month, parts.day)
            found = dict.fromkeys(ORDERS, only)
        elif parts.pair is not None:
            a, b = parts.pair
            year = year if year is not None else _LEAP
            found = {"day first": calendar_day(year, b, a), "month first": calendar_day(year, a, b)}
        elif parts.triple is not None:
            a, b, c = parts.triple
            last, first = self.texts.full_year(f"{c:02}"), self.texts.full_year(f"{a:02}")
            leading = calendar_day(first, b, c) if year_first else None
            found = (
                {"year first": leading}
                if leading
                else {"day first": calendar_day(last, b, a), "month first": calendar_day(last, a, b)}
            )
        return {name: day for name, day in found.items() if day is not None}

    def _by_neighbours(self, open_rows: Mapping[int, Readings], known: Nearest) -> Order | None:
        if not known or not open_rows:
            return None
        far: dict[Order, float] = {}
        for name in ORDERS[:2]:
            far[name] = sum(
                abs(found[name].toordinal() - (known.at(i) or 0)) for i, found in open_rows.items()
            )
        ranked = sorted(far, key=lambda name: far[name])
        if len(ranked) <= 1 or far[ranked[0]] * self.clear_ratio >= far[ranked[1]]:
            return None
        return ranked[0]

    def _against(self, order: Order, open_rows: Mapping[int, Readings], known: Nearest) -> bool:
        """Whether the other dates lie much closer together when read in another order."""
        nearest = self._by_neighbours(open_rows, known)
        if nearest is not None:
            return nearest != order

        def path(name: Order) -> int:
            days = [found[name].toordinal() for found in open_rows.values() if name in found]
            return sum(abs(a - b) for a, b in pairwise(days))

        return any(path(name) * self.clear_ratio < path(order) for name in ORDERS[:2] if name != order)
