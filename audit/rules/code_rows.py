"""Tags and rings of the handlings by row, and the rows in which they stand together."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from audit.models.ring_number import bare

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.rules.ring_rows import Key, Ringings
    from audit.rules.slid_column import Slots
    from audit.rules.tag_book import TagBook

__all__ = ["CodeRows"]

#: Rows in which codes stand together, by the one and by the other.
Met = dict[str, dict[str, list[int]]]


@dataclass(frozen=True)
class CodeRows:
    """Codes and days of the handlings, in sheet order.

    Attributes
    ----------
    beside : int
        So many rows beside a row would probably move with it.
    """

    slots: Slots
    rings: Ringings
    book: TagBook | None
    beside: int

    @cached_property
    def ring(self) -> list[str]:
        """Bare rings in sheet order."""
        return [bare(str(ring)) for ring in self.rings.ring.tolist()]

    @cached_property
    def tag(self) -> list[str]:
        """Keys of the tags in sheet order."""
        keys = [""] * len(self.slots.labels)
        for row in () if self.book is None else self.book.rows:
            keys[row.place] = row.key
        return keys

    @cached_property
    def days(self) -> list[int]:
        """Days in sheet order."""
        return [int(day) for day in self.slots.day.tolist()]

    @cached_property
    def age(self) -> list[str]:
        """Age codes in sheet order."""
        return [str(code) for code in self.rings.age.tolist()]

    @cached_property
    def event(self) -> list[str]:
        """Events in sheet order."""
        return [str(event) for event in self.rings.event.tolist()]

    @cached_property
    def box(self) -> list[str]:
        """Boxes in sheet order."""
        return [str(box) for box in self.rings.box.tolist()]

    @cached_property
    def serial(self) -> list[int]:
        """Serial numbers in sheet order; below nought without one."""
        return [int(number) for number in self.rings.serial.tolist()]

    @cached_property
    def met(self) -> tuple[Met, Met, Met]:
        """Tags by ring, rings by tag, and boxes by ring, with the rows in which they stand together."""
        tags: Met = defaultdict(dict)
        rings: Met = defaultdict(dict)
        boxes: Met = defaultdict(dict)
        for i, (ring, tag) in enumerate(zip(self.ring, self.tag, strict=True)):
            if ring and tag:
                tags[ring].setdefault(tag, []).append(i)
                rings[tag].setdefault(ring, []).append(i)
            if ring and self.box[i] and self.age[i] in ("", "1"):
                boxes[ring].setdefault(self.box[i], []).append(i)
        return tags, rings, boxes

    @cached_property
    def _many(self) -> tuple[Counter[str], Counter[str]]:
        """In how many rows each ring and each tag stands."""
        return Counter(self.ring), Counter(self.tag)

    def elsewhen(self, met: Met, code: str, day: int, moved: range = range(0)) -> dict[str, list[int]]:
        """Find what a code stands with on other days, and where; rows that would move too tell nothing."""
        found = {}
        for other, rows in met.get(code, {}).items():
            where = [row for row in rows if self.days[row] != day and row not in moved]
            if where:
                found[other] = where
        return found

    def goes(self, i: int, j: int, field: str) -> bool | None:
        """Whether a code of one row goes with another row, by other days; None where none tell.

        Rows beside it are of one slide with it: where it moves they hold what would have moved into them.
        """
        ring, tag = (self.ring[j], self.tag[i]) if field == "tag" else (self.ring[i], self.tag[j])
        if not ring and not tag:
            return None
        day, offset = self.days[j], j - i
        if offset:
            of_rings, of_tags = self._many
            if (not ring or of_rings[ring] == 1) and (not tag or of_tags[tag] == 1):
                # neither stands anywhere else
                return None
        elif len(with_ring := self.met[0].get(ring, {})) == 1 == len(self.met[1].get(tag, {})):
            # nothing else is known of either
            ((known, rows),) = with_ring.items()
            if known == tag:
                again = any(self.days[row] != day for row in rows)
                return True if again else None
        beside = self.around(i, j) if offset else range(0)
        of_ring = self.elsewhen(self.met[0], ring, day, beside)
        of_tag = self.elsewhen(self.met[1], tag, day, beside)
        if tag in of_ring:
            return True
        if offset:
            goes, against = self._beside_too(i, j, field, beside)
            if goes:
                return True
            if against and not of_ring and not of_tag:
                # beyond the ends of a slide the rows beside it have not moved
                of_ring = self.elsewhen(self.met[0], ring, day, range(min(i, j), max(i, j) + 1))
                of_tag = self.elsewhen(self.met[1], tag, day, range(min(i, j), max(i, j) + 1))
        return None if not of_ring and not of_tag else False

    def _beside_too(self, i: int, j: int, field: str, beside: range) -> tuple[bool, bool]:
        """Whether rows beside it, once they have moved too, go with a moved cell, or are against it."""
        offset = j - i
        codes, others = (self.tag, self.ring) if field == "tag" else (self.ring, self.tag)
        goes = against = False
        for row in beside:
            if row == i or row + offset not in beside or self.days[row + offset] == self.days[j]:
                continue
            code, other = codes[row], others[row + offset]
            same, same_other = code == codes[i], other == others[j]
            goes |= same and same_other
            against |= bool(code and other) and same != same_other
        return goes, against

    def around(self, i: int, j: int) -> range:
        """Rows beside two, which would probably move too."""
        reach = self.beside
        return range(max(min(i, j) - reach, 0), min(max(i, j) + reach + 1, len(self.days)))

    @cached_property
    def rows_of_ring(self) -> Mapping[str, list[int]]:
        """Rows in which each ring stands."""
        found: dict[str, list[int]] = defaultdict(list)
        for i, ring in enumerate(self.ring):
            found[ring].append(i)
        return found

    @cached_property
    def numbers(self) -> Mapping[tuple[Key, int], set[int]]:
        """Days on which each number of a series stands in the sheet, whatever the event."""
        found: dict[tuple[Key, int], set[int]] = defaultdict(set)
        for key, number, day in zip(self.rings.key, self.serial, self.days, strict=True):
            if number >= 0:
                found[key, number].add(day)
        return dict(found)

    def is_new(self, i: int, j: int) -> bool:
        """Whether a ring in a row stands on the string beside one of its day, and on no bird before."""
        beside, n = self.around(i, j) if i != j else range(0), len(self.days)
        for row in self.rows_of_ring[self.ring[i]]:
            stands = row + j - i if row in beside else row
            if row != i and 0 <= stands < n and self.days[stands] < self.days[j]:
                return False
        key, number, reach = self.rings.key[i], self.serial[i], self.rings.reach
        # its neighbours on the string may have moved with it
        days = {self.days[i], self.days[j]}
        for step in range(1, reach + 1):
            for near in (number - step, number + step):
                if not days.isdisjoint(self.numbers.get((key, near), ())):
                    return True
        return False
