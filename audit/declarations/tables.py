"""Declared tables: a subset of Table Schema, with header synonyms."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.declarations.form import near_words
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from audit.declarations.document import Document

__all__ = ["DTYPES", "FieldDeclaration", "ForeignKey", "TableDeclaration", "check_tables", "table_from"]

#: Kind of a declared column -> type of the column in a typed frame.
DTYPES = {
    "string": "str",
    "code": "str",
    "time": "str",
    "number": "float64",
    "integer": "Int64",
    "date": "datetime64[us]",
    "datetime": "datetime64[us]",
    "boolean": "boolean",
}


#: Kinds of column that a constraint makes sense for.
_SUITED = {
    "minimum": ("number", "integer"),
    "maximum": ("number", "integer"),
    "pattern": ("string", "code", "time"),
    "enum": ("string", "code", "number", "integer"),
}


@dataclass(frozen=True, slots=True)
class ForeignKey:
    """Values of `field` must stand in `column` of `table`."""

    field: str
    table: str
    column: str


@dataclass(frozen=True, slots=True)
class FieldDeclaration:
    """One declared column.

    Attributes
    ----------
    name, kind, unit, title : str
        Canonical name; kind of value (string, code, number, integer, date, time, datetime, boolean);
        unit; what it is.
    needed : bool
        A table without this column is refused.
    required, unique : bool
        The cell may not be empty; no two cells may hold the same value.
    minimum, maximum : float or None
        Closed range, in `unit`.
    pattern : str or None
        Regular expression that the whole text must match.
    allowed : tuple of str or None
        The only values allowed.
    headers : tuple of str
        Header synonyms in all languages.
    """

    name: str
    kind: str
    title: str = ""
    unit: str = ""
    needed: bool = False
    required: bool = False
    unique: bool = False
    minimum: float | None = None
    maximum: float | None = None
    pattern: str | None = None
    allowed: tuple[str, ...] | None = None
    headers: tuple[str, ...] = ()
    true_words: tuple[str, ...] = ()
    false_words: tuple[str, ...] = ()

    @property
    def allowed_values(self) -> list[str] | list[float]:
        """The only values allowed, typed as the column is; empty where any is allowed."""
        words = self.allowed or ()
        return [float(word) for word in words] if self.kind in ("number", "integer") else list(words)


@dataclass(frozen=True, slots=True)
class TableDeclaration:
    """One declared table."""

    name: str
    title: str
    sheet_names: tuple[str, ...]
    fields: tuple[FieldDeclaration, ...]
    foreign_keys: tuple[ForeignKey, ...] = ()

    def field(self, name: str) -> FieldDeclaration:
        """Return the declared column of that name.

        Raises
        ------
        KeyError
            There is none.
        """
        for declared in self.fields:
            if declared.name == name:
                return declared
        raise KeyError(name)

    @property
    def names(self) -> tuple[str, ...]:
        """Canonical column names, in order."""
        return tuple(declared.name for declared in self.fields)


def table_from(document: Document) -> TableDeclaration:
    """Build a table from a document that fits the form ``table``."""
    tree = document.tree
    return TableDeclaration(
        name=tree["name"],
        title=tree["title"],
        sheet_names=_all_words(tree.get("sheets", {})),
        fields=tuple(_field_from(name, body) for name, body in tree["fields"].items()),
        foreign_keys=tuple(
            ForeignKey(key["field"], key["table"], key["column"]) for key in tree.get("foreign_keys", [])
        ),
    )


def _all_words(by_language: dict[str, list[str]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(str(word) for words in by_language.values() for word in words))


def _field_from(name: str, body: dict[str, Any]) -> FieldDeclaration:
    constraints = body.get("constraints", {})
    allowed = constraints.get("enum")
    return FieldDeclaration(
        name=name,
        kind=body["type"],
        title=body.get("title", ""),
        unit=body.get("unit", ""),
        needed=body.get("needed", False),
        required=constraints.get("required", False),
        unique=constraints.get("unique", False),
        minimum=constraints.get("minimum"),
        maximum=constraints.get("maximum"),
        pattern=constraints.get("pattern"),
        allowed=None if allowed is None else tuple(str(value) for value in allowed),
        headers=_all_words(body.get("headers", {})),
        true_words=tuple(body.get("true_words", ())),
        false_words=tuple(body.get("false_words", ())),
    )


def check_tables(documents: Mapping[str, Document]) -> None:
    """Check what no form can: names, expressions, bounds and references.

    Parameters
    ----------
    documents : mapping of str to Document
        Documents that fit the form ``table``, by file name without suffix.

    Raises
    ------
    DeclarationRefusal
        With file, line and cure.
    """
    for stem, document in documents.items():
        name = document.tree["name"]
        if name != stem:
            raise DeclarationRefusal(
                f"The table is named '{name}' in a file named '{stem}'.",
                where=document.where("name"),
                cure=f"Write 'name: {stem}'.",
            )
        for field in document.tree["fields"]:
            _check_constraints(document, field)
        for position, key in enumerate(document.tree.get("foreign_keys", [])):
            here = ("foreign_keys", position)
            _check_named(document, (*here, "field"), key["field"], document.tree["fields"], "column")
            _check_named(document, (*here, "table"), key["table"], documents, "table")
            columns = documents[key["table"]].tree["fields"]
            _check_named(document, (*here, "column"), key["column"], columns, f"column of '{key['table']}'")


def _check_named(
    document: Document, trail: tuple[str | int, ...], name: str, known: Iterable[str], noun: str
) -> None:
    if name not in known:
        raise DeclarationRefusal(
            f"The foreign key names '{name}', which is no declared {noun}.",
            where=document.where(*trail),
            cure=f"{near_words(name, known)}Known: {', '.join(known)}.",
        )


def _check_constraints(document: Document, field: str) -> None:
    body = document.tree["fields"][field]
    constraints = body.get("constraints", {})
    here = ("fields", field, "constraints")
    for key, kinds in _SUITED.items():
        if key in constraints and body["type"] not in kinds:
            raise DeclarationRefusal(
                f"'{field}' is of type {body['type']}, which can have no '{key}'.",
                where=document.where(*here, key),
                cure=f"Remove '{key}', or declare one of the types {', '.join(kinds)}.",
            )
    if "pattern" in constraints:
        try:
            re.compile(constraints["pattern"])
        except re.error as fault:
            raise DeclarationRefusal(
                f"The pattern of '{field}' is not a regular expression: {fault}.",
                where=document.where(*here, "pattern"),
                cure="Close brackets, and write a backslash before a sign that is meant as itself.",
            ) from fault
    bounds = [key for key in ("minimum", "maximum") if key in constraints]
    if bounds == ["minimum", "maximum"] and constraints["minimum"] > constraints["maximum"]:
        shipped, _ = document.place("fields", field, "type")
        own = [key for key in bounds if document.place(*here, key)[0] != shipped]
        raise DeclarationRefusal(
            f"The minimum of '{field}' is above its maximum: {constraints['minimum']} and "
            f"{constraints['maximum']}.",
            where=document.where(*here, *(own or bounds)[:1]),
            cure="Exchange the two, or mend the wrong one.",
        )
    if body["type"] in ("number", "integer"):
        for position, word in enumerate(constraints.get("enum", [])):
            if isinstance(word, str):
                raise DeclarationRefusal(
                    f"'{word}' is not a number, and '{field}' is of type {body['type']}.",
                    where=document.where(*here, "enum", position),
                    cure="Write a number without quotes.",
                )
