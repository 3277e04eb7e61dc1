"""A season beside those before it: clean ones stay quiet, slips in marks of birds met again are mended."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from robustness.other_rounds import TEAMS, Ways, any_ways, other_season
from robustness.two_seasons import cut
from typed_season import typed_season

from audit.checking import check
from audit.cli import main
from audit.declarations import load_declarations
from audit.rules.round import FAULT

DECLARED = load_declarations()
YEARS = sorted(name for name, ways in TEAMS.items() if ways.years > 1)
OTHERS = ("digits_with_hyphen", "no_prefix_7_digits", "pairs", "hex_no_stock", "no_age", "bare", "both_tits")


def seasons(ways, seed):
    return cut(other_season(seed, ways), ways.year)


def report_of(season):
    report = check(typed_season(DECLARED, **season), schemas=DECLARED)
    assert [part for part in report.not_run if part.reason.startswith(FAULT)] == []
    return report


def alarms(season):
    return [(finding.rule, finding.message) for finding in report_of(season).above_notes]


@pytest.mark.parametrize("name", YEARS)
@pytest.mark.parametrize("seed", [3, 4])
def test_a_clean_season_of_a_team_that_went_out_before(name, seed):
    season = seasons(replace(TEAMS[name], boxes=16), seed)
    assert len(season["earlier"]) > 20
    assert alarms(season) == []


@pytest.mark.parametrize("name", OTHERS)
def test_a_clean_season_of_another_team(name):
    ways = replace(TEAMS[name], boxes=12, years=2, females=0.8, males=0.3, from_before=0.3)
    assert alarms(seasons(ways, 5)) == []


@pytest.mark.parametrize("seed", range(4))
def test_a_clean_season_of_mixed_habits(seed):
    ways = replace(any_ways(seed), boxes=12, years=2, females=0.8)
    assert alarms(seasons(ways, seed)) == []


def slipped(rng, text):
    """One digit wrong, or two neighbours exchanged: the two commonest slips of the keys."""
    places = [i for i, sign in enumerate(text) if sign.isdigit()]
    while True:
        i = int(rng.choice(places))
        if rng.random() < 0.8:
            other = text[:i] + str(rng.integers(0, 10)) + text[i + 1 :]
        else:
            other = text[:i] + text[i : i + 2][::-1] + text[i + 2 :]
        if other != text:
            return other


def planted(rng, season, share):
    """Slip in the ring or the tag of some birds that were met before, and say what was meant."""
    known = {row["ring"] for row in season["earlier"] if row["ring"]}
    tagged = {row["ring"] for row in season["earlier"] if row["ring"] and row.get("tag")}
    rows = [dict(row) for row in season["handlings"]]
    meant = {}
    for i, row in enumerate(rows):
        if row["ring"] in known and row["ring"] in tagged and row.get("tag") and rng.random() < share:
            field = str(rng.choice(["ring", "tag"]))
            meant[f"handlings!{i + 2}", field] = row[field]
            row[field] = slipped(rng, row[field])
    return {**season, "handlings": rows}, meant


def found_in(season, meant):
    best = {}
    for finding in report_of(season).above_notes:
        for suspect in finding.suspects:
            cell = (suspect.cell.label, suspect.cell.field)
            best[cell] = max(best.get(cell, (-1.0, "")), (suspect.p_fix or 0.0, suspect.suggested))
    mended = sum(best.get(cell, (0, ""))[1] == text for cell, text in meant.items())
    return len(best.keys() & meant.keys()), mended, len(best.keys() - meant.keys())


def test_slips_in_tagged_birds_met_again_are_mended():
    ways = replace(TEAMS["three_years"], boxes=16, females=1.0, from_before=0.1)
    n = found = mended = innocent = blind = 0
    for seed in range(20, 26):
        season, meant = planted(np.random.default_rng(seed), seasons(ways, seed), 0.5)
        more = found_in(season, meant)
        n, found, mended, innocent = n + len(meant), found + more[0], mended + more[1], innocent + more[2]
        blind += found_in({k: v for k, v in season.items() if k != "earlier"}, meant)[1]
    assert n > 8
    # measured by hand over other seeds: see tests/benchmarks/FIGURES.md
    assert mended >= 0.9 * n
    assert innocent <= 1
    assert blind < mended


def test_the_whole_way_from_files(tmp_path, capsys):
    ways: Ways = replace(TEAMS["three_years"], boxes=12, females=1.0)
    season = seasons(ways, 21)
    before = pd.DataFrame(season.pop("earlier"))
    row = next(row for row in season["handlings"] if row["ring"] in set(before["ring"]) and row["tag"])
    right, row["ring"] = row["ring"], slipped(np.random.default_rng(1), row["ring"])
    before.to_csv(tmp_path / "before.csv", index=False)
    with pd.ExcelWriter(tmp_path / "2025.xlsx") as book:
        for name, rows in season.items():
            pd.DataFrame(rows).to_excel(book, sheet_name=name, index=False)
    now, out = str(tmp_path / "2025.xlsx"), str(tmp_path / "out")
    assert main(["check", now, "--earlier", str(tmp_path / "before.csv"), "--out", out]) == 1
    assert f"ring {right} on" in capsys.readouterr().out.replace("\n  ", " ")
    found = pd.read_csv(tmp_path / "out" / "findings.csv", dtype=str)
    line = found[found["rule"] == "earlier.ring"]
    assert line["suggested"].tolist() == [right]
    assert main(["check", now, "--earlier", str(tmp_path / "none.csv"), "--out", out]) == 2
    assert "no such file" in capsys.readouterr().err
