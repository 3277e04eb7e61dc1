"""Declared checks of single cells, compiled once into expressions for every engine that narwhals knows."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import TYPE_CHECKING

from audit.archive.days import day_of_date
from audit.archive.laid_out import bare_text, unread_name
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from narwhals import Expr
    from narwhals.typing import LazyFrameT

    from audit.archive.laid_out import Stored
    from audit.declarations.breach import Check
    from audit.declarations.tables import FieldDeclaration, TableDeclaration

__all__ = ["CellCheck", "breaches", "cell_checks", "stored_as_declared", "unread"]

#: What the expressions of some engines cannot do.
_LOOKS_AROUND = re.compile(r"\(\?(?:[=!]|<[=!]|P=)|\\[1-9]")

#: The first sign of Unicode that is seen.
_FIRST_SIGN = "!"


@dataclass(frozen=True, slots=True)
class CellCheck:
    """One declared check of one column.

    Attributes
    ----------
    field, check : str
        Canonical column; name of the check, as in ``breach.CHECKS``.
    broken : narwhals.Expr
        Whether a cell breaks it; never missing.
    """

    field: str
    check: Check
    broken: Expr

    @property
    def name(self) -> str:
        """Name of its column in `breaches`."""
        return f"{self.field} {self.check}"


def stored_as_declared(table: TableDeclaration, stored: Mapping[str, Stored]) -> bool:
    """Whether cells are stored with the types that they ought to have, and can be checked as such."""
    return not any(
        field.unique or (field.name in stored and stored[field.name] != _stored_best(field))
        for field in table.fields
    )


def _stored_best(field: FieldDeclaration) -> Stored:
    if field.kind in ("date", "datetime"):
        return "date"
    return "number" if field.kind in ("number", "integer") else "text"


def cell_checks(
    table: TableDeclaration,
    references: Mapping[tuple[str, str], Collection[str]] | None = None,
    present: Collection[str] | None = None,
    known: Mapping[str, Collection[str]] | None = None,
    *,
    as_stored: bool = False,
) -> tuple[CellCheck, ...]:
    """Compile the declared checks of a table.

    Parameters
    ----------
    table : TableDeclaration
        The table.
    references : mapping of (table, column) to collection of str, optional
        Values that foreign keys may point to; a foreign key without an entry is not checked.
    present : collection of str, optional
        Columns that are there; by default all.
    known : mapping of str to collection of str, optional
        By column, words that mean one of its values: a season is read in any language.
    as_stored : bool
        Cells are checked as they are stored (`stored_as_declared`), else as they are laid out.

    Raises
    ------
    DeclarationRefusal
        A pattern looks around or back, which the engines of an archive cannot do.
    """
    may_point_to = {
        key.field: references[key.table, key.column]
        for key in table.foreign_keys
        if references is not None and (key.table, key.column) in references
    }
    return tuple(
        check
        for field in table.fields
        if present is None or field.name in present
        for check in _checks(
            table, field, may_point_to.get(field.name), (known or {}).get(field.name, ()), as_stored=as_stored
        )
    )


def _checks(
    table: TableDeclaration,
    field: FieldDeclaration,
    may_point_to: Collection[str] | None,
    known: Collection[str],
    *,
    as_stored: bool,
) -> Iterator[CellCheck]:
    import narwhals as nw

    cell, empty = _as_stored(field) if as_stored else (nw.col(field.name), nw.col(field.name).is_null())

    def broken(check: Check, expression: Expr) -> CellCheck:
        # an empty cell breaks nothing but that it is asked for
        return CellCheck(field.name, check, ~empty & expression)

    if field.required:
        yield CellCheck(field.name, "required", empty)
    if field.unique:
        yield broken("unique", nw.len().over(field.name) > 1)
    if field.minimum is not None:
        yield broken("minimum", cell < field.minimum)
    if field.maximum is not None:
        yield broken("maximum", cell > field.maximum)
    if field.pattern is not None:
        if _LOOKS_AROUND.search(field.pattern):
            raise DeclarationRefusal(
                f"The pattern of '{field.name}' looks around or back, which an archive cannot be asked.",
                where=f"tables/{table.name}.yaml, {field.name}",
                cure="Write it with groups and alternatives alone.",
            )
        yield broken("pattern", ~cell.str.contains(f"^(?:{field.pattern})$").fill_null(value=True))
    if field.allowed is not None:
        yield broken("enum", ~cell.is_in([*field.allowed_values, *known]))
    if may_point_to is not None:
        yield broken("foreign_key", ~cell.is_in(sorted(may_point_to)))


def _as_stored(field: FieldDeclaration) -> tuple[Expr, Expr]:
    """Give a cell of a file, and whether it is empty."""
    import narwhals as nw

    cell = nw.col(field.name)
    match _stored_best(field):
        case "text":
            # a column in which nothing stands may have no type
            cell = cell.cast(nw.String)
            bare = bare_text(cell)
            # blanks stand before all signs, so that an engine that knows the least text has nothing to ask
            return bare, cell.is_null() | ((cell < _FIRST_SIGN) & (bare == ""))
        case "number":
            number = cell.cast(nw.Float64)
            return number, cell.is_null() | number.is_nan()
        case _:
            # a day as a number is dear, and asked for by few declarations
            day = day_of_date(cell) if field.minimum is not None or field.maximum is not None else cell
            return day, cell.is_null()


def breaches(rows: LazyFrameT, checks: Collection[CellCheck]) -> LazyFrameT:
    """Find the rows in which a cell breaks its declaration.

    Parameters
    ----------
    rows : frame
        Handlings laid out, or as they are stored.
    checks : collection of CellCheck
        From `cell_checks`, for such rows.

    Returns
    -------
    frame
        ``at`` of each such row, and for each check, by its name, whether it is broken there.
    """
    import narwhals as nw

    if not checks:
        return rows.select("at").filter(nw.col("at").is_null())
    judged = rows.select("at", *(check.broken.alias(check.name) for check in checks))
    return judged.filter(reduce(or_, (nw.col(check.name) for check in checks)))


def unread(rows: LazyFrameT, table: TableDeclaration) -> LazyFrameT:
    """Find the rows with a text that is no number or day; ``at``, and by field whether it is one."""
    import narwhals as nw

    there = set(rows.collect_schema().names())
    told = [name for field in table.names if (name := unread_name(field)) in there]
    if not told:
        return rows.select("at").filter(nw.col("at").is_null())
    return rows.select("at", *told).filter(nw.any_horizontal(*told, ignore_nulls=True))
