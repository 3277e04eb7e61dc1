"""What lies on the desk for one finding: the rows as typed, other sheets, what may have been meant."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.checked import Checked
    from audit.findings import Cell, Finding

__all__ = ["Candidate", "Choice", "Excerpt", "Exhibit", "Line", "exhibit"]


@dataclass(frozen=True, slots=True)
class Line:
    """One row of an excerpt.

    Attributes
    ----------
    label : str
        Row label; empty for a line that is no row of the season.
    place : str
        What stands at its head: the spreadsheet row, or file and row of an earlier season.
    texts : tuple of str
        One for each column of the excerpt, as typed.
    """

    label: str
    place: str
    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Excerpt:
    """Some rows of one sheet.

    Attributes
    ----------
    title : str
        What these rows are, such as ``Ringing 2026 as typed`` or ``What the hand reader read that day``.
    kind : str
        ``own`` for the sheet of the suspects, else the table that it is of, such as ``tag_reads``.
    fields, heads : tuple of str
        Canonical column and header as typed of each column.
    lines : tuple of Line
        In sheet order, or in time.
    suspects, witnesses : frozenset of (label, field)
        Cells to mark; a cell is never both.
    left_out : int
        Rows that would belong here and are not shown.
    """

    title: str
    kind: str
    fields: tuple[str, ...]
    heads: tuple[str, ...]
    lines: tuple[Line, ...]
    suspects: frozenset[tuple[str, str]] = frozenset()
    witnesses: frozenset[tuple[str, str]] = frozenset()
    left_out: int = 0


@dataclass(frozen=True, slots=True)
class Candidate:
    """One value that may have been meant, and the probability that it was; None where nobody can tell."""

    text: str
    p: float | None


@dataclass(frozen=True, slots=True)
class Choice:
    """One suspect cell with what may have been meant.

    Attributes
    ----------
    cell : Cell
        As it stands now.
    p_error : float
        Probability that it is wrong.
    candidates : tuple of Candidate
        The likeliest first: the suggestion, then the runner-up.
    """

    cell: Cell
    p_error: float
    candidates: tuple[Candidate, ...]


@dataclass(frozen=True, slots=True)
class Exhibit:
    """All that a person needs to decide one finding.

    Attributes
    ----------
    finding : Finding
    choices : tuple of Choice
        One for each suspect cell.
    together : bool
        Whether all suspect cells are wrong together (two tags exchanged): the suggestions are accepted
        as one; else one of them is wrong and the person says which.
    excerpts : tuple of Excerpt
        The sheet itself first, then what other sheets say.
    """

    finding: Finding
    choices: tuple[Choice, ...]
    together: bool
    excerpts: tuple[Excerpt, ...]


def exhibit(checked: Checked, finding: Finding) -> Exhibit:
    """Lay out all that a person needs to decide one finding."""
    raise NotImplementedError
