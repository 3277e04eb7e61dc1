"""What was found in the field notebook, as decisions.

Each answer is a decision on one cell that takes the place of the question. Its identity is made of the
question and the answer, so that a sheet that is read twice, or into two logs, adds nothing new.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.query.filled import NotTaken
from audit.handover.query.words import ANSWER, BY_WHOM, NOTHING, SAME, UNREADABLE
from audit.intake.amending import amend_all
from audit.review.decisions import Decision
from audit.review.objections import objections
from audit.review.places import decided_cell, place
from audit.review.questions import CELL, cell_identity, open_questions, stand_now
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding
    from audit.handover.query.filled import FilledLine
    from audit.review.decisions import DecidedCell, Verb
    from audit.season import Season

__all__ = ["Taken", "answers_text", "take_answers"]

_Key = tuple[str, str]
SOURCE = "field notebook"


@dataclass(frozen=True, slots=True, repr=False)
class Taken:
    """What came of a filled query sheet.

    Attributes
    ----------
    decisions : tuple of Decision
        To be appended to the log, in the order in which the questions were asked.
    again : int
        Lines whose answer the log has already.
    not_taken : tuple of NotTaken
        Lines that contradict themselves, name nobody, or hold what the declarations refuse.
    orphans : tuple of NotTaken
        Lines whose question the log does not know, or whose row is no longer in the season.
    remarks : tuple of NotTaken
        Answers that were taken although they are unlikely.
    """

    decisions: tuple[Decision, ...]
    again: int
    not_taken: tuple[NotTaken, ...]
    orphans: tuple[NotTaken, ...]
    remarks: tuple[NotTaken, ...] = ()

    def __repr__(self) -> str:
        return answers_text(self)


@dataclass(frozen=True, slots=True)
class _Asked:
    """The question that a line answers."""

    order: tuple[int, int, str]
    key: _Key
    cell: DecidedCell
    findings: tuple[str, ...]
    rules: tuple[str, ...]
    sentence: str
    reason: str
    #: whether somebody asked it; else it is an open finding
    by_decision: bool


@dataclass(frozen=True, slots=True)
class _Answer:
    verb: Verb
    instead: str | None
    line: FilledLine


def take_answers(
    lines: Iterable[FilledLine],
    season: Season,
    declared: Declarations,
    decisions: Sequence[Decision],
    findings: Iterable[Finding] = (),
    *,
    at: str,
    who: str = "",
) -> Taken:
    """Make decisions of the lines of a filled query sheet.

    Parameters
    ----------
    lines : iterable of FilledLine
        In any order.
    season : Season
        As typed.
    decisions : sequence of Decision
        All decisions of the log.
    findings : iterable of Finding
        Of the season with the decisions applied, where the sheet may hold questions that nobody had asked.
    at : str
        Time of the decisions, ISO 8601 with offset.
    who : str
        Who looked up the lines that name nobody.
    """
    return _Reader(season, declared, decisions, tuple(findings), at, who).take(lines)


def answers_text(taken: Taken) -> str:
    """Say in plain words what came of a filled query sheet."""
    told = [
        f"{counted(len(taken.decisions), 'answer')} taken over."
        if taken.decisions
        else "No new answer was found."
    ]
    if taken.again:
        told.append(f"{counted(taken.again, 'answer')} had been read before; nothing is doubled.")
    for heading, lines in (
        ("Not taken over:", taken.not_taken),
        ("Without a question or a row:", taken.orphans),
        ("Taken over, but look again:", taken.remarks),
    ):
        if lines:
            told += [heading, *(f"  {line}" for line in lines)]
    return "\n".join(told)


class _Reader:
    def __init__(
        self,
        season: Season,
        declared: Declarations,
        decisions: Sequence[Decision],
        findings: tuple[Finding, ...],
        at: str,
        who: str,
    ) -> None:
        self._season, self._declared, self._at, self._who = season, declared, at, who
        self._log = {decision.identity: (i, decision) for i, decision in enumerate(decisions)}
        placed = place(season, [decision for decision in decisions if decision.verb != "undo"])
        #: where the cells of each decision stand now, or why they stand nowhere
        self._keys = {
            (decision.identity, decision.cells.index(cell)): key
            for key, here in placed.at.items()
            for decision, cell in here
        }
        self._why_lost = {
            (one.decision.identity, one.decision.cells.index(one.cell)): one.why for one in placed.orphans
        }
        self._live = stand_now(season, decisions).at
        self._unasked = self._by_cell(decisions, findings)
        self._not_taken: list[NotTaken] = []
        self._orphans: list[NotTaken] = []
        self._remarks: list[NotTaken] = []

    def _by_cell(self, decisions: Sequence[Decision], findings: tuple[Finding, ...]) -> dict[str, _Asked]:
        """Questions that nobody had asked, by what their rows hold; also those decided meanwhile."""
        known: dict[str, _Asked] = {}
        for key, here in self._live.items():
            decision, cell = here[0]
            known[cell_identity(cell)] = _Asked(
                (1, 0, cell_identity(cell)),
                key,
                cell,
                decision.findings,
                decision.rules,
                decision.asked,
                "",
                by_decision=False,
            )
        for question in open_questions(self._season, decisions, findings, unasked=True):
            if not question.asks:
                known[question.identity] = _Asked(
                    (1, 0, question.identity),
                    (question.label, question.field),
                    question.cell,
                    question.findings,
                    question.rules,
                    question.said,
                    "",
                    by_decision=False,
                )
        return known

    def take(self, lines: Iterable[FilledLine]) -> Taken:
        by_question: dict[str, list[FilledLine]] = {}
        for line in lines:
            by_question.setdefault(line.identity, []).append(line)
        answers: list[tuple[_Asked, str, _Answer]] = []
        for identity, inside in by_question.items():
            asked = self._question(identity, inside)
            answer = self._answer(asked, inside) if asked else None
            if asked and answer:
                answers.append((asked, identity, answer))
        answers.sort(key=lambda one: one[0].order)
        made, again = self._decide(answers)
        not_taken, orphans, remarks = (
            tuple(sorted(told, key=_by_place)) for told in (self._not_taken, self._orphans, self._remarks)
        )
        return Taken(tuple(made), again, not_taken, orphans, remarks)

    def _question(self, identity: str, lines: Sequence[FilledLine]) -> _Asked | None:
        if identity in self._unasked:
            return self._unasked[identity]
        name, _, number = identity.rpartition("#")
        index, decision = self._log.get(name, (0, None))
        at = int(number) - 1 if number.isdecimal() else -1
        if decision is None or not 0 <= at < len(decision.cells):
            what = (
                f"The log of this season does not know the question '{identity}'."
                if identity and not identity.startswith(CELL)
                else "Nothing is asked about this cell any more, or its row was typed anew since."
                if identity
                else "The line does not say which question it answers."
            )
            for line in lines:
                self._orphan(
                    line, what, "Name the log that the sheet was made from, or decide the cell at the desk."
                )
            return None
        key = self._keys.get((name, at))
        if key is None:
            for line in lines:
                self._orphan(
                    line,
                    self._why_lost[name, at],
                    "Look whether the row still needs the answer, and decide it at the desk.",
                )
            return None
        return _Asked(
            (0, index, f"{at:06}"),
            key,
            decision.cells[at],
            decision.findings,
            decision.rules,
            decision.asked,
            decision.reason,
            by_decision=True,
        )

    def _answer(self, asked: _Asked, lines: Sequence[FilledLine]) -> _Answer | None:
        """Say what the lines about one question mean, if they mean one thing."""
        meant: list[_Answer] = []
        for line in lines:
            answer = self._meaning(asked, line)
            if answer is None:
                return None
            meant.append(answer)
        kinds = {(answer.verb, answer.instead) for answer in meant}
        if len(kinds) > 1:
            places = ", ".join(line.where for line in lines)
            self._refuse(
                lines[0], f"The lines {places} answer one question differently.", "Keep one of them."
            )
            return None
        return meant[0]

    def _meaning(self, asked: _Asked, line: FilledLine) -> _Answer | None:
        if line.doubts:
            self._not_taken += line.doubts
            return None
        said = [*([f"'{line.says}'"] if line.says else []), *line.marks]
        if not said:
            self._refuse(
                line,
                "There is a remark, but no answer.",
                f"Write what the notebook says, or yes under '{UNREADABLE}'.",
            )
            return None
        if len(said) > 1:
            self._refuse(line, f"The line says both {said[0]} and {said[1]}.", "Leave one of them.")
            return None
        if not (line.who or self._who):
            self._refuse(
                line,
                "Nobody is named who looked it up.",
                f"Write initials under '{BY_WHOM}', or once at the top of the sheet.",
            )
            return None
        if UNREADABLE in line.marks:
            return _Answer("ask", None, line)
        text = "" if NOTHING in line.marks else line.says
        if SAME in line.marks or self._is_as_typed(asked, text):
            return _Answer("keep", None, line)
        return _Answer("amend", text, line)

    def _is_as_typed(self, asked: _Asked, text: str) -> bool:
        return " ".join(asked.cell.observed.split()) == text

    def _decide(self, answers: Sequence[tuple[_Asked, str, _Answer]]) -> tuple[list[Decision], int]:
        made: list[Decision] = []
        again = 0
        here: dict[_Key, _Answer] = {}
        filled = self._filled(answers)
        for asked, question, answer in answers:
            identity = _identity(question, answer, self._who)
            first = here.setdefault(asked.key, answer)
            if first is not answer:
                # a line of an older sheet asks about the same cell
                again += self._agrees(first, answer)
                continue
            live = self._live.get(asked.key, ())
            asks = [decision for decision, _ in live if decision.verb == "ask"]
            if identity in self._log or any(_says(one, answer) for one in live):
                again += 1
            elif len(asks) < len(live):
                other = next(decision for decision, _ in live if decision.verb != "ask")
                self._refuse(
                    answer.line,
                    f"{other.who or 'Somebody'} has decided this cell otherwise meanwhile ({other.verb}).",
                    "Take that decision back at the desk first, or leave it.",
                )
            elif asked.by_decision and not asks:
                self._refuse(
                    answer.line,
                    "The question was taken back meanwhile.",
                    "Decide the cell at the desk.",
                )
            elif answer.verb != "amend" or self._fits(filled, asked, answer):
                made.append(self._decision(identity, asked, answer, asks))
        return made, again

    def _agrees(self, first: _Answer, other: _Answer) -> bool:
        if (first.verb, first.instead) == (other.verb, other.instead):
            return True
        self._refuse(
            other.line,
            f"The line {first.line.where} answers for the same cell differently.",
            "Keep one of them.",
        )
        return False

    def _filled(self, answers: Sequence[tuple[_Asked, str, _Answer]]) -> Season:
        """Apply all answers together: two tags that were exchanged fit only both at once."""
        edits = {asked.key: answer.instead for asked, _, answer in answers if answer.instead is not None}
        return amend_all(
            self._season, self._declared, [(label, field, text) for (label, field), text in edits.items()]
        )

    def _fits(self, filled: Season, asked: _Asked, answer: _Answer) -> bool:
        """Whether the declarations let the answer stand in the cell."""
        label, field = asked.key
        text = answer.instead or ""
        fits = True
        for objection in objections(filled, self._declared, label, field, text):
            told = NotTaken(
                answer.line.where,
                objection.message,
                f"Look again at what stands under '{ANSWER}'; if the notebook does say so, amend the cell "
                "at the desk.",
            )
            if objection.severity == "error":
                self._not_taken.append(told)
                fits = False
            elif objection.severity == "suspect" and text:
                self._remarks.append(told)
        return fits

    def _decision(self, identity: str, asked: _Asked, answer: _Answer, asks: Sequence[Decision]) -> Decision:
        line = answer.line
        who = line.who or self._who
        remark = f": {line.remark}" if line.remark else ""
        reason = f"{SOURCE}, {who}{remark}"
        if answer.verb == "ask":
            before = f"{asked.reason}; " if asked.reason else ""
            reason = f"{before}cannot be read in the {SOURCE}, {who}{remark}"
        return Decision(
            identity,
            self._at,
            who,
            answer.verb,
            (decided_cell(self._season, *asked.key, answer.instead),),
            reason,
            asked.findings,
            asked.rules,
            asked.sentence,
            tuple(ask.identity for ask in asks),
        )

    def _refuse(self, line: FilledLine, what: str, cure: str) -> None:
        self._not_taken.append(NotTaken(line.where, what, cure))

    def _orphan(self, line: FilledLine, what: str, cure: str) -> None:
        self._orphans.append(NotTaken(line.where, what, cure))


def _by_place(told: NotTaken) -> tuple[str, int, str]:
    sheet, _, address = told.where.rpartition(" ")
    letters = address.rstrip("0123456789")
    return sheet, int(address[len(letters) :] or 0), letters


def _says(here: tuple[Decision, DecidedCell], answer: _Answer) -> bool:
    """Whether a live decision says what the answer says."""
    decision, cell = here
    if decision.verb in ("accept", "amend"):
        return answer.verb == "amend" and cell.instead == answer.instead
    return decision.verb == "keep" and answer.verb == "keep"


def _identity(question: str, answer: _Answer, who: str) -> str:
    line = answer.line
    return f"answer-{_digest(question, answer.verb, answer.instead or '', line.who or who, line.remark)}"


def _digest(*parts: str) -> str:
    return hashlib.blake2b("\x1f".join(parts).encode(), digest_size=10).hexdigest()
