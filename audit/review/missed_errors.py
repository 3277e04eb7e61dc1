"""What double entry says once its differences are decided: errors that both finders missed, and rates.

The comparison of two typings is one finder of errors of the first typing, the audit of the first typing alone
is another, and neither knows of the other.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.models.interval import Share, wilson
from audit.models.recapture import ASSUMED, Missed, missed
from audit.review.replay import replay
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.review.decisions import Decision
    from audit.review.double_entry import DoubleEntry
    from audit.review.replay import Replayed

__all__ = ["COMPARED", "Rate", "estimate", "rates"]

#: What the estimate of double entry rests on, beside what every such estimate does.
COMPARED: tuple[str, ...] = (
    *ASSUMED,
    "What the audit found and both typed alike mostly stood so on the field sheet; it counts as missed.",
)

Cells = frozenset[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Rate:
    """How often one column was mistyped.

    Attributes
    ----------
    table, field : str
        Column; both empty for all columns together.
    cells : int
        Cells compared.
    differing : int
        Of these, cells in which the typings differ.
    undecided : int
        Of these, differences that are not decided yet: they count as no error of either.
    first, second : Share
        Share of cells wrong in each typing, with its interval.
    """

    table: str
    field: str
    cells: int
    differing: int
    undecided: int
    first: Share
    second: Share


def estimate(double: DoubleEntry, decisions: Iterable[Decision]) -> Missed | str:
    """Estimate how many errors of the first typing both the comparison and the audit missed.

    Parameters
    ----------
    double : DoubleEntry
    decisions : iterable of Decision
        About the first typing: a cell that was given another text was an error, a cell kept was none.

    Returns
    -------
    Missed or str
        A sentence that says why not yet: every difference and every finding of the audit above a note must be
        decided, else errors found by one finder would be counted and those of the other not.
    """
    replayed = replay(double.first, double.declared, decisions)
    changed, kept = _settled(replayed)
    disputed = len(replayed.conflicts)
    settled = changed | kept
    compared = _cells(double)
    findings = double.audits[0].above_notes
    audited = [
        frozenset((suspect.cell.label, suspect.cell.field) for suspect in finding.suspects)
        for finding in findings
    ]
    left = len(compared - settled), sum(not cells & settled for cells in audited)
    if any(left):
        parts = [counted(left[0], "difference")] if left[0] else []
        parts += [f"{counted(left[1], 'finding')} of the audit"] if left[1] else []
        verb = "is" if sum(left) == 1 else "are"
        said = f"{' and '.join(parts)} {verb} not decided yet"
        if disputed:
            said += f", {counted(disputed, 'cell')} among all decided in two ways"
        return f"How many errors both missed can be estimated once all are decided: {said}."
    blamed = frozenset[tuple[str, str]]().union(*audited)
    by_typing, by_audit = changed & compared, changed & blamed
    level = float(double.declared.settings["double_entry.level"].value)
    return missed(len(by_typing - by_audit), len(by_audit - by_typing), len(by_typing & by_audit), level)


def rates(double: DoubleEntry, decisions: Iterable[Decision] = ()) -> tuple[Rate, ...]:
    """Count how often each typing was wrong, by column and in all, of the differences decided so far.

    Errors that both people typed alike are in neither rate.

    Returns
    -------
    tuple of Rate
        Columns with a difference first, the most frequent first; the last one is for all columns.
    """
    level = float(double.declared.settings["double_entry.level"].value)
    replayed = replay(double.first, double.declared, decisions)
    text_of = {(one.label, one.field): one.text for one in (*replayed.applied, *replayed.kept)}
    changed, kept = _settled(replayed)
    counts: Counter[tuple[str, str, str]] = Counter()
    for finding in double.differences:
        found, cell = double.found[finding.identity], finding.suspects[0].cell
        at, column = (cell.label, cell.field), (found.table, found.field)
        counts[(*column, "differing")] += 1
        if at not in changed and at not in kept:
            counts[(*column, "undecided")] += 1
            continue
        counts[(*column, "first")] += at in changed
        right = at in changed and text_of[at] in (found.texts[1], found.instead)
        counts[(*column, "second")] += not right
    columns = sorted(double.compared, key=lambda column: -counts[(*column, "differing")])

    def rate(table: str, field: str, some: Sequence[tuple[str, str]]) -> Rate:
        cells = sum(double.compared[column] for column in some)
        number = {
            what: sum(counts[(*column, what)] for column in some)
            for what in ("differing", "undecided", "first", "second")
        }
        return Rate(
            *(table, field, cells, number["differing"], number["undecided"]),
            wilson(number["first"], cells, level),
            wilson(number["second"], cells, level),
        )

    return (*(rate(*column, [column]) for column in columns), rate("", "", columns))


def _settled(replayed: Replayed) -> tuple[Cells, Cells]:
    """Return cells that were given another text, and cells that were kept."""
    changed = frozenset((one.label, one.field) for one in replayed.applied if one.text != one.typed)
    kept = frozenset((one.label, one.field) for one in replayed.kept)
    return changed, kept


def _cells(double: DoubleEntry) -> Cells:
    return frozenset(
        (suspect.cell.label, suspect.cell.field) for one in double.differences for suspect in one.suspects
    )
