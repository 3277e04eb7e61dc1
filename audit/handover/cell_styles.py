"""The style table of a workbook: a marked cell keeps its number format and alignment and gets our fill.

References
----------
ISO/IEC 29500-1, 18.8 (styles): fonts, fills, borders and cell formats, and their order.
"""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING

from lxml import etree

from audit.charts.palette import INK, TONES
from audit.handover.package import parse, serialise

if TYPE_CHECKING:
    from lxml.etree import _Element as Element

    from audit.findings import Severity

__all__ = ["CellStyles"]

_ORDER = (
    "numFmts",
    "fonts",
    "fills",
    "borders",
    "cellStyleXfs",
    "cellXfs",
    "cellStyles",
    "dxfs",
    "tableStyles",
    "colors",
    "extLst",
)
_FONT_BEFORE_COLOUR = frozenset(
    ["b", "i", "strike", "condense", "extend", "outline", "shadow", "u", "vertAlign", "sz"]
)
_PERCENT = "9"  # built-in number format 0%


class CellStyles:
    """The style part of a workbook, extended by the formats of marked cells."""

    def __init__(self, content: bytes) -> None:
        self._root = parse(content)
        self._space = etree.QName(self._root).namespace or ""
        self._fills: dict[Severity, int] = {}
        self._borders: dict[Severity, int] = {}
        self._fonts: dict[int, int] = {}
        self._marked: dict[tuple[int, Severity], int] = {}

    def _tag(self, name: str) -> str:
        return f"{{{self._space}}}{name}"

    def _table(self, name: str) -> Element:
        found = self._root.find(self._tag(name))
        if found is not None:
            return found
        made = etree.Element(self._tag(name))
        earlier = _ORDER[: _ORDER.index(name)]
        at = sum(etree.QName(child).localname in earlier for child in self._root.iterchildren("{*}*"))
        self._root.insert(at, made)
        if name == "fills":  # the standard reserves the first two
            for pattern in ("none", "gray125"):
                fill = etree.SubElement(made, self._tag("fill"))
                etree.SubElement(fill, self._tag("patternFill"), {"patternType": pattern})
        elif name == "fonts":
            etree.SubElement(made, self._tag("font"))
        elif name == "borders":
            etree.SubElement(made, self._tag("border"))
        elif name == "cellXfs":
            etree.SubElement(made, self._tag("xf"), {"numFmtId": "0", "fontId": "0", "fillId": "0"})
        return made

    def _append(self, table: str, element: Element) -> int:
        parent = self._table(table)
        items = len(parent)
        parent.append(element)
        parent.set("count", str(items + 1))
        return items

    def marked(self, style: int, severity: Severity) -> int:
        """Index of a format like `style` with the fill, border and dark text of a severity."""
        key = (style, severity)
        if key not in self._marked:
            formats = self._table("cellXfs")
            xf = deepcopy(formats[style]) if style < len(formats) else deepcopy(formats[0])
            xf.set("fontId", str(self._dark_font(int(xf.get("fontId", "0")))))
            xf.set("fillId", str(self._fill(severity)))
            xf.set("borderId", str(self._border(severity)))
            for name in ("applyFont", "applyFill", "applyBorder"):
                xf.set(name, "1")
            self._marked[key] = self._append("cellXfs", xf)
        return self._marked[key]

    def plain(
        self,
        *,
        bold: bool = False,
        underlined: bool = False,
        percent: bool = False,
        severity: Severity | None = None,
    ) -> int:
        """Index of a wrapped format for a sheet of our own."""
        font = etree.Element(self._tag("font"))
        if bold:
            etree.SubElement(font, self._tag("b"))
        if underlined:
            etree.SubElement(font, self._tag("u"))
        etree.SubElement(font, self._tag("sz"), {"val": "10"})
        etree.SubElement(font, self._tag("color"), {"rgb": _argb(INK)})
        etree.SubElement(font, self._tag("name"), {"val": "Arial"})
        xf = etree.Element(
            self._tag("xf"),
            {
                "numFmtId": _PERCENT if percent else "0",
                "fontId": str(self._append("fonts", font)),
                "fillId": str(self._fill(severity)) if severity else "0",
                "borderId": str(self._border(severity)) if severity else "0",
                "applyNumberFormat": "1",
                "applyFont": "1",
                "applyFill": "1",
                "applyBorder": "1",
                "applyAlignment": "1",
            },
        )
        etree.SubElement(xf, self._tag("alignment"), {"vertical": "top", "wrapText": "1"})
        return self._append("cellXfs", xf)

    def _dark_font(self, font: int) -> int:
        # A cell typed in white on a dark ground must stay readable on our pale fill.
        if font not in self._fonts:
            fonts = self._table("fonts")
            made = deepcopy(fonts[font]) if font < len(fonts) else etree.Element(self._tag("font"))
            for old in made.findall(self._tag("color")):
                made.remove(old)
            at = sum(
                etree.QName(child).localname in _FONT_BEFORE_COLOUR for child in made.iterchildren("{*}*")
            )
            made.insert(at, etree.Element(self._tag("color"), {"rgb": _argb(INK)}))
            self._fonts[font] = self._append("fonts", made)
        return self._fonts[font]

    def _fill(self, severity: Severity) -> int:
        if severity not in self._fills:
            fill = etree.Element(self._tag("fill"))
            pattern = etree.SubElement(fill, self._tag("patternFill"), {"patternType": "solid"})
            etree.SubElement(pattern, self._tag("fgColor"), {"rgb": _argb(TONES[severity].fill)})
            etree.SubElement(pattern, self._tag("bgColor"), {"indexed": "64"})
            self._fills[severity] = self._append("fills", fill)
        return self._fills[severity]

    def _border(self, severity: Severity) -> int:
        if severity not in self._borders:
            border = etree.Element(self._tag("border"))
            for side in ("left", "right", "top", "bottom"):
                line = etree.SubElement(border, self._tag(side), {"style": TONES[severity].border})
                etree.SubElement(line, self._tag("color"), {"rgb": _argb(TONES[severity].mark)})
            etree.SubElement(border, self._tag("diagonal"))
            self._borders[severity] = self._append("borders", border)
        return self._borders[severity]

    def content(self) -> bytes:
        """Return the part as changed."""
        return serialise(self._root)


def _argb(colour: str) -> str:
    return f"FF{colour.removeprefix('#').upper()}"
