"""How often the rules on growth and history are wrong on clean seasons, and how much they find.

The share of digit slips that any outlier test can see is small (about half of leading digits); tenfold slips
and exchanged columns are what this rule is for. No more than one false alarm in a thousand rows is allowed.
"""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from invented import Style, invented_season
from simulated_broods import simulated_season
from typed_season import reported, typed_season

from audit.declarations import load_declarations
from audit.rules import growth, history

Row = dict[str, Any]
DECLARED = load_declarations()


def lines(rows: list[Row]) -> dict[tuple[int, str], tuple[str, float]]:
    """(row, field) of each line above a note -> (suggestion, p_error)."""
    report = reported(typed_season(DECLARED, handlings=rows), DECLARED, (growth.RULE, history.RULE))
    return {
        (suspect.cell.row - 2, suspect.cell.field): (suspect.suggested, suspect.p_error)
        for finding in report.above_notes
        for suspect in finding.suspects
    }


def test_clean_seasons_are_left_alone() -> None:
    rows = alarms = 0
    for seed in range(8):
        season = simulated_season(seed, heavy=(1.0, 0.8, 1.25, 1.0)[seed % 4], ages=seed % 2 == 1)
        rows += len(season)
        alarms += len(lines(season))
    for seed in range(4):
        season = invented_season(seed, Style(heavy=(1.0, 1.2, 0.85, 1.0)[seed]))["handlings"]
        rows += len(season)
        alarms += len(lines(season))
    assert rows > 4000
    assert alarms <= rows / 1000, f"{alarms} false alarms in {rows} rows"


@pytest.mark.parametrize(
    ("kind", "least"), [("tenfold", 0.95), ("centimetres", 0.9), ("exchanged", 0.8), ("leading digit", 0.5)]
)
def test_slips_are_found_and_no_neighbour_is_blamed(kind: str, least: float) -> None:
    found = fixed = total = innocent = decimal = plain = 0
    for seed in range(4):
        clean = simulated_season(seed)
        rng = np.random.default_rng(seed)
        rows = copy.deepcopy(clean)
        wrong: dict[tuple[int, str], float] = {}
        for i in rng.choice(len(rows), size=12, replace=False):
            row = rows[i]
            field = "wing_mm" if kind == "centimetres" else str(rng.choice(["wing_mm", "net_g"]))
            if kind == "exchanged":
                wrong[i, "wing_mm"], wrong[i, "net_g"] = row["wing_mm"], row["net_g"]
                row["wing_mm"], row["net_g"] = row["net_g"], row["wing_mm"]
                continue
            wrong[i, field] = row[field]
            if kind == "tenfold":
                row[field] = row[field] * 10 if rng.random() < 0.5 else round(row[field] / 10, 1)
            elif kind == "centimetres":
                row[field] = round(row[field] / 10, 1)
            else:
                text = f"{row[field]:.0f}"
                others = [digit for digit in "123456789" if digit != text[0]]
                row[field] = float(str(rng.choice(others)) + text[1:])
        blamed = lines(rows)
        total += len(wrong)
        found += sum(cell in blamed for cell in wrong)
        fixed += sum(blamed[cell][0] == f"{value:g}" for cell, value in wrong.items() if cell in blamed)
        told = [cell for cell, value in wrong.items() if cell in blamed and value % 10]
        decimal += len(told)
        plain += sum(blamed[cell][0] == f"{wrong[cell]:g}" for cell in told)
        innocent += sum(cell not in wrong for cell in blamed)
    assert found >= least * total, f"{kind}: {found} of {total}"
    assert innocent <= 0.05 * found + 1
    if kind == "centimetres":
        # 13.0 stands for 130, but also for any wing of 13. mm that lost a digit
        assert plain >= 0.95 * decimal
    elif kind != "leading digit":
        assert fixed >= 0.9 * found


def test_what_is_called_probable_is_mostly_true() -> None:
    told: list[tuple[float, bool]] = []
    for seed in range(6):
        rows = simulated_season(100 + seed)
        rng = np.random.default_rng(seed)
        wrong = set()
        for i in rng.choice(len(rows), size=30, replace=False):
            field = str(rng.choice(["wing_mm", "net_g"]))
            text = f"{rows[i][field]:.0f}"
            place = int(rng.integers(len(text)))
            digit = str(rng.choice([d for d in "123456789" if d != text[place]]))
            rows[i][field] = float(text[:place] + digit + text[place + 1 :])
            wrong.add((int(i), field))
        told += [(p_error, cell in wrong) for cell, (_, p_error) in lines(rows).items()]
    sure = [right for p_error, right in told if p_error >= 0.9]
    assert len(sure) > 20
    assert np.mean(sure) >= 0.9
