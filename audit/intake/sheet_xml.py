"""What a sheet's part of a workbook says beside its cells: order of rows, merged ranges, what is hidden.

References
----------
ISO/IEC 29500-1, 18.3.1 (``row``, ``c``, ``v``, ``mergeCell``, ``col``).
"""

from __future__ import annotations

import io
import re
from itertools import pairwise
from typing import TYPE_CHECKING

from lxml import etree

from audit.intake.grid import column_letter
from audit.intake.wording import hidden_words

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["empty_texts", "hidden_parts", "merged_ranges", "rows_in_order", "stored_numbers"]

_ROW_NUMBER = re.compile(rb'<(?:[\w.-]+:)?row\s(?:[^>]*?\s)?r\s*=\s*["\'](\d+)["\']')
_YES = ("1", "true")


def rows_in_order(xml: bytes) -> bool:
    """Whether each row that says its number is stored before all later ones."""
    numbers = [int(found) for found in _ROW_NUMBER.findall(xml)]
    return all(earlier < later for earlier, later in pairwise(numbers))


def empty_texts(xml: bytes) -> Iterator[str]:
    """Yield addresses of cells whose stored result is a text, perhaps one without letters."""
    for element in _elements(xml, "c"):
        place = element.get("r")
        if place is not None and element.get("t") == "str" and element.find("{*}v") is not None:
            yield place


def stored_numbers(xml: bytes) -> Iterator[tuple[str, str]]:
    """Yield the address and the digits of each cell that stores a number."""
    for element in _elements(xml, "c"):
        place, stored = element.get("r"), element.findtext("{*}v")
        if place is not None and stored is not None and element.get("t", "n") == "n":
            yield place, stored


def merged_ranges(xml: bytes) -> Iterator[str]:
    """Yield merged ranges, such as ``A1:B2``."""
    if b"mergeCell " not in xml:
        return
    for element in _elements(xml, "mergeCell"):
        yield element.get("ref", "")


def hidden_parts(xml: bytes, width: int) -> str:
    """Say which columns and rows are hidden; a run of hidden columns beyond the last one holds nothing.

    Parameters
    ----------
    width : int
        How many columns anything is written in.
    """
    if b"hidden=" not in xml:
        return ""
    columns = [
        column_letter(j)
        for element in _elements(xml, "col")
        if element.get("hidden") in _YES
        for j in range(int(element.get("min", "1")) - 1, min(int(element.get("max", "1")), width))
    ]
    rows = [int(element.get("r", "0")) for element in _elements(xml, "row") if element.get("hidden") in _YES]
    return hidden_words(columns, rows)


def _elements(xml: bytes, tag: str) -> Iterator[etree._Element]:
    for _, element in etree.iterparse(
        io.BytesIO(xml), tag=f"{{*}}{tag}", resolve_entities=False, no_network=True, huge_tree=True
    ):
        yield element
        element.clear()
