"""The differences between two typings as findings: each a sentence with both texts and both places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.findings import Finding, Suspect
from audit.review.lone_rows import lone_rows
from audit.review.slip_groups import TELLING, Differing, groups_of
from audit.review.which_typing import Blame, Blames, Typed, Weighed, Weigher, surest
from audit.review.wording import chance
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


@dataclass(frozen=True, slots=True)
class Found:
    """One finding of a comparison.

    Attributes
    ----------
    finding : Finding
    table, field : str
        Where it stands.
    slip : str
        Findings of one table with the same name are explained by one slip; empty for one alone.
    second_label : str
        Row of the second typing; empty where it has none.
    second_cell : Cell or None
        Cell of the second typing, where the finding is about one cell.
    texts : tuple of two str
        Both as typed; empty for a finding about a whole row.
    instead : str
        What the second typing says as it is written in a suggestion: dates as ISO 8601.
    chances : Weighed or None
        How likely each text is right; None where both mean the same, and for a whole row.
    """

    finding: Finding
    table: str
    field: str
    slip: str = ""
    second_label: str = ""
    second_cell: Cell | None = None
    texts: tuple[str, str] = ("", "")
    instead: str = ""
    chances: Weighed | None = None

    @property
    def of_cells(self) -> bool:
        """Whether two cells differ in what they mean."""
        return self.chances is not None


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
        self._seasons, self._names = (first, second), names
        self._outcomes = declared.rules["double_entry"].outcomes
        self._weigher = Weigher(declared)
        self._blames = Blames.of(audits[0]), Blames.of(audits[1])
        limits = declared.settings
        self._row_share = float(limits["double_entry.weigh.row_share"].value)
        self._tell_from = float(limits["double_entry.weigh.tell_from"].value)
        self._slid_rows = int(limits["double_entry.pair.slid_rows"].value)
        self._writing_most = int(limits["double_entry.show.writing_most"].value)

    def of(self, table: PairedTable) -> Iterator[Found]:
        """Yield the findings of one table."""
        differing = []
        for number, column in enumerate(table.columns):
            written = []
            for i, j in table.rows.pairs:
                first, second = column.first[i], column.second[j]
                if first != second:
                    differing.append(Differing(i, j, number, column.field, first, second))
                elif not column.same_writing(i, j):
                    written.append((i, j))
            if len(written) <= self._writing_most:
                yield from (self._written(table, column, i, j) for i, j in written)
        yield from self._differing(table, differing)
        for lone in lone_rows(table, self._seasons, self._names, self._outcomes):
            name = lone.finding.suspects[0].cell.field
            yield Found(lone.finding, table.table, name, second_label=lone.second_label)

    def written_throughout(self, table: PairedTable) -> Iterator[str]:
        """Say of which columns many cells are written in another way and mean the same."""
        for column in table.columns:
            written = [
                (i, j)
                for i, j in table.rows.pairs
                if column.first[i] == column.second[j] and not column.same_writing(i, j)
            ]
            if len(written) > self._writing_most:
                i, j = written[0]
                yield (
                    f"{table.table}: {len(written):,} cells of {column.field} are written in another way and "
                    f"mean the same, such as '{column.first_typed[i].strip()}' and "
                    f"'{column.second_typed[j].strip()}'."
                )

    def _differing(self, table: PairedTable, differing: Sequence[Differing]) -> Iterator[Found]:
        slips = groups_of(differing, self._slid_rows)
        members: dict[int, list[Differing]] = {}
        in_row: dict[int, set[int]] = {}
        for one, slip in zip(differing, slips, strict=True):
            members.setdefault(slip, []).append(one)
            in_row.setdefault(one.row, set()).add(slip)
        blamed = {
            slip: self._blamed(table, cells, alone=all(len(in_row[cell.row]) == 1 for cell in cells))
            for slip, cells in members.items()
        }
        for one, slip in zip(differing, slips, strict=True):
            name = f"{table.table} {slip}" if len(members[slip]) > 1 else ""
            yield self._found(table, one, blamed[slip], name)

    def _blamed(
        self, table: PairedTable, cells: Sequence[Differing], *, alone: bool
    ) -> tuple[dict[Differing, Blame | None], ...]:
        """Say what each audit holds against the cells of one slip: they are right together or wrong together.

        What one audit says of some of them goes for all, unless the other audit, too, says something: then
        they may be slips of their own that look like one. Where nothing is said of any, and nothing else of
        the row differs, a finding on the rest of the row that only one of the audits has is about it, too.
        """
        labels = (
            [table.first_labels[one.row] for one in cells],
            [table.second_labels[one.other_row] for one in cells],
        )
        said: list[dict[Differing, Blame | None]] = [
            {one: blames.at(label, one.field) for one, label in zip(cells, at, strict=True)}
            for blames, at in zip(self._blames, labels, strict=True)
        ]
        blaming = [side for side, own in enumerate(said) if any(own.values())]
        if len(blaming) == 1:
            most = surest(said[blaming[0]].values())
            shared = Blame(most.p_error) if most else None
            said[blaming[0]] = {one: blame or shared for one, blame in said[blaming[0]].items()}
        if alone and not blaming:
            beside = [
                {(k, name) for k, label in enumerate(at) for name in blames.rows.get(label, ())}
                for blames, at in zip(self._blames, labels, strict=True)
            ]
            for side, blames in enumerate(self._blames):
                only = beside[side] - beside[1 - side]
                most = surest(blames.at(labels[side][k], name) for k, name in only)
                if most:
                    said[side] = dict.fromkeys(cells, Blame(most.p_error * self._row_share))
        return tuple(said)

    def _found(
        self,
        table: PairedTable,
        one: Differing,
        blamed: tuple[dict[Differing, Blame | None], ...],
        slip: str,
    ) -> Found:
        column = table.columns[one.column]
        label, other = table.first_labels[one.row], table.second_labels[one.other_row]
        first, second = self._seasons[0].cell(label, one.field), self._seasons[1].cell(other, one.field)
        texts = column.first_typed[one.row].strip(), column.second_typed[one.other_row].strip()
        against = blamed[0][one], blamed[1][one]
        weighed = self._weigher.weigh(
            one.field,
            _typed(column, one.row, column.first, table.first_labels, against[0]),
            _typed(column, one.other_row, column.second, table.second_labels, against[1]),
        )
        outcome = self._outcomes[_outcome(one)]
        message = f"{self._both(first, second, texts)}: {self._verdict(texts, weighed, against)}."
        instead = self._instead(other, column, one.other_row)
        suspect = _suspect(first, instead, weighed)
        return Found(
            Finding(outcome.slug, outcome.severity, (suspect,), message),
            *(table.table, one.field, slip, other, second, texts, instead, weighed),
        )

    def _instead(self, label: str, column: Meanings, j: int) -> str:
        """Write the second typing's value as a suggestion: dates as ISO 8601, else as understood or typed."""
        frame = self._seasons[1].frame(self._seasons[1].table_of(label))
        value = frame.loc[label, column.field] if column.field in frame.columns else None
        return plain_text(value) or column.second_typed[j].strip()

    def _both(self, first: Cell, second: Cell, texts: tuple[str, str]) -> str:
        head = first.column or first.field
        one, other = (f"'{text}'" if text else "empty" for text in texts)
        row = f"{second.sheet} row {second.row}"
        return f"{head} is {one} in {self._names[0]} and {other} in {self._names[1]} ({row})"

    def _verdict(
        self, texts: tuple[str, str], weighed: Weighed, against: tuple[Blame | None, Blame | None]
    ) -> str:
        why = ""
        if against[0] and against[1]:
            why = "; the audit finds fault with both"
        elif against[0] or against[1]:
            name = self._names[0 if against[0] else 1]
            why = f", since the audit of {name} finds fault there"
        best = max(weighed.first, weighed.second, weighed.neither)
        if best < self._tell_from:
            return f"nothing tells which is right{why if against[0] and against[1] else ''}"
        if best == weighed.neither:
            meant = f"; '{weighed.third}' may have been meant" if weighed.third else ""
            return f"probably neither is right ({chance(best)}){meant}{why if not meant else ''}"
        text = texts[0] if best == weighed.first else texts[1]
        said = f"'{text}'" if text else "the empty cell"
        return f"{said} is probably right ({chance(best)}){why}"

    def _written(self, table: PairedTable, column: Meanings, i: int, j: int) -> Found:
        label, other = table.first_labels[i], table.second_labels[j]
        first, second = self._seasons[0].cell(label, column.field), self._seasons[1].cell(other, column.field)
        texts = column.first_typed[i].strip(), column.second_typed[j].strip()
        outcome = self._outcomes["writing"]
        message = f"{self._both(first, second, texts)}: both mean the same."
        suspect = Suspect(first, "", outcome.p_error)
        return Found(
            Finding(outcome.slug, outcome.severity, (suspect,), message),
            *(table.table, column.field, "", other, second, texts),
        )


def _outcome(one: Differing) -> str:
    if not one.first:
        return "empty_first"
    return "differs" if one.second else "empty_second"


def _suspect(cell: Cell, instead: str, weighed: Weighed) -> Suspect:
    """Suggest the likeliest of the texts that are not the cell's own, unless its own is likelier."""
    named = [(instead, weighed.second)] if instead else []
    if weighed.third:
        named.append((weighed.third, weighed.neither))
    named.sort(key=lambda one: -one[1])
    p_error = 1 - weighed.first
    if named and named[0][1] > weighed.first:
        return Suspect(cell, named[0][0], p_error, named[0][1], tuple(named[1:]))
    return Suspect(cell, "", p_error, None, tuple(named))


def _typed(
    column: Meanings, i: int, meant: Sequence[str], labels: Sequence[str], blame: Blame | None
) -> Typed:
    above = None
    if i and column.field in TELLING and split_label(labels[i - 1])[0] == split_label(labels[i])[0]:
        above = _value(column, meant[i - 1])
    suggested = _value(column, blame.suggested) if blame else None
    return Typed(meant[i], _value(column, meant[i]), above, blame, suggested)


def _value(column: Meanings, meaning: str) -> str | float | None:
    """Write a meaning as the channel takes it; None for words, and for what could not be read."""
    if not meaning or not meaning.isprintable():
        return None
    if column.kind in ("number", "integer"):
        try:
            return float(meaning)
        except ValueError:
            return None
    if column.kind == "date":
        return "".join(sign for sign in meaning if sign.isdigit())
    return "".join(sign for sign in meaning.upper() if sign.isalnum()) if column.kind == "code" else None
