"""The hand that types, as the declarations describe it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.models.keyboard import keys_beside
from audit.models.misstruck import Hand

if TYPE_CHECKING:
    from audit.declarations import Declarations

__all__ = ["hand_of"]


def hand_of(declared: Declarations) -> Hand:
    """Make the hand that slips on a keyboard."""
    slips = declared.slips

    def setting(name: str) -> float:
        return float(declared.settings[f"explain.unread.{name}"].value)

    alike: dict[str, str] = {}
    for pair in slips.limits["letters.look_alikes"].value:
        for one, other in ((pair[0], pair[1]), (pair[1], pair[0])):
            alike[one.casefold()] = alike.get(one.casefold(), "") + other.casefold()
    return Hand(
        shares=slips.group("codes"),
        beside=keys_beside(slips.limits["letters.beside"].value),
        alike=alike,
        by_key=setting("by_key"),
        by_look=setting("by_look"),
        stray=setting("stray"),
        turned=setting("turned"),
        signs=int(setting("signs")),
    )
