"""The tags of a season side by side: as typed on the sheet, in stock, and read by the hand reader."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.code_tree import CodeTree
from audit.models.tag_text import canonical, write
from audit.rules.code_mates import CodeMates
from audit.rules.heeded import TAG_BOOK
from audit.rules.known_tags import KnownTags
from audit.rules.read_turns import ReadTurns
from audit.rules.tag_rows import TagRow, keyed_tags, of_test_range, stored_tags

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from audit.models.keying import Channel
    from audit.rules.case import Case

__all__ = ["TagBook", "TagRow", "of_test_range", "open_tag_book"]

#: Ways of writing that are the key itself.
_OWN_KEY = ("iso_decimal", "em_hex")

#: Ring to its form: letters stay, digits do not matter.
_FORM = str.maketrans(dict.fromkeys("0123456789", "#"))
_DECIMAL = re.compile(r"[0-9]{15}")
_DECIMALS = "0123456789"
_HEX_BASE = 16

#: Number of digits of the purely decimal ways of writing.
_DIGIT_LENGTHS = {
    "iso_decimal": len("528140000795552"),
    "em_10_digits": len("0040856634"),
    "em_8_digits": len("07302202"),
    "em_13_digits": len("0004335823930"),
    "em_14_digits": len("00004335823930"),
}


@dataclass(frozen=True, slots=True)
class Belief:
    """A share before the season is looked at, and how many cases that counts for."""

    share: float
    weight: float

    def after(self, met: int, of: int) -> float:
        """Share after so many of so many cases: the mean of the Beta posterior."""
        return (met + self.share * self.weight) / (of + self.weight)


@dataclass(frozen=True)
class TagBook:
    """The tags of a season.

    Attributes
    ----------
    rows : tuple of TagRow
        Handlings whose tag is there and not in doubt, in sheet order.
    aside : mapping of str to TagRow
        The other handlings by row label, with the text as read.
    above : mapping of str to (str, str)
        Row label to ring and key of the row above, as typed.
    habit : str or None
        The way of writing that most tags of the season share.
    stock, read : frozenset of str
        Keys in stock; keys in the download of the hand reader.
    read_on : mapping of str to frozenset of str
        Keys read by day.
    read_place : mapping of (str, str) to int
        Day and key to the place of its first read among all reads, in time order.
    channel : Channel
        What becomes of a code in which the hand slips.
    tree_weight : float
        As of `CodeTree`.
    keys_below : mapping of str to str
        Letter to the digits whose keys touch its own.
    beliefs : mapping of str to Belief
        How often a tag is not read (``unread``), a read one stands on no row (``unclaimed``), a fitted one
        is missing from the stock list (``unlisted``).
    read_keys : mapping of str to str
        Text in the download to its key.
    tests : frozenset of str
        Keys read that test the reader; they are neither in `read` nor in `read_on`.
    test_season : bool
        Whether the season's own tags are of the test range.
    """

    rows: tuple[TagRow, ...]
    aside: Mapping[str, TagRow]
    above: Mapping[str, tuple[str, str]]
    habit: str | None
    stock: frozenset[str]
    read: frozenset[str]
    read_on: Mapping[str, frozenset[str]]
    read_place: Mapping[tuple[str, str], int]
    channel: Channel
    tree_weight: float
    keys_below: Mapping[str, str]
    beliefs: Mapping[str, Belief]
    read_keys: Mapping[str, str]
    tests: frozenset[str]
    test_season: bool

    @cached_property
    def rings_of(self) -> Mapping[str, frozenset[str]]:
        """Rings by tag."""
        rings: dict[str, set[str]] = defaultdict(set)
        for row in self.rows:
            rings[row.key].add(row.ring)
        return {key: frozenset(found) for key, found in rings.items()}

    @cached_property
    def rows_of_ring(self) -> Mapping[str, tuple[TagRow, ...]]:
        """Rows by ring, in sheet order."""
        rows: dict[str, list[TagRow]] = defaultdict(list)
        for row in self.rows:
            if row.ring:
                rows[row.ring].append(row)
        return {ring: tuple(found) for ring, found in rows.items()}

    @cached_property
    def keys_on(self) -> Mapping[str, frozenset[str]]:
        """Tags typed by day."""
        keys: dict[str, set[str]] = defaultdict(set)
        for row in self.rows:
            keys[row.day].add(row.key)
        return {day: frozenset(found) for day, found in keys.items()}

    @cached_property
    def _ring_forms(self) -> Counter[str]:
        return Counter(ring.translate(_FORM) for ring in self.rows_of_ring)

    def share_of_ring_form(self, ring: str) -> float:
        """Share of the season's rings that have the same letters and as many digits."""
        return self._ring_forms[ring.translate(_FORM)] / max(1, len(self.rows_of_ring))

    def first_of_ring(self, row: TagRow) -> bool:
        """Whether the ring stands here for the first time with a tag."""
        rows = self.rows_of_ring.get(row.ring, ())
        return not rows or min(rows, key=lambda other: (other.day, other.place)) is row

    def fitted(self, row: TagRow) -> bool:
        """Whether the tag was fitted at this handling, as far as the sheet tells."""
        return row.event == "ringed" or (not row.event and self.first_of_ring(row))

    def unused(self, key: str, ring: str = "") -> bool:
        """Whether no other bird is known to have this tag; a row whose ring is in doubt tells nothing."""
        return not self.rings_of.get(key, frozenset()) - {ring, ""}

    def read_but_not_typed(self, day: str) -> frozenset[str]:
        """Tags read on a day that no row of that day has."""
        return self._not_typed.get(day, frozenset())

    @cached_property
    def _not_typed(self) -> Mapping[str, frozenset[str]]:
        return {day: read - self.keys_on.get(day, frozenset()) for day, read in self.read_on.items()}

    def printed(self, key: str) -> str:
        """Write a tag the way most tags of the season are written."""
        if self.habit is None or self.habit in _OWN_KEY:
            return key
        return write(key, self.habit) or key

    @cached_property
    def known(self) -> frozenset[str]:
        """Tags in stock or in the download of the reader."""
        return self.stock | self.read

    @cached_property
    def plain_length(self) -> int:
        """Number of digits of the season's tags, where these are nothing but digits; else 0."""
        return _DIGIT_LENGTHS.get(self.habit or "", 0)

    @property
    def bare(self) -> bool:
        """Whether the season's tags are written without any sign between."""
        return self.plain_length > 0 or self.habit == "em_hex"

    def has_form(self, key: str) -> bool:
        """Whether a key is that of a tag in a known form."""
        return key in self.known or canonical(key) is not None

    @cached_property
    def read_share(self) -> float:
        """Share of the tags typed on days with a download that were read that day."""
        told = [row.key in self.read_on[row.day] for row in self.rows if self.read_on.get(row.day)]
        return 1 - self.beliefs["unread"].after(len(told) - sum(told), len(told))

    @cached_property
    def known_share(self) -> float:
        """Share of the tags that are in stock or in the reader."""
        return (sum(key in self.known for key in self.rings_of) + 1) / (len(self.rings_of) + 2)

    def strange_share(self, row: TagRow) -> float:
        """Share of the tags fitted now, or found on a bird, that are not in stock, but for the row's own."""
        unknown, n = self._strange[self.fitted(row)]
        return self.beliefs["unlisted"].after(unknown - (row.key not in self.known), n - 1)

    @cached_property
    def _strange(self) -> tuple[tuple[int, int], tuple[int, int]]:
        fitted = {row.key for row in self.rows if self.fitted(row)}
        found = {row.key for row in self.rows} - fitted
        return (len(found - self.known), len(found)), (len(fitted - self.known), len(fitted))

    @cached_property
    def unclaimed(self) -> float:
        """Share of the tags read on a day that no row of that day has, but for one that is in question."""
        read = sum(len(keys) for keys in self.read_on.values())
        left = sum(len(self.read_but_not_typed(day)) for day in self.read_on)
        return self.beliefs["unclaimed"].after(max(left - 1, 0), max(read - 1, 0))

    def waiting(self, row: TagRow) -> frozenset[str]:
        """Tags read on the day of a row that no row of that day has."""
        return self.read_but_not_typed(row.day)

    @cached_property
    def mates(self) -> CodeMates:
        """How far numbers of rings and tags lie apart."""
        return CodeMates(self.rows)

    @cached_property
    def _turns(self) -> ReadTurns:
        return ReadTurns(self.rows, self.read_place)

    def read_in_turn(self, row: TagRow, keys: Collection[str], through: TagRow | None = None) -> list[str]:
        """List some tags that were read when it was the turn of a row: see `ReadTurns.between`."""
        return self._turns.between(row, keys, through)

    @cached_property
    def _known_as_shown(self) -> KnownTags:
        return KnownTags({self.printed(key): key for key in self.known})

    def near_known(self, text: str, *, two: bool = False) -> list[str]:
        """List the known tags that are one slip away from a text, or two: see `KnownTags.near`."""
        return self._known_as_shown.near(text, two=two)

    @cached_property
    def tree(self) -> CodeTree:
        """The tags of the season, as most are written, and how they begin."""
        signs = len(_DECIMALS) if self.plain_length else _HEX_BASE
        # of those typed only: what is in stock has a list of its own
        return CodeTree({self.printed(key) for key in self.rings_of}, signs, self.tree_weight)

    @cached_property
    def usual_beginning(self) -> float:
        """How many signs at the beginning a tag of the season shares with some other one: the median."""
        texts = [self.printed(key) for key in self.rings_of]
        shared = [self.tree.shared(text, but=text) for text in texts]
        return float(np.median(shared)) if shared else 0.0


def open_tag_book(case: Case) -> TagBook:
    """Lay the tags of a season side by side."""
    return case.lay_out(_lay_out, TAG_BOOK)


def _lay_out(case: Case) -> TagBook:
    limits = case.declared.rules["tag_code"].limits
    keyed = keyed_tags(case)
    rows, aside = _apart(case, keyed.rows)
    test_season = _is_test_season(case, {row.key for row in rows}, set(keyed.stock.values()))
    stored = stored_tags(case, keyed, test_season=test_season)
    return TagBook(
        rows,
        aside,
        keyed.above,
        keyed.habit,
        frozenset(keyed.stock.values()),
        frozenset(keyed.read.values()) - stored.tests,
        stored.on,
        stored.place,
        case.declared.slips.channel(),
        float(limits["tree_weight"].value),
        {keys[0]: keys[1:] for keys in limits["keys_below"].value},
        {
            name: Belief(float(limits[name].value), float(limits["weight_of_shares"].value))
            for name in ("unread", "unclaimed", "unlisted")
        },
        keyed.read,
        stored.tests,
        test_season=test_season,
    )


def _apart(case: Case, typed: Iterable[TagRow]) -> tuple[tuple[TagRow, ...], dict[str, TagRow]]:
    """Part rows with a sure tag from all others; what else of them is in doubt is left out."""
    doubted = case.doubted
    labels = {label for label, _ in doubted}
    rows = []
    aside: dict[str, TagRow] = {}
    for one in typed:
        row = one.but_for(doubted) if one.label in labels else one
        if not row.tag or (row.label, "tag") in doubted:
            aside[row.label] = row
        else:
            rows.append(row)
    return tuple(rows), aside


def _is_test_season(case: Case, *groups: set[str]) -> bool:
    """Whether many tags of the sheet, or in stock, are of the test range."""
    share = case.declared.rules["tag_code"].limits["test_season_share"].value
    for keys in groups:
        iso = [key for key in keys if _DECIMAL.fullmatch(key)]
        tests = sum(of_test_range(case, key) for key in iso)
        if iso and tests >= share * len(iso):
            return True
    return False
