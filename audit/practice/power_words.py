"""How a self-test is worded, the same on the screen and on the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.models.interval import wilson
from audit.practice.power import Tally
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.models.interval import Share
    from audit.practice.power import Power

__all__ = ["CAUTION", "column", "lacking", "opening", "percent", "roomless", "seldom", "total"]

CAUTION = (
    "The figures hold for slips of these kinds, planted one at a time in this sheet. They say nothing about "
    "slips of other kinds, about several slips on one bird, or about what was written down wrongly at the "
    "box."
)

_ALL = 100  # percent


def percent(share: Share) -> str:
    """Write a share with its interval.

    Examples
    --------
    >>> from audit.models.interval import wilson
    >>> percent(wilson(9, 10, 0.95))
    '90 % (60-98)'
    """
    if not share.trials:
        return "-"
    low, high = (round(end * _ALL) for end in (share.low, share.high))
    return f"{round(share.value * _ALL)} % ({low}-{high})"


def column(power: Power, field: str) -> str:
    """Name a column, with its header as typed where that is another word."""
    header = power.headers.get(field, field)
    return field if header.casefold() == field.casefold() else f'{field} ("{header}")'


def opening(power: Power) -> list[str]:
    """Say what was done, and what came of it in all."""
    told = [f"Self-test of the season {power.season}, {counted(power.rows, 'handling')}."]
    if power.closed:
        told.append(
            f"{counted(power.closed, 'row')} that the audit points at as the sheet stands "
            f"{'was' if power.closed == 1 else 'were'} left alone."
        )
    if not power.planted:
        return [*told, "No slip could be planted: no row that the audit leaves in peace has room for one."]
    most = max(tally.planted for tally in power.tallies)
    told.append(
        f"{counted(power.planted, 'slip')}, up to {most:,} of each kind in each column, "
        f"{'was' if power.planted == 1 else 'were'} planted in copies of the season, and each copy was "
        f"audited ({counted(power.audits, 'audit')}). The file itself was not changed."
    )
    if power.stopped:
        told.append(
            "The season is small and holds few slips at a time, so the test ended before every kind had its "
            "number."
        )
    every = total(power, power.tallies)
    told.append(
        f"Found: {percent(every.found)}. Mended right by the first suggestion: {percent(every.mended)}. In "
        f"brackets the {round(power.confidence * _ALL)} % interval."
    )
    told.append(
        "Rows without a slip that were pointed at beside them: "
        f"{power.bothered:,} of {power.innocent:,} looked at."
    )
    return told


def total(power: Power, tallies: Sequence[Tally]) -> Tally:
    """Add up several kinds."""
    planted = sum(tally.planted for tally in tallies)
    found, mended = (
        wilson(sum(share.hits for share in shares), planted, power.confidence)
        for shares in ([tally.found for tally in tallies], [tally.mended for tally in tallies])
    )
    return Tally(tallies[0].field, "", "all of these", found, mended)


def lacking(power: Power) -> list[str]:
    """Say which columns are not there, and what can therefore not be tried in others."""
    if not power.absent:
        return []
    columns = list(dict.fromkeys(name for names, _ in power.absent for name in names))
    told = [f"This sheet has no {_either(columns)}."]
    for names, tallies in power.absent:
        others = _by_column((field, says) for field, says in tallies if field not in names)
        if others:
            told.append(f"Without {_either(names, 'and')} these could not be tried: {others}.")
    return told


def roomless(power: Power) -> str:
    """Say which kinds no row has room for; empty where each has."""
    kinds = _by_column(power.roomless)
    return f"No row has room for: {kinds}." if kinds else ""


def seldom(power: Power) -> str:
    """Say of which kinds less than half are found, as far as can be said; empty where there is none."""
    few = [(tally.field, tally.says) for tally in power.tallies if tally.found.high < power.seldom]
    return f"Seldom found here: {_by_column(few)}." if few else ""


def _by_column(kinds: Iterable[tuple[str, str]]) -> str:
    grouped: dict[str, list[str]] = {}
    for field, says in kinds:
        grouped.setdefault(field, []).append(says)
    return "; ".join(f"{field} ({', '.join(said)})" for field, said in grouped.items())


def _either(names: tuple[str, ...] | list[str], word: str = "or") -> str:
    *most, last = names
    return f"{', '.join(most)} {word} {last}" if most else last
