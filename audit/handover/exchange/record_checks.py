"""What is asked of one record by itself: whether its fields go together."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING

from audit.handover.exchange.bird import NESTLING
from audit.handover.exchange.brood import NO_BROOD, UNKNOWN_AGE
from audit.handover.exchange.encounter import texts_in
from audit.handover.exchange.fate import DEAD, NOT_CAUGHT
from audit.handover.exchange.place import NO_POINT
from audit.models.sexagesimal import unpack

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations.exchange import ExchangeDeclarations
    from audit.handover.exchange.encounter import Encounter

__all__ = ["Asked", "day_of", "record_checks"]

#: A check, a field and a sentence.
Asked = tuple[str, str, str]

_PLACE = re.compile(r"[A-Z]{2}([0-9A-Z]{2}|--)", re.ASCII)
_SPECIES = re.compile(r"[0-9]{5}", re.ASCII)
_NUMBER_ZERO = "00"
_NO_LURE = ("-", "N", "U")
_ROOST = "R"
_RELEASED_BY_RINGER, _CAUGHT = "8", "20"
#: Circumstances that cannot go with a capture.
_WITHOUT_CAPTURE = frozenset(("01", "02", "03", "28", "29", "80", "81", "82", "83", "84", "85", "86"))
_PUT_ON = frozenset("1235")
_ZERO = frozenset("0")
_HOURS, _MINUTES = 24, 60
_LATITUDE, _LONGITUDE = 90, 180
#: The form that has both ways of writing a position.
_TWO_WAYS = "2020"


def record_checks(record: Encounter, exchange: ExchangeDeclarations, form: str = "") -> Iterator[Asked]:
    """Ask whether the fields of one record go together.

    Parameters
    ----------
    form : str
        Form of the line that a record was read from; empty for a record that was not.
    """
    yield from _codes(record, exchange)
    yield from _place(record)
    yield from _position(record)
    if form == _TWO_WAYS and record.coordinates != NO_POINT and record.latitude:
        yield "coordinates_twice", "coordinates", "The position stands there packed and in decimal degrees."
    yield from _brood(record)
    yield from _capture(record)
    yield from _moment(record)
    if not _SPECIES.fullmatch(record.species_mentioned):
        yield (
            "species_code",
            "species_mentioned",
            f"'{record.species_mentioned}' has not five digits; a zero in front may be lost.",
        )
    if record.metal_ring in _PUT_ON - {"5"}:
        way = {"distance": record.distance, "direction": record.direction, "elapsed": record.elapsed}
        for name, text in way.items():
            if set(text) != _ZERO:
                yield (
                    "ringing_zero",
                    name,
                    f"The ring was put on, and the {name} is '{text}' instead of zero.",
                )


def day_of(record: Encounter) -> dt.date | None:
    """Day of a record; None where the calendar has no such day."""
    text = record.date
    try:
        return dt.date(int(text[4:]), int(text[2:4]), int(text[:2]))
    except ValueError:
        return None


def _codes(record: Encounter, exchange: ExchangeDeclarations) -> Iterator[Asked]:
    for field, text in zip(exchange.fields, texts_in(record), strict=True):
        if field.codes and exchange.codes[field.codes].find(text) is None:
            yield "unknown_code", field.name, f"'{text}' stands in no table of codes for {field.title}."


def _place(record: Encounter) -> Iterator[Asked]:
    text = record.place_code
    if text.endswith(_NUMBER_ZERO):
        yield (
            "place_code",
            "place_code",
            f"'{text}' means a place numbered 00; an unknown part of the country is '{text[:2]}--'.",
        )
    elif not _PLACE.fullmatch(text) and text.strip("-"):
        yield "place_code", "place_code", f"'{text}' does not have the form of a place code."


def _position(record: Encounter) -> Iterator[Asked]:
    packed, decimal = record.coordinates != NO_POINT, bool(record.latitude and record.longitude)
    if bool(record.latitude) != bool(record.longitude):
        yield "coordinates", "latitude", "One of latitude and longitude is missing."
    point: tuple[float, float] | None = None
    if packed:
        try:
            point = unpack(record.coordinates)
        except ValueError as fault:
            yield "coordinates", "coordinates", f"{fault}."
    if decimal:
        there = float(record.latitude), float(record.longitude)
        if abs(there[0]) > _LATITUDE or abs(there[1]) > _LONGITUDE:
            yield "coordinates", "latitude", f"{there[0]:g}, {there[1]:g} lies beyond the globe."
        point = point or there
    if point is not None and not any(point):
        yield "coordinates", "coordinates", "The co-ordinates are those of the origin of the map."


def _brood(record: Encounter) -> Iterator[Asked]:
    told = {name: getattr(record, name) for name in NO_BROOD}
    if record.age_mentioned == NESTLING:
        for name, none in NO_BROOD.items():
            if told[name] == none:
                yield "brood_fields", name, f"A nestling has '{none}', which says that it is none."
        known = [told[name] != none for name, none in UNKNOWN_AGE.items()]
        if known[0] != known[1] and "-" not in told["pullus_age_accuracy"]:
            yield (
                "pullus_age",
                "pullus_age",
                f"An age of '{told['pullus_age']}' with an accuracy of '{told['pullus_age_accuracy']}'.",
            )
        if record.brood_patch or record.primary_moult:
            yield "nestling_adult_signs", "brood_patch", "A nestling with brood patch or moult of primaries."
        if record.lures not in _NO_LURE:
            yield "nestling_adult_signs", "lures", f"A nestling lured by '{record.lures}'."
        if record.status == _ROOST:
            yield "nestling_adult_signs", "status", "A nestling at roost."
    else:
        for name, none in NO_BROOD.items():
            if told[name] != none:
                yield (
                    "brood_fields",
                    name,
                    f"Age '{record.age_mentioned}' goes with '{none}', not '{told[name]}'.",
                )


def _capture(record: Encounter) -> Iterator[Asked]:
    free = record.catching_method == NOT_CAUGHT
    if free != (record.circumstances in _WITHOUT_CAPTURE):
        yield (
            "caught",
            "catching_method",
            f"Catching method '{record.catching_method}' with circumstances '{record.circumstances}'.",
        )
    if record.condition == _RELEASED_BY_RINGER and free:
        yield "released", "condition", "Released by a ringer, and not caught."
    if record.condition in DEAD and record.circumstances == _CAUGHT:
        yield "released", "condition", "Dead, and caught and released by a ringer."
    if record.condition in DEAD and record.metal_ring in _PUT_ON:
        yield "released", "metal_ring", "A ring was put on, and the bird is dead."


def _moment(record: Encounter) -> Iterator[Asked]:
    if day_of(record) is None:
        yield "no_such_day", "date", f"There is no day '{record.date}'."
    time = record.time
    if time.isdecimal() and (int(time[:2]) >= _HOURS or int(time[2:]) >= _MINUTES):
        yield "no_such_time", "time", f"There is no time '{time}'."
