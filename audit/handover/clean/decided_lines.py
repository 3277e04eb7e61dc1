"""What became of every decision: one line for each cell, the same in text, page and notebook."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.review.decisions import text_of
from audit.review.standing import same_cell
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.review.decisions import DecidedCell, Decision
    from audit.review.log_records import Damaged
    from audit.review.replay import Replayed, Settled
    from audit.review.standing import Answered
    from audit.season import Season

__all__ = ["HEADS", "NOTHING_LEFT", "DecidedLine", "Section", "headline", "sections"]

#: What each column of a line holds.
HEADS = ("where", "column", "as typed", "in the clean season", "decided by", "why")

#: The sentence where no conflict, orphan or question is left.
NOTHING_LEFT = "No decision is left to settle."
_EMPTY = "(empty)"


@dataclass(frozen=True, slots=True)
class DecidedLine:
    """One cell and what was decided about it; all texts."""

    where: str
    column: str
    typed: str
    text: str
    who: str
    why: str

    @property
    def parts(self) -> tuple[str, str, str, str, str, str]:
        """The texts in the order of `HEADS`."""
        return self.where, self.column, self.typed, self.text, self.who, self.why


@dataclass(frozen=True, slots=True)
class Section:
    """Lines of one kind, under a heading, with a sentence on what to do about them."""

    heading: str
    note: str
    lines: tuple[DecidedLine, ...]


def headline(replayed: Replayed) -> str:
    """Count what was decided, in one sentence or two.

    Examples
    --------
    >>> from audit.season import Season
    >>> from audit.review.replay import Replayed
    >>> headline(Replayed(Season("sallow", {})))
    '0 cells changed, 0 kept as typed. No decision is left to settle.'
    """
    already = sum(one.already for one in replayed.applied)
    changed = len(replayed.applied) - already
    told = [f"{counted(changed, 'cell')} changed"]
    if already:
        told.append(f"{already:,} already mended in the sheet")
    told.append(f"{len(replayed.kept):,} kept as typed")
    left = [
        counted(len(some), one, many)
        for some, one, many in (
            (replayed.conflicts, "conflict", "conflicts"),
            (replayed.orphans, "decision without a place", "decisions without a place"),
            (replayed.asked, "open question", "open questions"),
        )
        if some
    ]
    end = f"Left to settle: {', '.join(left)}." if left else NOTHING_LEFT
    return f"{', '.join(told)}. {end}"


def sections(replayed: Replayed, damaged: Sequence[Damaged] = ()) -> list[Section]:
    """Lay out all that was decided; what is left to settle comes first.

    Parameters
    ----------
    damaged : sequence of Damaged
        Lines of the log that do not count.
    """
    season = replayed.season
    all_sections = [
        Section(
            "In conflict",
            "Two decisions on one cell differ. Neither was applied; decide the cell once more.",
            tuple(_conflicts(replayed)),
        ),
        Section(
            "Without a place",
            "The sheet was changed since. Nothing was changed for these; look at them again.",
            tuple(
                _line(season, one.label, one.cell, "", ((one.decision, one.cell),), why=one.why)
                for one in replayed.orphans
            ),
        ),
        Section(
            "Still asked",
            "To be looked up in the field notebook; the cells stay as typed until then.",
            _settled(season, replayed.asked),
        ),
        Section(
            "Held back",
            "These cells stay as typed, since their decision is in conflict about another cell.",
            _settled(season, replayed.held),
        ),
        Section(
            "Questions answered by somebody who did not know of them",
            "The answer stands. Tell the one who asked.",
            tuple(
                _line(
                    season,
                    one.label,
                    one.cell,
                    _answer(one),
                    ((one.question, one.cell), (one.answer, one.cell)),
                )
                for one in replayed.answered
            ),
        ),
        Section("Changed", "", _settled(season, [one for one in replayed.applied if not one.already])),
        Section(
            "Already mended in the sheet",
            "The sheet holds what was decided.",
            _settled(season, [one for one in replayed.applied if one.already]),
        ),
        Section("Kept as typed", "", _settled(season, replayed.kept)),
        Section(
            "Lines of the log that do not count",
            "They stay in the file as they are.",
            tuple(
                DecidedLine(f"line {one.line}", one.path.name if one.path else "", one.text, "", "", one.why)
                for one in damaged
            ),
        ),
    ]
    return [section for section in all_sections if section.lines]


def _settled(season: Season, cells: Sequence[Settled]) -> tuple[DecidedLine, ...]:
    return tuple(
        _line(season, one.label, one.choices[0][1], one.text, one.choices, typed=one.typed) for one in cells
    )


def _answer(one: Answered) -> str:
    given = [cell for cell in one.answer.cells if same_cell(cell) == same_cell(one.cell)]
    return (text_of(one.answer, given[0]) or "") if given else ""


def _conflicts(replayed: Replayed) -> Iterator[DecidedLine]:
    for conflict in replayed.conflicts:
        for decision, cell in conflict.choices:
            yield _line(
                replayed.season, conflict.label, cell, text_of(decision, cell) or "", ((decision, cell),)
            )


def _line(
    season: Season,
    label: str,
    cell: DecidedCell,
    text: str,
    choices: Sequence[tuple[Decision, DecidedCell]],
    *,
    typed: str | None = None,
    why: str = "",
) -> DecidedLine:
    where, column = f"{cell.sheet} row {cell.row}", cell.field
    if label:
        there = season.cell(label, cell.field)
        column = there.column or cell.field
        where = f"{there.sheet} {there.address if there.column else f'row {there.row}'}"
    asks = [decision for decision, _ in choices if decision.verb == "ask"]
    reasons = dict.fromkeys(decision.reason for decision, _ in choices if decision.reason)
    return DecidedLine(
        where=where,
        column=column,
        typed=(cell.observed if typed is None else typed) or _EMPTY,
        text="" if why or len(asks) == len(choices) else text or _EMPTY,
        who=", ".join(dict.fromkeys(f"{decision.who} ({decision.verb})" for decision, _ in choices)),
        why=" ".join([why, *reasons]).strip(),
    )
