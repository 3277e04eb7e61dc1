"""The birds of one box over their visits, as rings and tags tell: what goes together, and where they part."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.charts.meeting_links import same_ring, tag_jumps
from audit.charts.meetings import meetings_in, meetings_of, told_of
from audit.models.box_label import natural_order

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from audit.charts.meeting_links import Link
    from audit.charts.meetings import Meeting, Meetings
    from audit.findings import Report
    from audit.season import Season

__all__ = ["BoxDoubt", "BoxLives", "boxes_by_doubt", "lives_of_box"]

#: Visits shown of a box; of more, those with an error or a suspect come first.
_MOST_VISITS = 8


@dataclass(frozen=True, slots=True)
class BoxLives:
    """The birds of one box.

    Attributes
    ----------
    box : str
        Name of the box; empty for rows without one.
    visits : tuple of (str, str)
        Day and box of each visit, in time; other boxes where a ring or a tag of this one turned up.
    lives : tuple of str
        What each bird is known by, in the order of the rows of the chart.
    meetings : tuple of Meeting
        By day and place in the sheet.
    links : tuple of Link
        What joins them.
    left_out : int
        Meetings at visits that are not shown.
    """

    box: str
    visits: tuple[tuple[str, str], ...]
    lives: tuple[str, ...]
    meetings: tuple[Meeting, ...]
    links: tuple[Link, ...]
    left_out: int = 0


@dataclass(frozen=True, slots=True)
class BoxDoubt:
    """How much is doubtful in one box.

    Attributes
    ----------
    marked : int
        Meetings with an error or a suspect on ring, tag, date or box.
    jumps : int
        Times that a tag is met on another ring.
    """

    box: str
    birds: int
    visits: int
    marked: int
    jumps: int


def boxes_by_doubt(season: Season, report: Report) -> tuple[BoxDoubt, ...]:
    """List the boxes, the most doubtful first, then in the order of their names."""
    met = meetings_of(season, told_of(report))
    inside: dict[str, list[Meeting]] = defaultdict(list)
    for meeting in met:
        if not meeting.past:
            inside[meeting.box].append(meeting)
    jumps: dict[str, int] = defaultdict(int)
    for link in tag_jumps(met, {meeting.visit: meeting.day for meeting in met}):
        for box in {one.box for one in (link.earlier, link.later) if not one.past}:
            jumps[box] += 1
    found = [
        BoxDoubt(
            box,
            len({meeting.life for meeting in of_box}),
            len({meeting.day for meeting in of_box}),
            sum(meeting.told is not None and meeting.told.severity != "note" for meeting in of_box),
            jumps[box],
        )
        for box, of_box in inside.items()
    ]
    return tuple(
        sorted(
            found, key=lambda one: (-(one.marked + one.jumps), not one.box, natural_order(one.box), one.box)
        )
    )


def lives_of_box(
    season: Season,
    report: Report,
    box: str,
    *,
    among: Meetings | None = None,
    first: Collection[str] = (),
) -> BoxLives:
    """Follow every ring and every tag of one box through the season, other boxes and years included.

    Parameters
    ----------
    box : str
        Name of the box as it was read; empty for rows without one.
    among : Meetings, optional
        All meetings of the season, where they were laid out before.
    first : collection of str
        Labels of rows whose visits are shown whatever else is.
    """
    among = meetings_in(season) if among is None else among
    told = told_of(report)
    found = (among.every[place] for place in sorted(among.around(box)))
    met = [replace(meeting, told=told.get(meeting.label)) for meeting in found]
    shown = _chosen(met, box, first)
    kept = tuple(meeting for meeting in met if meeting.visit in shown)
    when = {visit: " ".join(visit) for visit in shown}
    links = (*same_ring(kept, when), *tag_jumps(kept, when))
    return BoxLives(box, shown, _in_rows(kept, links), kept, links, len(met) - len(kept))


def _chosen(met: Sequence[Meeting], box: str, wanted: Collection[str]) -> tuple[tuple[str, str], ...]:
    needed = {meeting.visit for meeting in met if meeting.label in wanted}
    doubtful = {m.visit for m in met if m.told and m.told.severity != "note"}
    visits = sorted({meeting.visit for meeting in met})
    now = {meeting.visit for meeting in met if not meeting.past}
    first = sorted(
        visits,
        key=lambda visit: (
            visit not in needed,
            visit not in doubtful,
            visit not in now,
            visit[1] != box,
            visit,
        ),
    )
    return tuple(sorted(first[:_MOST_VISITS]))


def _in_rows(met: Sequence[Meeting], links: Iterable[Link]) -> tuple[str, ...]:
    """Put birds in the order in which they were met; one that a tag jumps to stands below the other."""
    reached: dict[str, str] = {}
    for link in links:
        if link.kind == "jump":
            reached.setdefault(link.later.life, link.earlier.life)
    first: dict[str, tuple[str, int]] = {}
    for meeting in met:
        first.setdefault(meeting.life, (meeting.day, meeting.place))
    opening = met[0].visit if met else ("", "")
    at_first = {meeting.life for meeting in met if meeting.visit == opening}

    def key(life: str) -> tuple[tuple[str, int], tuple[str, int]]:
        other = reached.get(life)
        if life in at_first or other is None or other not in at_first:
            return first[life], ("", 0)
        return first[other], first[life]

    return tuple(sorted(first, key=key))
