"""What is asked of all records of one bird: whether they can be one life."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from itertools import pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING

from audit.handover.exchange.bird import NESTLING
from audit.handover.exchange.fate import DEAD
from audit.handover.exchange.record_checks import day_of
from audit.handover.exchange.ring_padding import unpadded
from audit.models.age_code import hatching_years

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.declarations.exchange import ExchangeDeclarations
    from audit.handover.exchange.encounter import Encounter
    from audit.handover.exchange.handled import Handled
    from audit.handover.exchange.record_checks import Asked

__all__ = ["bird_checks", "lives_of"]

_UNKNOWN_SEX, _NO_TAG_YET = "U", "GB"
_PUT_ON = frozenset("123")
_Life = list[tuple[int, "Encounter", dt.date]]


def lives_of(records: Sequence[Encounter]) -> dict[str, _Life]:
    """Gather records by ring, each life in order of day and time: (place in the list, record, day)."""
    lives: dict[str, _Life] = defaultdict(list)
    for at, record in enumerate(records):
        day = day_of(record)
        if day is not None:
            lives[record.scheme + record.ring].append((at, record, day))
    for life in lives.values():
        life.sort(key=lambda one: (one[2], one[1].time, one[0]))
    return lives


def bird_checks(
    records: Sequence[Encounter],
    exchange: ExchangeDeclarations,
    earlier: Sequence[tuple[Handled, ...]] = (),
    in_nest: Mapping[str, float] = MappingProxyType({}),
) -> Iterator[tuple[int, Asked]]:
    """Ask whether records with one ring can be one life.

    Parameters
    ----------
    earlier : sequence of tuple of Handled
        For each record, the handlings of its bird before it, where more is known than the records tell.
    in_nest : mapping of str to float
        Code of a species -> the most days that its young are in the nest: a nestling met soon after New Year
        may have hatched before.

    Yields
    ------
    (int, Asked)
        Place of the record in the list, and what is asked.
    """
    for life in lives_of(records).values():
        past = earlier[life[0][0]] if earlier else ()
        yield from _years(life, past, dt.timedelta(in_nest.get(life[0][1].species_mentioned, 0)))
        if len(life) > 1:
            yield from _ringing(life, exchange)
            yield from _pairs(life)


def _years(life: _Life, past: tuple[Handled, ...], stay: dt.timedelta) -> Iterator[tuple[int, Asked]]:
    told = [(one.age, one.day) for one in past if one.day is not None]
    low: int | None = None
    high: int | None = None
    nestling: dt.date | None = None
    for at, (code, day) in enumerate([*told, *((record.age_mentioned, day) for _, record, day in life)]):
        first, last = hatching_years(code, day.year)
        if code == NESTLING:
            first = (day - stay).year
        if first is not None and (low is None or first > low):
            low = first
        if last is not None and (high is None or last < high):
            high = last
        if at < len(told):
            nestling = day if code == NESTLING else nestling
            continue
        place = life[at - len(told)][0]
        if low is not None and high is not None and low > high:
            said = f"Age '{code}' does not go with earlier ages: hatched not before {low}, and by {high}."
            yield place, ("hatching_years", "age_mentioned", said)
            return
        if code == NESTLING and nestling and nestling.year != day.year and day - nestling > stay:
            yield place, ("nestling_again", "age_mentioned", f"The bird was a nestling in {nestling.year}.")
        nestling = day if code == NESTLING else nestling


def _ringing(life: _Life, exchange: ExchangeDeclarations) -> Iterator[tuple[int, Asked]]:
    put_on = [one for one in life if one[1].metal_ring in _PUT_ON]
    for at, record, _ in put_on[1:]:
        yield at, ("metal_ring", "metal_ring", f"Ring {unpadded(record.ring)} was put on before.")
    if not put_on:
        return
    _, ringing, day = put_on[0]
    for at, record, then in life:
        reach = _days(ringing, exchange) + _days(record, exchange)
        if record.metal_ring not in _PUT_ON and then + dt.timedelta(reach) < day:
            yield at, ("before_ringing", "date", f"The bird is met on {then} and ringed on {day}.")


def _days(record: Encounter, exchange: ExchangeDeclarations) -> float:
    code = exchange.codes["date_accuracy"].find(record.date_accuracy)
    return (code.reach or 0) if code else 0


def _pairs(life: _Life) -> Iterator[tuple[int, Asked]]:
    new_tags = [one for one in life if one[1].other_marks == _NO_TAG_YET]
    for at, _, _ in new_tags[1:]:
        yield at, ("tag_once", "other_marks", f"A tag was put on before, on {new_tags[0][2]}.")
    for (_, before, earlier), (at, record, day) in pairwise(life):
        if before.condition in DEAD and record.condition not in DEAD:
            yield at, ("after_death", "condition", f"The bird was dead on {earlier}.")
        if before.species_mentioned != record.species_mentioned:
            yield (
                at,
                (
                    "species_differs",
                    "species_mentioned",
                    f"Species {record.species_mentioned}, on {earlier} {before.species_mentioned}.",
                ),
            )
        sexes = {before.sex_mentioned, record.sex_mentioned} - {_UNKNOWN_SEX}
        if len(sexes) > 1:
            yield (
                at,
                (
                    "sex_differs",
                    "sex_mentioned",
                    f"Sex {record.sex_mentioned}, on {earlier} {before.sex_mentioned}.",
                ),
            )
        if day == earlier:
            yield at, ("same_day", "date", f"There are two records of ring {unpadded(record.ring)} on {day}.")
