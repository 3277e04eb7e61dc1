"""What was written, read back and held against what was meant, field by field and row by row."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from audit.handover.exchange.encounter import NAMES, texts_in
from audit.handover.exchange.lines import as_written
from audit.handover.exchange.place import NO_POINT
from audit.handover.exchange.reading import read_lines
from audit.handover.exchange.ring_padding import unpadded
from audit.models.sexagesimal import unpack
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.handover.exchange.coding import Coded
    from audit.handover.exchange.encounter import Encounter
    from audit.handover.exchange.round import Round

__all__ = ["hold_against"]

#: Half a second of arc, and half of the last decimal of degrees, in degrees; a little more for rounding.
_HALF_SECOND = 1 / 7200 + 1e-9


def hold_against(text: str, form: str, coded: Sequence[Coded], around: Round) -> None:
    """See that the lines say what the clean season says.

    Each field must be what was coded, and ring, day, time, species, position, wing and mass, understood anew,
    must be what stands in the row.

    Parameters
    ----------
    text : str
        The whole file.
    form : str
        One of `audit.declarations.exchange.FORMS`.

    Raises
    ------
    Refusal
        A line cannot be read, or says something else.
    """
    read = read_lines(text, around.exchange, form, name=f"the records of the form {form}")
    if len(read) != len(coded):
        raise Refusal(
            f"{len(coded)} records were written and {len(read)} read back.",
            where=f"the records of the form {form}",
            cure="Nothing was handed out. Look for line breaks in texts of the season.",
        )
    for record, one in zip(read, coded, strict=True):
        meant = as_written(one.record, form, around.exchange)
        different = None
        if texts_in(record) != meant:
            different = next(
                name for name, text in zip(NAMES, meant, strict=True) if getattr(record, name) != text
            )
        different = different or next(_other_meaning(record, one, around), None)
        if different:
            raise Refusal(
                f"'{getattr(record, different)}' was read back, which is not what the row says.",
                where=f"{one.row.label}, {different}, form {form}",
                cure="Nothing was handed out. Look at this row of the clean season.",
            )


def _other_meaning(record: Encounter, one: Coded, around: Round) -> Iterator[str]:
    row = one.row
    if unpadded(record.ring) != row.ring_key:
        yield "ring"
    if _day(record.date) != row.day:
        yield "date"
    if record.time.isdecimal() and [int(record.time[:2]), int(record.time[2:])] != [
        int(part) for part in row.time.split(":")[:2]
    ]:
        yield "time"
    species = around.declared.species.get(row.species)
    if species is not None and record.species_mentioned != species.euring:
        yield "species_mentioned"
    yield from _elsewhere(record, around.points.get(row.box))
    # half of the last decimal; a binary fraction may lie a hair beyond
    most = 10 ** -int(around.exchange.choice("decimals_of_measures")) / 2 + 1e-9
    for name, value in (("wing", row.wing), ("mass", row.mass)):
        text = getattr(record, name)
        if text and (value is None or abs(float(text) - value) > most):
            yield name


def _elsewhere(record: Encounter, point: tuple[float, float] | None) -> Iterator[str]:
    for name, told in (("coordinates", _packed(record)), ("latitude", _decimal(record))):
        if told is not None and (
            point is None or any(abs(a - b) > _HALF_SECOND for a, b in zip(told, point, strict=True))
        ):
            yield name


def _packed(record: Encounter) -> tuple[float, float] | None:
    return None if record.coordinates == NO_POINT else unpack(record.coordinates)


def _decimal(record: Encounter) -> tuple[float, float] | None:
    return (float(record.latitude), float(record.longitude)) if record.latitude else None


def _day(text: str) -> dt.date | None:
    try:
        return dt.date(int(text[4:]), int(text[2:4]), int(text[:2]))
    except ValueError:
        return None
