"""What a trainer sees: each trainee and kind of slip, with how sure that is and whether it gets better."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from audit.models.interval import Share, wilson
from audit.practice.exercise.schedule import is_needless, next_level, standings
from audit.review.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.practice.exercise.drill_record import DrillRecord
    from audit.practice.exercise.levels import Level
    from audit.practice.exercise.progress import Progress
    from audit.practice.exercise.sheet_record import SheetRecord

    DrillWords = Callable[[Sequence[DrillRecord], Declarations], str]

__all__ = ["KindLine", "Overview", "TraineeView", "overview_of"]

Trend = Literal["better", "worse", "no clear change", "too few to tell"]


@dataclass(frozen=True, slots=True)
class KindLine:
    """One trainee and one kind of slip.

    Attributes
    ----------
    kind, title : str
    sheets : int
        Sheets that held it.
    found, mended : Share
        Of its slips, with intervals.
    asked : int
        Slips that were rightly asked about.
    trend : str
        Whether the later half of the sheets was better.
    due : bool
        Whether it comes back on the next sheet.
    """

    kind: str
    title: str
    sheets: int
    found: Share
    mended: Share
    asked: int
    trend: Trend
    due: bool


@dataclass(frozen=True, slots=True)
class TraineeView:
    """One trainee.

    Attributes
    ----------
    who : str
    sheets : int
    kinds : tuple of KindLine
        In the order of the levels.
    blamed : int
        Innocent cells changed.
    innocent : Share
        Sheets on which none was changed, of all.
    advice : str
        What to practise next, in a sentence.
    drills : tuple of str
        How each drill went, a line each.
    """

    who: str
    sheets: int
    kinds: tuple[KindLine, ...]
    blamed: int
    innocent: Share
    advice: str
    drills: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Overview:
    """All trainees of a file of progress.

    Attributes
    ----------
    trainees : tuple of TraineeView
        In alphabetical order.
    notices : tuple of str
        Lines that do not count, and sheets that were marked again.
    """

    trainees: tuple[TraineeView, ...]
    notices: tuple[str, ...] = ()


def overview_of(
    progress: Progress,
    levels: Sequence[Level],
    declared: Declarations,
    drills: Mapping[str, DrillWords] | None = None,
) -> Overview:
    """Lay out what all trainees have done.

    Parameters
    ----------
    progress : Progress
    levels : sequence of Level
        All declared levels.
    drills : mapping of str to callable, optional
        Drill -> what is said in a line of its rounds.
    """
    notices = [f"{damaged} It stays in the file." for damaged in progress.damaged]
    if progress.again:
        number = len(progress.again)
        verb = "was" if number == 1 else "were"
        notices.append(
            f"{counted(number, 'sheet')} {verb} marked again with other answers; only the first time counts."
        )
    views = tuple(
        replace(
            _view(who, progress.of(who), levels, declared),
            drills=tuple(
                words(rounds, declared)
                for drill, words in (drills or {}).items()
                if (rounds := progress.drills_of(who, drill))
            ),
        )
        for who in progress.trainees
    )
    return Overview(views, tuple(notices))


def _view(
    who: str, records: Sequence[SheetRecord], levels: Sequence[Level], declared: Declarations
) -> TraineeView:
    confidence = float(declared.settings["practice.sheets.confidence"].value)
    standing = standings(records, levels, declared)
    lines = []
    for level in levels:
        met = [one for record in records for one in record.kinds if one.kind == level.slug]
        if met:
            slips = sum(one.slips for one in met)
            lines.append(
                KindLine(
                    kind=level.slug,
                    title=level.title,
                    sheets=len(met),
                    found=wilson(sum(one.found for one in met), slips, confidence),
                    mended=wilson(sum(one.mended for one in met), slips, confidence),
                    asked=sum(one.asked for one in met),
                    trend=_trend([(one.mended, one.slips) for one in met], confidence),
                    due=standing[level.slug].is_due,
                )
            )
    clean = sum(not record.blamed for record in records)
    return TraineeView(
        who=who,
        sheets=len(records),
        kinds=tuple(lines),
        blamed=sum(record.blamed for record in records),
        innocent=wilson(clean, len(records), confidence),
        advice=advice(records, levels, declared),
    )


def _trend(met: Sequence[tuple[int, int]], confidence: float) -> Trend:
    """Compare the later half of the sheets with the earlier one: only intervals that keep apart tell."""
    half = len(met) // 2
    if not half:
        return "too few to tell"
    before, after = (
        wilson(sum(mended for mended, _ in part), sum(slips for _, slips in part), confidence)
        for part in (met[:half], met[half:])
    )
    if after.low > before.high:
        return "better"
    return "worse" if after.high < before.low else "no clear change"


def advice(records: Sequence[SheetRecord], levels: Sequence[Level], declared: Declarations) -> str:
    """Say what to practise next, in a sentence or two."""
    standing = standings(records, levels, declared)
    title = {level.slug: level.title.lower() for level in levels}
    level = next_level(standing, levels, declared)
    missed = [title[one.kind] for one in standing.values() if one.slips and not one.step]
    due = [title[one.kind] for one in standing.values() if one.is_due and one.step]
    told = f"Next: level {level.number}, {level.title.lower()}."
    if missed:
        told += f" Missed last time, so it comes back at once: {listed(missed)}."
    if due:
        told += f" Due again: {listed(due)}."
    if records and is_needless(records[-1], declared):
        told += (
            " On the last sheet so many right cells were marked that no kind of slip went up a step: mark a "
            "cell only where something on the page speaks against it."
        )
    elif records and records[-1].blamed:
        told += " On the last sheet innocent cells were changed: ask of each mark what speaks for it."
    return told
