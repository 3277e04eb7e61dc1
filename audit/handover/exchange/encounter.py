"""One record of the exchange code: a bird met once."""

from __future__ import annotations

from dataclasses import dataclass, fields
from operator import attrgetter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["NAMES", "Encounter", "texts_in"]


@dataclass(frozen=True, slots=True)
class Encounter:
    """One record; every field holds the text as it is written, in the order of the record.

    The form of 2020 writes a position in ``latitude`` and ``longitude``, the older ones in ``coordinates``.
    A record made here has both, one that was read has what stood in the line. What each field holds is
    declared in ``schemas/exchange.yaml``.
    """

    scheme: str
    method: str
    ring: str
    ring_verified: str
    metal_ring: str
    other_marks: str
    species_mentioned: str
    species_concluded: str
    manipulated: str
    moved_before: str
    catching_method: str
    lures: str
    sex_mentioned: str
    sex_concluded: str
    age_mentioned: str
    age_concluded: str
    status: str
    brood_size: str
    pullus_age: str
    pullus_age_accuracy: str
    date: str
    date_accuracy: str
    time: str
    place_code: str
    coordinates: str
    coordinates_accuracy: str
    condition: str
    circumstances: str
    presumed: str
    code_identifier: str
    distance: str
    direction: str
    elapsed: str
    wing: str = ""
    third_primary: str = ""
    wing_point: str = ""
    mass: str = ""
    moult: str = ""
    plumage: str = ""
    hind_claw: str = ""
    bill: str = ""
    bill_method: str = ""
    total_head: str = ""
    tarsus: str = ""
    tarsus_method: str = ""
    tail: str = ""
    tail_difference: str = ""
    fat: str = ""
    fat_method: str = ""
    pectoral_muscle: str = ""
    brood_patch: str = ""
    primary_score: str = ""
    primary_moult: str = ""
    old_coverts: str = ""
    alula: str = ""
    carpal_covert: str = ""
    sexing_method: str = ""
    place_name: str = ""
    remarks: str = ""
    reference: str = ""
    latitude: str = ""
    longitude: str = ""
    current_place_code: str = ""
    more_marks: str = ""


#: Names of the fields, in the order of a record.
NAMES = tuple(field.name for field in fields(Encounter))

#: Gives the texts of a record, in the order of `NAMES`.
texts_in: Callable[[Encounter], tuple[str, ...]] = attrgetter(*NAMES)
