"""Lines read back as records: every fault with line, field and cure."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from audit.declarations.exchange import FORMS
from audit.handover.exchange.encounter import NAMES, Encounter
from audit.handover.exchange.lines import FIXED, PIPE
from audit.refusal import Refusal

if TYPE_CHECKING:
    from audit.declarations.exchange import ExchangeDeclarations, ExchangeField

__all__ = ["form_of", "read_line", "read_lines"]

_SHOWN = 40


def read_lines(
    text: str, exchange: ExchangeDeclarations, form: str = "", *, name: str = "records"
) -> tuple[Encounter, ...]:
    """Read all lines of a file; empty ones are passed over.

    Parameters
    ----------
    text : str
        The file, with or without a byte order mark, line ends of any kind.
    form : str
        One of `audit.declarations.exchange.FORMS`; by default each line tells by its pipes or its length.
    name : str
        What the file is called, for messages.

    Raises
    ------
    Refusal
        The first line that is no record: file, line, field and cure.
    """
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    plain = _whole(exchange.forms[form]) if form and form != FIXED else None
    return tuple(
        Encounter(*_filled(line.split(PIPE)))
        if plain is not None and plain.fullmatch(line)
        else read_line(line, exchange, form, where=f"{name}, line {number}")
        for number, line in enumerate(lines, start=1)
        if line.strip()
    )


def read_line(
    line: str, exchange: ExchangeDeclarations, form: str = "", *, where: str = "line 1"
) -> Encounter:
    """Read one record; codes that stand in no table are kept as they are.

    Raises
    ------
    Refusal
        The line is of no known form, or a field does not have its form.
    """
    form = form or form_of(line, exchange, where)
    fields = exchange.forms[form]
    texts = _cut(line, fields) if form == FIXED else line.split(PIPE)
    whole = sum(field.width for field in fields)
    if len(texts) != len(fields) or (form == FIXED and len(line) != whole):
        found = f"{len(line)} characters" if form == FIXED else f"{len(texts)} fields"
        wanted = f"{whole} characters" if form == FIXED else f"{len(fields)} fields between pipes"
        raise Refusal(
            f"The line has {found}, and the form {form} has {wanted}.",
            where=where,
            cure="Look for a field that is missing, a pipe within a text, or a line that was cut.",
        )
    for field, text in zip(fields, texts, strict=True):
        _check(field, text, where)
    return Encounter(*_filled(texts))


def _filled(texts: list[str]) -> tuple[str, ...]:
    """Leave fields empty that a form does not have."""
    return (*texts, *("" for _ in NAMES[len(texts) :]))


def _whole(fields: tuple[ExchangeField, ...]) -> re.Pattern[str]:
    """Make one expression of a whole line: what fits it needs no look at its fields one by one."""
    parts = []
    for field in fields:
        width = rf"(?=[^|]{{{field.width}}}(?:\||\Z))" if field.width else ""
        form = field.form.pattern if field.form is not None else "[^|]*"
        parts.append(f"{width}(?:{form})")
    return re.compile(r"\|".join(parts))


def form_of(line: str, exchange: ExchangeDeclarations, where: str = "line 1") -> str:
    """Tell the form of a line by its pipes, or by its length where it has none.

    Raises
    ------
    Refusal
        It has none of the known numbers.
    """
    known = []
    for form in FORMS:
        fields = exchange.forms[form]
        if form == FIXED:
            whole = sum(field.width for field in fields)
            known.append(f"{whole} characters without a pipe ({form})")
            if PIPE not in line and len(line) == whole:
                return form
        else:
            known.append(f"{len(fields)} fields between pipes ({form})")
            if line.count(PIPE) == len(fields) - 1:
                return form
    found = f"{line.count(PIPE) + 1} fields" if PIPE in line else f"{len(line)} characters"
    shown = line[:_SHOWN] + "..." * (len(line) > _SHOWN)
    raise Refusal(
        f"The line '{shown}' has {found}: no known form of a record.",
        where=where,
        cure=f"Known: {', '.join(known)}.",
    )


def _cut(line: str, fields: tuple[ExchangeField, ...]) -> list[str]:
    texts, at = [], 0
    for field in fields:
        texts.append(line[at : at + field.width])
        at += field.width
    return texts


def _check(field: ExchangeField, text: str, where: str) -> None:
    here = f"{where}, field {field.order} ({field.title})"
    if field.width and len(text) != field.width:
        zero = ""
        if text.isdecimal() and len(text) < field.width:
            zero = f" A table may have dropped a zero in front: {text.zfill(field.width)}?"
        raise Refusal(
            f"'{text}' has {len(text)} characters instead of {field.width}.{zero}",
            where=here,
            cure=f"Write {field.width} characters.",
        )
    if field.form is not None and not field.form.fullmatch(text):
        raise Refusal(f"'{text}' does not have the form of this field.", where=here, cure=_cure(field))


def _cure(field: ExchangeField) -> str:
    if field.form is None:
        raise AssertionError(f"{field.name} has no form to write")
    return f"Write what fits {field.form.pattern}."
