"""One trial: a season with slips, audited, and every slip and every blamed cell judged."""

from __future__ import annotations

import re
import time
import zlib
from dataclasses import dataclass
from functools import cache
from math import gcd
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from benchmarks.outliers import measured_cells, plant_outliers
from benchmarks.planting import apply, plant
from benchmarks.scoring import Blame, fate_of, judge_cells
from benchmarks.seasons import VARIANTS, Made, first_season, other_season
from benchmarks.visibility import Witnesses
from robustness.other_rounds import TEAMS

from audit.checking import check, read_season
from audit.declarations import load_declarations
from audit.refusal import Refusal
from audit.rules.plain import plain_text
from audit.rules.round import FAULT

if TYPE_CHECKING:
    from benchmarks.planting import Slip
    from benchmarks.scoring import BlamedCell

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.season import Season

__all__ = ["RATES", "Task", "Trial", "blames_of", "label", "make_season", "read_typed", "run_trial", "tasks"]

#: So many seasons of the second generator get slips from one seed.
TURNS = 4
RATES = (0.005, 0.02, 0.05)


@dataclass(frozen=True)
class Task:
    """One season to make, spoil and audit."""

    seed: int
    generator: str
    team: str
    variant: str
    source: str
    rate: float


@dataclass
class Trial:
    """Everything that is known about one audited season."""

    task: Task
    rows: int
    guilty_rows: int
    slips: list[dict[str, Any]]
    cells: list[dict[str, Any]]
    notes: list[dict[str, Any]]
    bothered: int
    faults: list[str]
    refused: str
    seconds: float
    rivals: dict[str, dict[str, Any]]
    #: innocent sizes of nestlings, and how many of them were blamed
    sizes: int = 0
    sizes_blamed: int = 0
    #: odd text that the intake understood as it was meant: no slip, and no false alarm if it is told
    read_as_meant: int = 0


@cache
def declared() -> Declarations:
    """Read the shipped declarations once per process."""
    return load_declarations()


def tasks(first: int, seeds: int) -> list[Task]:
    """List the seasons to audit: every seed goes through both generators, all slips, and clean.

    The teams come in turn, so that some twenty seeds meet them all; variants and rates are drawn.
    """
    teams = [*TEAMS, "mixed"]
    stride = next(step for step in range(len(teams) // 2, len(teams)) if gcd(step, len(teams)) == 1)
    turn = first * TURNS
    dealt: list[Task] = []
    for seed in range(first, first + seeds):
        rng = np.random.default_rng([seed, 5])
        for generator in ("first", "other", "other"):
            for source in ("own", "tab_err"):
                team = "invented" if generator == "first" else teams[turn * stride % len(teams)]
                turn += generator != "first"
                variant = VARIANTS[0 if rng.random() < 0.3 else int(rng.integers(0, len(VARIANTS)))].name
                rate = RATES[int(rng.integers(0, len(RATES)))]
                dealt.append(Task(seed, generator, team, variant, source, rate))
            last = dealt[-1]
            dealt.append(Task(seed, last.generator, last.team, last.variant, "clean", 0.0))
            dealt.append(Task(seed, last.generator, last.team, last.variant, "outliers", 0.0))
    return dealt


def make_season(task: Task) -> Made:
    """Make the clean season of a task."""
    variant = next(v for v in VARIANTS if v.name == task.variant)
    if task.generator == "first":
        return first_season(task.seed, variant)
    return other_season(task.seed, variant, task.team)


def read_typed(made: Made, handlings: list[dict[str, str]]) -> Season:
    """Read the season as typed text, through the intake like any sheet."""
    frames = {
        name: pd.DataFrame([{key: plain_text(value) for key, value in row.items()} for row in rows])
        for name, rows in made.tables.items()
        if rows and name != "handlings"
    }
    sheet = pd.DataFrame(handlings)
    if made.headers:
        sheet = sheet.loc[:, [name for name in sheet if name in made.headers]].map(_in_german)
        sheet = sheet.loc[:, (sheet != "").any()].rename(columns=made.headers)
    return read_season({"handlings": sheet, **frames}, schemas=declared())


def _in_german(text: str) -> str:
    """Write dates and decimals as they are typed in German."""
    if day := re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)", text):
        return f"{day[3]}.{day[2]}.{day[1]}"
    return text.replace(".", ",") if re.fullmatch(r"\d+\.\d+", text) else text


def label(row: int) -> str:
    """Label of a row of the handlings, from 0."""
    return f"handlings!{row + 2}"


def blames_of(report: Report, *, notes: bool = False) -> list[Blame]:
    """Every suspect cell above notes, or of notes alone."""
    return [
        Blame(
            finding.rule,
            finding.severity,
            (suspect.cell.label, suspect.cell.field),
            suspect.p_error,
            suspect.p_fix,
            suspect.suggested,
            finding.group,
            finding.message,
            frozenset((cell.label, cell.field) for cell in finding.witnesses),
        )
        for finding in report.findings
        if (finding.severity == "note") == notes
        for suspect in finding.suspects
    ]


def run_trial(task: Task, *, rivals: bool = True) -> Trial:
    """Make, spoil, audit and judge one season."""
    made = make_season(task)
    rows = made.tables["handlings"]
    rng = np.random.default_rng([task.seed, zlib.crc32(f"{task.team}{task.variant}{task.source}".encode())])
    slips: list[Slip] = []
    if task.source == "outliers":
        slips = plant_outliers(made, rng)
    elif task.source != "clean":
        try:
            clean = read_typed(made, apply(rows, []))
        except Refusal as refusal:
            # a team that writes no box cannot hand in a sheet without the empty column
            return Trial(task, len(rows), 0, [], [], [], 0, [], str(refusal), 0.0, {})
        slips = plant(clean, declared(), rows, task.source, task.rate, rng)
    typed = apply(rows, slips)
    truth = {(label(c.row), c.field): c.true_text for slip in slips for c in slip.cells}
    guilty = {place[0] for place in truth}
    trial = Trial(task, len(rows), len(guilty), [], [], [], 0, [], "", 0.0, {})
    try:
        season = read_typed(made, typed)
    except Refusal as refusal:
        trial.refused = str(refusal)
        season = None
    began = time.perf_counter()
    blames: list[Blame] = []
    if season is not None:
        report = check(season, schemas=declared())
        trial.seconds = time.perf_counter() - began
        trial.faults = [part.reason for part in report.not_run if part.reason.startswith(FAULT)]
        blames = blames_of(report)
        judged = judge_cells(blames, truth, guilty)
        trial.cells = [_cell_record(cell, task, truth, season) for cell in judged]
        sizes = measured_cells(made)
        innocent = {(at, what) for (at, name), what in sizes.items() if (at, name) not in truth}
        trial.sizes = len(innocent)
        trial.sizes_blamed = len(
            innocent & {(c.blame.place[0], sizes[c.blame.place]) for c in judged if c.blame.place in sizes}
        )
        trial.bothered = len({cell.blame.place[0] for cell in judged if cell.row_innocent})
        trial.notes = [
            _cell_record(cell, task, truth, season)
            for cell in judge_cells(blames_of(report, notes=True), truth, guilty)
        ]
        meant = [slip for slip in slips if _read_as_meant(season, slip)]
        trial.read_as_meant = len(meant)
        slips = [slip for slip in slips if slip not in meant]
    witnesses = Witnesses(made)
    trial.slips = [_slip_record(slip, task, witnesses, blames, rows) for slip in slips]
    if rivals and season is not None and slips and task.source != "outliers":
        from benchmarks.rivals import run_rivals

        places = [{(label(c.row), c.field) for c in slip.cells} for slip in slips]
        visible = [record["visible"] for record in trial.slips]
        trial.rivals = run_rivals(season, declared(), places, visible)
    return trial


def _read_as_meant(season: Season, slip: Slip) -> bool:
    frame = season.frame("handlings")
    return all(
        bool(cell.typed.strip())
        and cell.field in frame
        and plain_text(frame.loc[label(cell.row), cell.field]) == cell.true_text
        for cell in slip.cells
    )


def _slip_record(
    slip: Slip, task: Task, witnesses: Witnesses, blames: list[Blame], rows: list[dict[str, Any]]
) -> dict[str, Any]:
    truth = {(label(c.row), c.field): c.true_text for c in slip.cells}
    fate = fate_of(truth, blames)
    seen = witnesses.see(slip)
    return {
        "kind": slip.kind,
        "field": slip.cells[0].field,
        "source": slip.source,
        "generator": task.generator,
        "team": task.team,
        "variant": task.variant,
        "rate": task.rate,
        "seed": task.seed,
        "visible": seen.visible,
        "why": seen.why,
        "units": seen.units,
        "sds": seen.sds,
        "away": seen.away,
        "found": fate.found,
        "touched": fate.touched,
        "right_cell": fate.right_cell,
        "first_right": fate.first_right,
        "mended": fate.mended,
        "cells": [(c.row + 2, c.field, c.typed, c.true_text) for c in slip.cells],
        "blamed": [
            (b.rule, b.place[0], b.place[1], b.suggested, b.p_error, b.p_fix, b.message) for b in fate.blamed
        ],
        "box": plain_text(rows[slip.cells[0].row].get("box")),
    }


def _cell_record(
    cell: BlamedCell, task: Task, truth: dict[tuple[str, str], str], season: Season
) -> dict[str, Any]:
    blame = cell.blame
    return {
        "rule": blame.rule,
        "severity": blame.severity,
        "field": blame.place[1],
        "place": blame.place[0],
        "p_error": blame.p_error,
        "p_fix": blame.p_fix,
        "suggested": blame.suggested,
        "wrong": cell.wrong,
        "fix_right": cell.fix_right,
        "row_innocent": cell.row_innocent,
        "true": truth.get(blame.place, ""),
        "observed": season.cell(*blame.place).observed,
        "message": blame.message,
        "source": task.source,
        "generator": task.generator,
        "team": task.team,
        "variant": task.variant,
        "seed": task.seed,
    }
