"""Times that may have been meant where another was typed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.models.time_of_day import DAY, clock
from audit.rules.meant_times import MeantTimes
from audit.rules.typing_hand import hand_of

if TYPE_CHECKING:
    from audit.declarations import Declarations


def test_every_other_time_of_the_day_is_listed_once_slips_of_one_sign_first(declared: Declarations) -> None:
    meant = MeantTimes(hand_of(declared))
    typed = 9 * 60 + 30
    minutes, chance = meant.instead_of(typed)
    assert sorted([*minutes.tolist(), typed]) == list(range(DAY))
    near = {clock(minute) for minute in minutes[: len(chance)].tolist()}
    # of five signs as many may be wrong as there are digits; two beside each other may be exchanged
    assert {"09:31", "19:30", "08:30", "09:03"} <= near
    assert not near & {"10:31", "21:45"}
    assert (chance > 0).all()
    assert meant.instead_of(typed) is meant.instead_of(typed)
