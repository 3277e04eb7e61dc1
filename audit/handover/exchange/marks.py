"""Ring and tag of a bird as codes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.exchange.encounter import NAMES
from audit.handover.exchange.ring_padding import padded

if TYPE_CHECKING:
    from audit.handover.exchange.handled import Handled
    from audit.handover.exchange.history import Past
    from audit.handover.exchange.round import Round, Say

__all__ = ["is_replaced", "mark_fields", "old_ring"]

_RING = NAMES.index("ring")
#: Codes whose meaning decides what is written; what they mean is declared in ``schemas/exchange.yaml``.
_RING_THERE, _RING_REPLACED = "4", "5"
_NO_MARK, _TAG_PUT_ON, _TAG_THERE, _TAG_REPLACED = "ZZ", "GB", "GC", "GE"


def mark_fields(one: Handled, past: Past, around: Round, say: Say) -> dict[str, str]:
    """Write the fields on ring and tag.

    Raises
    ------
    audit.refusal.Refusal
        The ring has no place in the code.
    """
    exchange = around.exchange
    return {
        "scheme": around.sender.scheme,
        "method": exchange.code("method"),
        "ring": padded(one.ring, exchange.fields[_RING].width),
        "ring_verified": exchange.code("ring_verified"),
        "metal_ring": _metal_ring(one, past, around, say),
        "other_marks": _other_marks(one, past, around, say),
    }


def is_replaced(one: Handled, past: Past, around: Round) -> bool:
    """Whether the bird got this ring in place of another, as the remark says, or as its tag tells."""
    if past.is_ringing:
        return bool(around.replaced.search(one.remarks))
    return not past.before and bool(old_ring(one, around))


def old_ring(one: Handled, around: Round) -> str:
    """Name the ring that a bird bore before, as its tag tells; empty where nothing does."""
    rings = around.lives.rings_of_tag.get(one.tag_key, ()) if one.tag_key else ()
    at = rings.index(one.ring_key) if one.ring_key in rings else 0
    return rings[at - 1] if at else ""


def _metal_ring(one: Handled, past: Past, around: Round, say: Say) -> str:
    if is_replaced(one, past, around):
        by = "remark says" if past.is_ringing else "tag tells"
        old = old_ring(one, around)
        told = f"the old one is {old}" if old else "the old number is not known"
        say(
            "ring_replaced",
            "metal_ring",
            f"The {by} that the bird got another ring; {told}. Ask the scheme how it wants both numbers.",
        )
        return _RING_REPLACED
    if not past.is_ringing:
        if not past.before and around.replaced.search(one.remarks):
            say(
                "ring_replaced",
                "metal_ring",
                f"The remark '{one.remarks}' may mean that the bird got ring {one.ring} that day; it is "
                f"written as there already, as the event says.",
            )
        return _RING_THERE
    if not past.event_told:
        say(
            "event_not_told",
            "metal_ring",
            f"Nothing says whether ring {one.ring} was put on that day; it is written as put on, since it "
            f"was not met before.",
        )
    return around.exchange.code("ring_put_on")


def _other_marks(one: Handled, past: Past, around: Round, say: Say) -> str:
    borne = past.tag_before
    if not one.tag_key:
        if borne:
            day = next(met.day for met in reversed(past.before) if met.tag_key)
            say(
                "tag_not_told",
                "other_marks",
                f"The bird bore a tag on {day}, and none is written that day: lost, or not looked for?",
            )
        return _NO_MARK
    others = [ring for ring in around.lives.rings_of_tag.get(one.tag_key, ()) if ring != one.ring_key]
    if is_replaced(one, past, around) and old_ring(one, around):
        # the bird bore it under its old ring
        return _TAG_THERE
    if others:
        say("tag_once", "other_marks", f"Tag {one.tag} was met on ring {', '.join(others)} as well.")
    if borne:
        return _TAG_THERE if borne == one.tag_key else _TAG_REPLACED
    if past.is_known_from_ringing:
        return _TAG_PUT_ON
    if around.has_tag_stock and one.tag_key in around.tags_in_stock:
        # it was in hand this season, so somebody put it on
        return _TAG_PUT_ON
    say(
        "tag_unknown_before",
        "other_marks",
        f"Nothing is known of the bird before; tag {one.tag} is written as there already. Give the earlier "
        f"seasons to know.",
    )
    return _TAG_THERE
