"""The birds of the sheet as the box antennas should know them: which tag, at which box, since when."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare
from audit.rules.earlier_birds import EARLIER, earlier_birds, earlier_tags
from audit.rules.heard import night_of
from audit.rules.heeded import TAG_BOOK, together
from audit.rules.tag_book import open_tag_book
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.rules.case import Case
    from audit.rules.tag_book import TagRow

__all__ = ["TAGGED", "TaggedBird", "TaggedBirds", "tagged_birds"]

#: Columns on which it depends.
TAGGED = together(
    TAG_BOOK,
    EARLIER,
    {"handlings": ("age", "condition")},
)


@dataclass(frozen=True, slots=True)
class TaggedBird:
    """One tag on one bird, from the row in which it stands first.

    Attributes
    ----------
    row : TagRow
        The handling; its tag may be empty, and its ring, day or box where they are in doubt.
    typed : str
        Text of the tag cell, capitals without blanks.
    since : int
        Days since 1970.
    young : bool
        A nestling at that handling.
    fitted : bool
        Whether the tag was fitted then, as far as the sheets tell; else it may have been borne before.
    doubted : bool
        Whether another rule blames the tag.
    dead : str
        Row label of the handling that tells that the bird was dead; empty where none does.
    until : int
        Day of that, or of the visit from which on the bird had another tag; the largest integer where neither
        happened.
    """

    row: TagRow
    typed: str
    since: int
    young: bool
    fitted: bool
    doubted: bool
    dead: str
    until: int

    @property
    def key(self) -> str:
        """The tag, however it is written."""
        return self.row.key

    @property
    def box(self) -> str:
        """The box in which it was handled."""
        return self.row.box


_NEVER = int(np.iinfo(np.int64).max)


@dataclass(frozen=True)
class TaggedBirds:
    """All birds of a season with a day and a box.

    Attributes
    ----------
    birds : tuple of TaggedBird
        In sheet order.
    """

    birds: tuple[TaggedBird, ...]

    @cached_property
    def of_key(self) -> Mapping[str, tuple[TaggedBird, ...]]:
        """Birds by tag."""
        found: dict[str, list[TaggedBird]] = defaultdict(list)
        for bird in self.birds:
            if bird.key:
                found[bird.key].append(bird)
        return {key: tuple(birds) for key, birds in found.items()}

    @cached_property
    def at_box(self) -> Mapping[str, tuple[TaggedBird, ...]]:
        """Birds by the box in which they were handled."""
        found: dict[str, list[TaggedBird]] = defaultdict(list)
        for bird in self.birds:
            found[bird.box].append(bird)
        return {box: tuple(birds) for box, birds in found.items()}

    def siblings(self, bird: TaggedBird, days: int) -> Iterator[TaggedBird]:
        """Give the other birds first handled at the same box within so many days, old and young."""
        for other in self.at_box.get(bird.box, ()):
            same = bool(bird.row.ring) and bare(other.row.ring) == bare(bird.row.ring)
            if other is not bird and not same and abs(other.since - bird.since) <= days:
                yield other


def tagged_birds(case: Case) -> TaggedBirds:
    """Lay out the birds and their tags."""
    return case.lay_out(_lay_out, TAGGED)


def _lay_out(case: Case) -> TaggedBirds:
    book = open_tag_book(case)
    frame = case.frame("handlings")
    typed = case.season.tables["handlings"].typed
    shown = dict(
        zip(typed.index, typed["tag"].tolist() if "tag" in typed else [""] * len(typed), strict=True)
    )
    codes = {str(code) for code in case.declared.rules["brood"].limits["pullus_codes"].value}
    ages = dict(zip(frame.index, texts_in(frame, "age"), strict=True))
    dead = _dead(case)
    borne = earlier_tags(case, book.habit)
    ringed_before = set(earlier_birds(case).of_ring)
    rows_of: dict[str, list[TagRow]] = defaultdict(list)
    for row in sorted((*book.rows, *book.aside.values()), key=lambda row: (row.day, row.place)):
        rows_of[bare(row.ring) or row.label].append(row)
    birds = []
    for rows in rows_of.values():
        told = [row for row in rows if row.day and row.box]
        seen: set[str] = set()
        ends = [row for row in rows if row.label in dead and row.day]
        for k, row in enumerate(told):
            if row.key in seen or (not row.tag and seen):
                continue
            others = any(seen) or any((r.label, "tag") in case.doubted for r in told[:k])
            seen.add(row.key)
            later = next((r for r in told[k + 1 :] if r.key and r.key != row.key), None)
            until = min(
                [night_of(r.day) for r in ends] + ([night_of(later.day)] if later else []), default=_NEVER
            )
            birds.append(
                TaggedBird(
                    row,
                    "".join(str(shown.get(row.label, "")).split()).upper(),
                    night_of(row.day),
                    ages.get(row.label, "").strip() in {*codes, ""},
                    # a second tag may be the first one, typed right
                    fitted=not others
                    and _fitted(row, told)
                    and row.key not in borne
                    and bare(row.ring) not in ringed_before,
                    doubted=(row.label, "tag") in case.doubted,
                    dead=ends[0].label if ends else "",
                    until=until,
                )
            )
    return TaggedBirds(tuple(sorted(birds, key=lambda bird: bird.row.place)))


def _fitted(row: TagRow, rows: Sequence[TagRow]) -> bool:
    """Whether a bird got its tag here: it was ringed here, or had none at an earlier visit."""
    if row.event == "ringed":
        return True
    before = [other for other in rows if (other.day, other.place) < (row.day, row.place)]
    return (not row.event and not before) or any(other.event == "ringed" for other in before)


def _dead(case: Case) -> frozenset[str]:
    """Rows that tell that the bird was dead."""
    frame = case.frame("handlings")
    words = "|".join(re.escape(str(word)) for word in case.declared.rules["brood"].limits["dead_words"].value)
    whole = re.compile(rf"(?<!\w)(?:{words})(?!\w)", re.IGNORECASE)
    found = set()
    for column in ("condition", "remarks"):
        for label, text in zip(frame.index, texts_in(frame, column), strict=True):
            if text and whole.search(text):
                found.add(label)
    return frozenset(found)
