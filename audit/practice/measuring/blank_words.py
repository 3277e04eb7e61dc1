"""What is said on a blank sheet: the same on paper, in the workbook and on the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.measuring.cautions import CAUTIONS
from audit.review.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations.tables import FieldDeclaration
    from audit.practice.measuring.blank import Blank, BlankPage

__all__ = ["HOW_TO", "LINES", "blank_cautions", "heading", "lead", "page_title", "title"]

_NUMBERED = "Before anybody measures, give each bird its number: on its bag, or on the label of a specimen."
_UNSEEN = (
    "Each page belongs to one person, who goes through it from top to bottom and shows it to nobody until "
    "all are full. The order differs from page to page, so that no number is remembered."
)
_AS_READ = (
    "Measure as on a visit, with the tools that you use there. Write what you read, to the last mark of the "
    "scale, without rounding. Weigh the bag each time, and subtract yourself."
)
_EMPTY = "Leave empty what you could not measure, and write why under remarks. Correct nothing afterwards."
_TYPED = (
    "When all pages are full, type them into the workbook, which has a sheet for each, or the .csv file; "
    "both bear the code of the pages. Then give that file to 'nestproof measuring'."
)
HOW_TO = (_NUMBERED, _UNSEEN, _AS_READ, _EMPTY, _TYPED)
#: What is written at the head of each page.
LINES = ("date", "begun at", "ended at", "rule", "balance")

_CLOCK = (
    "With living birds, agree beforehand how long a bird may be out of the nest, as licence and scheme say, "
    "and on who watches the clock; when that time is over, stop, however empty the page is. Birds that wait "
    "stay in their bags, out of sun, wind and rain; none is measured twice by anybody on a cold or wet day."
)


def title(blank: Blank) -> str:
    """Name the round."""
    return f"To measure again: {counted(blank.birds, 'bird')}, by {listed(list(blank.observers))}"


def lead(blank: Blank) -> str:
    """Say what lies here."""
    return (
        f"{counted(len(blank.pages), 'page')}, one for each person and round: {counted(blank.birds, 'bird')} "
        f"measured {_times(len(blank.pages))} each. Code of these pages: {blank.code}."
    )


def page_title(page: BlankPage, blank: Blank) -> str:
    """Name one person's page."""
    repeats = max(one.repeat for one in blank.pages)
    who = f"Measured by {page.observer}"
    return who if repeats == 1 else f"{who}, round {page.repeat} of {repeats}"


def heading(field: FieldDeclaration) -> str:
    """Write the heading of a column to be filled in; it is read back as that column."""
    words = field.name.removesuffix(f"_{field.unit}").replace("_", " ")
    return f"{words} ({field.unit})"


def blank_cautions(blank: Blank) -> Iterator[str]:
    """Say what must be heeded with this round."""
    if blank.is_much:
        yield (
            f"Each bird would be measured {_times(len(blank.pages))} here. A living bird should bear no more "
            f"than {blank.most} measures: take specimens for this round, or plan fewer people or repeats."
        )
    yield from CAUTIONS
    yield _CLOCK


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")
