"""What the desk says in words: lines of the worklist, values to choose from, counts. No widget."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.charts.palette import TONES
from audit.findings import SEVERITIES
from audit.review.deciding import places_of
from audit.review.grid import Head
from audit.review.typed_rows import safe
from audit.review.wording import chance, counted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.findings import Cell, Finding
    from audit.review.deciding import Deciding, Place
    from audit.review.excerpts import Excerpt, Line
    from audit.review.exhibit import Choice, Exhibit
    from audit.review.objections import Objection
    from audit.review.outcome import Outcome
    from audit.review.worklist import Item, State

__all__ = [
    "HEADS",
    "MADE",
    "NOTES",
    "SHOWN",
    "Option",
    "counted_states",
    "grid_of",
    "line_of",
    "name_of",
    "needs_reading",
    "objections_html",
    "options_of",
    "sentence",
    "told_html",
]

#: Columns of the worklist.
HEADS = (
    Head("box", "box"),
    Head("date", "date"),
    Head("cell", "cell"),
    Head("typed", "typed"),
    Head("wrong", "wrong", align="right"),
    Head("what", "what", grow=True),
)
#: What the list can show: its word, the states that it holds.
SHOWN: Mapping[str, tuple[State, ...]] = {
    "to decide": ("open",),
    "asked": ("asked",),
}
#: What else it can show: what was decided, and findings that are worth knowing only.
MADE, NOTES = "decided", "notes"
#: Cells named one by one beside a value that moves many.
_NAMED = 3


@dataclass(frozen=True, slots=True)
class Option:
    """Something that can be accepted: its words, and the cells with their new texts."""

    said: str
    values: Mapping[Place, str]


def line_of(item: Item) -> tuple[str, ...]:
    """Texts of one line of the worklist, in the order of `HEADS`."""
    first = item.findings[0]
    cell = first.suspects[0].cell
    more = len({place for finding in item.findings for place in places_of(finding)}) - 1
    return (
        cell.marks.box,
        cell.marks.date,
        f"{name_of(cell)} + {more:,}" if more else name_of(cell),
        cell.observed,
        chance(max(suspect.p_error for suspect in first.suspects)),
        f"{TONES[first.severity].word} {first.message}",
    )


def name_of(cell: Cell) -> str:
    """Name a cell by column and address: ``net_g F17``."""
    return f"{cell.field} {cell.address}" if cell.column else f"{cell.field} row {cell.row}"


def options_of(exhibits: Sequence[Exhibit]) -> tuple[Option, ...]:
    """List what can be accepted for one finding, or for all findings of one slip at once.

    Cells that are wrong together are accepted together; where one of several cells is wrong, each of its
    values is an option of its own, the likeliest first.
    """
    if len(exhibits) > 1 and all(_as_one(one) for one in exhibits):
        return (_all_of(exhibits),)
    options: list[tuple[float, Option]] = []
    for exhibit in exhibits:
        if exhibit.together and len(exhibit.choices) > 1 and _as_one(exhibit):
            options.append((1.0, _all_of([exhibit])))
            continue
        several = len(exhibits) > 1 or len(exhibit.choices) > 1
        options += [
            (candidate.p or 0.0, _single(choice, candidate.text, candidate.p, named=several))
            for choice in exhibit.choices
            for candidate in choice.candidates
        ]
    ranked = sorted(options, key=lambda one: -one[0])
    return tuple({tuple(sorted(option.values.items())): option for _, option in ranked}.values())


def _as_one(exhibit: Exhibit) -> bool:
    """Whether all suspect cells are wrong together; one without a value is left as it stands."""
    return exhibit.together and any(one.candidates for one in exhibit.choices)


def _all_of(exhibits: Sequence[Exhibit]) -> Option:
    values: dict[Place, tuple[float, str]] = {}
    for exhibit in exhibits:
        for choice in exhibit.choices:
            if not choice.candidates:
                continue
            best = choice.candidates[0]
            place = (choice.cell.label, choice.cell.field)
            values[place] = max(values.get(place, (-1.0, "")), (best.p or 0.0, best.text))
    cells = [choice.cell for exhibit in exhibits for choice in exhibit.choices if choice.candidates]
    named = dict.fromkeys(f"{name_of(cell)}: {values[cell.label, cell.field][1]}" for cell in cells)
    shown = "; ".join(list(named)[:_NAMED])
    more = len(named) - _NAMED
    tail = f"; and {counted(more, 'more cell')}" if more > 0 else ""
    least = min(p for p, _ in values.values())
    sure = f" ({chance(least)})" if least else ""
    return Option(f"{shown}{tail}{sure}", {place: text for place, (_, text) in values.items()})


def _single(choice: Choice, text: str, p: float | None, *, named: bool) -> Option:
    sure = "" if p is None else f" ({chance(p)})"
    where = f"{name_of(choice.cell)}: " if named else ""
    return Option(f"{where}{text}{sure}", {(choice.cell.label, choice.cell.field): text})


def counted_states(deciding: Deciding) -> str:
    """Say how many items are left and how many are not, as safe HTML."""
    found = Counter(deciding.item_state(item) for item in deciding.items)
    made = sum(decision.verb != "ask" for decision in deciding.board.live)
    said = [f"<b>{found['open']:,}</b> to decide", f"{found['asked']:,} asked", f"{made:,} decided"]
    if deciding.board.conflicts:
        said.append(f"<b>{counted(len(deciding.board.conflicts), 'conflict')}</b> between two people")
    if deciding.board.orphans:
        said.append(f"{counted(len(deciding.board.orphans), 'decision')} on rows that are gone")
    return f"<span>{' · '.join(said)}</span>"


def sentence(findings: Sequence[Finding]) -> str:
    """Say what was found, as safe HTML, each sentence once."""
    lines = dict.fromkeys(f"<b>{TONES[one.severity].word}</b> {safe(one.message)}" for one in findings)
    return "<br>".join(lines)


def told_html(outcome: Outcome) -> str:
    """Say what became of an act, as safe HTML that a screen reader speaks at once."""
    role, weight = ("status", "normal") if outcome.taken else ("alert", "bold")
    return f'<div role="{role}" style="font-weight:{weight}">{safe(outcome.said)}</div>'


def objections_html(objected: Sequence[Objection]) -> str:
    """Say what is wrong with a text that is being typed, as safe HTML."""
    lines = "".join(f"<li><b>{_OBJECTED[one.severity]}</b> {safe(one.message)}</li>" for one in objected)
    return f'<ul role="status">{lines}</ul>' if lines else ""


def needs_reading(objected: Sequence[Objection]) -> bool:
    """Whether a text is unlikely, but possible: it is taken once the person has read why."""
    severities = {one.severity for one in objected}
    return "suspect" in severities and "error" not in severities


_OBJECTED = {"error": "Cannot be:", "suspect": "Unlikely:", "note": "Read as:"}


def grid_of(
    excerpt: Excerpt, findings: Sequence[Finding]
) -> tuple[list[Head], tuple[Line, ...], dict[Place, str], str, Place]:
    """Return heads, lines, marks of cells, caption and first suspect cell of an excerpt."""
    severity = {
        place: finding.severity
        for finding in sorted(findings, key=lambda one: SEVERITIES.index(one.severity), reverse=True)
        for place in places_of(finding)
    }
    marks: dict[Place, str] = dict.fromkeys(excerpt.witnesses, "witness")
    marks |= {cell: severity.get(cell, "suspect") for cell in excerpt.suspects}
    for cell in excerpt.amended:
        marks[cell] = f"{marks.get(cell, '')} amended".strip()
    heads = [Head(field, head) for field, head in zip(excerpt.fields, excerpt.heads, strict=True)]
    more = f"; {counted(excerpt.left_out, 'more row')} not shown" if excerpt.left_out else ""
    places = [place for finding in findings for place in places_of(finding)]
    first = next((place for place in places if place in excerpt.suspects), ("", ""))
    return heads, excerpt.lines, marks, f"{excerpt.title}{more}", first
