"""The style table of a workbook: a marked cell keeps its number format and alignment and gets our fill.

References
----------
ISO/IEC 29500-1, 18.8 (styles): fonts, fills, borders and cell formats, and their order.
"""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING

from lxml import etree

from audit.charts.palette import CHANGED, INK, TONES
from audit.handover.book.package import parse, serialise

if TYPE_CHECKING:
    from lxml.etree import _Element as Element

    from audit.charts.palette import Tone
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
_FIRST_OWN = 164  # numbers of formats below are the standard's
_PERCENT = "9"  # built-in number format 0%


class CellStyles:
    """The style part of a workbook, extended by the formats of marked cells."""

    def __init__(self, content: bytes) -> None:
        self._root = parse(content)
        self._space = etree.QName(self._root).namespace or ""
        self._fills: dict[Tone, int] = {}
        self._borders: dict[Tone, int] = {}
        self._fonts: dict[int, int] = {}
        self._marked: dict[tuple[int, Tone, str, bool], int] = {}
        self._formats: dict[str, str] = {}

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
        return self._with_tone(style, TONES[severity], "", quoted=False)

    def changed(self, style: int, number_format: str = "", *, quoted: bool = False) -> int:
        """Index of a format like `style` that marks a changed cell.

        Parameters
        ----------
        number_format : str
            Identity of another number format, as `number_format` gives it; empty to keep that of `style`.
        quoted : bool
            The cell holds text that looks like a formula, and stays text when it is edited.
        """
        return self._with_tone(style, CHANGED, number_format, quoted=quoted)

    def _with_tone(self, style: int, tone: Tone, number_format: str, *, quoted: bool) -> int:
        key = (style, tone, number_format, quoted)
        if key not in self._marked:
            xf = self._format(style)
            xf.set("fontId", str(self._dark_font(int(xf.get("fontId", "0")))))
            xf.set("fillId", str(self._fill(tone)))
            xf.set("borderId", str(self._border(tone)))
            for name in ("applyFont", "applyFill", "applyBorder"):
                xf.set(name, "1")
            if number_format:
                xf.set("numFmtId", number_format)
                xf.set("applyNumberFormat", "1")
            if quoted:
                xf.set("quotePrefix", "1")
            else:
                xf.attrib.pop("quotePrefix", "")
            self._marked[key] = self._append("cellXfs", xf)
        return self._marked[key]

    def _format(self, style: int) -> Element:
        formats = self._table("cellXfs")
        return deepcopy(formats[style] if style < len(formats) else formats[0])

    def number_format(self, style: int) -> str:
        """Identity of the number format of a style."""
        return str(self._format(style).get("numFmtId", "0"))

    def format_code(self, identity: str) -> str:
        """Code of a number format, such as ``dd.mm.yyyy``; empty for one that the standard numbers."""
        for made in self._root.iterfind(f"{self._tag('numFmts')}/{self._tag('numFmt')}"):
            if made.get("numFmtId") == identity:
                return str(made.get("formatCode", ""))
        return ""

    def shown_as(self, code: str) -> int:
        """Index of the first style with another number format, which is added."""
        if code not in self._formats:
            formats = self._table("numFmts")
            taken = [int(one.get("numFmtId", "0")) for one in formats]
            identity = str(max([_FIRST_OWN - 1, *taken]) + 1)
            self._append(
                "numFmts", etree.Element(self._tag("numFmt"), {"numFmtId": identity, "formatCode": code})
            )
            xf = self._format(0)
            xf.set("numFmtId", identity)
            xf.set("applyNumberFormat", "1")
            self._formats[code] = str(self._append("cellXfs", xf))
        return int(self._formats[code])

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
                "fillId": str(self._fill(TONES[severity])) if severity else "0",
                "borderId": str(self._border(TONES[severity])) if severity else "0",
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

    def _fill(self, tone: Tone) -> int:
        if tone not in self._fills:
            fill = etree.Element(self._tag("fill"))
            pattern = etree.SubElement(fill, self._tag("patternFill"), {"patternType": "solid"})
            etree.SubElement(pattern, self._tag("fgColor"), {"rgb": _argb(tone.fill)})
            etree.SubElement(pattern, self._tag("bgColor"), {"indexed": "64"})
            self._fills[tone] = self._append("fills", fill)
        return self._fills[tone]

    def _border(self, tone: Tone) -> int:
        if tone not in self._borders:
            border = etree.Element(self._tag("border"))
            for side in ("left", "right", "top", "bottom"):
                line = etree.SubElement(border, self._tag(side), {"style": tone.border})
                etree.SubElement(line, self._tag("color"), {"rgb": _argb(tone.mark)})
            etree.SubElement(border, self._tag("diagonal"))
            self._borders[tone] = self._append("borders", border)
        return self._borders[tone]

    def content(self) -> bytes:
        """Return the part as changed."""
        return serialise(self._root)


def _argb(colour: str) -> str:
    return f"FF{colour.removeprefix('#').upper()}"
