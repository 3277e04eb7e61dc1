"""Did ring and tag of each bird stay together from visit to visit? A chart of one box."""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter, defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import altair as alt

from audit.charts.box_lives import boxes_by_doubt, lives_of_box
from audit.charts.layers import Axis, dressed
from audit.charts.palette import INK, PAPER, PLAIN, QUIET, TONES
from audit.charts.picture import BY_KEYBOARD, Picture
from audit.charts.records import chosen_param, lit_layer, picked_param

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from audit.charts.box_lives import BoxLives
    from audit.charts.meeting_links import Kind, Link
    from audit.charts.meetings import Meeting
    from audit.declarations import Declarations
    from audit.findings import Report, Severity
    from audit.season import Season

__all__ = ["chart", "picture", "shortened"]

_WIDTH = 560
_STEP = 44
_MOST_LIVES = 24
_LABEL_SIZE, _WORD_SIZE = 11, 10
_POINT, _MARKED_POINT = 70, 130
_HALO = 3
_ABOVE, _UNDER = -11, 15
#: Signs of a tag shown: as few as tell the tags of the box apart.
_SHORTEST, _LONGEST = 4, 8
#: Signs of a remark shown.
_REMARK = 32
#: Signs shown before the one that differs, where two codes end alike.
_BEFORE = 2
#: How far apart two rows of one bird at one visit stand, as a share of the width, and at most in visits.
_SPREAD, _WIDEST = 0.065, 0.3
#: Where on a jump its word stands if another one crosses it; else in the middle.
_CROSSED = 0.3
#: Jumps between the same two visits of which each has its own word.
_BUNDLE = 3
_QUIET_WORD = "no finding"
_QUIET_SHAPE = "circle"
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
#: What a line says, how it is dashed, how thick it is.
_LINES: Mapping[Kind, tuple[str, list[float], float]] = {
    "together": ("ring and tag stay together", [1, 0], 3.0),
    "alone": ("same ring, a tag not written", [8, 3], 1.5),
    "parted": ("same ring, another tag", [1, 4], 1.5),
    "jump": ("same tag, another ring", [5, 4], 2.0),
}

Row = dict[str, Any]


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
    points = [_point(meeting, spots) for meeting in met]
    pickable = lit is not None
    layers = [
        *_line_layers([_line(link, spots) for link in links], x, y),
        *(
            [lit_layer(alt.InlineData(values=points), x, y).add_params(chosen_param(lit or ""))]
            if pickable
            else []
        ),
        _point_layer(points, x, y, pickable=pickable),
        *_text_layers(_words(jumps, spots), x, y, 0, _WORD_SIZE, "bold"),
        *_text_layers(_tags(met, spots), x, y, _ABOVE, _LABEL_SIZE),
        *_text_layers([*_suggestions(met, spots), *_remarks(links, spots)], x, y, _UNDER, _WORD_SIZE),
    ]
    name = _name(lives)
    told = Counter(meeting.told.severity for meeting in met if meeting.told)
    counts = (
        f"{_counted(len(shown), 'bird')}, {_counted(len(lives.visits), 'visit')}; "
        f"{_counted(len(jumps), 'jump')} of a tag to another ring, {told['error'] + told['suspect']} marked"
    )
    below = [
        counts,
        "filled: first ringing, hollow: met again; figures: last signs of the tag, → what was probably meant",
    ]
    if len(lives.lives) > len(shown):
        below.append(f"{_counted(len(lives.lives) - len(shown), 'more bird')} not drawn")
    if lives.left_out:
        below.append(f"{_counted(lives.left_out, 'handling')} at further visits not drawn")
    return dressed(
        layers,
        _question(name),
        below,
        f"Life lines of {name}: {counts}.",
        _WIDTH,
        _STEP * (len(shown) + 1),
    )


def _counted(number: int, one: str) -> str:
    return f"{number:,} {one if number == 1 else f'{one}s'}"


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
            lines.append(f"{_counted((date - dt.date.fromisoformat(before)).days, 'day')} later")
        names[str(place)] = lines
        before = day
    texts = {m.life: m.ring or f"no ring, tag …{m.shown[-_SHORTEST:]}" for m in met}
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


def _look(severity: Severity | None) -> str:
    return TONES[severity].word if severity else _QUIET_WORD


def _line(link: Link, spots: Mapping[str, tuple[float, float]]) -> Row:
    (x, y), (x2, y2) = spots[link.earlier.label], spots[link.later.label]
    # what stays together is nothing to look at, whatever else is said of the two rows
    severity = link.severity if link.kind == "jump" else None
    line = _LINES[link.kind][0]
    return {"x": x, "y": y, "x2": x2, "y2": y2, "line": line, "kind": link.kind, "severity": _look(severity)}


def _line_layers(lines: Sequence[Row], x: Axis, y: Axis) -> list[alt.Chart]:
    kinds = [kind for kind in _LINES if any(line["kind"] == kind for line in lines)]
    words = [_LINES[kind][0] for kind in kinds]
    dashes = alt.StrokeDash(
        "line:N",
        title=None,
        scale=alt.Scale(domain=words, range=[_LINES[kind][1] for kind in kinds]),
        legend=alt.Legend(
            orient="bottom", direction="horizontal", symbolSize=500, symbolStrokeColor=QUIET, labelLimit=220
        ),
    )
    made = []
    for kind in kinds:
        layer = (
            alt.Chart(alt.InlineData(values=[line for line in lines if line["kind"] == kind]))
            .mark_rule(strokeWidth=_LINES[kind][2], aria=False)
            .encode(
                x.x(),
                y.y(),
                x2="x2:Q",
                y2="y2:Q",
                strokeDash=dashes,
                color=alt.Color("severity:N", scale=_tones(), legend=None),
            )
        )
        made.append(layer)
    return made


def _tones() -> alt.Scale:
    return alt.Scale(
        domain=[*(tone.word for tone in TONES.values()), _QUIET_WORD],
        range=[*(tone.mark for tone in TONES.values()), PLAIN],
    )


def _point(meeting: Meeting, spots: Mapping[str, tuple[float, float]]) -> Row:
    x, y = spots[meeting.label]
    sheet, _, number = meeting.label.rpartition("!")
    severity = meeting.told.severity if meeting.told else None
    mark = TONES[severity].mark if severity else PLAIN
    return {
        "x": x,
        "y": y,
        "row": f"{sheet}, row {number}",
        "box": meeting.box,
        "date": meeting.day,
        "ring": meeting.ring,
        "tag": meeting.shown,
        "event": "met again" if meeting.again else "first ringing",
        "fill": PAPER if meeting.again else mark,
        "severity": _look(severity),
        "remark": meeting.remark,
        "message": " ".join(meeting.told.messages) if meeting.told else "",
        "label": meeting.label,
    }


def _point_layer(points: Sequence[Row], x: Axis, y: Axis, *, pickable: bool) -> alt.Chart:
    present = {point["severity"] for point in points}
    looks = [(tone.word, tone.shape, tone.mark) for tone in TONES.values()]
    looks = [look for look in [*looks, (_QUIET_WORD, _QUIET_SHAPE, PLAIN)] if look[0] in present]
    words = [word for word, _, _ in looks]
    legend = alt.Legend(orient="top", direction="horizontal", symbolFillColor=PAPER)
    marks = alt.Scale(domain=words, range=[mark for _, _, mark in looks])
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=list(points)))
        .mark_point(filled=False, opacity=1, strokeWidth=2, aria=False)
        .encode(
            x.x(),
            y.y(),
            shape=alt.Shape(
                "severity:N",
                title=None,
                scale=alt.Scale(domain=words, range=[shape for _, shape, _ in looks]),
                legend=legend,
            ),
            color=alt.Color("severity:N", title=None, scale=marks, legend=legend),
            fill=alt.Fill("fill:N", scale=None),
            size=alt.condition(
                alt.datum.severity == _QUIET_WORD, alt.value(_POINT), alt.value(_MARKED_POINT)
            ),
            tooltip=[
                alt.Tooltip(f"{key}:N", title=title)
                for key, title in (
                    ("row", "where"),
                    *(
                        (same, same)
                        for same in ("box", "date", "ring", "tag", "event", "remark", "severity", "message")
                    ),
                )
            ],
        )
    )
    return layer.add_params(picked_param()).properties(name="records") if pickable else layer


def _words(jumps: Sequence[Link], spots: Mapping[str, tuple[float, float]]) -> list[Row]:
    """Write the severity of each jump on it; of many side by side on one, with their number."""
    bundles: dict[tuple[int, int, Severity], list[tuple[float, float, float, float]]] = defaultdict(list)
    for link in jumps:
        (x, y), (x2, y2) = spots[link.earlier.label], spots[link.later.label]
        if link.severity:
            bundles[round(x), round(x2), link.severity].append((x, y, x2, y2))
    made = []
    for (_, _, severity), ends in bundles.items():
        tone = TONES[severity]
        many = len(ends) > _BUNDLE
        for x, y, x2, y2 in [min(ends, key=lambda one: one[1] + one[3])] if many else ends:
            crossed = any((y - v) * (y2 - v2) < 0 for _, v, _, v2 in ends)
            at = _CROSSED if crossed else 1 / 2
            text = f"{len(ends)} × {tone.word}" if many else tone.word
            made.append({"x": x + (x2 - x) * at, "y": y + (y2 - y) * at, "text": text, "ink": tone.mark})
    return made


def _tags(met: Iterable[Meeting], spots: Mapping[str, tuple[float, float]]) -> list[Row]:
    met = [meeting for meeting in met if meeting.shown]
    ends = shortened([meeting.shown for meeting in met])
    made = []
    for meeting in met:
        x, y = spots[meeting.label]
        meant = meeting.told.suggested.get("tag", "") if meeting.told else ""
        text = _from_to(meeting.shown, meant, len(ends[meeting.shown])) if meant else ends[meeting.shown]
        made.append({"x": x, "y": y, "text": text, "ink": INK if meant else QUIET})
    return made


def shortened(codes: Iterable[str]) -> dict[str, str]:
    """Show only the end of each code: as few signs as tell them apart, but four at least and eight at most.

    Examples
    --------
    >>> shortened(["999104190066809", "999104190066805"])["999104190066809"]
    '6809'
    >>> shortened(["999104190166809", "999104190266809"])["999104190166809"]
    '166809'
    """
    distinct = set(codes)
    for length in range(_SHORTEST, _LONGEST + 1):
        if len({code[-length:] for code in distinct}) == len(distinct):
            break
    return {code: code[-length:] for code in distinct}


def _from_to(typed: str, meant: str, length: int) -> str:
    """Show what was typed and what was meant, by the signs in which they differ."""
    if typed[-length:] != meant[-length:]:
        return f"{typed[-length:]} → {meant[-length:]}"
    same = next((i for i, (a, b) in enumerate(zip(typed, meant, strict=False)) if a != b), 0)
    start = same - _BEFORE if same > _SHORTEST else 0
    lead = "…" if start else ""
    cut = slice(start, same + _BEFORE)
    return f"{lead}{typed[cut]}…{typed[-_SHORTEST:]} → {lead}{meant[cut]}…{meant[-_SHORTEST:]}"


def _suggestions(met: Iterable[Meeting], spots: Mapping[str, tuple[float, float]]) -> list[Row]:
    made = []
    for meeting in met:
        if meeting.told:
            meant = [f"{name} {text}" for name, text in meeting.told.suggested.items() if name != "tag"]
            if meant:
                x, y = spots[meeting.label]
                made.append({"x": x, "y": y, "text": f"→ {', '.join(meant)}", "ink": INK})
    return made


def _remarks(links: Iterable[Link], spots: Mapping[str, tuple[float, float]]) -> list[Row]:
    """Show what was remarked where ring and tag part and no finding says why."""
    made = {}
    for link in links:
        meeting = link.later
        if link.kind in ("parted", "jump") and meeting.told is None and meeting.remark:
            x, y = spots[meeting.label]
            text = meeting.remark if len(meeting.remark) <= _REMARK else f"{meeting.remark[: _REMARK - 1]}…"
            made[meeting.label] = {"x": x, "y": y, "text": f"“{text}”", "ink": QUIET}
    return list(made.values())


def _text_layers(
    texts: Sequence[Row], x: Axis, y: Axis, dy: int, size: int, weight: str = "normal"
) -> list[alt.Chart]:
    """Write texts, each on a halo of paper so that no line runs through it."""
    if not texts:
        return []
    base = alt.Chart(alt.InlineData(values=list(texts)))
    way: Row = {"dy": dy, "fontSize": size, "fontWeight": weight, "aria": False}
    return [
        base.mark_text(**way, stroke=PAPER, strokeWidth=_HALO, strokeJoin="round", color=PAPER).encode(
            x.x(), y.y(), text="text:N"
        ),
        base.mark_text(**way).encode(x.x(), y.y(), text="text:N", color=alt.Color("ink:N", scale=None)),
    ]
