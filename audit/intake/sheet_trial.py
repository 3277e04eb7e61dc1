"""A sheet tried as one table: what each of its columns would mean, and what would be missing."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.ambiguity import Claim, settle
from audit.intake.layout import Head, find_heading, recognise
from audit.intake.mapping import IGNORE
from audit.intake.wording import listed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from audit.intake.grid import RawCell, Sheet
    from audit.intake.headers import Unit
    from audit.intake.knowledge import Knowledge
    from audit.intake.layout import Heading

__all__ = ["SheetTrial", "try_sheet"]

# A number, a date or a time begins with a digit, perhaps after a sign; a ring such as SV01001 does not.
_BEGINS_WITH_DIGIT = re.compile(r"^\W*\d")
_KINDS_WITH_DIGITS = ("number", "integer", "date", "time", "datetime")


@dataclass(frozen=True, slots=True)
class SheetTrial:
    """A sheet tried as one table.

    Attributes
    ----------
    table : str
    heading : Heading or None
        None where no header is known for the table.
    claims : tuple of Claim
        Columns that would mean a field, in column order.
    others, ignored : tuple of Head
        Columns that would mean none; those that the saved mapping leaves out.
    clashes : tuple of (str, tuple of Head)
        Fields that more than one column would mean.
    missing : tuple of str
        Fields that the table needs and no column means.
    notices : tuple of str
        What a person should know.
    """

    table: str
    heading: Heading | None = None
    claims: tuple[Claim, ...] = ()
    others: tuple[Head, ...] = ()
    ignored: tuple[Head, ...] = ()
    clashes: tuple[tuple[str, tuple[Head, ...]], ...] = ()
    missing: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()

    @property
    def fits(self) -> bool:
        """Whether nothing speaks against it."""
        return not self.missing and not self.clashes

    @property
    def fields(self) -> int:
        """How many fields its headers mean."""
        return len({claim.field for claim in self.claims} | {field for field, _ in self.clashes})

    @property
    def convinces(self) -> bool:
        """Whether the headers alone say that it is this table: two of them, or all."""
        return self.fields > 1 or (self.fits and self.fields > 0 and not self.others)


def try_sheet(sheet: Sheet, table: str, known: Knowledge) -> SheetTrial:
    """Try a sheet as a table."""
    declared = known.declared.tables[table]
    said = known.saved.fields_of(sheet.name)
    heading = find_heading(sheet, table, known.vocabulary, known.habits, saved=said)
    needed = [field.name for field in declared.fields if field.needed]
    if heading is None:
        return SheetTrial(table, missing=tuple(needed))

    def cells_below(head: Head) -> list[RawCell]:
        rows = sheet.rows[heading.below :]
        return [row[head.index] for row in rows if head.index < len(row) and row[head.index].text.strip()]

    ignored = tuple(head for head in heading.heads if said.get(head.text) == IGNORE)
    claims = []
    for head in heading.heads:
        if head.text in said:
            if said[head.text] in declared.names:
                claims.append(Claim(head, said[head.text], "saved mapping", _unit_named(head, known)))
        elif (match := recognise(head, table, known.vocabulary)) is not None:
            claims.append(Claim(head, match.field, match.how, match.unit or head.unit))
    settled = {claim.head for claim in claims} | set(ignored)
    unclaimed = [head for head in heading.heads if head not in settled]
    claims, notices = settle(
        claims, unclaimed, declared.names, cells_below, vocabulary=known.vocabulary, vague=known.vague
    )
    claims, clashes, more = _one_per_field(claims, cells_below)
    notices += more
    taken = {claim.head for claim in claims} | set(ignored) | {head for _, heads in clashes for head in heads}
    free = set(declared.names) - {claim.field for claim in claims} - {field for field, _ in clashes}
    unclaimed = [head for head in unclaimed if head not in taken]
    slips = _slips(unclaimed, table, free, cells_below, known)
    claims += slips
    notices += [f"'{slip.head.text}' was taken as {slip.field}." for slip in slips]
    taken |= {claim.head for claim in slips}
    met = {claim.field for claim in claims} | {field for field, _ in clashes}
    return SheetTrial(
        table=table,
        heading=heading,
        claims=tuple(sorted(claims, key=lambda claim: claim.head.index)),
        others=tuple(head for head in heading.heads if head not in taken),
        ignored=ignored,
        clashes=tuple(clashes),
        missing=tuple(field for field in needed if field not in met),
        notices=tuple(notices),
    )


def _unit_named(head: Head, known: Knowledge) -> Unit | None:
    return head.unit or known.vocabulary.unit_in(head.text)


def _one_per_field(
    claims: Sequence[Claim], cells_below: Callable[[Head], Sequence[RawCell]]
) -> tuple[list[Claim], list[tuple[str, tuple[Head, ...]]], list[str]]:
    """Let one column mean each field: the saved one, the one of that very name, the only written one."""
    kept: list[Claim] = []
    clashes: list[tuple[str, tuple[Head, ...]]] = []
    notices: list[str] = []
    for field, number in Counter(claim.field for claim in claims).items():
        rivals = [claim for claim in claims if claim.field == field]
        if number == 1:
            kept += rivals
            continue
        for sure in ("saved mapping", "own name"):
            winners = [claim for claim in rivals if claim.how == sure]
            if winners:
                break
        winners = winners or [claim for claim in rivals if cells_below(claim.head)]
        if len(winners) != 1:
            clashes.append((field, tuple(claim.head for claim in rivals)))
            continue
        kept += winners
        losers = [f"'{claim.head.text}' ({claim.head.letter})" for claim in rivals if claim not in winners]
        notices.append(
            f"'{winners[0].head.text}' ({winners[0].head.letter}) was taken as {field}, although "
            f"{listed(losers)} {'means' if len(losers) == 1 else 'mean'} it too."
        )
    return kept, clashes, notices


def _slips(
    heads: Iterable[Head],
    table: str,
    free: set[str],
    cells_below: Callable[[Head], Sequence[RawCell]],
    known: Knowledge,
) -> list[Claim]:
    """Headers that differ from a known one by a slip of the keys, each for one free field."""
    found = []
    for head in heads:
        matches = [known.vocabulary.slip(text, table, free) for text in head.readings]
        match = next((match for match in matches if match is not None), None)
        if match is None:
            continue
        kind = known.declared.tables[table].field(match.field).kind
        cells = cells_below(head)
        digits = sum(
            not isinstance(cell.value, str) or bool(_BEGINS_WITH_DIGIT.match(cell.text)) for cell in cells
        )
        if kind not in _KINDS_WITH_DIGITS or digits >= known.digits_share * len(cells):
            found.append(Claim(head, match.field, match.how, match.unit or head.unit))
    times = Counter(claim.field for claim in found)
    return [claim for claim in found if times[claim.field] == 1]
