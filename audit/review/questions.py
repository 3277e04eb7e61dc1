"""What must be looked up in the field notebook: one question for each cell in doubt, in page order."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.review.field_pages import lay_pages
from audit.review.look_for import look_for
from audit.review.places import Placed, decided_cell, place
from audit.review.standing import same_cell, standing

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from audit.findings import Finding
    from audit.review.decisions import DecidedCell, Decision
    from audit.review.field_pages import FieldPlace
    from audit.season import Season

__all__ = ["CELL", "LEFT_OUT", "Question", "cell_identity", "open_questions", "stand_now"]

#: Stands in a sentence for a value that the audit takes for likely.
LEFT_OUT = "\N{HORIZONTAL ELLIPSIS}"

#: Beginning of the identity of a question that nobody has asked.
CELL = "cell-"

_Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Question:
    """One cell to look up.

    Attributes
    ----------
    number : int
        From 1, in the order of the sheet; another sheet may number otherwise.
    identity : str
        Stays the same for as long as the question is asked: identity of the decision that asks it and the
        number of its cell, or, of a finding that nobody has asked about, what the row holds.
    place : FieldPlace
        Where the row stands in the field notebook.
    label, field : str
        Row label and canonical column.
    sheet, address, column : str
        Sheet, address such as ``F17`` and header as typed.
    typed : str
        The text as typed in the file.
    sentence : str
        What the audit said, without the values that it takes for likely: those can be confirmed without
        looking.
    said : str
        The same, whole.
    look_for : str
        What to look for.
    reason : str
        What the persons who asked have said, empty for a finding that nobody has asked about.
    suggested : tuple of str
        What was probably meant, the likeliest first.
    asked_with : tuple of (str, str)
        Header and text of other cells of the row that are asked about.
    cell : DecidedCell
        The cell as decisions name it.
    asks : tuple of str
        Identities of the live decisions that ask about the cell.
    findings, rules : tuple of str
        Identities and slugs of the findings that it comes from.
    """

    number: int
    identity: str
    place: FieldPlace
    label: str
    field: str
    sheet: str
    address: str
    column: str
    typed: str
    sentence: str
    said: str
    look_for: str
    reason: str
    suggested: tuple[str, ...]
    asked_with: tuple[tuple[str, str], ...]
    cell: DecidedCell
    asks: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Asked:
    """All that asks about one cell."""

    identity: str
    cell: DecidedCell
    asks: tuple[Decision, ...]
    findings: tuple[Finding, ...]


def open_questions(
    season: Season,
    decisions: Sequence[Decision],
    findings: Iterable[Finding] = (),
    *,
    unasked: bool = False,
) -> tuple[Question, ...]:
    """List what is to be looked up, in the order of the pages of the field notebook.

    Parameters
    ----------
    season : Season
        As typed.
    decisions : sequence of Decision
        All decisions of the log. Asked is every cell of a live ``ask`` that nobody has decided meanwhile.
    findings : iterable of Finding
        Of the season with the decisions applied: they tell which values of a sentence are left out, and what
        was probably meant.
    unasked : bool
        Whether every open error or suspect is a question, too, although nobody has asked about it.

    Returns
    -------
    tuple of Question
        Numbered from 1. Decisions on rows that are no longer in the sheet are no part of it; see
        `audit.review.places.place`.
    """
    findings = tuple(findings)
    asked = _asked(season, decisions, findings)
    if unasked:
        asked |= _unasked(season, decisions, findings, asked)
    pages = lay_pages(season, asked.keys())
    made = sorted(
        (_question(season, key, one, pages.place_of(key[0])) for key, one in asked.items()),
        key=lambda question: (question.place.order, _column_order(season, question), question.identity),
    )
    beside: dict[str, list[Question]] = {}
    for question in made:
        beside.setdefault(question.label, []).append(question)
    return tuple(
        replace(
            question,
            number=number,
            asked_with=tuple(
                (other.column, other.typed) for other in beside[question.label] if other is not question
            ),
        )
        for number, question in enumerate(made, 1)
    )


def stand_now(season: Season, decisions: Sequence[Decision]) -> Placed:
    """Tell which decisions stand on which cell of the season; each is whole, with all its cells."""
    placed = place(season, [decision for decision in decisions if decision.verb != "undo"])
    at = {id(cell): key for key, here in placed.at.items() for _, cell in here}
    at |= {id(one.cell): (one.label, one.cell.field) for one in placed.orphans if one.label}
    stands = standing(decisions, lambda cell: at.get(id(cell)) or same_cell(cell))
    live = {(decision.identity, id(cell)) for decision in stands.live for cell in decision.cells}
    here = {
        key: tuple(one for one in choices if (one[0].identity, id(one[1])) in live)
        for key, choices in placed.at.items()
    }
    return Placed(
        {key: choices for key, choices in here.items() if choices},
        tuple(one for one in placed.orphans if (one.decision.identity, id(one.cell)) in live),
    )


def cell_identity(cell: DecidedCell) -> str:
    """Name a cell by what its row holds, wherever the row stands."""
    told = [cell.field, str(cell.twin), *(f"{field}={text}" for field, text in sorted(cell.as_typed.items()))]
    return f"{CELL}{hashlib.blake2b(chr(31).join(told).encode(), digest_size=8).hexdigest()}"


def _asked(season: Season, decisions: Sequence[Decision], findings: Sequence[Finding]) -> dict[_Key, _Asked]:
    by_identity = {finding.identity: finding for finding in findings}
    asked: dict[_Key, _Asked] = {}
    for key, here in stand_now(season, decisions).at.items():
        if any(decision.verb != "ask" for decision, _ in here):
            continue
        asks = sorted(here, key=lambda one: (one[0].at, one[0].identity))
        first, cell = asks[0]
        number = first.cells.index(cell) + 1
        named = dict.fromkeys(name for decision, _ in asks for name in decision.findings)
        asked[key] = _Asked(
            f"{first.identity}#{number}",
            cell,
            tuple(decision for decision, _ in asks),
            tuple(by_identity[name] for name in named if name in by_identity),
        )
    return asked


def _unasked(
    season: Season, decisions: Sequence[Decision], findings: Sequence[Finding], asked: Mapping[_Key, _Asked]
) -> dict[_Key, _Asked]:
    decided = stand_now(season, decisions).at
    settled = {
        name
        for here in decided.values()
        for decision, _ in here
        if decision.verb != "ask"
        for name in decision.findings
    }
    told: dict[_Key, list[Finding]] = {}
    for finding in findings:
        if finding.severity == "note" or finding.identity in settled:
            continue
        for suspect in finding.suspects:
            key = suspect.cell.label, suspect.cell.field
            if key not in asked and key not in decided:
                told.setdefault(key, []).append(finding)
    made = {}
    for (label, field), here in told.items():
        cell = decided_cell(season, label, field, None)
        made[label, field] = _Asked(cell_identity(cell), cell, (), tuple(here))
    return made


def _question(season: Season, key: _Key, asked: _Asked, where: FieldPlace) -> Question:
    label, field = key
    cell = season.cell(label, field)
    suggested = tuple(
        dict.fromkeys(
            suspect.suggested
            for finding in asked.findings
            for suspect in finding.suspects
            if (suspect.cell.label, suspect.cell.field) == key and suspect.suggested
        )
    )
    likely = {s.suggested for finding in asked.findings for s in finding.suspects if s.suggested}
    sentences = dict.fromkeys(
        [
            *(ask.asked for ask in asked.asks if ask.asked),
            *(finding.message for finding in asked.findings if not asked.asks),
        ]
    )
    said = " ".join(sentences)
    return Question(
        number=0,
        identity=asked.identity,
        place=where,
        label=label,
        field=field,
        sheet=cell.sheet,
        address=cell.address,
        column=cell.column or field,
        typed=asked.cell.observed,
        sentence=_without(said, likely),
        said=said,
        look_for=look_for(field, in_a_visit=not where.visit.sheet),
        reason="; ".join(dict.fromkeys(_reason(asked.asks))),
        suggested=suggested,
        asked_with=(),
        cell=asked.cell,
        asks=tuple(ask.identity for ask in asked.asks),
        findings=_names(asked, "findings"),
        rules=_names(asked, "rules"),
    )


def _reason(asks: Iterable[Decision]) -> Iterator[str]:
    for ask in asks:
        if ask.reason:
            yield f"{ask.reason} ({ask.who})" if ask.who else ask.reason


def _names(asked: _Asked, kind: str) -> tuple[str, ...]:
    of_asks = [name for ask in asked.asks for name in getattr(ask, kind)]
    of_findings = [one.identity if kind == "findings" else one.rule for one in asked.findings]
    return tuple(dict.fromkeys(of_asks or of_findings))


def _without(sentence: str, likely: Iterable[str]) -> str:
    """Leave out values that the audit takes for likely."""
    for value in sorted(likely, key=len, reverse=True):
        whole = rf"(?<![\w.,-]){re.escape(value)}(?![\w-]|[.,]\d)"
        sentence = re.sub(whole, LEFT_OUT, sentence)
    return sentence


def _column_order(season: Season, question: Question) -> int:
    columns = season.tables[season.table_of(question.label)].columns
    here = [field for sheet, field in columns if sheet == question.sheet]
    return here.index(question.field) if question.field in here else len(here)
