"""The section on broods: a table for each species, and the boxes without one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.wording import clipped
from audit.handover.season_report.content import NAME, Heading, Rows, Words
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from audit.declarations import Declarations
    from audit.handover.season_report.brood_account import BroodAccount, BroodAccounts, EmptyBox
    from audit.handover.season_report.content import Block

__all__ = ["brood_section"]

_NO = "–"
#: Head of each column of numbers, and its field.
_NUMBERS: tuple[tuple[str, Callable[[BroodAccount], int | None]], ...] = (
    ("visits", lambda one: one.visits),
    ("eggs", lambda one: one.eggs),
    ("alive", lambda one: one.alive),
    ("dead", lambda one: one.dead),
    ("ringed", lambda one: one.ringed),
    ("brood at ringing", lambda one: one.size),
    ("tagged", lambda one: one.tagged),
    ("met again", lambda one: one.again),
    ("grown birds", lambda one: one.grown),
)
_DAYS = ("ringed on", "last seen", "cleaned")


def brood_section(accounts: BroodAccounts, declared: Declarations) -> Iterator[Block]:
    """Tell what became of each brood."""
    yield Heading("Broods")
    if not accounts.broods:
        yield Words("No eggs, no young and no ringed bird stand in this season.")
    else:
        yield Words(_says(accounts))
    years = len({one.year for one in accounts.broods}) > 1
    for name, broods in accounts.by_species.items():
        yield _table(name, broods, years=years)
    yield from _without(accounts.empty)
    clean = declared.settings["season_report.cleanings"]
    told = _cleaned(accounts)
    if told:
        yield Words(f"{told} {clean.source[0].upper()}{clean.source[1:]} ({clean.grade}).")


def _says(accounts: BroodAccounts) -> str:
    told = [
        f"{counted(len(accounts.broods), 'brood')} with eggs or young.",
        (
            "Eggs, alive and dead are the most that were counted at one visit; a visit counts for the "
            "species that was handled in the box nearest in time."
        ),
    ]
    if accounts.has_ages:
        told.append(
            "Ringed are the young ringed in the box; tagged and met again, those of them that bear a tag"
        )
    else:
        told.append(
            "No age was written, so ringed are all birds ringed; tagged and met again, those with a tag"
        )
    told[-1] += (
        " and that were met on a later day, wherever. Two broods of one species in one box and year share "
        f"a line. {_NO} stands where no column tells."
    )
    return " ".join(told)


def _table(name: str, broods: Sequence[BroodAccount], *, years: bool) -> Rows:
    lines = [
        (
            _box(one, years=years),
            *(_number(of(one)) for _, of in _NUMBERS),
            _day(one.ringed_on, one, years=years),
            _day(one.last_seen, one, years=years),
            _ticked(one.cleaned, one, years=years),
        )
        for one in broods
    ]
    sums = [[of(one) for one in broods] for _, of in _NUMBERS]
    ticked = _NO if broods[0].cleaned is None else f"{sum(bool(one.cleaned) for one in broods):,}"
    total = ("all", *(_sum(numbers) for numbers in sums), "", "", ticked)
    heads = ("box", *(head for head, _ in _NUMBERS), *_DAYS)
    # a column that nothing was written for is left out; the section on what could not be checked names it
    kept = [i for i in range(len(heads)) if any(line[i] != _NO for line in lines)]
    title = _capital(clipped(name, NAME) or "Species not known: nothing of it was in the hand")
    return Rows(
        f"{title}: {counted(len(broods), 'brood')}",
        tuple(heads[i] for i in kept),
        tuple(tuple(line[i] for i in kept) for line in (*lines, total)),
        numbers=frozenset(at for at, i in enumerate(kept) if 1 <= i <= len(_NUMBERS)),
        total=True,
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _box(one: BroodAccount, *, years: bool) -> str:
    name = clipped(one.box, NAME) or "(no box)"
    return f"{name}, {one.year}" if years and one.year else name


def _day(day: str, one: BroodAccount, *, years: bool) -> str:
    """Leave the year out where the box names it, or all broods have the same."""
    return day[5:] if day.startswith(f"{one.year:04}-") else day if years or day else _NO


def _ticked(day: str | None, one: BroodAccount, *, years: bool) -> str:
    return _NO if day is None else _day(day, one, years=years) if day else "no"


def _number(value: int | None) -> str:
    return _NO if value is None else f"{value:,}"


def _sum(values: Sequence[int | None]) -> str:
    known = [value for value in values if value is not None]
    return f"{sum(known):,}" if known else _NO


def _without(empty: Sequence[EmptyBox]) -> Iterator[Block]:
    if not empty:
        return
    lines = tuple(
        (
            clipped(one.box, NAME),
            f"{one.visits:,}",
            f"{one.grown:,}",
            _NO if one.cleaned is None else one.cleaned or "no",
        )
        for one in empty
    )
    yield Rows(
        f"Boxes without eggs or young: {len(empty):,}",
        ("box", "days visited", "grown birds in the hand", "cleaned"),
        lines,
        numbers=frozenset((1, 2)),
    )


def _cleaned(accounts: BroodAccounts) -> str:
    ticks = {one.box: one.cleaned for one in accounts.broods if one.box}
    ticks |= {one.box: one.cleaned for one in accounts.empty}
    if not ticks or all(tick is None for tick in ticks.values()):
        return "No column tells which boxes were cleaned." if ticks else ""
    done = sum(bool(tick) for tick in ticks.values())
    boxes = counted(len(ticks), "box", "boxes")
    return f"{done:,} of {boxes} are ticked as cleaned after the last bird in the hand."
