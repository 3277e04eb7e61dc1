"""Rules: one file, one question. `RULES` is the order in which they are asked."""

from __future__ import annotations

from audit.rules import (
    boxes,
    brood,
    cleaning,
    dates,
    declared,
    digits,
    earlier,
    growth,
    history,
    reader,
    reading,
    ring_leg,
    ring_order,
    ring_series,
    ring_stock,
    ring_twice,
    ringer,
    slid_wings,
    slides,
    tag_code,
    tag_damage,
    tag_leg,
    tag_stock,
    tag_twice,
    tare,
    times,
    weekday,
)
from audit.rules.rule import Rule

__all__ = ["RULES", "Rule"]

#: The order matters: a cell that one rule blames is no witness for the rules after it.
RULES: tuple[Rule, ...] = (
    reading.RULE,
    declared.RULE,
    slides.RULE,
    boxes.RULE,
    dates.RULE,
    times.RULE,
    ring_series.RULE,
    earlier.RULE,
    ring_twice.RULE,
    ring_order.RULE,
    ring_stock.RULE,
    ringer.RULE,
    ring_leg.RULE,
    tag_code.RULE,
    tag_damage.RULE,
    tag_twice.RULE,
    reader.RULE,
    tag_leg.RULE,
    slid_wings.RULE,
    tag_stock.RULE,
    tare.RULE,
    growth.RULE,
    history.RULE,
    brood.RULE,
    cleaning.RULE,
    weekday.RULE,
    digits.RULE,
)
