"""The report in print: a tagged PDF, set offline by typst with the letters that it brings along."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from audit.handover.paper import is_brought_along, shown
from audit.handover.season_report.content import Drawing, Heading, Items, Rows, Words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.handover.season_report.content import Block, Contents

__all__ = ["print_bytes"]

_SETTING = Path(__file__).with_name("report.typ")
#: PDF/UA-1 (ISO 14289-1): tagged, titled, with words for each picture; and how typst words a breach of it.
_STANDARD: Literal["ua-1"] = "ua-1"
_BARRED = "PDF/UA"
#: A column whose longest text has no more signs than this is as wide as that; others share what is left.
_NARROW, _NARROW_OF_MANY = 30, 20
#: Signs of a text that count for the width of its column.
_WIDEST = 90
#: A table of more columns than this is set in smaller letters.
_MANY = 9
#: A word in running text of more signs than this gets places where it may break.
_UNBROKEN = 40


def print_bytes(told: Contents) -> bytes:
    """Return the PDF; the same contents give the same bytes."""
    import typst

    text = json.dumps(_told(told), ensure_ascii=False)
    # Letters of other scripts come from the machine's own fonts, where it has them.
    words = json.dumps([_plain(block) for block in told.blocks], ensure_ascii=False)
    fonts = typst.Fonts(include_system_fonts=not is_brought_along(words), include_embedded_fonts=True)
    setting, given = _SETTING.read_bytes(), {"report": text}
    try:
        made = typst.compile(setting, font_paths=fonts, sys_inputs=given, pdf_standards=[_STANDARD])
    except typst.TypstError as wrong:
        # a letter that no font has: the standard bars it, but a print with its box is better than none
        if _BARRED not in str(wrong):
            raise
        made = typst.compile(setting, font_paths=fonts, sys_inputs=given)
    return bytes(made)


def _plain(block: Block) -> Any:  # noqa: ANN401 - goes into JSON
    """Return the texts of a block; a picture brings letters of its own only in what is told of it."""
    return block.told if isinstance(block, Drawing) else _block(block)


def _told(told: Contents) -> dict[str, Any]:
    return {"title": shown(told.title), "blocks": [_block(block) for block in told.blocks]}


def _block(block: Block) -> dict[str, Any]:
    match block:
        case Heading(text):
            return {"kind": "heading", "text": shown(text)}
        case Words(text, tone, start):
            return {"kind": "words", "text": shown(text, _UNBROKEN), "tone": tone, "start": shown(start)}
        case Items(texts):
            return {"kind": "items", "texts": [shown(text, _UNBROKEN) for text in texts]}
        case Drawing(svg, text):
            return {"kind": "drawing", "svg": svg, "text": shown(text)}
        case Rows():
            return _table(block)


def _table(rows: Rows) -> dict[str, Any]:
    lines = [[text if i in rows.codes else shown(text) for i, text in enumerate(line)] for line in rows.lines]
    return {
        "kind": "rows",
        "caption": shown(rows.caption),
        "heads": [shown(head) for head in rows.heads],
        "lines": lines,
        "widths": _widths(rows),
        "right": [i in rows.numbers for i in range(len(rows.heads))],
        "codes": sorted(rows.codes),
        "total": rows.total,
        "small": len(rows.heads) > _MANY,
    }


def _widths(rows: Rows) -> list[float]:
    """Give each column its part of what is left; 0 for one that is as wide as its texts."""
    columns: Sequence[Sequence[str]] = list(zip(*rows.lines, strict=True)) or [() for _ in rows.heads]
    longest = [max((len(text) for text in column), default=0) for column in columns]
    narrow = _NARROW if len(rows.heads) <= _MANY else _NARROW_OF_MANY
    return [
        0.0 if i in rows.numbers or i in rows.codes or most <= narrow else float(min(most, _WIDEST))
        for i, most in enumerate(longest)
    ]
