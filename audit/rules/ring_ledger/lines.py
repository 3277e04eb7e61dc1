"""What the ledger tells of single rings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.season import split_label

if TYPE_CHECKING:
    from audit.rules.fates import Fate
    from audit.rules.stock import IssuedString

__all__ = ["LostElsewhere", "OtherRing", "RingLine", "Worn"]


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
