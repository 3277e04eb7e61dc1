"""The desks of a notebook: pick a season, look over its headers, choose what a picture is about."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audit.charts.box_lives import boxes_by_doubt
from audit.charts.desk import PictureDesk, Shown
from audit.charts.living import Living
from audit.checking import declarations_of
from audit.intake import propose_mapping
from audit.intake.desk import HeaderDesk, SeasonPicker
from audit.refusal import SeasonRefusal
from audit.review.download_table import download_table
from audit.review.download_visits import NO_DOWNLOAD, download_visits
from audit.review.wording import counted

if TYPE_CHECKING:
    from audit.charts.box_lives import BoxDoubt
    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.review.download_visits import VisitDoubt
    from audit.season import Season

__all__ = ["download_desk", "header_desk", "life_line_desk", "pick_season"]


def pick_season(folder: str | Path = ".") -> SeasonPicker:
    """List the season files in a folder and below it, to pick one."""
    return SeasonPicker(folder)


def header_desk(source: str | Path | None, *, schemas: str | Path | Declarations | None = None) -> HeaderDesk:
    """Show what every header of a season was taken for, to mend and save it.

    Raises
    ------
    audit.refusal.SeasonRefusal
        No file was picked, or it cannot be read.
    """
    if source is None:
        raise SeasonRefusal(
            "No season was picked.", where="the list above", cure="Put the workbook beside this notebook."
        )
    declared = declarations_of(schemas)
    return HeaderDesk(Path(source), propose_mapping(Path(source), declared), declared)


def life_line_desk(
    season: Season, report: Report, *, schemas: str | Path | Declarations | None = None
) -> PictureDesk:
    """Choose a box, the most doubtful first, and see ring and tag of its birds from visit to visit."""
    from audit.charts import life_lines

    declared = declarations_of(schemas)

    def show(box: str) -> Shown:
        return Shown(Living(life_lines.chart(season, declared, report, box)))

    choices = [(_box_in_words(one), one.box) for one in boxes_by_doubt(season, report)]
    return PictureDesk("Box", choices, show, "No ring and no tag with a date was typed.")


def download_desk(
    season: Season, report: Report, *, schemas: str | Path | Declarations | None = None
) -> PictureDesk:
    """Choose a visit, the most doubtful first, and see what the hand reader read beside what was typed."""
    from audit.charts import download

    visits = download_visits(season, declarations_of(schemas), report)

    def show(visit: tuple[str, str]) -> Shown:
        beside = visits.beside(*visit)
        return Shown(Living(download.chart(beside)), download_table(beside))

    choices = [(_visit_in_words(one), (one.day, one.box)) for one in visits.by_doubt()]
    return PictureDesk("Visit", choices, show, NO_DOWNLOAD)


def _box_in_words(one: BoxDoubt) -> str:
    told = [counted(one.birds, "bird"), counted(one.visits, "visit")]
    if one.marked:
        told.append(f"{one.marked:,} marked")
    if one.jumps:
        told.append(counted(one.jumps, "jump"))
    return f"{one.box or 'no box'}: {', '.join(told)}"


def _visit_in_words(one: VisitDoubt) -> str:
    told = [counted(one.rows, "row")]
    if one.marked:
        told.append(f"{one.marked:,} marked")
    if one.alone:
        told.append(f"{one.alone:,} alone")
    return f"{one.day} {one.box or 'no box'}: {', '.join(told)}"
