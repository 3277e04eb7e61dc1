"""The declared exchange code: its fields, tables of codes, rules of writing and what a round writes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.declarations.form import near_words
from audit.declarations.limit import Limit, limits_in
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document
    from audit.declarations.shape import Trail

__all__ = ["FORMS", "Check", "Code", "CodeTable", "ExchangeDeclarations", "ExchangeField", "exchange_from"]

#: Forms of a record, the oldest first; a later one has all fields of the earlier ones.
FORMS = ("2000", "2000+", "2020")


@dataclass(frozen=True, slots=True)
class Code:
    """One code, or one rule of writing, and how well it is known.

    Attributes
    ----------
    code : str
        As it is written; the slug of a rule.
    label : str
        What it means, in words of our own.
    source, grade : str
        Where that comes from, and how well it is known.
    verified : bool
        Whether it was read; all else is told to the person who sends records.
    reach : float or None
        Days or kilometres more or less, for codes of accuracy.
    field : str
        Field that a rule is about; empty for codes.
    """

    code: str
    label: str
    source: str
    grade: str
    verified: bool = False
    reach: float | None = None
    field: str = ""


@dataclass(frozen=True, slots=True)
class CodeTable:
    """Codes of one field.

    Attributes
    ----------
    values : mapping of str to Code
        By what is written.
    numbers : Code or None
        What any other text means, where the field may hold numbers.
    """

    values: Mapping[str, Code]
    numbers: Code | None = None

    def find(self, text: str) -> Code | None:
        """Return what a text means; None where it stands in no table."""
        return self.values.get(text, self.numbers)


@dataclass(frozen=True, slots=True)
class ExchangeField:
    """One field of a record.

    Attributes
    ----------
    name, title : str
        As in code, and for a person.
    order : int
        Place in a record, from 1.
    since : str
        First form that has it, one of `FORMS`.
    width : int
        Characters in the form of fixed width; 0 where it has none.
    form : re.Pattern or None
        What its text fits; None for free text.
    codes : str
        Its table of codes; empty where it has none.
    layout : Code
        How well its place, width and form are known.
    """

    name: str
    title: str
    order: int
    since: str
    width: int
    form: re.Pattern[str] | None
    codes: str
    layout: Code


@dataclass(frozen=True, slots=True)
class Check:
    """On what grounds something is asked of a record."""

    basis: str
    grade: str


@dataclass(frozen=True, slots=True)
class ExchangeDeclarations:
    """Everything declared about the exchange code.

    Attributes
    ----------
    fields : tuple of ExchangeField
        In the order of a record.
    forms : mapping of str to tuple of ExchangeField
        The fields of each form in `FORMS`.
    codes : mapping of str to CodeTable
    rules : mapping of str to Code
        How values are written that stand in no table.
    choices : mapping of str to Limit
        What is written where a code must be chosen.
    checks : mapping of str to Check
    """

    fields: tuple[ExchangeField, ...]
    forms: Mapping[str, tuple[ExchangeField, ...]]
    codes: Mapping[str, CodeTable]
    rules: Mapping[str, Code]
    choices: Mapping[str, Limit]
    checks: Mapping[str, Check]

    def choice(self, name: str) -> Any:  # noqa: ANN401 - a code, a number or a list of words
        """Return what a round writes."""
        return self.choices[name].value

    def code(self, name: str) -> str:
        """Return a code that a round writes."""
        return str(self.choices[name].value)


#: Choices that are codes -> their table.
_CHOSEN = {
    "method": "method",
    "ring_verified": "ring_verified",
    "ring_put_on": "metal_ring",
    "handled": "manipulated",
    "handled_with_tag": "manipulated",
    "moved": "moved_before",
    "caught_nestling": "catching_method",
    "caught_full_grown": "catching_method",
    "lures": "lures",
    "status_nestling": "status",
    "status_breeding": "status",
    "status_other": "status",
    "hatched_seen": "pullus_age_accuracy",
    "age_estimated": "pullus_age_accuracy",
    "condition_alive": "condition",
    "circumstances_alive": "circumstances",
    "circumstances_dead": "circumstances",
}

_READ = "read"


def exchange_from(document: Document) -> ExchangeDeclarations:
    """Build the exchange code from a document that fits the form ``exchange``.

    Raises
    ------
    DeclarationRefusal
        A choice is no code of its table, a table is missing, a form is no regular expression, or a row is
        called verified without having been read: with file, line and cure.
    """
    tree = document.tree
    codes = {name: _table(document, name, body) for name, body in tree["codes"].items()}
    fields = tuple(
        _field(document, order, name, body, codes)
        for order, (name, body) in enumerate(tree["fields"].items(), start=1)
    )
    rules = {
        slug: _code(document, ("rules", slug), slug, body, {}, field=body["field"])
        for slug, body in tree["rules"].items()
    }
    choices = dict(limits_in(tree["choices"]))
    for name, table in _CHOSEN.items():
        _check_choice(document, name, str(choices[name].value), codes[table])
    return ExchangeDeclarations(
        fields=fields,
        forms={
            form: tuple(field for field in fields if FORMS.index(field.since) <= at)
            for at, form in enumerate(FORMS)
        },
        codes=codes,
        rules=rules,
        choices=choices,
        checks={slug: Check(body["basis"], body["grade"]) for slug, body in tree["checks"].items()},
    )


def _table(document: Document, name: str, body: Mapping[str, Any]) -> CodeTable:
    trail = ("codes", name)
    numbers = body.get("numbers")
    return CodeTable(
        values={
            code: _code(document, (*trail, "values", code), code, row, body)
            for code, row in body["values"].items()
        },
        numbers=None if numbers is None else _code(document, (*trail, "numbers"), "", numbers, body),
    )


def _field(
    document: Document, order: int, name: str, body: Mapping[str, Any], codes: Mapping[str, CodeTable]
) -> ExchangeField:
    trail = ("fields", name)
    table = body.get("codes", "")
    if table and table not in codes:
        raise DeclarationRefusal(
            f"There is no table of codes '{table}'.",
            where=document.where(*trail, "codes"),
            cure=f"{near_words(table, codes)}Known: {', '.join(codes)}.",
        )
    try:
        form = re.compile(body["form"]) if "form" in body else None
    except re.error as fault:
        raise DeclarationRefusal(
            f"The form of '{name}' is no regular expression: {fault}.",
            where=document.where(*trail, "form"),
            cure="Compare with the shipped exchange.yaml.",
        ) from fault
    layout = _code(document, trail, name, {"label": body["title"], **body}, document.tree["layout"])
    return ExchangeField(
        name, body["title"], order, body["since"], int(body.get("width", 0)), form, table, layout
    )


def _code(
    document: Document,
    trail: Trail,
    code: str,
    row: Mapping[str, Any],
    above: Mapping[str, Any],
    *,
    field: str = "",
) -> Code:
    told = {**above, **row}
    verified = bool(told.get("verified", False))
    if verified and told["grade"] != _READ:
        raise DeclarationRefusal(
            f"'{'.'.join(map(str, trail))}' is called verified, but its grade is '{told['grade']}'.",
            where=document.where(*trail),
            cure="Write where it was read, and the grade: {verified: true, grade: read, source: ...}.",
        )
    reach = told.get("days", told.get("km"))
    return Code(
        code,
        told["label"],
        told["source"],
        told["grade"],
        verified,
        None if reach is None else float(reach),
        field,
    )


def _check_choice(document: Document, name: str, value: str, table: CodeTable) -> None:
    if value not in table.values:
        raise DeclarationRefusal(
            f"'{value}' is no code for '{name}'.",
            where=document.where("choices", name, "value"),
            cure=f"Known codes: {', '.join(table.values)}. In quotes, when it looks like a number.",
        )
