"""The query sheet in print: a PDF, set offline by typst with the letters that it brings along."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from audit.handover.paper import paper_named, shown, typeset
from audit.handover.query.words import (
    ANSWER,
    BY_WHOM,
    CAUTION,
    HOW_TO,
    MARKS,
    REMARK,
    bird_words,
    lead,
    reason_words,
    title,
    typed_words,
    visit_details,
    visit_name,
)

if TYPE_CHECKING:
    from audit.handover.query.sheet import Page, QuerySheet
    from audit.review.questions import Question

__all__ = ["print_bytes", "write_print"]

_SETTING = Path(__file__).with_name("sheet.typ")
#: A visit with no more questions than this is kept on one sheet of paper.
_KEPT_TOGETHER = 4
#: A question with more signs than this may run over the end of a page.
_LONG = 1800
#: What stands above and below what is printed on, in mm.
_MARGINS = 44


def write_print(sheet: QuerySheet, path: Path, *, paper: str = "a4") -> None:
    """Write the query sheet as PDF.

    Parameters
    ----------
    paper : str
        ``a4`` or ``letter``.

    Raises
    ------
    audit.refusal.Refusal
        There is no such paper.
    """
    path.write_bytes(print_bytes(sheet, paper=paper))


def print_bytes(sheet: QuerySheet, *, paper: str = "a4") -> bytes:
    """Return the PDF; the same sheet gives the same bytes."""
    return typeset(_SETTING, _told(sheet, *paper_named(paper)))


def _told(sheet: QuerySheet, paper: str, height: int) -> dict[str, Any]:
    pages = sheet.pages
    number = {page.visit: i for i, page in enumerate(pages)}
    return {
        "title": shown(title(sheet.season)),
        "paper": paper,
        "height": height - _MARGINS,
        "lead": lead(len(sheet.questions), len(pages)),
        "cautions": [[shown(text) for text in caution] for caution in sheet.cautions],
        "boxes": [
            {
                "name": shown(box) or "no box",
                "pages": [
                    {
                        "day": shown(page.visit.day or page.visit.sheet),
                        "number": number[page.visit],
                        "numbers": ", ".join(str(question.number) for question in page.questions),
                    }
                    for page in inside
                ],
            }
            for box, inside in sheet.by_box()
        ],
        "pages": [_page(page, number[page.visit]) for page in pages],
        "lost": [shown(sentence) for sentence in sheet.lost],
        "suggestions": [_suggestion(question) for question in sheet.questions] if sheet.suggestions else [],
        "words": {
            "foot": "No visit for a typing error.",
            "howto": HOW_TO,
            "looked": "looked up by",
            "apart": "No visit for a typing error",
            "caution": CAUTION,
            "index": "By box",
            "answer": ANSWER,
            "marks": MARKS,
            "whom": BY_WHOM,
            "remark": REMARK,
            "lost": "Asked earlier, but no longer in the sheet",
            "likely": "What was probably meant: look here only after the notebook",
            "likely_heads": ("no.", "column", "typed", "probably meant", "the whole sentence"),
        },
    }


def _page(page: Page, number: int) -> dict[str, Any]:
    return {
        "number": number,
        "name": shown(visit_name(page.visit)),
        "details": shown(visit_details(page.visit)),
        "short": len(page.questions) <= _KEPT_TOGETHER,
        "questions": [_question(question) for question in page.questions],
    }


def _question(question: Question) -> dict[str, Any]:
    told = {
        "number": str(question.number),
        "bird": shown(bird_words(question)),
        "place": shown(f"typed in {question.sheet} {question.address}"),
        "column": shown(question.column),
        "typed": shown(typed_words(question)),
        "sentence": shown(question.sentence),
        "look": f"Look for {question.look_for}.",
        "reason": shown(reason_words(question)),
    }
    return {**told, "long": sum(map(len, told.values())) > _LONG}


def _suggestion(question: Question) -> tuple[str, ...]:
    return (
        str(question.number),
        shown(question.column),
        shown(typed_words(question)),
        shown(" or ".join(question.suggested)) or "(nothing can be named)",
        shown(question.said),
    )
