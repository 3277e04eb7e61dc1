"""The birds of one box over their visits, as rings and tags tell: what goes together, and where they part."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from audit.findings import SEVERITIES
from audit.models.tag_text import comparable

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    import pandas as pd

    from audit.findings import Finding, Report, Severity
    from audit.season import Season

__all__ = [
    "AGAIN",
    "BoxDoubt",
    "BoxLives",
    "Link",
    "Meeting",
    "Meetings",
    "boxes_by_doubt",
    "conflicts",
    "lives_of_box",
    "meetings_in",
    "natural",
]

#: What a mark on a life line is about: a wrong date or box puts a meeting where it does not belong.
FIELDS = ("ring", "tag", "date", "box")
AGAIN = "re-encountered"

_DIGITS = "0123456789"

Kind = Literal["together", "alone", "parted", "jump"]


@dataclass(frozen=True, slots=True)
class Told:
    """What the report says of one meeting.

    Attributes
    ----------
    severity : {'error', 'suspect', 'note'}
        Of the gravest finding.
    messages : tuple of str
        Gravest first.
    suggested : mapping of str to str
        Likeliest true value by column.
    """

    severity: Severity
    messages: tuple[str, ...]
    suggested: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Meeting:
    """One handling.

    Attributes
    ----------
    label : str
        Row label.
    place : int
        Position in the sheet, from 0.
    day : str
        ISO 8601.
    box, ring, tag, shown : str
        Empty where missing; `tag` is the same however it was written, `shown` is what to show of it.
    again : bool
        Whether the bird had been ringed before.
    past : bool
        Whether it was in an earlier season, which nothing is asked about.
    remark : str
        As typed.
    told : Told or None
        None where no finding blames ring, tag, date or box.
    """

    label: str
    place: int
    day: str
    box: str
    ring: str
    tag: str
    shown: str
    again: bool
    past: bool = False
    remark: str = ""
    told: Told | None = None

    @property
    def visit(self) -> tuple[str, str]:
        """Day and box."""
        return self.day, self.box

    @property
    def life(self) -> str:
        """What the bird is known by: its ring, or else its tag."""
        return self.ring or f"no ring, tag {self.shown}"


@dataclass(frozen=True, slots=True)
class Link:
    """Two meetings, one after the other, that a ring or a tag joins.

    Attributes
    ----------
    kind : {'together', 'alone', 'parted', 'jump'}
        Ring and tag are the same at both; the ring is, and one of them has no tag; the ring is, the tag is
        not; the tag is, the ring is not.
    severity : {'error', 'suspect', 'note'} or None
        Of the gravest finding on either meeting.
    """

    kind: Kind
    earlier: Meeting
    later: Meeting

    @property
    def severity(self) -> Severity | None:
        """The gravest finding on either meeting."""
        found = [meeting.told.severity for meeting in (self.earlier, self.later) if meeting.told]
        return min(found, key=SEVERITIES.index) if found else None


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
    met = _meetings(season, _told(report))
    inside: dict[str, list[Meeting]] = defaultdict(list)
    for meeting in met:
        if not meeting.past:
            inside[meeting.box].append(meeting)
    jumps: dict[str, int] = defaultdict(int)
    for link in _jumps(met, {meeting.visit: meeting.day for meeting in met}):
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
        sorted(found, key=lambda one: (-(one.marked + one.jumps), not one.box, natural(one.box), one.box))
    )


def conflicts(season: Season, report: Report) -> tuple[Link, ...]:
    """List where ring and tag part, in all boxes: one is met again without the other.

    Returns
    -------
    tuple of Link
        Of the kinds ``parted`` and ``jump``, by box, then by the days and places of the two meetings.
    """
    met = _meetings(season, _told(report))
    when = {meeting.visit: " ".join(meeting.visit) for meeting in met}
    links = (*_same_ring(met, when), *_jumps(met, when))

    def key(link: Link) -> tuple[object, ...]:
        later, earlier = link.later, link.earlier
        return natural(later.box), later.box, later.day, later.place, earlier.day, earlier.place, link.kind

    asked = (link for link in links if link.kind in ("parted", "jump") and not link.later.past)
    return tuple(sorted(asked, key=key))


def lives_of_box(
    season: Season,
    report: Report,
    box: str,
    most_visits: int = 8,
    *,
    among: Meetings | None = None,
    first: Collection[str] = (),
) -> BoxLives:
    """Follow every ring and every tag of one box through the season, other boxes and years included.

    Parameters
    ----------
    box : str
        Name of the box as it was read; empty for rows without one.
    most_visits : int
        Visits shown; of more than these, those with an error or a suspect come first.
    among : Meetings, optional
        All meetings of the season, where they were laid out before.
    first : collection of str
        Labels of rows whose visits are shown whatever else is.
    """
    among = meetings_in(season) if among is None else among
    told = _told(report)
    found = (among.every[place] for place in sorted(among.around(box)))
    met = [replace(meeting, told=told.get(meeting.label)) for meeting in found]
    shown = _chosen(met, box, most_visits, first)
    kept = tuple(meeting for meeting in met if meeting.visit in shown)
    when = {visit: " ".join(visit) for visit in shown}
    links = (*_same_ring(kept, when), *_jumps(kept, when))
    return BoxLives(box, shown, _in_rows(kept, links), kept, links, len(met) - len(kept))


@dataclass(frozen=True, slots=True)
class Meetings:
    """All handlings with a date and a ring or a tag, and where those of a box, a ring, a tag stand.

    Attributes
    ----------
    every : tuple of Meeting
        By day and place in the sheet; nothing of the report is in them.
    of_box, of_ring, of_tag : mapping of str to list of int
        Places in `every`; earlier seasons belong to no box.
    """

    every: tuple[Meeting, ...]
    of_box: Mapping[str, list[int]]
    of_ring: Mapping[str, list[int]]
    of_tag: Mapping[str, list[int]]

    def around(self, box: str) -> set[int]:
        """Places of all meetings in a box, and of all others that share a ring or a tag with one."""
        inside = self.of_box.get(box, [])
        found = set(inside)
        for place in inside:
            meeting = self.every[place]
            found.update(self.of_ring.get(meeting.ring, ()) if meeting.ring else ())
            found.update(self.of_tag.get(meeting.tag, ()) if meeting.tag else ())
        return found


def meetings_in(season: Season) -> Meetings:
    """Lay out all meetings of a season, earlier ones included."""
    every = tuple(_meetings(season, {}))
    of_box, of_ring, of_tag = (defaultdict(list) for _ in range(3))
    for place, meeting in enumerate(every):
        if not meeting.past:
            of_box[meeting.box].append(place)
        of_ring[meeting.ring].append(place)
        of_tag[meeting.tag].append(place)
    return Meetings(every, of_box, of_ring, of_tag)


def _meetings(season: Season, told: Mapping[str, Told]) -> list[Meeting]:
    """List all handlings with a date and a ring or a tag, by day and place in the sheet."""
    made = [
        meeting
        for table in ("earlier", "handlings")
        if season.has(table, "date")
        for meeting in _of_table(season.frame(table), told, past=table == "earlier")
    ]
    return sorted(made, key=lambda meeting: (meeting.day, not meeting.past, meeting.place))


def _of_table(frame: pd.DataFrame, told: Mapping[str, Told], *, past: bool) -> Iterator[Meeting]:
    columns = [_texts(frame, name) for name in ("box", "ring", "tag", "event", "remarks")]
    days = frame["date"].dt.strftime("%Y-%m-%d").fillna("").tolist()
    rows = zip(frame.index.tolist(), days, *columns, strict=True)
    for place, (label, day, box, ring, tag, event, remark) in enumerate(rows):
        if day and (ring or tag):
            key = comparable(tag) if tag else ""
            said = told.get(str(label))
            yield Meeting(str(label), place, day, box, ring, key, tag, event == AGAIN, past, remark, said)


def _texts(frame: pd.DataFrame, name: str) -> list[str]:
    if name not in frame.columns:
        return [""] * len(frame)
    return [text if isinstance(text, str) else "" for text in frame[name].tolist()]


def _told(report: Report) -> dict[str, Told]:
    found: dict[str, list[tuple[int, int, Finding]]] = defaultdict(list)
    suggested: dict[str, dict[str, str]] = defaultdict(dict)
    for number, finding in enumerate(report.findings):
        # a note on a single row asks for no second look; one about several tells why they differ
        about = {cell.label for cell in (*(one.cell for one in finding.suspects), *finding.witnesses)}
        if finding.severity == "note" and len(about) == 1:
            continue
        for suspect in finding.suspects:
            cell = suspect.cell
            if cell.field in FIELDS:
                found[cell.label].append((SEVERITIES.index(finding.severity), number, finding))
                if suspect.suggested:
                    suggested[cell.label].setdefault(cell.field, suspect.suggested)
    told = {}
    for label, of_row in found.items():
        in_order = [finding for _, _, finding in sorted(of_row, key=lambda one: one[:2])]
        messages = tuple(dict.fromkeys(finding.message for finding in in_order))
        told[label] = Told(in_order[0].severity, messages, suggested[label])
    return told


def _chosen(
    met: Sequence[Meeting], box: str, most: int, wanted: Collection[str]
) -> tuple[tuple[str, str], ...]:
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
    return tuple(sorted(first[:most]))


def _same_ring(met: Iterable[Meeting], when: Mapping[tuple[str, str], str]) -> Iterator[Link]:
    by_life: dict[str, list[Meeting]] = defaultdict(list)
    for meeting in met:
        by_life[meeting.life].append(meeting)
    for of_life in by_life.values():
        for before, after in pairwise(_by_visit(of_life, when)):
            for later in after:
                earlier = next((one for one in before if one.tag == later.tag), before[0])
                if earlier.tag == later.tag and later.tag:
                    yield Link("together", earlier, later)
                else:
                    yield Link("parted" if earlier.tag and later.tag else "alone", earlier, later)


def _jumps(met: Iterable[Meeting], when: Mapping[tuple[str, str], str]) -> Iterator[Link]:
    by_tag: dict[str, list[Meeting]] = defaultdict(list)
    for meeting in met:
        if meeting.tag:
            by_tag[meeting.tag].append(meeting)
    for of_tag in by_tag.values():
        if len({meeting.life for meeting in of_tag}) == 1:
            continue
        visits = _by_visit(of_tag, when)
        for group in visits:
            for earlier, later in pairwise(group):
                if earlier.life != later.life:
                    yield Link("jump", earlier, later)
        for before, after in pairwise(visits):
            known = {meeting.life for meeting in before}
            for later in after:
                if later.life not in known:
                    yield Link("jump", before[-1], later)


def _by_visit(met: Sequence[Meeting], when: Mapping[tuple[str, str], str]) -> list[list[Meeting]]:
    by_visit: dict[str, list[Meeting]] = defaultdict(list)
    for meeting in met:
        by_visit[when[meeting.visit]].append(meeting)
    return [by_visit[visit] for visit in sorted(by_visit)]


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


def natural(text: str) -> list[tuple[int, str]]:
    """Let SL-9 stand before SL-10; figures are compared by length first, so that no number is too long."""
    pieces = re.findall(r"[0-9]+|[^0-9]+", text)
    return [
        (len(piece.lstrip("0")), piece.lstrip("0")) if piece[0] in _DIGITS else (-1, piece)
        for piece in pieces
    ]
