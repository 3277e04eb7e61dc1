"""What is written and drawn where, of the rows of a visit and the reads of the hand reader beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from audit.charts.download_lines import differing
from audit.charts.palette import INK, PLAIN, QUIET, TONES
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator
    from collections.abc import Set as AbstractSet

    from audit.charts.download_lines import ReadTag, TypedTag
    from audit.charts.palette import Tone

__all__ = [
    "AGREE",
    "DIFFER",
    "NO_READ",
    "NO_ROW",
    "NO_TAG",
    "READ",
    "ROW",
    "TAG_END",
    "WIDTH",
    "Spot",
    "link",
    "link_word",
    "of_read",
    "of_row",
    "point",
    "tone_of",
    "written",
]

#: Pixels from the left to the right.
WIDTH = 620
#: What stands beside a row or a read that is alone.
NO_READ, NO_ROW, NO_TAG = "not read", "on no row", "no tag"
_MOST_SIGNS = 24
_BLANK = "\N{NO-BREAK SPACE}"
#: Takes no room, and keeps blanks at the ends of a text from being cut off.
_EDGE = "\N{ZERO WIDTH SPACE}"
#: Where things stand across, in pixels.
ROW, _BOX, _RING, _POINT, TAG_END = 6, 60, 112, 188, 310
_LINK, _LINK_END, READ, _CLOCK = 320, 434, 444, 568
AGREE, DIFFER = "same tag", "tags differ"
Spot = dict[str, Any]


def tone_of(row: TypedTag) -> Tone:
    """Tone in which a row whose tag differs from the read is marked."""
    return TONES[row.severity or "suspect"]


def written(style: str, x: float, y: float, text: str, ink: str = INK) -> Spot:
    """Place a text of one kind."""
    return {"style": style, "x": x, "y": y, "text": text, "ink": ink}


def _cut(code: str) -> str:
    return code if len(code) <= _MOST_SIGNS else f"{code[: _MOST_SIGNS - 1]}…"


def of_row(row: TypedTag, read: ReadTag | None, level: int, *, with_box: bool) -> Iterator[Spot]:
    """Write a row of the sheet, and what its tag is beside the read."""
    yield written("left", ROW, level, f"row {split_label(row.label)[1]}", QUIET)
    if with_box:
        yield written("left", _BOX, level, row.box or "no box", QUIET)
    yield written("left", _RING if with_box else _BOX, level, row.ring or "no ring")
    if not row.tag:
        yield written("word_right", TAG_END, level, NO_TAG, QUIET)
        return
    yield from _code("typed", TAG_END, level, row.tag, read.tag if read else row.tag, tone_of(row).mark)
    if read is None:
        yield written("word_left", _LINK, level, f"– {NO_READ}", QUIET)


def of_read(read: ReadTag, row: TypedTag | None, level: int) -> Iterator[Spot]:
    """Write a read, and what its tag is beside the row."""
    other = row.tag if row and row.tag else read.tag
    yield from _code("read", READ, level, read.tag, other, tone_of(row).mark if row else INK)
    yield written("left", _CLOCK, level, read.clock, QUIET)
    if row is None:
        yield written("word_right", _LINK_END, level, f"{read.remark or NO_ROW} –", QUIET)


def _code(style: str, x: float, level: int, code: str, other: str, ink: str) -> Iterator[Spot]:
    """Write a code; the signs that differ are bold and have a line below: not by colour alone."""
    code, other = _cut(code), _cut(other)
    places, _ = differing(code, other)
    yield written(style, x, level, _only(code, set(range(len(code))) - places))
    if places:
        yield written(f"{style}_mark", x, level, _only(code, places), ink)
        yield written(f"{style}_mark", x, level, _only("_" * len(code), places), ink)


def _only(code: str, places: AbstractSet[int]) -> str:
    signs = "".join(sign if i in places else _BLANK for i, sign in enumerate(code))
    return f"{_EDGE}{signs}{_EDGE}"


def link(row: TypedTag, read: ReadTag, y: int, y2: int) -> Spot:
    """Join a row with its read."""
    same = row.tag == read.tag
    tone = tone_of(row)
    return {
        "x": _LINK,
        "x2": _LINK_END,
        "y": y,
        "y2": y2,
        "word": "" if same else tone.word,
        "line": AGREE if same else DIFFER,
        "ink": PLAIN if same else tone.mark,
        "row": row.label.replace("!", ", row "),
        "typed": row.tag,
        "read": read.tag,
        "at": read.clock,
        "stored": read.stored,
        "message": row.message,
    }


def link_word(link: Spot) -> Spot:
    """Say upon a line what it stands for."""
    return written(
        "word", (link["x"] + link["x2"]) / 2, (link["y"] + link["y2"]) / 2, link["word"], link["ink"]
    )


def point(row: TypedTag, level: int) -> Spot:
    """Mark a row, by how grave what is found of it is."""
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
