"""Handlings kept on one sheet for each box, with the box as the name of the sheet."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from audit.intake.headers import fold
from audit.intake.sheet_plan import plan_of
from audit.intake.wording import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.intake.knowledge import Knowledge
    from audit.intake.sheet_plan import SheetPlan
    from audit.intake.sheet_trial import SheetTrial

__all__ = ["named_by_box"]

_MAIN, _BOX = "handlings", "box"
_FIGURES = re.compile(r"[0-9]+")


def named_by_box(
    plans: Sequence[SheetPlan], trials: Sequence[SheetTrial | None], known: Knowledge
) -> list[SheetPlan]:
    """Take the names of sheets that lack nothing but the box for their boxes, where that is what they are.

    They are where all of them have the same headers and are named by one pattern, such as SL-01 and SL-12, or
    all stand in the table of boxes; sheets that a program or a person numbers, such as Sheet 1 or Week 2,
    are not.

    Parameters
    ----------
    plans : sequence of SheetPlan
        Of all sheets of a file.
    trials : sequence of SheetTrial or None
        What each of them was tried as.
    """
    lacking = [
        number
        for number, (plan, trial) in enumerate(zip(plans, trials, strict=True))
        if plan.table == _MAIN and trial is not None and trial.missing == (_BOX,) and not trial.clashes
    ]
    names = [plans[number].sheet.name.strip() for number in lacking]
    if not names or not _alike([trials[number] for number in lacking]):
        return list(plans)
    if not (set(map(fold, names)) <= _listed(plans) or _of_one_pattern(names, known)):
        return list(plans)
    found = list(plans)
    for number in lacking:
        trial = trials[number]
        if trial is not None:
            found[number] = replace(
                plan_of(plans[number].sheet, replace(trial, missing=()), known),
                box=names[lacking.index(number)],
            )
    first = found[lacking[0]]
    said = f"{counted(len(names), 'sheet has', 'sheets have')} no column for the box and"
    told = f"{said} the names of boxes, such as '{names[0]}': the name of each was read as its box."
    found[lacking[0]] = replace(first, notices=(told, *first.notices))
    return found


def _alike(trials: Sequence[SheetTrial | None]) -> bool:
    """Whether all sheets have the same columns."""
    return len({tuple(sorted(claim.field for claim in trial.claims)) for trial in trials if trial}) == 1


def _listed(plans: Sequence[SheetPlan]) -> set[str]:
    """Boxes that stand in the table of boxes."""
    return {
        fold(plan.sheet.rows[i][claim.head.index].text)
        for plan in plans
        if plan.table == "boxes" and plan.readable
        for claim in plan.claims
        if claim.field == _BOX
        for i in plan.rows
        if claim.head.index < len(plan.sheet.rows[i])
    }


def _of_one_pattern(names: Sequence[str], known: Knowledge) -> bool:
    """Whether names differ in one number alone, which counts boxes and not sheets, days or years."""
    patterns = {_FIGURES.sub("0", fold(name)) for name in names}
    if len(names) == 1 or len(patterns) != 1 or not all(_FIGURES.search(name) for name in names):
        return False
    letters = re.sub(r"[\W\d_]+", "", patterns.pop())
    settings = known.declared.settings
    if letters in {fold(str(word)) for word in settings["reading.box_sheets.not_boxes"].value}:
        return False
    year = int(settings["reading.box_sheets.years_from"].value)
    return bool(letters) or max(int(_FIGURES.findall(name)[0]) for name in names) < year
