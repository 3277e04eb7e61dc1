"""What is asked of the records of a season together: broods, boxes, and the two forms."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from audit.handover.exchange.bird import NESTLING
from audit.handover.exchange.bird_checks import bird_checks
from audit.handover.exchange.brood import NO_BROOD
from audit.handover.exchange.caution import Caution
from audit.handover.exchange.fate import DEAD
from audit.handover.exchange.place import NO_POINT, PLACE_UNKNOWN
from audit.handover.exchange.record_checks import record_checks
from audit.models.great_circle import distance_km
from audit.models.sexagesimal import unpack
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.handover.exchange.coding import Coded
    from audit.handover.exchange.record_checks import Asked
    from audit.handover.exchange.round import Round

__all__ = ["season_checks"]

_UNKNOWN = "99"
_METRES = 1000
_MISSING = {"place_missing": "place code", "coordinates_missing": "co-ordinates"}


def season_checks(coded: Sequence[Coded], around: Round) -> Iterator[Caution]:
    """Ask all questions to the records of a season, those to one record first."""
    exchange = around.exchange
    asked: list[tuple[int, Asked]] = []
    for at, one in enumerate(coded):
        asked += [(at, question) for question in record_checks(one.record, exchange)]
    records = [one.record for one in coded]
    in_nest = {
        species.euring: species.number("nestling.oldest_day") or 0
        for species in around.declared.species.values()
        if species.euring
    }
    asked += bird_checks(records, exchange, [one.past.before for one in coded], in_nest)
    asked += _broods(coded)
    asked += _boxes(coded, around)
    asked += _gaps(coded, around)
    for at, (check, field, said) in asked:
        yield Caution(check, coded[at].row.label, coded[at].record.reference, field, said)


def _broods(coded: Sequence[Coded]) -> Iterator[tuple[int, Asked]]:
    broods: dict[tuple[str, str, str], list[int]] = defaultdict(list)
    for at, one in enumerate(coded):
        if one.record.age_mentioned == NESTLING and one.row.box and one.record.condition not in DEAD:
            broods[one.row.box, one.record.date, one.record.species_mentioned].append(at)
    for (box, _, _), rows in broods.items():
        sizes = {coded[at].record.brood_size for at in rows} - {_UNKNOWN, NO_BROOD["brood_size"]}
        birds = len({coded[at].record.ring for at in rows})
        day = coded[rows[0]].row.day
        if len(sizes) > 1:
            told = " and ".join(sorted(sizes))
            yield rows[0], ("nest_mates", "brood_size", f"Nest mates of {box} on {day} have sizes {told}.")
        elif sizes and int(next(iter(sizes))) < birds:
            size = int(next(iter(sizes)))
            yield (
                rows[0],
                (
                    "brood_size",
                    "brood_size",
                    f"{birds} nestlings of {box} were in the hand on {day}, from a brood of {size}.",
                ),
            )


def _gaps(coded: Sequence[Coded], around: Round) -> Iterator[tuple[int, Asked]]:
    """Ask once for each box without place code or co-ordinates, where other boxes have them."""
    unknown = {"place_code": PLACE_UNKNOWN, "coordinates": NO_POINT}
    for (field, none), (check, what) in zip(unknown.items(), _MISSING.items(), strict=True):
        rows: dict[str, list[int]] = defaultdict(list)
        for at, one in enumerate(coded):
            if getattr(one.record, field) == none:
                rows[one.row.box].append(at)
        if sum(map(len, rows.values())) == len(coded):
            # nobody has declared any, which is told once
            continue
        for box, places in rows.items():
            if field == "coordinates" and box in around.points:
                # they are no place on earth, which is asked about by itself
                continue
            who = f"Box {box}" if box else "A record without a box"
            yield places[0], (check, field, f"{who} has no {what}: {counted(len(places), 'record')}.")


def _boxes(coded: Sequence[Coded], around: Round) -> Iterator[tuple[int, Asked]]:
    """Ask whether packed co-ordinates lie where the box lies; each pair once."""
    seen: set[tuple[str, str]] = set()
    for at, one in enumerate(coded):
        key = (one.row.box, one.record.coordinates)
        point = around.points.get(one.row.box)
        if key in seen or point is None:
            continue
        seen.add(key)
        if one.record.coordinates == NO_POINT:
            said = f"Box {one.row.box} lies at {point[0]:g}, {point[1]:g}: no such place."
            yield at, ("coordinates", "coordinates", said)
            continue
        away = float(
            distance_km(
                *point, *unpack(one.record.coordinates), float(around.exchange.choice("earth_radius_km"))
            )
        )
        if away * _METRES > float(around.exchange.choice("box_differs_m")):
            yield (
                at,
                (
                    "coordinates_box",
                    "coordinates",
                    f"The co-ordinates lie {away:.2f} km from box {one.row.box}.",
                ),
            )
