"""Notes on the cells of one sheet: the comments part and the drawing that shows its boxes.

Notes that are there already stay: ours are added, or follow the old text in the same box.

References
----------
ISO/IEC 29500-1, 18.7 (comments); ISO/IEC 29500-4, 19.1 (the drawing of comment boxes).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from lxml import etree

from audit.charts.palette import PAPER
from audit.handover.book.package import parse, serialise
from audit.handover.book.sheet_cells import column_letters, split_address

if TYPE_CHECKING:
    from collections.abc import Mapping

    from lxml.etree import _Element as Element

    from audit.handover.book.package import Package
    from audit.handover.book.sheet_cells import Address, SheetCells

__all__ = ["AUTHOR", "LONGEST_TEXT", "add_notes", "sheet_text"]

AUTHOR = "nestproof"

_SPACE = "http://www.w3.org/XML/1998/namespace"
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_NOTES_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.comments+xml"
_DRAWING_TYPE = "application/vnd.openxmlformats-officedocument.vmlDrawing"
#: Shape numbers are given out in blocks of this size.
_BLOCK = 1024
_LONGEST = 32_000  # characters of a note
#: Characters that a cell holds at most, counted in UTF-16 units: common practice of spreadsheet programs.
LONGEST_TEXT = 32_767

_VML = "urn:schemas-microsoft-com:vml"
_OFFICE = "urn:schemas-microsoft-com:office:office"
_EXCEL = "urn:schemas-microsoft-com:office:excel"
_SHAPETYPE = (
    '<v:shapetype id="nestproof_box" coordsize="21600,21600" o:spt="202"'
    f' path="m,l,21600r21600,l21600,xe" xmlns:v="{_VML}" xmlns:o="{_OFFICE}">'
    '<v:stroke joinstyle="miter"/><v:path gradientshapeok="t" o:connecttype="rect"/></v:shapetype>'
)
_IDMAP = re.compile(rb"(<o:idmap\b[^>]*?\bdata=)([\"'])([0-9,\s]*)\2")


def sheet_text(text: str, longest: int = _LONGEST) -> str:
    """Escape what a spreadsheet text cannot hold: control characters, and text that looks like an escape.

    Examples
    --------
    >>> sheet_text("SL-01"), sheet_text(f"a{chr(7)}b")
    ('SL-01', 'a_x0007_b')
    """
    text = _cut(text, longest)
    text = re.sub(r"_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", text)
    return re.sub(
        r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]", lambda m: f"_x{ord(m[0]):04X}_", text
    )


def _cut(text: str, longest: int) -> str:
    """Cut a text to so many UTF-16 units."""
    if 2 * len(text) <= longest:
        return text
    units = text.encode("utf-16-le", "surrogatepass")[: 2 * longest]
    return units.decode("utf-16-le", "ignore")


def add_notes(package: Package, sheet_part: str, cells: SheetCells, notes: Mapping[Address, str]) -> None:
    """Put notes on the cells of a sheet.

    Parameters
    ----------
    package : Package
        The copy; its comments, drawing, relationships and content types are changed.
    sheet_part : str
        Name of the worksheet part.
    cells : SheetCells
        The same worksheet, parsed; gets the element that names the drawing.
    notes : mapping of (row, column) to str
        The text of each note.
    """
    if not notes:
        return
    boxed = _write_comments(package, sheet_part, notes)
    drawing_identity = cells.notes_drawing(package.base)
    drawing = next((r.part for r in package.relations(sheet_part) if r.identity == drawing_identity), "")
    if not drawing or drawing not in package:
        drawing = package.new_name("xl/drawings/vmlDrawing", ".vml")
        package.write(drawing, _empty_drawing())
        package.declare_extension("vml", _DRAWING_TYPE)
        cells.add_notes_drawing(package.base, package.relate(sheet_part, "vmlDrawing", drawing))
    new = {address: text for address, text in notes.items() if address not in boxed}
    package.write(drawing, _add_boxes(package.read(drawing), new, _free_block(package)))


def _write_comments(package: Package, sheet_part: str, notes: Mapping[Address, str]) -> set[Address]:
    """Write the comments part; return the cells that had a note, hence a box, before."""
    part = next((r.part for r in package.relations(sheet_part) if r.kind == "comments"), "")
    if part and part in package:
        root = parse(package.read(part))
    else:
        part = package.new_name("xl/comments", ".xml")
        strict = "purl.oclc.org" in package.base
        space = "http://purl.oclc.org/ooxml/spreadsheetml/main" if strict else _MAIN
        root = parse(f'<comments xmlns="{space}"/>'.encode())
        package.declare(part, _NOTES_TYPE)
        package.relate(sheet_part, "comments", part)
    space = etree.QName(root).namespace
    authors = root.find(f"{{{space}}}authors")
    if authors is None:
        authors = etree.Element(f"{{{space}}}authors")
        root.insert(0, authors)
    ours = len(authors)
    etree.SubElement(authors, f"{{{space}}}author").text = AUTHOR
    listed = root.find(f"{{{space}}}commentList")
    if listed is None:
        listed = etree.Element(f"{{{space}}}commentList")
        root.insert(1, listed)
    known = {split_address(str(comment.get("ref"))): comment for comment in listed}
    for address, text in sorted(notes.items()):
        comment = known.get(address)
        if comment is None:
            row, column = address
            reference = f"{column_letters(column)}{row}"
            comment = etree.SubElement(
                listed, f"{{{space}}}comment", {"ref": reference, "authorId": str(ours)}
            )
        body = comment.find(f"{{{space}}}text")
        if body is None:
            body = etree.Element(f"{{{space}}}text")
            comment.insert(0, body)
        _add_run(body, str(space), text)
    package.write(part, serialise(root))
    return {address for address in known if address}


def _add_run(body: Element, space: str, text: str) -> None:
    """Let our text follow what is there, as a run of its own."""
    plain = body.find(f"{{{space}}}t")
    if plain is not None:  # text without runs: make it the first run
        body.remove(plain)
        run = etree.Element(f"{{{space}}}r")
        run.append(plain)
        body.insert(0, run)
    if len(body):
        text = f"\n\n{AUTHOR}:\n{text}"
    run = etree.Element(f"{{{space}}}r")
    properties = etree.SubElement(run, f"{{{space}}}rPr")
    etree.SubElement(properties, f"{{{space}}}sz", {"val": "9"})
    etree.SubElement(properties, f"{{{space}}}color", {"indexed": "81"})
    etree.SubElement(properties, f"{{{space}}}rFont", {"val": "Arial"})
    typed = etree.SubElement(run, f"{{{space}}}t", {f"{{{_SPACE}}}space": "preserve"})
    typed.text = sheet_text(text)
    runs = [child for child in body if etree.QName(child).localname == "r"]
    body.insert(body.index(runs[-1]) + 1 if runs else 0, run)


def _free_block(package: Package) -> int:
    """First block of shape numbers that no drawing uses."""
    highest = 0
    for name in package.names():
        if name.lower().endswith(".vml"):
            for found in _IDMAP.finditer(package.read(name)):
                highest = max(highest, *(int(block) for block in found[3].split(b",") if block.strip()), 0)
    return highest + 1


def _empty_drawing() -> bytes:
    return (
        f'<xml xmlns:v="{_VML}" xmlns:o="{_OFFICE}" xmlns:x="{_EXCEL}">'
        '<o:shapelayout v:ext="edit"><o:idmap v:ext="edit" data=""/></o:shapelayout></xml>'
    ).encode()


def _add_boxes(drawing: bytes, notes: Mapping[Address, str], block: int) -> bytes:
    """Add one hidden box per note.

    The drawing is extended as text: other programs write it in ways that no XML parser accepts.
    """
    if not notes:
        return drawing
    end = drawing.rfind(b"</xml>")
    if end < 0:
        return drawing
    shapes = [] if b'id="nestproof_box"' in drawing else [_SHAPETYPE]
    first = block * _BLOCK + 1
    shapes.extend(
        _box(number, address, text) for number, (address, text) in enumerate(sorted(notes.items()), first)
    )
    blocks = ",".join(str(block + i) for i in range(len(notes) // _BLOCK + 1)).encode()

    def claim(found: re.Match[bytes]) -> bytes:
        old = found[3].strip()
        return found[1] + found[2] + (old + b"," + blocks if old else blocks) + found[2]

    return _IDMAP.sub(claim, drawing[:end], count=1) + "".join(shapes).encode() + drawing[end:]


def _box(number: int, address: Address, text: str) -> str:
    row, column = address[0] - 1, address[1] - 1
    lines = sum(len(line) // 42 + 1 for line in text.split("\n"))
    top = max(row - 1, 0)
    anchor = f"{column + 1}, 15, {top}, 4, {column + 5}, 31, {top + lines + 1}, 4"
    return (
        f'<v:shape xmlns:v="{_VML}" xmlns:o="{_OFFICE}" xmlns:x="{_EXCEL}" id="_x0000_s{number}"'
        ' type="#nestproof_box" style="position:absolute;visibility:hidden;z-index:1"'
        f' fillcolor="{PAPER}" o:insetmode="auto"><v:fill color2="{PAPER}"/><v:path o:connecttype="none"/>'
        '<v:textbox style="mso-direction-alt:auto"><div style="text-align:left"></div></v:textbox>'
        '<x:ClientData ObjectType="Note"><x:MoveWithCells/><x:SizeWithCells/>'
        f"<x:Anchor>{anchor}</x:Anchor><x:AutoFill>False</x:AutoFill>"
        f"<x:Row>{row}</x:Row><x:Column>{column}</x:Column></x:ClientData></v:shape>"
    )
