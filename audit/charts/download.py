"""Do the tags on the sheet agree with what the hand reader read? A chart of one visit or day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from audit.charts.download_lines import differing, levels
from audit.charts.layers import dressed
from audit.charts.palette import INK, PAPER, PLAIN, QUIET, TONES
from audit.charts.picture import BY_KEYBOARD, Picture
from audit.charts.records import CHOSEN, chosen_param, picked_param
from audit.charts.wording import counted
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence
    from collections.abc import Set as AbstractSet

    from audit.charts.download_lines import Beside, ReadTag, TypedTag
    from audit.charts.palette import Tone

__all__ = ["NO_READ", "NO_ROW", "NO_TAG", "chart", "counts_of", "picture", "tone_of"]

#: What stands beside a row or a read that is alone.
NO_READ, NO_ROW, NO_TAG = "not read", "on no row", "no tag"

_WIDTH, _STEP = 620, 22
_MOST_LEVELS = 60
_MOST_SIGNS = 24
_SIZE = 11
_FIXED = "Menlo, Consolas, 'DejaVu Sans Mono', monospace"
_BLANK = "\N{NO-BREAK SPACE}"
#: Takes no room, and keeps blanks at the ends of a text from being cut off.
_EDGE = "\N{ZERO WIDTH SPACE}"
_HEADS = 0
#: Where things stand across, in pixels.
_ROW, _BOX, _RING, _POINT, _TAG_END = 6, 60, 112, 188, 310
_LINK, _LINK_END, _READ, _CLOCK = 320, 434, 444, 568
#: Alignment, font and weight of each kind of text.
_STYLES: Mapping[str, Mapping[str, Any]] = {
    "left": {"align": "left"},
    "word_right": {"align": "right", "fontWeight": "bold", "fontSize": 10},
    "word_left": {"align": "left", "fontWeight": "bold", "fontSize": 10},
    "word": {"align": "center", "fontWeight": "bold", "fontSize": 10},
    "typed": {"align": "right", "font": _FIXED},
    "read": {"align": "left", "font": _FIXED},
    "typed_mark": {"align": "right", "font": _FIXED, "fontWeight": "bold"},
    "read_mark": {"align": "left", "font": _FIXED, "fontWeight": "bold"},
}

Spot = dict[str, Any]


def picture(beside: Beside, blamed: Collection[str]) -> Picture | None:
    """Draw the same as a picture of one finding: rows of the sheet can be picked, and one is lit up.

    Parameters
    ----------
    blamed : collection of str
        Labels of the rows that the finding blames, the one to light up first.

    Returns
    -------
    Picture or None
        None where there is neither row nor read.
    """
    met = {beside.rows[row].label for row, _ in levels(beside)[:_MOST_LEVELS] if row is not None}
    lit = next((label for label in blamed if label in met), "")
    drawn = chart(beside, lit)
    if drawn is None:
        return None
    told = []
    for row, read in sorted(beside.pairs.items()):
        typed, stored = beside.rows[row], beside.reads[read]
        if typed.tag != stored.tag or typed.label in blamed:
            where = f"row {split_label(typed.label)[1]}"
            told.append(f"{where}: {typed.tag or NO_TAG}, read {stored.tag} at {stored.clock}")
    paired = set(beside.pairs)
    alone = [row for place, row in enumerate(beside.rows) if place not in paired and row.label in blamed]
    told += [f"row {split_label(row.label)[1]}: {row.tag or NO_TAG}, {NO_READ}" for row in alone]
    said = " ".join([str(drawn.description), *([f"{'; '.join(told)}."] if told else []), BY_KEYBOARD])
    drawn.description = said
    return Picture(drawn, frozenset(met), _question(beside), said)


def _question(beside: Beside) -> str:
    return f"Do the tags agree with the reader? {beside.name}"


def chart(beside: Beside, lit: str | None = None) -> alt.LayerChart | None:
    """Draw the rows of the sheet in the order typed beside the reads in the order of time.

    Parameters
    ----------
    beside : Beside
        Rows, reads, and which belong together.
    lit : str, optional
        Label of the row that is lit up; with one, even an empty one, rows can be picked.

    Returns
    -------
    altair.LayerChart or None
        None where there is neither row nor read.
    """
    laid = levels(beside)
    if not laid:
        return None
    shown = laid[:_MOST_LEVELS]
    at_row = {row: level for level, (row, _) in enumerate(shown, 1) if row is not None}
    at_read = {read: level for level, (_, read) in enumerate(shown, 1) if read is not None}
    row_of = {read: row for row, read in beside.pairs.items()}
    texts = [
        _text("left", _ROW, _HEADS, "sheet, in the order typed", QUIET),
        _text("left", _READ, _HEADS, "reader, in the order of time", QUIET),
    ]
    with_box = len({row.box for row in beside.rows}) > 1
    for row, level in at_row.items():
        read = beside.pairs.get(row)
        texts += _of_row(
            beside.rows[row], None if read is None else beside.reads[read], level, with_box=with_box
        )
    for read, level in at_read.items():
        texts += _of_read(beside.reads[read], beside.rows[row_of[read]] if read in row_of else None, level)
    links = [
        _link(beside.rows[row], beside.reads[read], at_row[row], at_read[read])
        for row, read in beside.pairs.items()
        if row in at_row and read in at_read
    ]
    texts += [_link_word(link) for link in links if link["word"]]
    counts = counts_of(beside)
    below = [counts, *beside.remarks]
    if len(laid) > len(shown):
        below.append(f"{len(laid) - len(shown):,} more lines not drawn")
    room = (len(shown) + 1 / 2, -1 / 2)
    drawn = dressed(
        [
            *(_row_layers(beside, at_row, room, lit) if lit is not None else ()),
            *_link_layers(links, room),
            *_text_layers(texts, room),
            *_point_layers([_point(beside.rows[row], level) for row, level in at_row.items()], room),
        ],
        _question(beside),
        below,
        f"Rows of {beside.name} beside the reads of the hand reader: {counts}.",
        _WIDTH,
        _STEP * (len(shown) + 1),
    )
    bare: alt.LayerChart = drawn.configure_axis(disable=True)
    return bare


def counts_of(beside: Beside) -> str:
    """Say how many rows and reads there are and how many agree."""
    same = sum(beside.rows[row].tag == beside.reads[read].tag for row, read in beside.pairs.items())
    alone = [row for i, row in enumerate(beside.rows) if i not in beside.pairs]
    numbers = (
        (same, "agree" if same > 1 else "agrees"),
        (len(beside.pairs) - same, "differ" if len(beside.pairs) - same > 1 else "differs"),
        (sum(bool(row.tag) for row in alone), NO_READ),
        (sum(not row.tag for row in alone), "without a tag"),
        (len(beside.reads) - len(beside.pairs), NO_ROW),
    )
    told = [f"{number:,} {word}" for number, word in numbers if number]
    return ", ".join([f"{counted(len(beside.rows), 'row')} and {counted(len(beside.reads), 'read')}", *told])


def tone_of(row: TypedTag) -> Tone:
    """Tone in which a row whose tag differs from the read is marked."""
    return TONES[row.severity or "suspect"]


def _text(style: str, x: float, y: float, text: str, ink: str = INK) -> Spot:
    return {"style": style, "x": x, "y": y, "text": text, "ink": ink}


def _cut(code: str) -> str:
    return code if len(code) <= _MOST_SIGNS else f"{code[: _MOST_SIGNS - 1]}…"


def _of_row(row: TypedTag, read: ReadTag | None, level: int, *, with_box: bool) -> Iterator[Spot]:
    yield _text("left", _ROW, level, f"row {split_label(row.label)[1]}", QUIET)
    if with_box:
        yield _text("left", _BOX, level, row.box or "no box", QUIET)
    yield _text("left", _RING if with_box else _BOX, level, row.ring or "no ring")
    if not row.tag:
        yield _text("word_right", _TAG_END, level, NO_TAG, QUIET)
        return
    yield from _code("typed", _TAG_END, level, row.tag, read.tag if read else row.tag, tone_of(row).mark)
    if read is None:
        yield _text("word_left", _LINK, level, f"– {NO_READ}", QUIET)


def _of_read(read: ReadTag, row: TypedTag | None, level: int) -> Iterator[Spot]:
    other = row.tag if row and row.tag else read.tag
    yield from _code("read", _READ, level, read.tag, other, tone_of(row).mark if row else INK)
    yield _text("left", _CLOCK, level, read.clock, QUIET)
    if row is None:
        yield _text("word_right", _LINK_END, level, f"{read.remark or NO_ROW} –", QUIET)


def _code(style: str, x: float, level: int, code: str, other: str, ink: str) -> Iterator[Spot]:
    """Write a code; the signs that differ are bold and have a line below: not by colour alone."""
    code, other = _cut(code), _cut(other)
    places, _ = differing(code, other)
    yield _text(style, x, level, _only(code, set(range(len(code))) - places))
    if places:
        yield _text(f"{style}_mark", x, level, _only(code, places), ink)
        yield _text(f"{style}_mark", x, level, _only("_" * len(code), places), ink)


def _only(code: str, places: AbstractSet[int]) -> str:
    signs = "".join(sign if i in places else _BLANK for i, sign in enumerate(code))
    return f"{_EDGE}{signs}{_EDGE}"


def _link(row: TypedTag, read: ReadTag, y: int, y2: int) -> Spot:
    same = row.tag == read.tag
    tone = tone_of(row)
    return {
        "x": _LINK,
        "x2": _LINK_END,
        "y": y,
        "y2": y2,
        "word": "" if same else tone.word,
        "line": _AGREE if same else _DIFFER,
        "ink": PLAIN if same else tone.mark,
        "row": row.label.replace("!", ", row "),
        "typed": row.tag,
        "read": read.tag,
        "at": read.clock,
        "stored": read.stored,
        "message": row.message,
    }


_AGREE, _DIFFER = "same tag", "tags differ"


def _link_word(link: Spot) -> Spot:
    return _text(
        "word", (link["x"] + link["x2"]) / 2, (link["y"] + link["y2"]) / 2, link["word"], link["ink"]
    )


def _x() -> alt.X:
    return alt.X("x:Q", scale=alt.Scale(domain=[0, _WIDTH], nice=False, zero=False))


def _y(room: tuple[float, float]) -> alt.Y:
    return alt.Y("y:Q", scale=alt.Scale(domain=list(room), nice=False, zero=False))


def _row_layers(
    beside: Beside, at_row: Mapping[int, int], room: tuple[float, float], lit: str
) -> Iterator[alt.Chart]:
    """Lay a field below each row, which catches the mouse, and a frame around the one that is lit up."""
    half = 1 / 2
    fields = [
        {"label": beside.rows[row].label, "y": level - half, "y2": level + half}
        for row, level in at_row.items()
    ]
    base = alt.Chart(alt.InlineData(values=fields)).encode(
        _y(room), x=alt.value(0), x2=alt.value(_TAG_END + 4), y2=alt.Y2("y2:Q")
    )
    yield (
        base.mark_rect(fill=PAPER, stroke=INK, strokeWidth=1.5, aria=False)
        .transform_filter(f"datum.label === {CHOSEN}")
        .add_params(chosen_param(lit))
    )
    yield (
        base.mark_rect(opacity=0, aria=False, cursor="pointer")
        .properties(name="records")
        .add_params(picked_param())
    )


def _link_layers(links: Sequence[Spot], room: tuple[float, float]) -> list[alt.Chart]:
    # a legend of nothing has no place: it pushes everything else out of its own
    if not links:
        return []
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=list(links)))
        .mark_rule(strokeWidth=2, aria=False)
        .encode(
            _x(),
            _y(room),
            x2="x2:Q",
            y2="y2:Q",
            color=alt.Color("ink:N", scale=None),
            strokeDash=alt.StrokeDash(
                "line:N",
                title=None,
                scale=alt.Scale(domain=[_AGREE, _DIFFER], range=[[1, 0], [5, 4]]),
                legend=alt.Legend(
                    orient="bottom", direction="horizontal", symbolSize=500, symbolStrokeColor=QUIET
                ),
            ),
            tooltip=[
                alt.Tooltip(f"{key}:N", title=title)
                for key, title in (
                    ("row", "where"),
                    ("typed", "typed"),
                    ("read", "read"),
                    ("at", "at"),
                    ("stored", "stored as"),
                    ("message", "message"),
                )
            ],
        )
    )
    return [layer]


def _text_layers(texts: Sequence[Spot], room: tuple[float, float]) -> Iterator[alt.Chart]:
    for style, way in _STYLES.items():
        values = [text for text in texts if text["style"] == style]
        if not values:
            continue
        base = alt.Chart(alt.InlineData(values=values))
        dressing: Spot = {"baseline": "middle", "fontSize": _SIZE, "aria": False, **way}
        if style == "word":
            halo: Spot = {"stroke": PAPER, "strokeWidth": 4, "strokeJoin": "round", "color": PAPER}
            yield base.mark_text(**dressing, **halo).encode(_x(), _y(room), text="text:N")
        yield base.mark_text(**dressing).encode(
            _x(), _y(room), text="text:N", color=alt.Color("ink:N", scale=None)
        )


def _point(row: TypedTag, level: int) -> Spot:
    tone = TONES[row.severity] if row.severity else None
    return {
        "x": _POINT,
        "y": level,
        "severity": tone.word if tone else "",
        "ring": row.ring,
        "tag": row.tag,
        "meant": row.meant,
        "message": row.message,
    }


def _point_layers(points: Sequence[Spot], room: tuple[float, float]) -> list[alt.Chart]:
    marked = [point for point in points if point["severity"]]
    if not marked:
        return []
    tones = [tone for tone in TONES.values() if any(point["severity"] == tone.word for point in marked)]
    words = [tone.word for tone in tones]
    legend = alt.Legend(orient="top", direction="horizontal")
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=marked))
        .mark_point(filled=True, size=80, opacity=1, aria=False)
        .encode(
            _x(),
            _y(room),
            shape=alt.Shape(
                "severity:N",
                title=None,
                scale=alt.Scale(domain=words, range=[tone.shape for tone in tones]),
                legend=legend,
            ),
            color=alt.Color(
                "severity:N",
                title=None,
                scale=alt.Scale(domain=words, range=[tone.mark for tone in tones]),
                legend=legend,
            ),
            tooltip=[
                alt.Tooltip(f"{key}:N", title=title)
                for key, title in (
                    ("ring", "ring"),
                    ("tag", "tag"),
                    ("meant", "probably meant"),
                    ("severity", "severity"),
                    ("message", "message"),
                )
            ],
        )
    )
    return [layer]
