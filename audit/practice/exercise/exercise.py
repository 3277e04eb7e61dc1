"""A practice sheet: an invented page with slips in it, its key, and what the audit says of it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.checked import check_closely
from audit.intake import read
from audit.practice.exercise.doubts import hide, with_remarks
from audit.practice.exercise.levels import HIDDEN, level_named, levels_of
from audit.practice.exercise.season_page import PageWish, season_page
from audit.practice.kinds import ways_of
from audit.practice.planting import Planter
from audit.refusal import Refusal
from audit.rules import RULES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding, Report
    from audit.practice.exercise.levels import Level
    from audit.practice.exercise.recipe import Recipe
    from audit.practice.exercise.season_page import Tables
    from audit.practice.key import Change, Slip
    from audit.season import Season

    Place = tuple[str, str]

__all__ = ["Exercise", "Planted", "exercise_from", "make_exercise"]

_DIGEST = 6


@dataclass(frozen=True, slots=True)
class Planted:
    """A slip on the sheet, and the kind it is practised under."""

    kind: str
    slip: Slip

    @property
    def is_hidden(self) -> bool:
        """Whether nothing on the sheet tells that it is there."""
        return self.kind == HIDDEN


@dataclass(frozen=True, slots=True)
class Exercise:
    """A practice sheet with all that is known of it.

    Attributes
    ----------
    recipe : Recipe
    level : Level
    season : Season
        As the trainee sees it.
    clean : Season
        As it was meant.
    planted : tuple of Planted
        In the order of planting.
    doubtful : tuple of (label, column)
        Cells of which a remark says that they were hard to read, right or wrong.
    report : Report
        What the audit says of the sheet.
    asked_below : float
        Where what was meant is less likely than this, to ask is right.
    """

    recipe: Recipe
    level: Level
    season: Season
    clean: Season
    planted: tuple[Planted, ...]
    doubtful: tuple[Place, ...]
    report: Report
    asked_below: float

    @property
    def name(self) -> str:
        """How files of the sheet begin."""
        return self.recipe.name

    @property
    def labels(self) -> list[str]:
        """Row labels, top down."""
        return [str(label) for label in self.season.frame("handlings").index]

    @property
    def fields(self) -> list[str]:
        """Columns, from left to right."""
        return [str(field) for field in self.season.tables["handlings"].typed.columns]

    @property
    def changes(self) -> dict[Place, Change]:
        """Every cell with a slip in it."""
        return {change.place: change for one in self.planted for change in one.slip.changes}

    def typed(self, place: Place) -> str:
        """Text that stands in a cell."""
        return str(self.season.tables["handlings"].typed.loc[place])

    def meant(self, place: Place) -> str:
        """Text that should stand in a cell."""
        return str(self.clean.tables["handlings"].typed.loc[place])

    def place(self, line: int, field: str) -> Place:
        """Row label and column of a cell, by the number of its line on the sheet, counted from 1."""
        return self.labels[line - 1], field

    def line(self, label: str) -> int:
        """Give the number of a line on the sheet, counted from 1."""
        return self.labels.index(label) + 1

    def said(self, places: Sequence[Place]) -> tuple[Finding, ...]:
        """Give the errors and suspects that blame any of these cells."""
        wanted = set(places)
        return tuple(finding for finding in self.report.above_notes if wanted & _blamed([finding]))

    def is_told(self, place: Place) -> bool:
        """Whether the sheet tells what was meant in a cell with a slip, by what the audit makes of it."""
        change = self.changes[place]
        chances = [
            chance
            for finding in self.said([place])
            for suspect in finding.suspects
            if (suspect.cell.label, suspect.cell.field) == place
            for text, chance in ((suspect.suggested, suspect.p_fix or 0.0), *suspect.others)
            if text == change.meant
        ]
        return max(chances, default=0.0) >= self.asked_below


def make_exercise(recipe: Recipe, declared: Declarations) -> Exercise:
    """Make a practice sheet.

    Parameters
    ----------
    recipe : Recipe
        Its turn and digest are not looked at: turns are tried until the audit sees each slip as it is meant,
        blames no innocent cell, and sees nothing of what shall not be seen. Where none is so with all of its
        slips, the sheet holds the first one only.

    Raises
    ------
    audit.refusal.Refusal
        No page of this species can hold these slips, or there is no such level or species.
    """
    told_until = int(declared.settings["practice.sheets.told_until"].value)
    tries = int(declared.settings["practice.sheets.tries"].value)
    # a page that has no room for several slips may have room for one
    for kinds in dict.fromkeys((recipe.kinds, recipe.kinds[:1])):
        for turn in range(tries):
            tried = replace(recipe, kinds=kinds, turn=turn, digest="")
            exercise = _exercise(tried, declared)
            if exercise is not None and _is_fair(exercise, told=exercise.level.number <= told_until):
                return replace(exercise, recipe=replace(tried, digest=_digest(exercise.season)))
    raise Refusal(
        "No page could be made with these slips in it.",
        where=f"level {recipe.level}, species {recipe.species}, seed {recipe.seed}",
        cure="Name another seed, another level or another species.",
    )


def exercise_from(recipe: Recipe, declared: Declarations) -> Exercise:
    """Make a practice sheet again, as it was.

    Raises
    ------
    audit.refusal.Refusal
        It comes out otherwise: other declarations, or another version of the program.
    """
    exercise = _exercise(recipe, declared)
    if exercise is None or _digest(exercise.season) != recipe.digest:
        raise Refusal(
            "This practice sheet cannot be made again as it was, so it cannot be marked.",
            where=recipe.name,
            cure="Mark it with the version and the declarations (--schemas) that it was made with, or by "
            "hand with its key.",
        )
    return exercise


def _exercise(recipe: Recipe, declared: Declarations) -> Exercise | None:
    """Make the page of one turn; None where the slips find no room on it."""
    level = level_named(levels_of(declared), recipe.level)
    rng = np.random.default_rng([recipe.seed, recipe.turn, level.number])
    wish = PageWish(
        broods=level.broods,
        visits=level.visits,
        columns=level.columns,
        reader="reader" in level.aids,
        strings="strings" in level.aids,
    )
    meant = season_page(recipe.species, declared, rng, wish)
    clean = _read(meant, declared, recipe.name)
    planted = _plant(clean, recipe, declared, rng, level)
    if planted is None:
        return None
    # rows of frames are labelled from 2 on, since a header stands above them
    rows = {str(label): i for i, label in enumerate(clean.frame("handlings").index)}
    typed = [dict(row) for row in meant["handlings"]]
    for one in planted:
        for change in one.slip.changes:
            typed[rows[change.label]][change.field] = change.typed
    hidden = [one.slip.changes[0].place for one in planted if one.is_hidden]
    doubtful = hide(hidden, list(rows), level.columns, rng)
    season = _read({**meant, "handlings": with_remarks(typed, rows, doubtful)}, declared, recipe.name)
    clean = _read(
        {**meant, "handlings": with_remarks(meant["handlings"], rows, doubtful)}, declared, recipe.name
    )
    return Exercise(
        recipe=recipe,
        level=level,
        season=season,
        clean=clean,
        planted=planted,
        doubtful=doubtful,
        report=check_closely(season, declared, RULES).report,
        asked_below=float(declared.settings["practice.sheets.ask_below"].value),
    )


def _plant(
    clean: Season, recipe: Recipe, declared: Declarations, rng: np.random.Generator, level: Level
) -> tuple[Planted, ...] | None:
    apart = int(declared.settings["practice.sheets.apart"].value)
    alone = len(recipe.kinds) <= level.broods
    planter = Planter(clean, declared, rng, apart, alone=alone, tilted=True)
    levels = levels_of(declared)
    planted = []
    for kind in recipe.kinds:
        ways = [way for way in ways_of(level_named(levels, kind).ways) if planter.can_hold(way)]
        # a page without wings holds other slips of the same kind
        slips = (planter.add(ways[int(i)]) for i in rng.permutation(len(ways)))
        slip = next((slip for slip in slips if slip is not None), None)
        if slip is None:
            return None
        planted.append(Planted(kind, slip))
    return tuple(planted)


def _is_fair(exercise: Exercise, *, told: bool) -> bool:
    blamed = _blamed(exercise.report.above_notes)
    hidden = {change.place for one in exercise.planted if one.is_hidden for change in one.slip.changes}
    seen = all(
        blamed.intersection(change.place for change in one.slip.changes)
        for one in exercise.planted
        if not one.is_hidden
    )
    fair = seen and blamed <= exercise.changes.keys() - hidden
    return fair and (not told or all(exercise.is_told(place) for place in exercise.changes))


def _blamed(findings: Sequence[Finding]) -> set[Place]:
    return {(one.cell.label, one.cell.field) for finding in findings for one in finding.suspects}


def _read(tables: Tables, declared: Declarations, name: str) -> Season:
    frames = {table: pd.DataFrame(rows) for table, rows in tables.items()}
    return replace(read(frames, declared), name=name)


def _digest(season: Season) -> str:
    table = season.tables["handlings"].typed
    texts = "\x1f".join(str(text) for column in table.columns for text in (column, *table[column]))
    return hashlib.blake2b(texts.encode(), digest_size=_DIGEST).hexdigest()
