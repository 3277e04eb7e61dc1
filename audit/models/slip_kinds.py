"""Names of the slips by which one typed text can come from another."""

from __future__ import annotations

__all__ = ["CODE_KINDS", "KINDS", "ONE_SLIP", "PATTERNS"]

#: One movement of hand, eye or ear, in codes and in numbers.
PATTERNS: tuple[str, ...] = (
    "digit",
    "neighbours",
    "dropped",
    "extra",
    "jump",
    "twin",
    "jump_twin",
    "phonetic",
)

#: How one typed number can come from another. The last two need to be known from outside the number.
KINDS: tuple[str, ...] = (*PATTERNS, "two_edits", "tenfold", "kilograms", "unknown", "copied", "borrow")

#: How one typed code can come from another. The last two need the row above.
CODE_KINDS: tuple[str, ...] = (
    *PATTERNS,
    "two_edits",
    "look_alike",
    "zeros_lost",
    "rounded",
    "scientific",
    "unknown",
    "copied",
    "filled",
)

#: Kinds that are a single slip, so that what was meant can be listed.
ONE_SLIP: tuple[str, ...] = (*PATTERNS, "tenfold", "kilograms", "look_alike")
