"""The query sheet in print: a PDF, set offline by typst with the letters that it brings along."""

from __future__ import annotations

import json
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Any

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
from audit.refusal import Refusal

if TYPE_CHECKING:
    from audit.handover.query.sheet import Page, QuerySheet
    from audit.review.questions import Question

__all__ = ["PAPERS", "is_brought_along", "print_bytes", "shown", "write_print"]

#: Name of each paper -> its name in typst, and the height that is printed on, in mm.
PAPERS = {"a4": ("a4", 297 - 44), "letter": ("us-letter", 279 - 44)}

_SETTING = Path(__file__).with_name("sheet.typ")
#: A visit with no more questions than this is kept on one sheet of paper.
_KEPT_TOGETHER = 4
#: A question with more signs than this may run over the end of a page.
_LONG = 1800
#: A code of more signs than this gets places where it may break.
_UNBROKEN = 24
_BREAK = "\N{ZERO WIDTH SPACE}"
#: Scripts whose letters are in the fonts that typst brings along.
_BROUGHT_ALONG = ("LATIN", "GREEK", "CYRILLIC")


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
    import typst

    if paper not in PAPERS:
        raise Refusal(f"There is no paper '{paper}'.", where="paper", cure=f"Name {' or '.join(PAPERS)}.")
    told = json.dumps(_told(sheet, paper), ensure_ascii=False)
    # Letters of other scripts come from the machine's own fonts, where it has them.
    fonts = typst.Fonts(include_system_fonts=not is_brought_along(told), include_embedded_fonts=True)
    return bytes(typst.compile(_SETTING.read_bytes(), font_paths=fonts, sys_inputs={"sheet": told}))


def is_brought_along(text: str) -> bool:
    """Whether the fonts that typst brings along have all letters of a text."""
    return all(
        unicodedata.name(sign, "LATIN").startswith(_BROUGHT_ALONG) for sign in set(text) if sign.isalpha()
    )


def _told(sheet: QuerySheet, paper: str) -> dict[str, Any]:
    pages = sheet.pages
    number = {page.visit: i for i, page in enumerate(pages)}
    return {
        "title": shown(title(sheet.season)),
        "paper": PAPERS[paper][0],
        "height": PAPERS[paper][1],
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


def shown(text: str, unbroken: int = _UNBROKEN) -> str:
    """Make text fit for print: signs that cannot be shown become a replacement sign, long codes may break."""
    plain = "".join(sign if sign.isprintable() else " " if sign.isspace() else "\ufffd" for sign in text)
    return " ".join(word if len(word) <= unbroken else _BREAK.join(word) for word in plain.split(" "))
