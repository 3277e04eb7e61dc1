"""The rings of all strings, and what became of each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import join_ring
from audit.rules.fates import CODES, FATES, Fate
from audit.rules.ring_ledger.lines import RingLine, Worn
from audit.rules.ring_ledger.series_use import ranges

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.rules.fates import Codes, Flags, Integers
    from audit.rules.ring_ledger.lines import LostElsewhere, OtherRing
    from audit.rules.ring_ledger.series_use import SeriesUse
    from audit.rules.stock import IssuedString

__all__ = ["RingLedger"]


@dataclass(frozen=True)
class RingLedger:
    """The rings of all strings; arrays have one entry per ring, string by string.

    Attributes
    ----------
    strings : tuple of IssuedString
        In order of series and number.
    starts : array of int
        Where the rings of each string begin; one entry more than there are strings.
    fate, likely : array of int
        Codes of `FATES`.
    row : array of int
        Handling at which a ring was put on, or first met; -1 for none.
    loss : array of int
        Row of the losses; -1 for none.
    times : array of int
        In how many handlings it stands as newly put on.
    quarrel : array of bool
        On a bird and among the losses.
    torn : array of bool
        Among the losses with two fates.
    twice : array of bool
        Issued in more than one string.
    unread : tuple of IssuedString
        Strings that cannot be laid out: their ends do not go together, or they are too long to be one.
    worn, lost : tuple of sequences
        Columns of the handlings with a ring, as in `Worn`, and of the losses: ring, fate, date.
    others : tuple of OtherRing
        Rings on birds that are in no string.
    lost_elsewhere : tuple of LostElsewhere
        Losses that are in no string.
    series : tuple of SeriesUse
        What was put on of series that have no string in the stock, single rings left out; of all series where
        no string is laid out.
    has_stock : bool
        Whether there is any row in the stock.
    """

    strings: tuple[IssuedString, ...]
    unread: tuple[IssuedString, ...]
    starts: Integers
    fate: Codes
    likely: Codes
    row: Integers
    loss: Integers
    times: Integers
    quarrel: Flags
    torn: Flags
    twice: Flags
    worn: tuple[Sequence[str], ...]
    lost: tuple[Sequence[str], ...]
    others: tuple[OtherRing, ...]
    lost_elsewhere: tuple[LostElsewhere, ...]
    series: tuple[SeriesUse, ...]
    has_stock: bool

    def __len__(self) -> int:
        return int(self.fate.size)

    def span(self, which: int) -> slice:
        """Where the rings of a string stand in the arrays."""
        return slice(int(self.starts[which]), int(self.starts[which + 1]))

    def counts(self, which: int, *, likely: bool = False) -> dict[Fate, int]:
        """Count the rings of a string by fate: the counts sum to its length."""
        codes = (self.likely if likely else self.fate)[self.span(which)]
        numbers = np.bincount(codes, minlength=len(FATES))
        return dict(zip(FATES, numbers.tolist(), strict=True))

    @cached_property
    def total(self) -> Mapping[Fate, int]:
        """Count all rings by fate."""
        return dict(zip(FATES, np.bincount(self.fate, minlength=len(FATES)).tolist(), strict=True))

    @cached_property
    def conflict(self) -> Flags:
        """Rings of which the tables tell what cannot all be true."""
        found: Flags = self.quarrel | self.torn | (self.times > 1) | self.twice
        return found

    def names(self, which: int, fate: Fate, *, likely: bool = False) -> list[str]:
        """List the rings of a string that have one fate, as ranges."""
        span = self.span(which)
        places = np.flatnonzero((self.likely if likely else self.fate)[span] == CODES[fate])
        string = self.strings[which]
        return ranges(string.stem, string.width, places + string.first)

    def lines(self, which: int | None = None) -> Iterator[RingLine]:
        """Tell every ring of one string, or of all."""
        chosen = range(len(self.strings)) if which is None else (which,)
        for one in chosen:
            string, span = self.strings[one], self.span(one)
            yield from (
                self._line(string, string.first + place - span.start, place)
                for place in range(span.start, span.stop)
            )

    def conflicts(self) -> list[RingLine]:
        """Tell the rings of which the tables tell what cannot all be true."""
        found = []
        for place in np.flatnonzero(self.conflict).tolist():
            which = int(np.searchsorted(self.starts, place, side="right")) - 1
            string = self.strings[which]
            found.append(self._line(string, string.first + place - int(self.starts[which]), place))
        return found

    def _line(self, string: IssuedString, serial: int, place: int) -> RingLine:
        row, loss = int(self.row[place]), int(self.loss[place])
        fate = FATES[self.fate[place]]
        worn = self._worn(row) if row >= 0 else None
        date = ""
        if fate is Fate.ON_A_BIRD and worn:
            date = worn.day
        elif loss >= 0:
            date = self.lost[2][loss]
        return RingLine(
            join_ring(string.stem, serial, string.width),
            string,
            fate,
            FATES[self.likely[place]],
            date,
            worn,
            self._remark(place, worn, loss),
            bool(self.conflict[place]),
        )

    def _worn(self, row: int) -> Worn:
        return Worn(*(column[row] for column in self.worn))

    def _remark(self, place: int, worn: Worn | None, loss: int) -> str:
        said = []
        if loss >= 0 and worn:
            _, word, day = (column[loss] for column in self.lost)
            when = f" on {day}" if day else ""
            if self.quarrel[place]:
                said.append(f"on a bird, and among the losses: {word or Fate.LOST}{when}")
            else:
                at = " ".join(filter(None, (worn.box, worn.day)))
                said.append(f"was on a bird ({at}) before" if at else "was on a bird before")
        if self.torn[place]:
            said.append("among the losses with two fates")
        if self.times[place] > 1:
            said.append(f"stands as newly put on in {self.times[place]} rows")
        elif worn and not self.times[place]:
            said.append("put on before this season")
        if self.twice[place]:
            said.append("issued in two strings")
        if self.likely[place] != self.fate[place]:
            said.append(f"by the findings probably {FATES[self.likely[place]]}")
        return "; ".join(said)
