"""What a finding says of each row: what was typed there, and what may have been meant."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.charts.handled import NO_DAY

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.charts.handled import Handled
    from audit.findings import Finding, Suspect

__all__ = ["Blamed", "Meant", "blamed_rows", "day_of", "known_day", "number_of", "percent"]

_EPOCH = dt.date(1970, 1, 1).toordinal()
#: A runner-up is shown from here on.
_LEAST = 0.02
_ALL = 100  # percent


@dataclass(frozen=True, slots=True)
class Meant:
    """One way in which a row could have been meant.

    Attributes
    ----------
    texts : mapping of str to str
        Suggested text by column.
    p : float or None
        Probability that it was meant.
    """

    texts: Mapping[str, str]
    p: float | None

    def number(self, field: str, typed: float) -> float:
        """Return a number that was meant, or else the typed one."""
        return number_of(self.texts[field]) if field in self.texts else typed

    def day(self, field: str, typed: float) -> float:
        """Return a day that was meant, counted from 1970, or else the typed one."""
        return day_of(self.texts[field]) if field in self.texts else typed


@dataclass(frozen=True, slots=True)
class Blamed:
    """One row that a finding blames.

    Attributes
    ----------
    label : str
        Row label.
    row : int
        Position in the handlings; -1 where it stands in another table.
    typed : mapping of str to str
        Text as typed by blamed column.
    meant : tuple of Meant
        One where all cells are wrong together; one for each cell with a suggestion where one of them is;
        for a single cell the suggestion and its runner-up.
    """

    label: str
    row: int
    typed: Mapping[str, str]
    meant: tuple[Meant, ...]


def blamed_rows(finding: Finding, handled: Handled | None, *, together: bool) -> tuple[Blamed, ...]:
    """Take a finding apart by rows, in the order of its suspects.

    Parameters
    ----------
    together : bool
        Whether all its cells are wrong together; else one of them is, instead of the others.
    """
    by_row: dict[str, list[Suspect]] = {}
    for suspect in finding.suspects:
        by_row.setdefault(suspect.cell.label, []).append(suspect)
    made = []
    for label, of_row in by_row.items():
        named = [suspect for suspect in of_row if suspect.suggested]
        if together and named:
            sure = [suspect.p_fix for suspect in named if suspect.p_fix is not None]
            texts = {suspect.cell.field: suspect.suggested for suspect in named}
            ways = [Meant(texts, min(sure, default=None))]
        else:
            ways = [Meant({one.cell.field: one.suggested}, one.p_fix) for one in named]
        if len(finding.suspects) == 1:
            # what else the one cell may have been meant to say
            ways += [
                Meant({of_row[0].cell.field: text}, p) for text, p in of_row[0].others[:1] if p >= _LEAST
            ]
        typed = {suspect.cell.field: suspect.cell.observed for suspect in of_row}
        row = -1 if handled is None else handled.place.get(label, -1)
        made.append(Blamed(label, row, typed, tuple(ways)))
    return tuple(made)


def number_of(text: str) -> float:
    """Read a suggested number; NaN where it is none.

    Examples
    --------
    >>> number_of("16.2"), number_of("SL-04")
    (16.2, nan)
    """
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def day_of(text: str) -> float:
    """Read a suggested date as days since 1970; NaN where it is none.

    Examples
    --------
    >>> day_of("2026-06-20"), day_of("soon")
    (20624.0, nan)
    """
    try:
        return float(dt.date.fromisoformat(text[:10]).toordinal() - _EPOCH)
    except ValueError:
        return math.nan


def known_day(day: float) -> float:
    """Return a day as a number that may be missing."""
    return math.nan if day == NO_DAY else float(day)


def percent(p: float | None) -> str:
    """Write a probability; empty where there is none.

    Examples
    --------
    >>> percent(0.66), percent(0.9999), percent(0.001), percent(None)
    ('66 %', 'over 99 %', 'under 1 %', '')
    """
    if p is None:
        return ""
    whole = round(p * _ALL)
    if whole >= _ALL:
        return f"over {_ALL - 1} %"
    return f"{whole} %" if whole else "under 1 %"
