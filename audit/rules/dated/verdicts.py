"""What is said of dates that do not fit: one finding for all blocks of a page that one slip explains."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from audit.models.calendar_slips import date_slips
from audit.rules.case import At
from audit.rules.sheet_order import Block, blocks_in, day_of, stands_in_order

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.dated.doubts import DateDoubt

__all__ = ["how_slipped", "said_of_doubts"]

_KINDS = {
    "exchanged": "day and month were exchanged",
    "year": "a slip in the year",
    "month": "a slip in the month",
    "day": "a slip in the day",
    "next": "a day off",
}


def how_slipped(typed: dt.date, meant: dt.date) -> str:
    """Say in brackets which slip makes one date of another; empty where none does."""
    slip = date_slips(typed).get(meant)
    return f" ({_KINDS[slip]})" if slip else ""


def said_of_doubts(
    case: Case, doubts: list[DateDoubt], labels: list[str]
) -> Iterator[tuple[Finding, tuple[int, ...]]]:
    """Make one finding of the blocks that one slip explains."""
    pages: dict[tuple[int, str, int | None], list[DateDoubt]] = {}
    for doubt in doubts:
        meant = doubt.leading[0] if len(doubt.leading) == 1 else None
        outcome = _outcome(doubt.reasons, bool(doubt.days), meant is not None)
        if outcome == "no_visit" and meant not in doubt.unmet:
            outcome = "slip"
        if outcome:
            pages.setdefault((doubt.block.page, outcome, meant), []).append(doubt)
    for (_, outcome, meant), group in pages.items():
        rows = tuple(i for doubt in group for i in doubt.block.rows)
        day = day_of(group[0].block.day)
        reasons = dict(item for doubt in group for item in doubt.reasons.items())
        if len(reasons) > 1:
            reasons.pop("visit", None)
        why = " and ".join(reasons.values())
        suggested = "" if meant is None else day_of(meant)
        p = _probability(case, reasons, outcome)
        suspects = []
        for doubt in group:
            others = [] if suggested else case.evenly(outcome, [day_of(other) for other in doubt.leading])
            suspects += [At(labels[i], "date", suggested, p, p, others) for i in doubt.block.rows]
        if outcome == "no_visit" and meant is not None:
            suspects = _of_two_tables(case, suspects, group[0].block, meant)
        message = f"{day} does not fit: {why}"
        if meant is not None:
            message += f"; {suggested} was probably meant{how_slipped(day, day_of(meant))}"
        yield case.blame(outcome, suspects, f"{message}."), rows


def _of_two_tables(case: Case, handled: list[At], block: Block, meant: int) -> list[At]:
    """Say which of two dates is wrong: the one whose sheet could bear the other, or perhaps either."""
    listed = blocks_in(case, "visits")
    labels = case.frame("visits").index
    at = next((k for k, other in enumerate(listed) if (other.box, other.day) == (block.box, meant)), None)
    if at is None:
        return handled
    visit_fits = stands_in_order(listed, at, block.day)
    blocks = blocks_in(case, "handlings")
    place = next(k for k, other in enumerate(blocks) if other.rows == block.rows)
    handling_fits = stands_in_order(blocks, place, meant)
    listed_rows = [At(str(labels[i]), "date", day_of(block.day)) for i in listed[at].rows]
    if visit_fits == handling_fits:
        return handled + listed_rows
    p = case.limit("p_one_table")
    return [replace(one, p_error=p) for one in (handled if handling_fits else listed_rows)]


def _outcome(reasons: Mapping[str, str], reachable: bool, named: bool) -> str:
    """Choose the answer that the reasons allow; empty when they are too weak."""
    if "future" in reasons:
        return "future"
    if "year" in reasons:
        return "year"
    if "rows" in reasons and reachable:
        return "slip"
    if reasons.keys() & {"clock", "order", "reads"} and named:
        return "slip"
    if "rare" in reasons and named:
        return "slip"
    if "season" in reasons:
        return "slip" if named else "out_of_season"
    if "visit" in reasons and named:
        return "no_visit"
    return ""


def _probability(case: Case, reasons: Mapping[str, str], outcome: str) -> float | None:
    if outcome != "slip":
        return None
    steps = case.limit("p_of_support")
    return float(steps[min(len(reasons), len(steps)) - 1])
