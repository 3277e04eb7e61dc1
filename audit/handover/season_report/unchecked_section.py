"""The section on what could not be checked, was not read, or is not written in any column."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from audit.handover.season_report.content import Heading, Items, Rows, Words
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.season_report.content import Block
    from audit.season import Reading, Season

__all__ = ["unchecked_section"]

_MOST = 40
#: Kinds of readings in which nothing, or not all, was understood.
_UNREAD = ("unreadable", "code_damaged")
#: Table and columns of which one is enough -> what a season without them cannot show.
_SHOWN_BY: tuple[tuple[str, tuple[str, ...], str], ...] = (
    ("handlings", ("species",), "which species a bird was: all are taken for the declared one"),
    ("handlings", ("age",), "young apart from full-grown birds"),
    (
        "handlings",
        ("event",),
        "first ringings apart from later encounters: the earliest row of each ring counts as the first",
    ),
    ("handlings", ("ringer",), "who ringed and measured"),
    ("handlings", ("scribe",), "who wrote"),
    ("handlings", ("tag",), "tags"),
    ("handlings", ("wing_mm",), "growth of wings"),
    ("handlings", ("net_g", "gross_g"), "masses"),
    ("handlings", ("brood_size",), "how many young were in the box when a bird was handled"),
    ("visits", ("eggs",), "eggs"),
    ("visits", ("alive",), "young counted and not handled"),
    ("visits", ("dead",), "young found dead"),
    ("visits", ("cleaned",), "which boxes were cleaned"),
    ("boxes", ("box",), "boxes at which no bird was handled and no visit was written"),
    ("ring_stock", ("first",), "which rings are still in hand"),
    ("ring_losses", ("ring",), "rings lost, destroyed, returned or passed on"),
    ("tag_stock", ("tag",), "which tags are still in hand"),
    ("tag_reads", ("tag",), "tags as the hand reader stored them"),
    ("earlier", ("ring",), "birds of earlier seasons"),
)


def unchecked_section(decided: DecidedSeason) -> Iterator[Block]:
    """Tell what the report cannot vouch for."""
    yield Heading("What could not be checked")
    report = decided.report
    if report.not_run:
        yield Rows(
            "Rules, or parts of rules, that did not run",
            ("rule", "why"),
            tuple((part.rule, part.reason) for part in report.not_run[:_MOST]),
        )
    else:
        yield Words("Every rule ran.")
    if report.notices:
        yield Words("How the file was read:")
        yield Items(report.notices[:_MOST])
    unread = [one for one in decided.clean.readings if one.kind in _UNREAD]
    if unread:
        yield from _unread(decided.clean, unread)
    lacking = list(_lacking(decided.clean))
    if lacking:
        yield Words("No column of this season shows:")
        yield Items(tuple(lacking))
    yield Words(
        "A slip that makes a likely value out of another likely one leaves no trace in the sheet: neither "
        "the audit nor this report can see it. What nobody wrote down is not here either.",
        "quiet",
    )


def _unread(season: Season, unread: list[Reading]) -> Iterator[Block]:
    counts = Counter((season.table_of(one.label), one.field) for one in unread)
    yield Rows(
        f"{counted(len(unread), 'cell')} that could not be read, or not whole",
        ("table", "column", "cells", "for example"),
        tuple(
            (
                table,
                field,
                f"{number:,}",
                next(
                    one.typed for one in unread if (season.table_of(one.label), one.field) == (table, field)
                ),
            )
            for (table, field), number in sorted(counts.items())
        ),
        numbers=frozenset((2,)),
    )


def _lacking(season: Season) -> Iterator[str]:
    for table, fields, what in _SHOWN_BY:
        there = any(
            season.has(table, field) and bool(season.frame(table)[field].notna().any()) for field in fields
        )
        if not there:
            where = (
                f"no table {table}" if table not in season.tables else f"{table}: no {' or '.join(fields)}"
            )
            yield f"{what} ({where})"
