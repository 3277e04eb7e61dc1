"""Slips of a cell that holds one of few words: a box, a species, a sex, a leg."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.strokes import pick

if TYPE_CHECKING:
    from audit.practice.hand import Hand, Typed

__all__ = ["near_miss", "other_box", "other_choice", "other_species"]

_UNKNOWN = "U"


def other_box(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Take another box of the round."""
    own = hand.sheet.text(i, field)
    return ((i, field, pick([box for box in hand.boxes if box != own], hand.rng)),)


def near_miss(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Type a sign too many or too few, so that no box has the label."""
    own = hand.sheet.text(i, field)
    wrong = [own[:k] + own[k + 1 :] for k in range(len(own))] + [
        own[: k + 1] + own[k:] for k in range(len(own))
    ]
    return ((i, field, pick([label for label in wrong if label and label not in hand.boxes], hand.rng)),)


def other_species(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Take another species."""
    own = hand.species.get(hand.sheet.text(i, field))
    others = [text for text, slug in hand.species.items() if slug != own]
    return ((i, field, pick(others, hand.rng)),) if own else ()


def other_choice(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Pick another of the few values that a column may hold, but for the one that says nothing is known."""
    known = [word for word in hand.choices.get(field, ()) if word != _UNKNOWN]
    own = hand.sheet.text(i, field)
    return ((i, field, pick([word for word in known if word != own], hand.rng)),) if own in known else ()
