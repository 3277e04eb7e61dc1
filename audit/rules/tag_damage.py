"""Damaged tags: which one stood in a cell of which a spreadsheet has left a few digits."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pandas as pd

from audit.rules.case import At
from audit.rules.heeded import TAG_BOOK
from audit.rules.rule import Rule
from audit.rules.tag_book import TagBook, open_tag_book

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]

_POWER = re.compile(r"([0-9])(?:[.,]([0-9]+))?E\+?([0-9]+)", re.IGNORECASE)
_DIGITS = re.compile(r"[0-9]+")


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find the one tag that a damaged cell can have held.

    The digits that are left tell little, since all tags of a batch share them. They are held against the tag
    of the same bird at another visit, then against what was read that day and stands on no row, then against
    what is left in stock; only a single one that fits is named.
    """
    handlings = case.frame("handlings")
    damaged = [
        reading
        for reading in case.season.readings
        if (reading.kind, reading.field) == ("damaged_code", "tag") and reading.label in handlings.index
    ]
    if not damaged:
        return
    book = open_tag_book(case)
    for reading in damaged:
        row = handlings.loc[reading.label]
        ring = row["ring"] if isinstance(row["ring"], str) else ""
        day = row["date"].date().isoformat() if pd.notna(row["date"]) else ""
        for known_by, keys, where in _places(book, ring, day):
            fitting = sorted(key for key in keys if _left_by(reading.typed, key))
            if len(fitting) > 1 and known_by == "read":
                # the reader stores the birds in the order of the sheet
                at = book.aside[reading.label]
                fitting = book.read_in_turn(at, fitting) or fitting
            if len(fitting) == 1:
                meant = book.printed(fitting[0])
                yield case.blame(
                    known_by,
                    [At(reading.label, "tag", meant)],
                    f"{reading.typed} is what a spreadsheet left of a tag: {meant} {where} fits.",
                )
            if fitting:
                break


def _places(book: TagBook, ring: str, day: str) -> Iterator[tuple[str, Iterable[str], str]]:
    yield "bird", {row.key for row in book.rows_of_ring.get(ring, ())}, "of the same bird at another visit"
    waiting = {key for key in book.read_but_not_typed(day) if book.unused(key, ring)}
    yield "read", waiting, "was read that day, stands on no row, and"
    left = {key for key in book.stock if book.unused(key, ring)}
    yield "stock", left, "is in stock, on no other bird, and"


def _left_by(typed: str, tag: str) -> bool:
    """Whether a spreadsheet that shows few digits of a tag would show this text."""
    if not _DIGITS.fullmatch(tag):
        return False
    shown = typed.strip().strip("'").replace(" ", "").replace("\u00a0", "")
    power = _POWER.fullmatch(shown)
    if power:
        places = len(power[2] or "")
        return float(shown.replace(",", ".")) == float(f"{int(tag):.{places}E}")
    if not _DIGITS.fullmatch(shown):
        return False
    kept = len(shown.rstrip("0"))
    if len(shown) != len(tag) or not kept:
        return False
    # noughts may belong to what was kept, so that a few more digits than others may have been
    rounded = {int(float(f"{int(tag):.{places}E}")) for places in range(kept - 1, kept + 2)}
    return shown[:kept] == tag[:kept] or int(shown) in rounded


RULE = Rule(
    "tag_damage",
    {"handlings": ("ring", "date", "tag")},
    check,
    heeds=TAG_BOOK,
)
