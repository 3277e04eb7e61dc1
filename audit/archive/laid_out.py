"""Handlings as they lie in the files of an archive, laid out with one type for each column."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from audit.archive.days import PARTS, day_of_date, day_of_parts, parts_of_text, year_of_date

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from narwhals import Expr
    from narwhals.typing import LazyFrameT

    from audit.declarations.tables import FieldDeclaration, TableDeclaration

__all__ = ["GROUPS", "PLACE", "Stored", "bare_text", "laid_out", "unread_name"]

#: How a column is stored: as text, as a number, or as a date or moment.
Stored = Literal["text", "number", "date"]

#: Where a row stands: a number of its own in the order of files and rows, the file, the row in it.
PLACE = ("at", "file", "row")
#: Who a row belongs to; empty where an archive does not say. Where it names no season, it is the year of the
#: date.
GROUPS = ("season", "scheme", "team")

#: Texts that may have blanks around them, or be nothing but these; not every engine takes \v for a blank.
_BLANKS = r"^[\s\v]|[\s\v]$|^$"
_NUMBER = r"^[+-]?[0-9]+(?:[.,][0-9]+)?$"
_NUMBERS = ("number", "integer")
_DATES = ("date", "datetime")


def unread_name(field: str) -> str:
    """Name of the column that tells whether the text of a field could not be read."""
    return f"unread {field}"


def laid_out(raw: LazyFrameT, stored: Mapping[str, Stored], table: TableDeclaration) -> LazyFrameT:
    """Give every declared column its type.

    Parameters
    ----------
    raw : frame
        Columns of `PLACE`, and any of `GROUPS` and of the declared ones, as stored.
    stored : mapping of str to {'text', 'number', 'date'}
        How the columns that are there are stored.
    table : TableDeclaration
        What the columns hold.

    Returns
    -------
    frame
        Columns of `PLACE` and `GROUPS`, and all declared ones: texts without blanks around them, numbers,
        dates as days since 1970, missing where nothing stands or nothing could be read; and for each text
        that is a number or a date whether it could not be read (`unread_name`).
    """
    import narwhals as nw

    # taken apart first, else each use of a part would take the text apart anew
    parts = [
        part.alias(f"{field.name} {name}")
        for field in table.fields
        if field.kind in _DATES and stored.get(field.name) == "text"
        for name, part in zip(PARTS, parts_of_text(_text(nw.col(field.name))), strict=True)
    ]
    columns = [nw.col(name) for name in PLACE]
    dates = {field.name for field in table.fields if field.kind in _DATES}
    columns += [_group(stored, name, "date" if "date" in dates else "").alias(name) for name in GROUPS]
    for field in table.fields:
        columns += list(_columns(field, stored.get(field.name)))
    return (raw.with_columns(*parts) if parts else raw).select(*columns)


def _group(stored: Mapping[str, Stored], name: str, date: str) -> Expr:
    import narwhals as nw

    if name in stored:
        return _plain(nw.col(name), stored[name]).fill_null("")
    if name != "season" or date not in stored:
        return nw.lit("")
    if stored[date] == "date":
        return year_of_date(nw.col(date)).fill_null("")
    return nw.col(f"{date} year").cast(nw.String).str.replace_all(r"\.0$", "").fill_null("")


def _columns(field: FieldDeclaration, stored: Stored | None) -> Iterator[Expr]:
    import narwhals as nw

    name, cell = field.name, nw.col(field.name)
    number = field.kind in (*_NUMBERS, *_DATES)
    if stored is None:
        yield nw.lit(None, dtype=nw.Float64 if number else nw.String).alias(name)
    elif not number:
        yield _plain(cell, stored).alias(name)
    elif stored == "text":
        text = _text(cell)
        parts = (nw.col(f"{name} {part}") for part in PARTS)
        value = day_of_parts(*parts) if field.kind in _DATES else _number(text)
        yield value.alias(name)
        yield (~text.is_null() & value.is_null()).alias(unread_name(name))
    elif stored == "date":
        yield day_of_date(cell).alias(name)
    else:
        value = cell.cast(nw.Float64)
        # what is no number in one engine is missing in others
        yield nw.when(~value.is_nan()).then(value).alias(name)


def _plain(cell: Expr, stored: Stored) -> Expr:
    """Write a cell as text; a whole number without the point that floating point gives it."""
    import narwhals as nw

    if stored == "number":
        return cell.cast(nw.String).str.replace_all(r"\.0$", "")
    return _text(cell if stored == "text" else cell.cast(nw.String))


def bare_text(cell: Expr) -> Expr:
    """Take the blanks around a text away; of blanks alone nothing is left."""
    return cell.str.strip_chars()


def _text(cell: Expr) -> Expr:
    import narwhals as nw

    bare = bare_text(cell)
    # to look for blanks is cheaper than to take them away
    return nw.when(cell.str.contains(_BLANKS)).then(nw.when(bare != "").then(bare)).otherwise(cell)


def _number(text: Expr) -> Expr:
    import narwhals as nw

    # what is no number is left out first, for some engines stop at it
    digits = nw.when(text.str.contains(_NUMBER)).then(text)
    return digits.str.replace_all(",", ".", literal=True).cast(nw.Float64)
