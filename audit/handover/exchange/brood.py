"""Size of the brood and age in days of a nestling as codes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.exchange.bird import is_nestling

if TYPE_CHECKING:
    from audit.handover.exchange.handled import Handled
    from audit.handover.exchange.round import Round, Say

__all__ = ["NO_BROOD", "UNKNOWN_AGE", "brood_fields"]

#: What the three fields hold for a bird that is no nestling.
NO_BROOD = {"brood_size": "--", "pullus_age": "--", "pullus_age_accuracy": "-"}
#: What two fields hold where the age in days is not known.
UNKNOWN_AGE = {"pullus_age": "99", "pullus_age_accuracy": "9"}

_UNKNOWN_SIZE = "99"
#: From 51 on, a size of brood has another meaning; 99 is an age that is not known.
_MOST_YOUNG, _MOST_DAYS = 50, 98


def brood_fields(one: Handled, around: Round, say: Say) -> dict[str, str]:
    """Write size of brood, age in days and its accuracy."""
    if not is_nestling(one):
        return dict(NO_BROOD)
    return {"brood_size": _size(one, around, say), **_age(one, around, say)}


def _size(one: Handled, around: Round, say: Say) -> str:
    size = one.brood_size
    if size is None:
        size = around.young.get((one.box, one.day))
    if size is None:
        return _UNKNOWN_SIZE
    if not 0 < size <= _MOST_YOUNG:
        say(
            "brood_count",
            "brood_size",
            f"A brood of {size} with a live nestling cannot be written; it goes out as not known.",
        )
        return _UNKNOWN_SIZE
    return f"{size:02d}"


def _age(one: Handled, around: Round, say: Say) -> dict[str, str]:
    """Take the age from the day of hatching that was seen, else as estimated; never from the wing."""
    hatched = around.hatched.get(one.ring_key, set())
    if len(hatched) > 1:
        days = ", ".join(sorted(day.isoformat() for day in hatched))
        say("hatched_twice", "pullus_age", f"Ring {one.ring} is said to have hatched on {days}.")
        return dict(UNKNOWN_AGE)
    if hatched and one.day is not None:
        days_old: float = (one.day - next(iter(hatched))).days
        accuracy = around.exchange.code("hatched_seen")
    elif one.age_days is not None:
        days_old, accuracy = one.age_days, around.exchange.code("age_estimated")
    else:
        return dict(UNKNOWN_AGE)
    if not 0 <= days_old <= _MOST_DAYS:
        say("age_in_days", "pullus_age", f"An age of {days_old:g} days goes out as not known.")
        return dict(UNKNOWN_AGE)
    return {"pullus_age": f"{round(days_old):02d}", "pullus_age_accuracy": accuracy}
