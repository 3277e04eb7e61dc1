"""What to look for in the field notebook, by column."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["look_for"]

_MASS = "gross, bag and net of this line, the units, and the bag on the lines beside it"
_WING = "the wing of this line, its unit, and whether the columns beside it were exchanged"
_LEG = "the leg as written on this line, not as the round usually has it"
_HEAD = "the head of the page and the first line on it, not the typed sheet"

_IN_A_VISIT: Mapping[str, str] = {
    "date": f"the day at {_HEAD}; the line may stand on the page of another day",
    "time": "the time on this line, and those on the lines above and below",
    "box": f"the box at {_HEAD}; the line may stand on the page of another box",
    "species": "the species on this line, and on the lines of the same brood",
    "ring": "the ring number, sign by sign, and those on the lines above and below",
    "ring_leg": _LEG,
    "tag": "the tag number, digit by digit, a label stuck beside it, and the lines above and below",
    "tag_leg": _LEG,
    "age": "the age code as written, and what is said of the bird",
    "event": "whether the ring was put on at this visit or was on the bird already",
    "gross_g": _MASS,
    "bag_g": _MASS,
    "net_g": _MASS,
    "wing_mm": _WING,
    "age_days": "the age in days as estimated in the field, and any hatching day written down",
    "hatch_date": "the day of hatching, and whether it was seen or worked out",
    "brood_size": "the number of live young at this visit, and how many lines the brood has",
    "eggs": "the count of eggs at this visit",
    "alive": "the count of live young at this visit, and how many lines the brood has",
    "dead": "the count of dead young at this visit",
    "sex": "the sex as written, and how it was told",
    "ringer": "the initials at the head of the page",
    "scribe": "the initials at the head of the page, and the hand that wrote it",
}
_IN_A_LIST: Mapping[str, str] = {
    "ring": "the ring number on the list, sign by sign",
    "tag": "the tag number on the list or on its label, digit by digit",
    "prefix": "the letters and numbers on the envelope of the string, or on the list as issued",
    "first": "the first ring on the envelope of the string, or on the list as issued",
    "last": "the last ring on the envelope of the string, or on the list as issued",
    "fate": "what was written about the ring, and on which day",
}
_ANY = "the entry for this column, sign by sign"


def look_for(field: str, *, in_a_visit: bool) -> str:
    """Say what to look for.

    Parameters
    ----------
    field : str
        Canonical column, or the own header of a column that means none.
    in_a_visit : bool
        Whether the row belongs to a visit to a box; else it stands in a list, such as that of the rings.

    Examples
    --------
    >>> look_for("eggs", in_a_visit=True)
    'the count of eggs at this visit'
    """
    return (_IN_A_VISIT if in_a_visit else _IN_A_LIST).get(field, _ANY)
