"""The differences between two typings as findings: each a sentence with both texts and both places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.findings import Finding, Suspect
from audit.review.which_typing import Blames, Typed, Weighed, Weigher
from audit.review.wording import chance, counted
from audit.rules.plain import plain_text
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.declarations import Declarations
    from audit.findings import Cell, Report
    from audit.review.cell_meanings import Meanings
    from audit.review.typing_rows import PairedTable
    from audit.season import Season

__all__ = ["Differences", "Found"]

#: By these a row is told, the surest first.
_KEYS = ("ring", "tag", "box", "date")
#: Columns whose values seldom repeat from row to row, so that a copied or slid one is told by its text.
_TELLING = ("ring", "tag", "gross_g", "bag_g", "net_g", "wing_mm", "time", "age_days")
_EVEN = 0.5


@dataclass(frozen=True, slots=True)
class Found:
    """One finding of a comparison.

    Attributes
    ----------
    finding : Finding
    table, field : str
        Where it stands.
    place : int
        Number of the row in the first typing, from 0.
    second_label : str
        Row of the second typing; empty where it has none.
    second_cell : Cell or None
        Cell of the second typing, where the finding is about one cell.
    texts : tuple of two str
        Both as typed; empty for a finding about a whole row.
    chances : Weighed or None
        How likely each text is right.
    """

    finding: Finding
    table: str
    field: str
    place: int
    second_label: str = ""
    second_cell: Cell | None = None
    texts: tuple[str, str] = ("", "")
    chances: Weighed | None = None

    @property
    def of_cells(self) -> bool:
        """Whether two cells differ in what they mean."""
        return self.chances is not None

    @property
    def telling(self) -> bool:
        """Whether a text of this column, met in another row, came from there."""
        return self.field in _TELLING


class Differences:
    """Makes findings of paired rows."""

    def __init__(
        self,
        first: Season,
        second: Season,
        names: tuple[str, str],
        declared: Declarations,
        audits: tuple[Report, Report],
    ) -> None:
        self._first, self._second, self._names = first, second, names
        self._outcomes = declared.rules["double_entry"].outcomes
        self._weigher = Weigher(declared)
        self._blames = Blames.of(audits[0]), Blames.of(audits[1])
        self._row_share = float(declared.settings["double_entry.weigh.row_share"].value)
        self._tell_from = float(declared.settings["double_entry.weigh.tell_from"].value)
        self._writing_most = int(declared.settings["double_entry.show.writing_most"].value)
        self._copy_share = float(declared.settings["double_entry.show.copy_share"].value)

    def of(self, table: PairedTable) -> Iterator[Found]:
        """Yield the findings of one table."""
        by_row: dict[int, list[tuple[Meanings, int]]] = {}
        for column in table.columns:
            written: list[tuple[int, int]] = []
            for i, j in table.rows.pairs:
                if column.first[i] != column.second[j]:
                    by_row.setdefault(i, []).append((column, j))
                elif not column.same_writing(i, j):
                    written.append((i, j))
            if len(written) <= self._writing_most:
                yield from (self._written(table, column, i, j) for i, j in written)
        for i, cells in by_row.items():
            for column, j in cells:
                yield self._differing(table, column, i, j, alone=len(cells) == 1)
        yield from self._lone_rows(table)

    def notices(self, tables: Sequence[PairedTable]) -> tuple[str, ...]:
        """Say what was not compared, and what differs in the writing of a whole column."""
        one, other = self._names
        said = []
        for season, rest, name in ((self._first, self._second, one), (self._second, self._first, other)):
            alone = [t for t in season.tables if t not in rest.tables]
            said += [f"Only {name} has the table {t}: it was not compared." for t in alone]
        for table in tables:
            for fields, name in ((table.only_first, one), (table.only_second, other)):
                if fields:
                    what = counted(len(fields), "column")
                    said.append(
                        f"{table.table}: only {name} has the {what[2:] if len(fields) == 1 else what} "
                        f"{', '.join(fields)}: not compared."
                    )
            said += [text for column in table.columns if (text := self._written_throughout(table, column))]
            rows = table.rows
            if rows.moved:
                said.append(
                    f"{table.table}: {counted(len(rows.moved), 'row')} of {one} stand elsewhere in {other}."
                )
            least = min(len(table.first_labels), len(table.second_labels))
            if len(rows.pairs) < self._copy_share * least:
                said.append(
                    f"{table.table}: only {len(rows.pairs):,} of {counted(least, 'row')} were found in both: "
                    "are these typings of the same sheets?"
                )
        return tuple(said)

    def _differing(self, table: PairedTable, column: Meanings, i: int, j: int, *, alone: bool) -> Found:
        label, other = table.first_labels[i], table.second_labels[j]
        first, second = self._first.cell(label, column.field), self._second.cell(other, column.field)
        texts = column.first_typed[i].strip(), column.second_typed[j].strip()
        blamed = self._blamed(label, other, column.field, alone=alone)
        weighed = self._weigher.weigh(
            column.field,
            self._typed(column, i, column.first, table.first_labels, blamed[0]),
            self._typed(column, j, column.second, table.second_labels, blamed[1]),
        )
        outcome = "differs"
        if not column.first[i]:
            outcome = "empty_first"
        elif not column.second[j]:
            outcome = "empty_second"
        instead = self._instead(other, column, j)
        likelier = weighed.second > max(weighed.first, weighed.neither)
        suspect = Suspect(
            first,
            instead if likelier else "",
            1 - weighed.first,
            weighed.second if likelier and instead else None,
            () if likelier or not instead else ((instead, weighed.second),),
        )
        message = f"{self._both(first, second, texts)}: {self._verdict(texts, weighed, blamed)}."
        declared = self._outcomes[outcome]
        finding = Finding(declared.slug, declared.severity, (suspect,), message)
        return Found(finding, table.table, column.field, i, other, second, texts, weighed)

    def _blamed(self, label: str, other: str, name: str, *, alone: bool) -> tuple[float | None, float | None]:
        """Say how sure each audit is that its cell is wrong.

        Where nothing is said of either cell, and it is the only one of the row that differs, a finding on the
        rest of the row that only one of the audits has is about it, too.
        """
        one, two = self._blames
        cells = one.at(label, name), two.at(other, name)
        if cells != (None, None) or not alone:
            return cells
        beside = one.rows.get(label, frozenset()), two.rows.get(other, frozenset())
        shares: list[float | None] = []
        for blames, at, fields in ((one, label, beside[0] - beside[1]), (two, other, beside[1] - beside[0])):
            most = max((blames.at(at, one_field) or 0.0 for one_field in fields), default=0.0)
            shares.append(most * self._row_share if most else None)
        return shares[0], shares[1]

    def _typed(
        self,
        column: Meanings,
        i: int,
        meant: Sequence[str],
        labels: Sequence[str],
        blamed: float | None,
    ) -> Typed:
        above = i - 1 if i and split_label(labels[i - 1])[0] == split_label(labels[i])[0] else None
        value = _value(column, meant[i])
        copied = None
        if above is not None and column.field in _TELLING:
            copied = _value(column, meant[above])
        return Typed(meant[i], value, copied, blamed)

    def _instead(self, label: str, column: Meanings, j: int) -> str:
        """Write the second typing's value as a suggestion: dates as ISO 8601, else as understood or typed."""
        frame = self._second.frame(self._second.table_of(label))
        value = frame.loc[label, column.field] if column.field in frame.columns else None
        return plain_text(value) or column.second_typed[j].strip()

    def _both(self, first: Cell, second: Cell, texts: tuple[str, str]) -> str:
        head = first.column or first.field
        one, other = (f"'{text}'" if text else "empty" for text in texts)
        row = f"{second.sheet} row {second.row}"
        return f"{head} is {one} in {self._names[0]} and {other} in {self._names[1]} ({row})"

    def _verdict(
        self, texts: tuple[str, str], weighed: Weighed, blamed: tuple[float | None, float | None]
    ) -> str:
        why = ""
        if blamed[0] is not None and blamed[1] is not None:
            why = "; the audit of each typing finds fault with it"
        elif blamed != (None, None):
            at = 0 if blamed[0] is not None else 1
            why = f", since the audit of {self._names[at]} finds fault with that row"
        best = max(weighed.first, weighed.second, weighed.neither)
        if best == weighed.neither and best >= _EVEN:
            return f"probably neither is right ({chance(best)}){why}"
        if best < self._tell_from:
            return f"nothing tells which is right{why if blamed[0] is not None else ''}"
        text = texts[0] if best == weighed.first else texts[1]
        said = f"'{text}'" if text else "the empty cell"
        return f"{said} is probably right ({chance(best)}){why}"

    def _written(self, table: PairedTable, column: Meanings, i: int, j: int) -> Found:
        label, other = table.first_labels[i], table.second_labels[j]
        first, second = self._first.cell(label, column.field), self._second.cell(other, column.field)
        texts = column.first_typed[i].strip(), column.second_typed[j].strip()
        declared = self._outcomes["writing"]
        message = f"{self._both(first, second, texts)}: both mean the same."
        suspect = Suspect(first, "", declared.p_error)
        return Found(
            Finding(declared.slug, declared.severity, (suspect,), message),
            *(table.table, column.field, i, other, second, texts),
        )

    def _written_throughout(self, table: PairedTable, column: Meanings) -> str:
        written = [
            (i, j)
            for i, j in table.rows.pairs
            if column.first[i] == column.second[j] and not column.same_writing(i, j)
        ]
        if len(written) <= self._writing_most:
            return ""
        i, j = written[0]
        return (
            f"{table.table}: {len(written):,} cells of {column.field} are written in another way and mean "
            f"the same, such as '{column.first_typed[i].strip()}' and '{column.second_typed[j].strip()}'."
        )

    def _lone_rows(self, table: PairedTable) -> Iterator[Found]:
        one, other = self._names
        paired = dict(table.rows.pairs)
        by_second = {j: i for i, j in table.rows.pairs}
        for i in table.rows.alone_first:
            twin = table.twin_first(i)
            doubled = twin is not None and twin in paired
            if doubled and twin is not None:
                said = (
                    f"{self._row(self._first, table.first_labels[i])} stands twice in {one}, here and in row "
                    f"{split_label(table.first_labels[twin])[1]}, and once in {other}."
                )
            else:
                said = (
                    f"{self._row(self._first, table.first_labels[i])} stands in {one} only, not in {other}."
                )
            yield self._of_row(table, "row_doubled" if doubled else "row_extra", i, said)
        for j in table.rows.alone_second:
            before = max((k for k in by_second if k < j), default=None)
            after = min((k for k in by_second if k > j), default=None)
            near = before if before is not None else after
            if near is None:
                continue
            twin = table.twin_second(j)
            doubled = twin is not None and twin in by_second
            label = table.second_labels[j]
            place = f"{split_label(label)[0]} row {split_label(label)[1]}"
            row = self._row(self._second, label)
            if doubled and twin is not None:
                outcome = "row_doubled_second"
                said = (
                    f"{row} stands twice in {other} ({place}, and row "
                    f"{split_label(table.second_labels[twin])[1]}), and once in {one}."
                )
            else:
                outcome = "row_missing"
                where = "after" if near == before else "before"
                said = f"{row} stands in {other} only ({place}), {where} this row; it is missing in {one}."
            yield self._of_row(table, outcome, by_second[near], said, label)

    def _of_row(
        self, table: PairedTable, outcome: str, i: int, message: str, second_label: str = ""
    ) -> Found:
        label = table.first_labels[i]
        name = next((key for key in _KEYS if self._first.cell(label, key).observed), table.columns[0].field)
        declared = self._outcomes[outcome]
        suspect = Suspect(self._first.cell(label, name), "", declared.p_error)
        finding = Finding(declared.slug, declared.severity, (suspect,), message)
        return Found(finding, table.table, name, i, second_label)

    @staticmethod
    def _row(season: Season, label: str) -> str:
        marks = season.cell(label, "").marks
        told = [
            f"{word} {text}"
            for word, text in (("ring", marks.ring), ("box", marks.box), ("date", marks.date))
            if text
        ]
        if not told and marks.tag:
            told = [f"tag {marks.tag}"]
        return f"A row ({', '.join(told)})" if told else "A row"


def _value(column: Meanings, meaning: str) -> str | float | None:
    if not meaning or not meaning.isprintable():
        return None
    if column.kind in ("number", "integer"):
        return float(meaning)
    if column.kind == "date":
        return "".join(sign for sign in meaning if sign.isdigit())
    return meaning.upper() if column.kind == "code" else None
