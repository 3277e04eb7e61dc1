"""How the query sheet words its questions, the same on the page, in print and in the workbook."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from audit.review.wording import counted

if TYPE_CHECKING:
    from audit.review.field_pages import Visit
    from audit.review.questions import Question

__all__ = [
    "ANSWER",
    "BY_WHOM",
    "CAUTION",
    "HOW_TO",
    "IDENTITY",
    "LOOKED_UP",
    "MARKS",
    "NOTHING",
    "REMARK",
    "SAME",
    "UNREADABLE",
    "bird_words",
    "day_words",
    "lead",
    "reason_words",
    "title",
    "typed_words",
    "visit_details",
    "visit_name",
]

ANSWER = "in the field notebook it says"
SAME, NOTHING, UNREADABLE = "same as typed", "nothing written there", "cannot be read"
#: What can be ticked instead of an answer.
MARKS = (SAME, NOTHING, UNREADABLE)
BY_WHOM = "by whom"
REMARK = "remark"
#: Heading of the column that tells which question a line answers.
IDENTITY = "question (leave as it is)"
#: Before the cell that names whoever looked up all lines without a name of their own.
LOOKED_UP = "looked up by (for all lines):"

CAUTION = (
    "These are questions about writing. The notebook is looked up; no bird and no box is visited for a "
    "typing error. Your licence, your scheme's rules and local law come before anything on this sheet. What "
    "can only be settled in the field stays as typed, or waits for a visit that is due and allowed anyway. "
    "At such a visit stop when a bird is distressed, keep young warm and in the dark, work at height in "
    "pairs, and wear gloves and a mask against nest dust."
)
HOW_TO = (
    "Open the field notebook at the day and box, find the line, and write down what stands there, sign by "
    "sign; only then compare it with what was typed. Values that the audit takes for likely are left out of "
    "the sentences (\N{HORIZONTAL ELLIPSIS}), so that nothing is confirmed without looking. Do not mend the "
    "notebook."
)

_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def title(season: str) -> str:
    """Name the sheet."""
    return f"Season {season}: questions for the field notebook"


def lead(questions: int, visits: int) -> str:
    """Count questions and the pages where they are looked up."""
    if not questions:
        return "No question is open."
    return f"{counted(questions, 'question')} on {counted(visits, 'page')} of the field notebook."


def day_words(day: str) -> str:
    """Write a day with its weekday, which many notebooks have at the head of the page.

    Examples
    --------
    >>> day_words("2026-06-13"), day_words("31.2.26"), day_words("")
    ('2026-06-13 (Saturday)', '31.2.26', 'no date')
    """
    try:
        known = dt.date.fromisoformat(day)
    except ValueError:
        return day or "no date"
    return f"{day} ({_WEEKDAYS[known.weekday()]})"


def visit_name(visit: Visit) -> str:
    """Name a page of the notebook: day and box, or the list."""
    if visit.sheet:
        return f"List: {visit.sheet}"
    return f"{day_words(visit.day)}, {f'box {visit.box}' if visit.box else 'no box'}"


def visit_details(visit: Visit) -> str:
    """Say what helps to find the page: time, initials, how many birds."""
    said = [
        f"from {visit.time}" if visit.time else "",
        f"ringer {visit.ringers}" if visit.ringers else "",
        f"scribe {visit.scribes}" if visit.scribes else "",
        f"{counted(visit.birds, 'bird')} in the hand" if visit.birds else "",
    ]
    return ", ".join(part for part in said if part)


def bird_words(question: Question) -> str:
    """Say which line of the page it is."""
    place = question.place
    visit = place.visit
    if visit.sheet:
        return "line of the list"
    said = [f"bird {place.bird} of {visit.birds}" if place.bird else "the visit itself"]
    if place.ring and question.field != "ring":
        said.append(f"ring {place.ring}")
    if place.time and question.field != "time":
        said.append(place.time)
    said += [
        f"{role} {name}"
        for role, name, all_names in (
            ("ringer", place.ringer, visit.ringers),
            ("scribe", place.scribe, visit.scribes),
        )
        if name and name != all_names
    ]
    if place.above and place.below:
        said.append(f"between {place.above} and {place.below}")
    elif place.above or place.below:
        said.append(f"after {place.above}" if place.above else f"before {place.below}")
    return ", ".join(said)


def typed_words(question: Question) -> str:
    """Write the text as typed, or that there is none."""
    return question.typed if question.typed.strip() else "(nothing)"


def reason_words(question: Question) -> str:
    """Say why it is asked, and what else of the line is asked about."""
    said = [f"Asked because: {question.reason}." if question.reason else ""]
    if question.asked_with:
        others = ", ".join(f"{column} {typed or '(nothing)'}" for column, typed in question.asked_with)
        said.append(f"Also asked of this line: {others}.")
    return " ".join(part for part in said if part)
