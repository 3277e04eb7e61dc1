"""How a bird was caught, what was done to it, and what became of it, as codes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.exchange.bird import is_nestling
from audit.handover.exchange.condition_words import CODES_OF_WORDS, words_that_fit

if TYPE_CHECKING:
    from audit.handover.exchange.handled import Handled
    from audit.handover.exchange.history import Past
    from audit.handover.exchange.round import Round, Say

__all__ = ["DEAD", "NOT_CAUGHT", "fate_fields"]

#: Codes of dead birds.
DEAD = frozenset("123")
#: Catching method and lures of a bird that was not caught.
NOT_CAUGHT = "-"

_UNKNOWN = "0"
_SURE = "0"


def fate_fields(one: Handled, past: Past, around: Round, say: Say) -> dict[str, str]:
    """Write manipulated, moved before, catching method, lures, condition and circumstances."""
    exchange = around.exchange
    condition = _condition(one, around, say)
    is_dead = condition in DEAD
    if is_dead:
        caught, lures = NOT_CAUGHT, NOT_CAUGHT
    else:
        caught = exchange.code("caught_nestling" if is_nestling(one) else "caught_full_grown")
        lures = exchange.code("lures")
    if is_nestling(one):
        boxes = {met.box for met in past.before if is_nestling(met) and met.box and one.box} - {one.box}
        if boxes:
            say(
                "moved",
                "moved_before",
                f"The nestling was met in {', '.join(sorted(boxes))} before and is in {one.box} now. If "
                f"people moved it, the code is another.",
            )
    return {
        "manipulated": exchange.code("handled_with_tag" if one.tag_key else "handled"),
        "moved_before": exchange.code("moved"),
        "catching_method": caught,
        "lures": lures,
        "condition": condition,
        "circumstances": exchange.code("circumstances_dead" if is_dead else "circumstances_alive"),
        "presumed": _SURE,
    }


def _condition(one: Handled, around: Round, say: Say) -> str:
    words = words_that_fit(one.condition, around.exchange)
    if words:
        return CODES_OF_WORDS[words]
    # a number may be a code of death, or a score of the body
    if one.condition.strip(" .!") in DEAD or around.death.search(one.condition):
        say(
            "condition_text",
            "condition",
            f"The condition '{one.condition}' may mean a dead bird; it goes out as not known.",
        )
        return _UNKNOWN
    if around.death.search(one.remarks):
        say(
            "condition_text",
            "condition",
            f"The remark '{one.remarks}' speaks of death; the bird goes out as alive and released.",
        )
    return around.exchange.code("condition_alive")
