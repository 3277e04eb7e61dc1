"""Declared tables: a subset of Table Schema, with header synonyms."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from audit.declarations.document import Document

__all__ = ["FieldDeclaration", "ForeignKey", "TableDeclaration", "table_from"]

#: Languages of the header synonyms.
LANGUAGES = ("en", "de", "fr", "es", "nl")


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
