"""What one cell of a worksheet part holds: read, put in, taken out.

References
----------
ISO/IEC 29500-1, 18.3.1.4 (``c``), 18.18.11 (kinds of cell), 18.17.4.1 (serial dates, systems of 1900 and
1904), 22.9.2.19 (``ST_Xstring``: characters that XML cannot hold).
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from lxml import etree

from audit.handover.book.cell_notes import LONGEST_TEXT, sheet_text

if TYPE_CHECKING:
    from lxml.etree import _Element as Element

    from audit.intake.grid import Stored

__all__ = ["EPOCH_1900", "EPOCH_1904", "formula_element", "put", "put_result", "serial"]

_SPACE = "http://www.w3.org/XML/1998/namespace"
#: Days from which serial dates are counted. That of 1900 holds from 1 March 1900 on.
EPOCH_1900 = dt.datetime(1899, 12, 30)  # noqa: DTZ001 - days of a sheet have no zone
EPOCH_1904 = dt.datetime(1904, 1, 1)  # noqa: DTZ001 - as above
_FIRST_1900 = dt.date(1900, 3, 1)
_DAY = dt.timedelta(days=1)


def serial(value: dt.date | dt.time | dt.timedelta, epoch: dt.datetime) -> int | float | None:
    """Count the days of a date, or the part of a day of a time; None for a day before the system begins."""
    if isinstance(value, dt.time):
        value = dt.timedelta(
            hours=value.hour, minutes=value.minute, seconds=value.second, microseconds=value.microsecond
        )
    elif not isinstance(value, dt.timedelta):
        day = value.date() if isinstance(value, dt.datetime) else value
        if day < (_FIRST_1900 if epoch == EPOCH_1900 else epoch.date()):
            return None
        moment = value if isinstance(value, dt.datetime) else dt.datetime.combine(value, dt.time())
        value = moment.replace(tzinfo=None) - epoch
    days = value / _DAY
    return int(days) if days.is_integer() else days


def formula_element(cell: Element) -> Element | None:
    """Find the formula of a cell; None where it holds none."""
    return cell.find(f"{{{etree.QName(cell).namespace}}}f")


def put(cell: Element, value: Stored, epoch: dt.datetime = EPOCH_1900) -> None:
    """Let a cell hold a value, in the place of what it holds; None empties it. Its style stays."""
    _empty(cell)
    for name in ("cm", "vm"):  # told of what stood there
        cell.attrib.pop(name, "")
    if isinstance(value, str):
        cell.set("t", "inlineStr")
        space = etree.QName(cell).namespace
        text = etree.Element(f"{{{space}}}t", {f"{{{_SPACE}}}space": "preserve"})
        text.text = sheet_text(value, LONGEST_TEXT)
        inside = etree.Element(f"{{{space}}}is")
        inside.append(text)
        cell.insert(0, inside)
    else:
        _put_value(cell, value, epoch, 0)


def put_result(cell: Element, value: Stored, epoch: dt.datetime = EPOCH_1900) -> None:
    """Let a cell hold another result of its formula; None for none."""
    formula = formula_element(cell)
    _empty(cell, but=formula)
    if isinstance(value, str):
        cell.set("t", "str")
        _add_value(cell, sheet_text(value, LONGEST_TEXT), 1)
    else:
        _put_value(cell, value, epoch, 1)


def _empty(cell: Element, but: Element | None = None) -> None:
    cell.attrib.pop("t", "")
    for child in list(cell):
        if child is not but and etree.QName(child).localname in ("f", "v", "is"):
            cell.remove(child)


def _put_value(cell: Element, value: Stored, epoch: dt.datetime, at: int) -> None:
    if isinstance(value, bool):
        cell.set("t", "b")
        _add_value(cell, "1" if value else "0", at)
        return
    if isinstance(value, dt.date | dt.time | dt.timedelta):
        value = serial(value, epoch)
    if isinstance(value, int | float):
        whole = isinstance(value, float) and value.is_integer()
        _add_value(cell, str(int(value)) if whole else repr(value), at)


def _add_value(cell: Element, text: str, at: int) -> None:
    made = etree.Element(f"{{{etree.QName(cell).namespace}}}v")
    made.text = text
    if text != text.strip():
        made.set(f"{{{_SPACE}}}space", "preserve")
    cell.insert(at, made)
