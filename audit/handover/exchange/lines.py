"""Records as lines: 60 or 64 fields between pipes, or 94 characters."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

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


def as_written(record: Encounter, form: str) -> Encounter:
    """Leave out of a record what a form has no field for.

    In the form of 2020 a position stands in decimal degrees, and dots take the place of the packed one.

    Parameters
    ----------
    form : str
        One of `audit.declarations.exchange.FORMS`.
    """
    if form == _DEGREES:
        return replace(record, coordinates=NO_POINT) if record.latitude else record
    plain = replace(record, latitude="", longitude="", current_place_code="", more_marks="")
    if form != FIXED:
        return plain
    cut = dict.fromkeys(_ADDED, "")
    return replace(plain, **cut)


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
    written = as_written(record, form)
    fields = exchange.fields_of(form)
    texts = [getattr(written, field.name) for field in fields]
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


#: Fields that the form of fixed width does not have.
_ADDED = (
    "wing",
    "third_primary",
    "wing_point",
    "mass",
    "moult",
    "plumage",
    "hind_claw",
    "bill",
    "bill_method",
    "total_head",
    "tarsus",
    "tarsus_method",
    "tail",
    "tail_difference",
    "fat",
    "fat_method",
    "pectoral_muscle",
    "brood_patch",
    "primary_score",
    "primary_moult",
    "old_coverts",
    "alula",
    "carpal_covert",
    "sexing_method",
    "place_name",
    "remarks",
    "reference",
)
