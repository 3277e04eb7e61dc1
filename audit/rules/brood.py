"""Birds handled, brood sizes written, young counted and the size of the box must agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.rules.box_visits import box_visits_of, visit_counts_of, young_handled
from audit.rules.broods.disagreements import disagreements
from audit.rules.broods.growing import growing
from audit.rules.broods.other_species import other_species
from audit.rules.broods.room import full_boxes
from audit.rules.broods.strangers import strangers
from audit.rules.broods.visits import BroodVisits
from audit.rules.heeded import BOX_VISITS, together
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE", "check"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare what was handled, written and counted at each box on each day."""
    sheet = box_visits_of(case)
    if not case.season.has("handlings", "brood_size"):
        yield case.not_run("mixed", "There is no column for the brood size.")
    aged = case.season.has("handlings", "age")
    if not aged:
        yield case.not_run("more_handled", "Without age codes grown birds cannot be told from young.")
    counts = visit_counts_of(case)
    handled = young_handled(sheet) if aged else np.zeros(int(sheet.visit.max(initial=-1)) + 1, dtype=np.int64)
    seen = BroodVisits(case, sheet, counts, handled)
    yield from disagreements(seen)
    yield from other_species(seen)
    yield from full_boxes(seen)
    yield from growing(seen)
    yield from strangers(seen)


RULE = Rule(
    slug="brood",
    needs={"handlings": ("date", "box", "ring")},
    check=check,
    heeds=together(BOX_VISITS, {"boxes": ("box", "capacity")}),
)
