"""Handlings as meetings with a bird: when, where, known by which ring and tag, and what the report says."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.findings import SEVERITIES
from audit.models.tag_text import comparable
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

    from audit.findings import Finding, Report, Severity
    from audit.season import Season

__all__ = ["AGAIN", "FIELDS", "Meeting", "Meetings", "Told", "meetings_in", "meetings_of", "told_of"]

#: What a mark on a life line is about: a wrong date or box puts a meeting where it does not belong.
FIELDS = ("ring", "tag", "date", "box")
AGAIN = "re-encountered"


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
    every = tuple(meetings_of(season, {}))
    of_box, of_ring, of_tag = (defaultdict(list) for _ in range(3))
    for place, meeting in enumerate(every):
        if not meeting.past:
            of_box[meeting.box].append(place)
        of_ring[meeting.ring].append(place)
        of_tag[meeting.tag].append(place)
    return Meetings(every, of_box, of_ring, of_tag)


def meetings_of(season: Season, told: Mapping[str, Told]) -> list[Meeting]:
    """List all handlings with a date and a ring or a tag, by day and place in the sheet."""
    made = [
        meeting
        for table in ("earlier", "handlings")
        if season.has(table, "date")
        for meeting in _of_table(season.frame(table), told, past=table == "earlier")
    ]
    return sorted(made, key=lambda meeting: (meeting.day, not meeting.past, meeting.place))


def _of_table(frame: pd.DataFrame, told: Mapping[str, Told], *, past: bool) -> Iterator[Meeting]:
    columns = [texts_in(frame, name) for name in ("box", "ring", "tag", "event", "remarks")]
    days = frame["date"].dt.strftime("%Y-%m-%d").fillna("").tolist()
    rows = zip(frame.index.tolist(), days, *columns, strict=True)
    for place, (label, day, box, ring, tag, event, remark) in enumerate(rows):
        if day and (ring or tag):
            key = comparable(tag) if tag else ""
            said = told.get(str(label))
            yield Meeting(str(label), place, day, box, ring, key, tag, event == AGAIN, past, remark, said)


def told_of(report: Report) -> dict[str, Told]:
    """Gather what a report says of ring, tag, date and box, by row."""
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
