"""Rules: one file, one question. `RULES` is the order in which they are asked."""

from __future__ import annotations

from audit.rules import (
    declared,
    tare,
)
from audit.rules.rule import Rule

__all__ = ["RULES", "Rule"]

#: The order matters: a cell that one rule blames is no witness for the rules after it.
RULES: tuple[Rule, ...] = (
    declared.RULE,
    tare.RULE,
)
