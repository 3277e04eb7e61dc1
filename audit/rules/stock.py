"""Strings of rings as issued, as ranges of serial numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models.ring_number import bare, join_ring, split_ring

if TYPE_CHECKING:
    from audit.season import Season

__all__ = ["IssuedString", "issued_strings"]


@dataclass(frozen=True, slots=True)
class IssuedString:
    """One row of the stock.

    Attributes
    ----------
    label : str
        Row label.
    stem, width : str, int
        What stands in front of the serial number, and its number of digits.
    first, last : int
        Serial numbers, both included.
    holder : str
        Initials of who holds it, empty where not given.
    issued : pandas.Timestamp or None
        Day of issue.
    fault : str
        Why the row cannot be used, empty where it can.
    """

    label: str
    stem: str
    width: int
    first: int
    last: int
    holder: str
    issued: pd.Timestamp | None
    fault: str = ""

    @property
    def key(self) -> tuple[str, int]:
        """Series: stem without separators, and number of digits."""
        return bare(self.stem), self.width

    def holds(self, key: tuple[str, int], serial: int) -> bool:
        """Whether a ring belongs to this string."""
        # the letters last: most strings are told apart by their numbers
        return self.spans(serial) and key == self.key

    def spans(self, serial: int) -> bool:
        """Whether a ring of its series belongs to this string."""
        return not self.fault and self.first <= serial <= self.last

    @property
    def issued_day(self) -> int | None:
        """Day of issue as days since 1970-01-01; None where not given."""
        return None if self.issued is None else int(np.datetime64(self.issued, "D").astype(np.int64))

    def __str__(self) -> str:
        """Write the range as a person would."""
        ends = (join_ring(self.stem, end, self.width) for end in (self.first, self.last))
        return " to ".join(ends)


def issued_strings(season: Season) -> tuple[IssuedString, ...]:
    """Read the stock; rows without both ends are left out."""
    if not season.has("ring_stock", "first", "last"):
        return ()
    frame = season.frame("ring_stock")
    lacking = pd.Series(pd.NA, index=frame.index, dtype="object")
    columns = [frame.get(name, lacking) for name in ("prefix", "first", "last", "issued_to", "issued")]
    made = []
    for label, prefix, first, last, holder, issued in zip(frame.index, *columns, strict=True):
        if pd.isna(first) or pd.isna(last):
            continue
        made.append(
            _string(
                str(label),
                "" if pd.isna(prefix) else str(prefix),
                (str(first), str(last)),
                "" if pd.isna(holder) else str(holder),
                None if pd.isna(issued) else pd.Timestamp(issued),
            )
        )
    return tuple(made)


def _string(
    label: str, prefix: str, ends: tuple[str, str], holder: str, issued: pd.Timestamp | None
) -> IssuedString:
    (stem, first), (last_stem, last) = (_split(prefix, end) for end in ends)
    fault = ""
    if not first or not last:
        fault = "has an end without digits"
    elif bare(stem) != bare(last_stem):
        fault = "begins and ends with different prefixes"
    elif len(first) != len(last):
        fault = "begins and ends with different numbers of digits"
    elif int(last) < int(first):
        fault = "ends before it begins"
    return IssuedString(label, stem, len(first), int(first or 0), int(last or 0), holder, issued, fault)


def _split(prefix: str, end: str) -> tuple[str, str]:
    """Split one end, which may or may not repeat the prefix of its row."""
    if prefix and bare(end).startswith(bare(prefix)) and len(bare(end)) > len(bare(prefix)):
        stem, serial = split_ring(end)
        if bare(stem) != bare(prefix):
            # digits only: the prefix runs into the serial number without any separator
            rest = bare(end)[len(bare(prefix)) :]
            stem, serial = prefix, (rest if rest.isascii() and rest.isdigit() else "")
        return stem, serial
    stem, serial = split_ring(end)
    return (prefix if prefix and not stem else stem), serial
