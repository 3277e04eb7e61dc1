"""What is done for training: practice sheets, drills, repeated measures."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from audit.call import DRILLS, MARKED_DRILLS
from audit.commands.exit_code import FOUND_NOTHING
from audit.commands.printed import say
from audit.refusal import Refusal

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from audit.remeasuring import Measuring, MeasuringSheet

__all__ = ["practise_sheets", "tell_measuring"]


def tell_measuring(asked: argparse.Namespace) -> int:
    """Tell how well repeated measures agree."""
    from audit.remeasuring import measuring, measuring_sheet

    if (asked.sheet is None) == (asked.blank is None):
        raise Refusal(
            "No sheet is named." if asked.sheet is None else "A sheet is named, and a blank one asked for.",
            where="nestproof measuring",
            cure="Name the sheet to be read, or ask for a blank one with --blank AB,MK; one of both.",
        )
    told: Measuring | MeasuringSheet
    if asked.blank is not None:
        told = measuring_sheet(
            asked.blank,
            asked.birds,
            repeats=asked.repeats,
            measures=asked.measures,
            seed=asked.seed,
            schemas=asked.schemas,
        )
        written = told.write(asked.out, paper=asked.paper)
    else:
        told = measuring(
            asked.sheet, trainer=asked.trainer, across_days=asked.across_days, schemas=asked.schemas
        )
        written = told.write(asked.out)
    say("\n".join([repr(told), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def practise_sheets(asked: argparse.Namespace) -> int:
    """Practise on an invented sheet or drill."""
    from audit.drilling import drill_of_answers
    from audit.practice.exercise.progress import PROGRESS
    from audit.practising import mark_practice, practice_overview, practise

    progress = asked.progress or asked.out / PROGRESS
    if asked.overview:
        view = practice_overview(progress, schemas=asked.schemas)
        told, written = repr(view), view.write(asked.out)
    elif asked.marked is not None:
        drill = asked.drill or drill_of_answers(asked.marked, schemas=asked.schemas)
        mark = mark_practice
        if drill in MARKED_DRILLS:
            module, verb = MARKED_DRILLS[drill]
            mark = getattr(import_module(module), verb)
        marked = mark(asked.marked, progress, schemas=asked.schemas)
        told, written = repr(marked), marked.write(asked.out, [asked.marked])
    elif asked.drill is not None:
        begun = _begin_drill(asked, progress)
        told, written = repr(begun), begun.write(asked.out, paper=asked.paper)
    else:
        practice = practise(
            asked.trainee,
            species=asked.species or "barn_owl",
            level=asked.level,
            seed=asked.seed,
            progress=progress,
            schemas=asked.schemas,
        )
        told, written = repr(practice), practice.write(asked.out, paper=asked.paper)
    say("\n".join([told, "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def _begin_drill(asked: argparse.Namespace, progress: Path) -> Any:  # noqa: ANN401 - a round of any drill
    """Begin a drill with what was wished for; what it does not take is refused, not dropped."""
    module, verb, takes = DRILLS[asked.drill]
    wishes = {name: getattr(asked, name) for name in ("species", "level", "seed")}
    wishes = {name: wish for name, wish in wishes.items() if wish is not None}
    odd = [name for name in wishes if name not in takes]
    if odd:
        raise Refusal(
            f"The {asked.drill} drill has no {odd[0]}.",
            where=f"--{odd[0]}",
            cure=f"Leave it out; the drill takes {', '.join(f'--{name}' for name in takes)}.",
        )
    return getattr(import_module(module), verb)(
        asked.trainee, progress=progress, schemas=asked.schemas, **wishes
    )
