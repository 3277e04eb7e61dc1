"""What a finding is about: the cells in question by table, and the values that may have been meant."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.review.excerpts import Excerpt, Marks, excerpt

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

    from audit.findings import Finding, Suspect
    from audit.review.shelves import Shelves
    from audit.season import Season

__all__ = ["Candidate", "Matter", "candidates"]


@dataclass(frozen=True, slots=True)
class Candidate:
    """One value that may have been meant, and the probability that it was; None where nobody can tell."""

    text: str
    p: float | None


def candidates(suspect: Suspect) -> tuple[Candidate, ...]:
    """List what may have been meant in a cell, the suggestion first, then what comes next."""
    first = [Candidate(suspect.suggested, suspect.p_fix)] if suspect.suggested else []
    return (*first, *(Candidate(text, p) for text, p in suspect.others))


@dataclass(frozen=True, slots=True)
class Matter:
    """A finding on the desk, and the shelves to look things up in.

    Attributes
    ----------
    suspects : tuple of Suspect
        Those whose row is in the season.
    by_table : mapping of str to tuple of Suspect
        The same by table.
    """

    shelves: Shelves
    finding: Finding
    marks: Marks
    suspects: tuple[Suspect, ...]
    by_table: Mapping[str, tuple[Suspect, ...]]

    @classmethod
    def of(cls, shelves: Shelves, finding: Finding, as_typed: Season | None) -> Matter:
        """Look at a finding; cells of rows that the season has not are left aside."""
        here = tuple(one for one in finding.suspects if shelves.row(one.cell.label) is not None)
        blamed = frozenset((one.cell.label, one.cell.field) for one in here)
        seen = frozenset(
            (cell.label, cell.field) for cell in finding.witnesses if shelves.row(cell.label) is not None
        )
        by_table: dict[str, list[Suspect]] = defaultdict(list)
        for one in here:
            by_table[shelves.season.table_of(one.cell.label)].append(one)
        return cls(
            shelves,
            finding,
            Marks(blamed, seen - blamed, as_typed),
            here,
            {table: tuple(some) for table, some in by_table.items()},
        )

    def asked(self, table: str) -> frozenset[str]:
        """Columns of a table with a cell in question."""
        return frozenset(one.cell.field for one in self.by_table.get(table, ()))

    def labels(self, table: str) -> tuple[str, ...]:
        """Rows of a table with a cell in question, each once."""
        return tuple(dict.fromkeys(one.cell.label for one in self.by_table.get(table, ())))

    def now(self, table: str, field: str) -> tuple[str, ...]:
        """Values that stand in a column of the rows in question, each once."""
        found = (self.shelves.understood(label, field) for label in self.labels(table))
        return tuple(dict.fromkeys(text for text in found if text))

    def meant(self, table: str, field: str) -> tuple[str, ...]:
        """Values that may have been meant in the cells in question of a column, each once."""
        return tuple(
            dict.fromkeys(
                one.text
                for suspect in self.by_table.get(table, ())
                if suspect.cell.field == field
                for one in candidates(suspect)
            )
        )

    def cut(
        self,
        table: str,
        rows: Iterable[int],
        title: str,
        *,
        most: int,
        fields: Collection[str] | None = None,
        near: Collection[int] = (),
        kind: str = "",
        beside: Mapping[str, tuple[str, Callable[[str], str]]] | None = None,
    ) -> Excerpt | None:
        """Cut out some rows, in the order given, but no more than so many; None where there are none.

        Parameters
        ----------
        near : collection of int
            Rows that matter most: those farthest from them, in the order given, are left out first.
        """
        every = list(dict.fromkeys(rows))
        if not every:
            return None
        kept = thinned(every, near, most)
        return excerpt(
            self.shelves.season,
            table,
            kept,
            self.marks,
            title=title,
            kind=kind,
            fields=fields,
            left_out=len(every) - len(kept),
            beside=beside,
        )


def thinned(rows: Sequence[int], near: Collection[int], most: int) -> list[int]:
    """Keep so many rows, those that matter and what stands nearest to them."""
    if len(rows) <= most:
        return list(rows)
    wanted = [i for i, row in enumerate(rows) if row in near] or [0]
    far = {i: min(abs(i - at) for at in wanted) for i in range(len(rows))}
    nearest = sorted(far, key=lambda i: (far[i], i))[:most]
    return [rows[i] for i in sorted(nearest)]
