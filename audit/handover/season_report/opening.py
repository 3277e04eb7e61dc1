"""The first section: which season, how many, who, and how it stands."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import pandas as pd

from audit.charts.wording import clipped
from audit.findings import SEVERITIES
from audit.handover.clean.decided_lines import NOTHING_LEFT, headline
from audit.handover.season_report.content import NAME, Rows, Words
from audit.handover.season_report.met_birds import species_names
from audit.handover.season_report.still_open import still_open
from audit.review.wording import counted, rows_read, some_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Report
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.season_report.content import Block
    from audit.season import Season

__all__ = ["opening"]

#: Initials and species told in one line.
_NAMED = 12


def opening(decided: DecidedSeason, before: Report) -> Iterator[Block]:
    """Tell the season in a few lines, and how it stands as typed and as decided."""
    yield Words(_lead(decided), "lead")
    yield Rows("The season", ("what", "how many, or who"), tuple(_facts(decided)))
    if len(decided.clean.frame("handlings")):
        yield _species(decided)
    yield Rows(
        "How it stands: findings of the audit",
        ("severity", "as typed", "as decided"),
        (
            *((f"{one}s", f"{before.count(one):,}", f"{decided.report.count(one):,}") for one in SEVERITIES),
            ("all", f"{len(before.findings):,}", f"{len(decided.report.findings):,}"),
        ),
        numbers=frozenset((1, 2)),
        total=True,
    )
    left = len(still_open(decided))
    told = f"Decided: {headline(decided.replayed)}"
    if left:
        told = told.removesuffix(f" {NOTHING_LEFT}")
        told += f" {counted(left, 'finding is', 'findings are')} left that nobody has settled."
    yield Words(told)
    yield Words(
        "An error cannot be true, a suspect is unlikely, a note is worth knowing. The file as typed was "
        "never changed; this report is made from the season with all decisions applied.",
        "quiet",
    )


def _lead(decided: DecidedSeason) -> str:
    season = decided.clean
    frame = season.frame("handlings")
    days = frame["date"].dropna()
    told = counted(len(frame), "handling")
    boxes = frame["box"].dropna().nunique()
    rings = frame["ring"].dropna().nunique()
    told += f" of {counted(rings, 'ringed bird')} at {counted(boxes, 'box', 'boxes')}"
    if len(days):
        first, last = (str(day)[:10] for day in (days.min(), days.max()))
        told += f" on {first}" if first == last else f" from {first} to {last}"
    return f"{told}."


def _facts(decided: DecidedSeason) -> Iterator[tuple[str, str]]:
    season, sender = decided.clean, decided.declared.sender
    if sender.title:
        yield "season", f"{season.name}: {sender.title}"
    else:
        yield "season", season.name
    if sender.team:
        yield "gathered by", sender.team
    if sender.place.name:
        yield "where", sender.place.name
    if sender.contact or sender.email:
        yield "whom to ask", ", ".join(filter(None, (sender.contact, sender.email)))
    if sender.licence:
        yield "terms of use of the data", sender.licence
    yield "rows read", rows_read(decided.report) or "none"
    if season.has("boxes", "box"):
        handled = season.frame("handlings")["box"].dropna().unique()
        listed = set(season.frame("boxes")["box"].dropna())
        with_birds = len(listed & set(handled))
        yield "boxes", f"{len(listed):,} in the table of boxes, birds handled at {with_birds:,} of them"
    days = season.frame("handlings")["date"].dropna()
    yield "days with a bird in the hand", f"{days.dt.normalize().nunique():,}"
    for column, words in (("ringer", "ringed by"), ("scribe", "written by")):
        names = _people(season, column)
        if names:
            yield words, some_of([clipped(name, NAME) for name in names], _NAMED)


def _species(decided: DecidedSeason) -> Rows:
    season = decided.clean
    frame = season.frame("handlings")
    names = pd.Series(species_names(season, decided.declared), index=frame.index, dtype="str")
    lines = []
    for name, number in sorted(Counter(names.tolist()).items(), key=lambda one: (-one[1], one[0])):
        rows = frame[(names == name).to_numpy()]
        birds, boxes = rows["ring"].dropna().nunique(), rows["box"].dropna().nunique()
        lines.append((clipped(name, NAME) or "not written", f"{number:,}", f"{birds:,}", f"{boxes:,}"))
    caption = "Species" if season.has("handlings", "species") else "Species, no column tells it: as declared"
    return Rows(
        caption, ("species", "handlings", "rings", "boxes"), tuple(lines), numbers=frozenset((1, 2, 3))
    )


def _people(season: Season, column: str) -> list[str]:
    """List initials in the order of the alphabet."""
    found: set[str] = set()
    for table in ("handlings", "visits"):
        if season.has(table, column):
            found |= {str(name) for name in season.frame(table)[column].dropna().unique()}
    return sorted(found)
