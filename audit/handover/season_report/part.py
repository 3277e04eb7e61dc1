"""The report of the season as a part of what goes out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.file_stem import file_stem
from audit.handover.part import Part
from audit.handover.season_report.contents import contents
from audit.handover.season_report.page import page_text
from audit.handover.season_report.print import print_bytes
from audit.handover.season_report.still_open import still_open
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Report
    from audit.handover.clean.decided_season import DecidedSeason

__all__ = ["season_report_part"]


def season_report_part(
    decided: DecidedSeason, before: Report, *, inputs: Sequence[tuple[str, str]] = ()
) -> Part:
    """Make the report: one page and one print with the same contents, to be kept and read.

    Parameters
    ----------
    decided : DecidedSeason
        The season with all that was decided.
    before : Report
        What the audit found in the season as typed.
    inputs : sequence of (str, str)
        Names of the files that were read, with their SHA-256.

    Returns
    -------
    Part
        ``<season>.season.html`` and ``<season>.season.pdf``; the same season gives the same bytes.
    """
    told = contents(decided, before, inputs)
    page = page_text(told)
    name = file_stem(decided.clean.name)
    return Part(
        title="Report of the season",
        files={
            f"{name}.season.html": lambda path: path.write_text(page, encoding="utf-8", newline="\n"),
            f"{name}.season.pdf": lambda path: path.write_bytes(print_bytes(told)),
        },
        told=tuple(_told(decided)),
    )


def _told(decided: DecidedSeason) -> Iterator[str]:
    left = len(still_open(decided))
    if left:
        yield (
            f"{counted(left, 'finding is', 'findings are')} left that nobody has settled; the report says so."
        )
    if not decided.declared.sender.title or not decided.declared.sender.team:
        yield (
            "Nobody has written a title of the season or who gathered it: write them into sender.yaml of "
            "your own folder."
        )
    yield "The report names boxes with their days, and people by initials; co-ordinates are not in it."
