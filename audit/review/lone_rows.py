"""Rows that only one of two typings has, as findings on the first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.findings import Finding, Suspect
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.declarations.questions import Outcome
    from audit.review.typing_rows import PairedTable
    from audit.season import Season

__all__ = ["LoneRow", "lone_rows"]

#: By these a row is told, the surest first.
_KEYS = ("ring", "tag", "box", "date")


@dataclass(frozen=True, slots=True)
class LoneRow:
    """A finding about a whole row.

    Attributes
    ----------
    finding : Finding
    second_label : str
        Row of the second typing; empty where only the first has it.
    """

    finding: Finding
    second_label: str = ""


def lone_rows(
    table: PairedTable,
    seasons: tuple[Season, Season],
    names: tuple[str, str],
    outcomes: Mapping[str, Outcome],
) -> Iterator[LoneRow]:
    """Yield a finding for each row without a partner.

    A row of the second typing is told at the row of the first after which it belongs.
    """
    first, second = seasons
    one, other = names
    partner = dict(table.rows.pairs)
    for i in table.rows.alone_first:
        label = table.first_labels[i]
        twin = table.twin_first(i)
        row = _told(first, label)
        if twin is not None and twin in partner:
            row_of_twin = split_label(table.first_labels[twin])[1]
            said = f"{row} stands twice in {one}, here and in row {row_of_twin}, and once in {other}."
            yield LoneRow(_finding(first, label, outcomes["row_doubled"], said))
        else:
            yield LoneRow(
                _finding(first, label, outcomes["row_extra"], f"{row} stands in {one} only, not in {other}.")
            )
    back = {j: i for i, j in table.rows.pairs}
    before = -1
    after = sorted(back)
    for j in table.rows.alone_second:
        before = max((k for k in after if k < j), default=-1)
        near = before if before >= 0 else min(after, default=-1)
        if near < 0:
            return
        label = table.second_labels[j]
        sheet, number = split_label(label)
        row, at = _told(second, label), table.first_labels[back[near]]
        twin = table.twin_second(j)
        if twin is not None and twin in back:
            row_of_twin = split_label(table.second_labels[twin])[1]
            rows = f"{sheet} rows {row_of_twin} and {number}"
            said = f"{row} stands twice in {other}, in {rows}, and once in {one}."
            yield LoneRow(_finding(first, at, outcomes["row_doubled_second"], said), label)
        else:
            where = "After" if near == before else "Before"
            said = (
                f"{where} this row {one} lacks one that stands in {other} ({sheet} row {number}): "
                f"{row[0].lower()}{row[1:]}."
            )
            yield LoneRow(_finding(first, at, outcomes["row_missing"], said), label)


def _finding(season: Season, label: str, outcome: Outcome, message: str) -> Finding:
    name = next((key for key in _KEYS if season.cell(label, key).observed), _KEYS[0])
    suspect = Suspect(season.cell(label, name), "", outcome.p_error)
    return Finding(outcome.slug, outcome.severity, (suspect,), message)


def _told(season: Season, label: str) -> str:
    marks = season.cell(label, "").marks
    told = [f"{word} {text}" for word, text in (("ring", marks.ring), ("tag", marks.tag)) if text][:1]
    told += [f"{word} {text}" for word, text in (("box", marks.box), ("date", marks.date)) if text]
    return f"The row of {', '.join(told)}" if told else "A row"
