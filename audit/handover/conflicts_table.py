"""Where ring and tag of a bird part between two meetings: a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.palette import TONES
from audit.review.page_look import piece
from audit.review.typed_rows import safe
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.charts.meeting_links import Link
    from audit.charts.meetings import Meeting

__all__ = ["NO_CONFLICT", "conflicts_table", "conflicts_text"]

#: What to say where ring and tag never part.
NO_CONFLICT = "No ring was met again with another tag, and no tag on another ring."

#: Lines shown.
_MOST = 200
#: A notebook sets cells to the right, and one that comes from elsewhere leaves style sheets out.
_LEFT = 'style="text-align:left"'
_HEADS = ("box", "parted", "earlier", "later", "what is said")


def conflicts_table(links: Sequence[Link]) -> str:
    """Return the table, for use in another page: safe HTML with its own look."""
    if not links:
        return f"<p>{safe(NO_CONFLICT)}</p>"
    heads = "".join(f'<th scope="col" {_LEFT}>{head}</th>' for head in _HEADS)
    body = "\n".join(_line(link) for link in links[:_MOST])
    more = f"<p>{_more(links)}</p>" if len(links) > _MOST else ""
    return piece(
        f'<div style="overflow-x:auto"><table><caption>{_opening(links)}</caption>'
        f"<thead><tr>{heads}</tr></thead>\n<tbody>{body}</tbody></table></div>{more}"
    )


def conflicts_text(links: Sequence[Link]) -> str:
    """Return the same in plain words."""
    if not links:
        return NO_CONFLICT
    told = [f"{_opening(links)}."]
    for link in links[:_MOST]:
        earlier, later = _where(link.earlier, link), _where(link.later, link)
        told.append(f"{_box(link.later)}: {_what(link)}, {earlier}, then {later}. {_said(link)}".rstrip())
    return "\n".join([*told, *([_more(links)] if len(links) > _MOST else [])])


def _opening(links: Sequence[Link]) -> str:
    jumps = sum(link.kind == "jump" for link in links)
    return (
        f"{counted(jumps, 'time', 'times')} a tag was met on another ring, "
        f"{counted(len(links) - jumps, 'time', 'times')} a ring with another tag"
    )


def _more(links: Sequence[Link]) -> str:
    return f"{counted(len(links) - _MOST, 'more line')} not shown."


def _line(link: Link) -> str:
    severity = link.severity
    word = f'<b class="{severity}">{TONES[severity].word}</b> ' if severity else ""
    box = f'<th scope="row" style="text-align:left;white-space:nowrap">{safe(_box(link.later))}</th>'
    told = (safe(_what(link)), safe(_where(link.earlier, link)), safe(_where(link.later, link)))
    cells = "".join(f"<td {_LEFT}>{text}</td>" for text in (*told, f"{word}{safe(_said(link))}"))
    return f"<tr>{box}{cells}</tr>"


def _box(meeting: Meeting) -> str:
    return meeting.box or "no box"


def _what(link: Link) -> str:
    return f"tag {link.earlier.shown}" if link.kind == "jump" else f"ring {link.earlier.ring}"


def _where(meeting: Meeting, link: Link) -> str:
    ring = f"ring {meeting.ring}" if meeting.ring else "no ring"
    bound = ring if link.kind == "jump" else f"tag {meeting.shown}"
    away = "" if meeting.box == link.later.box else f" in {_box(meeting)}"
    sheet, _, row = meeting.label.rpartition("!")
    return f"{meeting.day}{away}: {bound} ({sheet}, row {row})"


def _said(link: Link) -> str:
    told = [message for one in (link.later, link.earlier) if one.told for message in one.told.messages[:1]]
    remarks = [f"Remark: {one.remark}" for one in (link.later, link.earlier) if one.remark]
    return " ".join(dict.fromkeys(told or remarks)) or "nothing"
