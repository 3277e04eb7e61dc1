"""Records as lines: 60 or 64 fields between pipes, or 94 characters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.exchange.encounter import NAMES, texts_in
from audit.handover.exchange.place import NO_POINT
from audit.refusal import Refusal

if TYPE_CHECKING:
    from audit.declarations.exchange import ExchangeDeclarations
    from audit.handover.exchange.encounter import Encounter

__all__ = ["FIXED", "PIPE", "as_written", "line_of"]

#: Stands between two fields.
PIPE = "|"
#: The form of fixed width.
FIXED = "2000"
_DEGREES = "2020"
_PACKED = NAMES.index("coordinates")


def as_written(record: Encounter, form: str, exchange: ExchangeDeclarations) -> tuple[str, ...]:
    """Give the texts of a record as a form has them, all fields of the code in order.

    Fields that a form does not have are empty. In the form of 2020 a position stands in decimal degrees, and
    dots take the place of the packed one.

    Parameters
    ----------
    form : str
        One of `audit.declarations.exchange.FORMS`.
    """
    texts = texts_in(record)
    if form == _DEGREES:
        if not record.latitude:
            return texts
        return (*texts[:_PACKED], NO_POINT, *texts[_PACKED + 1 :])
    known = len(exchange.forms[form])
    return (*texts[:known], *("" for _ in texts[known:]))


def line_of(record: Encounter, form: str, exchange: ExchangeDeclarations) -> str:
    """Write a record as one line, without its end.

    Parameters
    ----------
    form : str
        One of `audit.declarations.exchange.FORMS`.

    Raises
    ------
    Refusal
        A text would break the line: a pipe, a line break, or another length than a fixed width.
    """
    fields = exchange.forms[form]
    texts = as_written(record, form, exchange)[: len(fields)]
    if form == FIXED:
        for field, text in zip(fields, texts, strict=True):
            if len(text) != field.width:
                raise _broken(record, field.title, f"'{text}' does not fill {field.width} characters.")
        return "".join(texts)
    line = PIPE.join(texts)
    if line.count(PIPE) != len(texts) - 1 or len(line.splitlines()) > 1:
        for field, text in zip(fields, texts, strict=True):
            if PIPE in text or len(f"{text}.".splitlines()) > 1:
                raise _broken(record, field.title, f"'{text}' holds a pipe or a line break.")
    return line


def _broken(record: Encounter, title: str, what: str) -> Refusal:
    return Refusal(
        what,
        where=f"record {record.reference or record.ring}, {title}",
        cure="Change the text in the clean season.",
    )
