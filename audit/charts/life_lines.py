"""Did ring and tag of each bird stay together from visit to visit? A chart of one box."""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter, defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

import altair as alt

from audit.charts.box_lives import boxes_by_doubt, lives_of_box
from audit.charts.layers import Axis, dressed
from audit.charts.life_marks import line_layers, line_row, point_layer, point_row
from audit.charts.life_words import (
    ABOVE,
    LABEL_SIZE,
    SHORTEST,
    UNDER,
    WORD_SIZE,
    jump_words,
    remark_words,
    suggestion_words,
    tag_words,
    text_layers,
)
from audit.charts.picture import BY_KEYBOARD, Picture
from audit.charts.records import chosen_param, lit_layer
from audit.charts.wording import counted

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from audit.charts.box_lives import BoxLives
    from audit.charts.meetings import Meeting
    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.season import Season

__all__ = ["chart", "picture"]

_WIDTH = 560
_STEP = 44
_MOST_LIVES = 24
#: How far apart two rows of one bird at one visit stand, as a share of the width, and at most in visits.
_SPREAD, _WIDEST = 0.065, 0.3
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def chart(
    season: Season,
    declared: Declarations,  # noqa: ARG001 - every chart takes the same three
    report: Report,
    box: str | None = None,
) -> alt.LayerChart | None:
    """Draw one line per ring across the visits of a box; where a tag goes over to another ring, a jump.

    Parameters
    ----------
    box : str, optional
        Name of the box as it was read; by default the one with most doubtful marks, or else visits.

    Returns
    -------
    altair.LayerChart or None
        None where no ring and no tag with a date was typed for the box.
    """
    if box is None:
        listed = boxes_by_doubt(season, report)
        if not listed:
            return None
        box = max(listed, key=lambda one: (one.marked + one.jumps, one.visits)).box
    lives = lives_of_box(season, report, box)
    return _drawn(lives) if lives.meetings else None


def picture(lives: BoxLives, blamed: Collection[str]) -> Picture | None:
    """Draw the same as a picture of one finding: records can be picked, and one is lit up.

    Parameters
    ----------
    blamed : collection of str
        Labels of the rows that the finding blames, the one to light up first.

    Returns
    -------
    Picture or None
        None where the box has no meetings.
    """
    if not lives.meetings:
        return None
    wanted = {meeting.life for meeting in lives.meetings if meeting.label in blamed}
    ordered = tuple(sorted(lives.lives, key=lambda life: life not in wanted))[:_MOST_LIVES]
    kept = tuple(life for life in lives.lives if life in ordered)
    # the bird that it is about is drawn, however many there are
    rest = tuple(life for life in lives.lives if life not in ordered)
    met = {meeting.label for meeting in lives.meetings if meeting.life in kept}
    lit = next((label for label in blamed if label in met), "")
    drawn = _drawn(replace(lives, lives=(*kept, *rest)), lit)
    name = _name(lives)
    told = [
        f"{meeting.day}, row {meeting.label.rpartition('!')[2]}: ring {meeting.ring or 'none'}, "
        f"tag {meeting.shown or 'none'}{_meant(meeting)}"
        for meeting in lives.meetings
        if meeting.life in wanted
    ]
    said = f"{drawn.description} {'; '.join(told)}. {BY_KEYBOARD}"
    drawn.description = said
    return Picture(drawn, frozenset(met), _question(name), said)


def _meant(meeting: Meeting) -> str:
    suggested = meeting.told.suggested if meeting.told else {}
    return "".join(f", suggested {field} {text}" for field, text in suggested.items())


def _name(lives: BoxLives) -> str:
    return f"box {lives.box}" if lives.box else "rows without a box"


def _question(name: str) -> str:
    return f"Did ring and tag stay together? {name[0].upper()}{name[1:]}"


def _drawn(lives: BoxLives, lit: str | None = None) -> alt.LayerChart:
    """Draw lives; with a label to light up, records can be picked as well."""
    shown = lives.lives[:_MOST_LIVES]
    rows = {life: place for place, life in enumerate(shown, 1)}
    met = [meeting for meeting in lives.meetings if meeting.life in rows]
    links = [link for link in lives.links if link.earlier.life in rows and link.later.life in rows]
    spots = _spots(met, lives.visits, rows)
    x, y = _axes(lives, met, shown)
    jumps = [link for link in links if link.kind == "jump"]
    points = [point_row(meeting, spots) for meeting in met]
    pickable = lit is not None
    layers = [
        *line_layers([line_row(link, spots) for link in links], x, y),
        *(
            [lit_layer(alt.InlineData(values=points), x, y).add_params(chosen_param(lit or ""))]
            if pickable
            else []
        ),
        point_layer(points, x, y, pickable=pickable),
        *text_layers(jump_words(jumps, spots), x, y, 0, WORD_SIZE, "bold"),
        *text_layers(tag_words(met, spots), x, y, ABOVE, LABEL_SIZE),
        *text_layers([*suggestion_words(met, spots), *remark_words(links, spots)], x, y, UNDER, WORD_SIZE),
    ]
    name = _name(lives)
    told = Counter(meeting.told.severity for meeting in met if meeting.told)
    counts = (
        f"{counted(len(shown), 'bird')}, {counted(len(lives.visits), 'visit')}; "
        f"{counted(len(jumps), 'jump')} of a tag to another ring, {told['error'] + told['suspect']} marked"
    )
    below = [
        counts,
        "filled: first ringing, hollow: met again; figures: last signs of the tag, → what was probably meant",
    ]
    if len(lives.lives) > len(shown):
        below.append(f"{counted(len(lives.lives) - len(shown), 'more bird')} not drawn")
    if lives.left_out:
        below.append(f"{counted(lives.left_out, 'handling')} at further visits not drawn")
    return dressed(
        layers,
        _question(name),
        below,
        f"Life lines of {name}: {counts}.",
        _WIDTH,
        _STEP * (len(shown) + 1),
    )


def _spots(
    met: Sequence[Meeting], visits: Sequence[tuple[str, str]], rows: Mapping[str, int]
) -> dict[str, tuple[float, float]]:
    """Place each row: by visit and bird; several rows of one bird at one visit stand side by side."""
    when = {visit: place for place, visit in enumerate(visits, 1)}
    together: dict[tuple[int, str], list[Meeting]] = defaultdict(list)
    for meeting in met:
        together[when[meeting.visit], meeting.life].append(meeting)
    spots = {}
    for (place, life), of_spot in together.items():
        middle = (len(of_spot) - 1) / 2
        spread = min(_SPREAD * len(visits), _WIDEST / max(middle, 1))
        for number, meeting in enumerate(of_spot):
            spots[meeting.label] = (round(place + (number - middle) * spread, 3), float(rows[life]))
    return spots


def _axes(lives: BoxLives, met: Sequence[Meeting], shown: Sequence[str]) -> tuple[Axis, Axis]:
    half = 1 / 2
    several_years = len({day[:4] for day, _ in lives.visits}) > 1
    names = {}
    before = ""
    for place, (day, box) in enumerate(lives.visits, 1):
        date = dt.date.fromisoformat(day)
        lines = [f"{date.day} {_MONTHS[date.month - 1]}" + (f" {date.year}" if several_years else "")]
        if box != lives.box:
            lines.append(f"in {box}" if box else "no box")
        if before and before != day:
            lines.append(f"{counted((date - dt.date.fromisoformat(before)).days, 'day')} later")
        names[str(place)] = lines
        before = day
    texts = {m.life: m.ring or f"no ring, tag …{m.shown[-SHORTEST:]}" for m in met}
    rings = {str(place): texts[life] for place, life in enumerate(shown, 1)}
    x = Axis(
        "visits in time",
        (half, len(lives.visits) + half),
        {
            "values": list(range(1, len(lives.visits) + 1)),
            "labelExpr": f"({json.dumps(names)})[datum.value]",
            "labelAngle": 0,
            "labelLimit": 120,
            "grid": False,
        },
    )
    y = Axis(
        "birds by ring",
        (len(shown) + 1 - half / 2, half / 2),
        {
            "values": list(range(1, len(shown) + 1)),
            "labelExpr": f"({json.dumps(rings)})[datum.value]",
            "labelLimit": 130,
            "grid": False,
        },
    )
    return x, y
