"""What joins two meetings, one after the other: a ring, a tag, or both; and where ring and tag part."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from audit.charts.meetings import meetings_of, told_of
from audit.findings import SEVERITIES
from audit.models.box_label import natural_order

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from audit.charts.meetings import Meeting
    from audit.findings import Report, Severity
    from audit.season import Season

__all__ = ["Kind", "Link", "conflicts", "same_ring", "tag_jumps"]

Kind = Literal["together", "alone", "parted", "jump"]


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


def conflicts(season: Season, report: Report) -> tuple[Link, ...]:
    """List where ring and tag part, in all boxes: one is met again without the other.

    Returns
    -------
    tuple of Link
        Of the kinds ``parted`` and ``jump``, by box, then by the days and places of the two meetings.
    """
    met = meetings_of(season, told_of(report))
    when = {meeting.visit: " ".join(meeting.visit) for meeting in met}
    links = (*same_ring(met, when), *tag_jumps(met, when))

    def key(link: Link) -> tuple[object, ...]:
        later, earlier = link.later, link.earlier
        return (
            natural_order(later.box),
            later.box,
            later.day,
            later.place,
            earlier.day,
            earlier.place,
            link.kind,
        )

    asked = (link for link in links if link.kind in ("parted", "jump") and not link.later.past)
    return tuple(sorted(asked, key=key))


def same_ring(met: Iterable[Meeting], when: Mapping[tuple[str, str], str]) -> Iterator[Link]:
    """Join meetings of one ring.

    Parameters
    ----------
    met : iterable of Meeting
        By day and place in the sheet.
    when : mapping of (str, str) to str
        When each visit was, as a text that sorts.
    """
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


def tag_jumps(met: Iterable[Meeting], when: Mapping[tuple[str, str], str]) -> Iterator[Link]:
    """Join meetings of one tag on different rings; `met` and `when` as in `same_ring`."""
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
