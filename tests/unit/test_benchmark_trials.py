"""The benchmark meets every team, and one of its trials runs from season to figures."""

from __future__ import annotations

from benchmarks.figures import figures_of
from benchmarks.outliers import plant_outliers
from benchmarks.seasons import VARIANTS, first_season
from benchmarks.trials import Task, run_trial, tasks
from numpy.random import default_rng
from robustness.other_rounds import TEAMS


def test_some_twenty_seeds_meet_every_team_and_both_kinds_of_slips():
    dealt = tasks(40, 22)
    assert {task.team for task in dealt} == {*TEAMS, "mixed", "invented"}
    assert {task.source for task in dealt} == {"own", "tab_err", "clean", "outliers"}
    assert dealt == tasks(40, 22)


def test_one_trial_from_season_to_figures():
    tables = "all tables"
    dirty = run_trial(Task(3, "other", "ten_boxes", tables, "own", 0.05), rivals=False)
    clean = run_trial(Task(3, "other", "ten_boxes", tables, "clean", 0.0), rivals=False)
    assert dirty.faults == clean.faults == []
    assert dirty.rows == clean.rows
    assert 0 < dirty.guilty_rows < dirty.rows
    assert clean.slips == []
    figures = figures_of([dirty, clean])
    assert figures["all"]["n"] == len(dirty.slips)
    assert figures["visible"]["n"] + figures["invisible"]["n"] == figures["all"]["n"]
    assert figures["precision"]["n"] == len(dirty.cells) + len(clean.cells)
    assert sum(line["n"] for line in figures["by kind"].values()) == figures["all"]["n"]


def test_outliers_keep_the_sum_and_stand_one_to_a_brood():
    made = first_season(11, VARIANTS[0])
    planted = plant_outliers(made, default_rng(1))
    assert planted
    for slip in planted:
        row, truth = (part[slip.cells[0].row] for part in (made.tables["handlings"], made.truth))
        moved = {cell.field: float(cell.typed) - cell.true for cell in slip.cells}
        step = int(slip.kind.split()[1])
        if "wing_mm" in moved:
            assert abs(abs(moved["wing_mm"]) - step * truth.wing_sd) <= 0.5
        else:
            assert abs(moved["gross_g"] - moved["net_g"]) < 1e-9
            assert abs(abs(moved["net_g"]) - step * truth.mass_sd) <= 0.5
        assert row["age"] == "1"
    broods = [made.truth[slip.cells[0].row].brood for slip in planted]
    assert len(broods) == len(set(broods))
