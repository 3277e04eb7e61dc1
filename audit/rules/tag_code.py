"""Tag numbers: could this be one, and is it one that the team had."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from audit.rules.case import At, Case
from audit.rules.earlier_birds import EARLIER
from audit.rules.heeded import RINGINGS, TAG_BOOK, together
from audit.rules.rule import Rule
from audit.rules.tag_book import TagBook, TagRow, open_tag_book
from audit.rules.tag_codes.blame import blame_tag
from audit.rules.tag_codes.drawn_down import counted_on
from audit.rules.tag_codes.form import Fault, fault_in
from audit.rules.tag_codes.kind import unlike
from audit.rules.tag_codes.known import against_known
from audit.rules.tag_codes.missing import left_out
from audit.rules.tag_meant import weigh_tag

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun

__all__ = ["RULE"]

_FIFTEEN_DIGITS = re.compile(r"([0-9]{3})[0-9]{12}")


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Judge every tag by its form, then by what the season, the stock and the reader know."""
    book = open_tag_book(case)
    yield from letters_read(case, book)
    yield from left_out(case, book)
    if not book.rows:
        return
    test_season = book.test_season
    if test_season:
        yield _test_season(case, book)
    faults: dict[str, Fault | None] = {}
    sound: list[TagRow] = []
    for row in book.rows:
        if row.tag not in faults:
            faults[row.tag] = fault_in(case, book, row, test_season=test_season)
        fault = faults[row.tag]
        if fault is None:
            sound.append(row)
        else:
            yield blame_tag(
                case, book, row, fault.outcome, fault.clause, mended=fault.mended, p_fix=fault.p_fix
            )
    rest: list[TagRow] = []
    for row in sound:
        answer = unlike(case, book, row)
        if answer is None:
            rest.append(row)
        else:
            yield answer
    counted = list(counted_on(case, book, rest))
    yield from counted
    done = {suspect.cell.label for finding in counted for suspect in finding.suspects}
    yield from against_known(case, book, [row for row in rest if row.label not in done])


def _prefix_class(case: Case, key: str) -> str:
    return case.declared.tags.prefix_class(_prefix(key))


def _prefix(key: str) -> int:
    match = _FIFTEEN_DIGITS.fullmatch(key)
    return int(match[1]) if match else -1


def _test_season(case: Case, book: TagBook) -> Finding:
    tests = {row.key for row in book.rows if _prefix_class(case, row.key) == "test"}
    first = next((row for row in book.rows if row.key in tests), book.rows[0])
    return case.blame(
        "test_season",
        [At(first.label, "tag")],
        f"{len(tests)} of {len(book.rings_of)} tags lie in the test range 999, as in a practice season; "
        "on real birds no such tag may be fitted.",
    )


def letters_read(case: Case, book: TagBook) -> Iterator[Finding]:
    """Say what was meant by a letter that was taken for the digit it resembles, where another fits better."""
    for reading in case.season.readings:
        row = book.aside.get(reading.label)
        if reading.kind != "letter_in_code" or reading.field != "tag" or row is None:
            continue
        typed = "".join(reading.typed.split()).upper()
        verdict = weigh_tag(case, book, replace(row, tag=typed, key=""))
        if not verdict.meant or verdict.meant[0].key == row.key:
            continue
        letters = " and ".join(dict.fromkeys(sign for sign in typed if sign.isalpha()))
        stand = "stands for a digit" if len(letters) == 1 else "stand for digits"
        yield blame_tag(
            case,
            book,
            replace(row, tag=typed, key=""),
            "letter_in_code",
            f"is no number: {letters} {stand}",
            verdict=verdict,
        )


RULE = Rule(
    slug="tag_code",
    needs={"handlings": ("ring", "tag")},
    check=check,
    heeds=together(RINGINGS, TAG_BOOK, EARLIER),
)
