"""What was found in the field notebook, as decisions.

Each answer is a decision on one cell that takes the place of the question. Its identity is made of the
question and the answer, so that a sheet that is read twice, or into two logs, adds nothing new.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.query.filled import NotTaken, by_place
from audit.handover.query.meaning import Answer, meaning_of
from audit.handover.query.taken import Taken
from audit.handover.query.words import ANSWER
from audit.intake.amending import amend_all
from audit.review.decisions import Decision
from audit.review.objections import objections
from audit.review.places import decided_cell, place
from audit.review.questions import CELL, cell_identity, open_questions, stand_now

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding
    from audit.handover.query.filled import FilledLine
    from audit.review.decisions import DecidedCell
    from audit.season import Season

__all__ = ["take_answers"]

_Key = tuple[str, str]
SOURCE = "field notebook"


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
        answers: list[tuple[_Asked, str, Answer]] = []
        for identity, inside in by_question.items():
            asked = self._question(identity, inside)
            if asked is None:
                continue
            answer = meaning_of(inside, asked.cell.observed, self._who)
            if isinstance(answer, Answer):
                answers.append((asked, identity, answer))
            else:
                self._not_taken += answer
        answers.sort(key=lambda one: one[0].order)
        made, again = self._decide(answers)
        not_taken, orphans, remarks = (
            tuple(sorted(told, key=by_place)) for told in (self._not_taken, self._orphans, self._remarks)
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

    def _decide(self, answers: Sequence[tuple[_Asked, str, Answer]]) -> tuple[list[Decision], int]:
        made: list[Decision] = []
        again = 0
        here: dict[_Key, Answer] = {}
        filled = self._filled(answers)
        for asked, question, answer in answers:
            identity = _identity(question, answer)
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
                    answer,
                    f"{other.who or 'Somebody'} has decided this cell otherwise meanwhile ({other.verb}).",
                    "Take that decision back at the desk first, or leave it.",
                )
            elif asked.by_decision and not asks:
                self._refuse(
                    answer,
                    "The question was taken back meanwhile.",
                    "Decide the cell at the desk.",
                )
            elif answer.verb != "amend" or self._fits(filled, asked, answer):
                made.append(self._decision(identity, asked, answer, asks))
        return made, again

    def _agrees(self, first: Answer, other: Answer) -> bool:
        if first.agrees_with(other):
            return True
        self._refuse(
            other,
            f"The line {first.where} answers for the same cell differently.",
            "Keep one of them.",
        )
        return False

    def _filled(self, answers: Sequence[tuple[_Asked, str, Answer]]) -> Season:
        """Apply all answers together: two tags that were exchanged fit only both at once."""
        edits = [
            (*asked.key, answer.instead)
            for asked, _, answer in answers
            if answer.instead is not None and self._has_cell(*asked.key)
        ]
        return amend_all(self._season, self._declared, edits)

    def _has_cell(self, label: str, field: str) -> bool:
        table = self._season.tables[self._season.table_of(label)]
        return (label.rpartition("!")[0], field) in table.columns

    def _fits(self, filled: Season, asked: _Asked, answer: Answer) -> bool:
        """Whether the declarations let the answer stand in the cell."""
        label, field = asked.key
        text = answer.instead or ""
        if not self._has_cell(label, field):
            self._refuse(answer, f"The sheet has no column '{field}'.", "Add the column to the sheet first.")
            return False
        fits = True
        for objection in objections(filled, self._declared, label, field, text):
            told = NotTaken(
                answer.where,
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

    def _decision(self, identity: str, asked: _Asked, answer: Answer, asks: Sequence[Decision]) -> Decision:
        remark = f": {answer.remark}" if answer.remark else ""
        reason = f"{SOURCE}, {answer.who}{remark}"
        if answer.verb == "ask":
            before = f"{asked.reason}; " if asked.reason else ""
            reason = f"{before}cannot be read in the {SOURCE}, {answer.who}{remark}"
        return Decision(
            identity,
            self._at,
            answer.who,
            answer.verb,
            (decided_cell(self._season, *asked.key, answer.instead),),
            reason,
            asked.findings,
            asked.rules,
            asked.sentence,
            tuple(ask.identity for ask in asks),
        )

    def _refuse(self, answer: Answer, what: str, cure: str) -> None:
        self._not_taken.append(NotTaken(answer.where, what, cure))

    def _orphan(self, line: FilledLine, what: str, cure: str) -> None:
        self._orphans.append(NotTaken(line.where, what, cure))


def _says(here: tuple[Decision, DecidedCell], answer: Answer) -> bool:
    """Whether a live decision says what the answer says."""
    decision, cell = here
    if decision.verb in ("accept", "amend"):
        return answer.verb == "amend" and cell.instead == answer.instead
    return decision.verb == "keep" and answer.verb == "keep"


def _identity(question: str, answer: Answer) -> str:
    return f"answer-{_digest(question, answer.verb, answer.instead or '', answer.who, answer.remark)}"


def _digest(*parts: str) -> str:
    return hashlib.blake2b("\x1f".join(parts).encode(), digest_size=10).hexdigest()
