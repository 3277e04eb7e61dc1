"""Declared tables as Table Schema, the open standard that goes out beside clean tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Collection

    from audit.declarations.tables import FieldDeclaration, TableDeclaration

__all__ = ["compile_table"]

#: Kind of a declared column -> type and format of Table Schema.
_TYPES = {
    "string": ("string", "default"),
    "code": ("string", "default"),
    "time": ("time", "%H:%M"),
    "number": ("number", "default"),
    "integer": ("integer", "default"),
    "date": ("date", "default"),
    # a logger gives milliseconds, a hand reader minutes
    "datetime": ("datetime", "any"),
    "boolean": ("boolean", "default"),
}

#: How booleans are written in clean tables.
_TRUE_WORDS = ("yes", "true")
_FALSE_WORDS = ("no", "false")


def compile_table(
    declaration: TableDeclaration,
    *,
    columns: Collection[str] | None = None,
    tables: Collection[str] | None = None,
) -> dict[str, Any]:
    """Write a declared table as a Table Schema descriptor.

    Parameters
    ----------
    declaration : TableDeclaration
        The table.
    columns : collection of str, optional
        Columns of the file, in its order; by default all that are declared, in declared order.
    tables : collection of str, optional
        Tables that go out together; by default all. Foreign keys to others are left out.

    Returns
    -------
    dict
        Plain values, ready for JSON. `unit` is a property of our own, which the standard allows.

    References
    ----------
    Frictionless Data, Table Schema, version 1:
    https://specs.frictionlessdata.io/table-schema/
    """
    names = list(declaration.names if columns is None else columns)
    fields = [declaration.field(name) for name in names]
    descriptor: dict[str, Any] = {
        "title": declaration.title,
        "fields": [_field(field) for field in fields],
        "missingValues": [""],
    }
    key = [field.name for field in fields if field.unique and field.required]
    if key:
        descriptor["primaryKey"] = key[0]
    keys = [
        {"fields": key.field, "reference": {"resource": key.table, "fields": key.column}}
        for key in declaration.foreign_keys
        if key.field in names and (tables is None or key.table in tables)
    ]
    if keys:
        descriptor["foreignKeys"] = keys
    return descriptor


def _field(field: FieldDeclaration) -> dict[str, Any]:
    kind, form = _TYPES[field.kind]
    constraints = {
        "required": field.required or None,
        "unique": field.unique or None,
        "minimum": field.minimum,
        "maximum": field.maximum,
        "pattern": field.pattern,
        "enum": None if field.allowed is None else _enum(field),
    }
    described: dict[str, Any] = {"name": field.name, "type": kind, "format": form, "title": field.title}
    if field.unit:
        described["unit"] = field.unit
    if kind == "boolean":
        described["trueValues"] = list(dict.fromkeys((*_TRUE_WORDS, *field.true_words)))
        described["falseValues"] = list(dict.fromkeys((*_FALSE_WORDS, *field.false_words)))
    held = {name: value for name, value in constraints.items() if value is not None}
    if held:
        described["constraints"] = held
    return described


def _enum(field: FieldDeclaration) -> list[str] | list[float] | list[int]:
    # counts stay whole numbers in JSON
    return [int(value) for value in field.allowed_values] if field.kind == "integer" else field.allowed_values
