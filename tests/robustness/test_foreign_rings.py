"""Rings that others put on are normal: nobody is asked about them for being unknown."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented import Style, invented_season
from robustness.other_rounds import TEAMS, other_season
from robustness.two_seasons import foreign_rings, with_strangers
from typed_season import typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.rules.round import FAULT

DECLARED = load_declarations()
#: With stock, losses and download; without; other prefixes, forms and columns.
NAMES = (
    *("plain", "two_species", "digits_with_hyphen", "no_prefix_7_digits", "one_letter_6_digits"),
    *("three_letters", "no_stocks", "no_tags", "hex_tags", "no_event", "tagged_late", "fostered", "by_box"),
)


def blamed_rows(season):
    report = check(typed_season(DECLARED, **season), schemas=DECLARED)
    assert [part for part in report.not_run if part.reason.startswith(FAULT)] == []
    return {
        (suspect.cell.label, suspect.cell.field): (finding.rule, suspect.suggested, finding.message)
        for finding in report.above_notes
        for suspect in finding.suspects
    }


def asked_about(season, strangers):
    return {
        cell: (strangers[cell[0]], *said)
        for cell, said in blamed_rows(season).items()
        if cell[0] in strangers and cell[1] in ("ring", "tag", "event", "age")
    }


@pytest.mark.parametrize("name", NAMES)
def test_strangers_in_a_season_of_another_team(name):
    rng = np.random.default_rng([7, NAMES.index(name)])
    season = other_season(7, replace(TEAMS[name], boxes=10))
    season, strangers = with_strangers(rng, season, 25)
    assert len(strangers) > 5
    assert asked_about(season, strangers) == {}


@pytest.mark.parametrize("seed", range(4))
def test_strangers_in_the_invented_round(seed):
    rng = np.random.default_rng([8, seed])
    made = invented_season(seed, Style(boxes=12))
    season, strangers = with_strangers(rng, made, int(rng.integers(1, 31)))
    assert asked_about(season, strangers) == {}


@pytest.mark.parametrize("kind", sorted(foreign_rings(np.random.default_rng(0), "SV01001")))
def test_a_mother_from_elsewhere(kind):
    """The same female at both visits of her brood, as in most rounds."""
    season = other_season(9, replace(TEAMS["plain"], boxes=6, second_visit=1.0, females=0.0))
    rows = [dict(row) for row in season["handlings"]]
    box = rows[0]["box"]
    days = sorted({row["date"] for row in rows if row["box"] == box})
    ring = foreign_rings(np.random.default_rng(3), rows[0]["ring"])[kind]
    for day in days:
        last = max(i for i, row in enumerate(rows) if row["box"] == box and row["date"] == day)
        female = {**rows[last], "ring": ring, "tag": None, "tag_leg": None, "age": "6", "sex": "F"}
        female |= {"event": "re-encountered", "wing_mm": 291.0, "gross_g": None, "bag_g": None, "net_g": None}
        rows.insert(last + 1, female)
    said = {
        cell: found
        for cell, found in blamed_rows({**season, "handlings": rows}).items()
        if any(row["ring"] == ring for row in rows[int(cell[0].rpartition("!")[2]) - 2 :][:1])
    }
    assert said == {}


def test_a_nestling_with_the_ring_of_another_ringer():
    season = other_season(9, replace(TEAMS["plain"], boxes=8, second_visit=0.0))
    rows = [dict(row) for row in season["handlings"]]
    place = next(i for i, row in enumerate(rows) if row["age"] == "1" and row["event"] == "ringed")
    young = {**rows[place], "ring": "GH44821", "tag": None, "tag_leg": None, "event": "re-encountered"}
    rows.insert(place, {**young, "remarks": "fostered, from another box"})
    assert {cell for cell in blamed_rows({**season, "handlings": rows}) if cell[1] == "ring"} == set()


# --- slips in their form are still found


def planted(typed, right="GH40821", event="re-encountered"):
    season = other_season(9, replace(TEAMS["plain"], boxes=6, second_visit=1.0, females=0.0))
    rows = [dict(row) for row in season["handlings"]]
    box = rows[0]["box"]
    days = sorted({row["date"] for row in rows if row["box"] == box})
    places = []
    tag = "999000777000123"
    for day, ring in zip(days, (right, typed), strict=False):
        last = max(i for i, row in enumerate(rows) if row["box"] == box and row["date"] == day)
        female = {**rows[last], "ring": ring, "tag": tag, "age": "6", "sex": "F", "event": event}
        rows.insert(last + 1, female | {"wing_mm": 291.0, "gross_g": None, "bag_g": None, "net_g": None})
        places.append(last + 1)
    return blamed_rows({**season, "handlings": rows}), [row["ring"] for row in rows]


@pytest.mark.parametrize("typed", ["GH4O821", "GH40B21", "GH40281", "GH4021", "GH40821?"])
def test_a_slip_in_a_strange_ring_is_found_where_the_other_visit_shows_it(typed):
    said, rings = planted(typed)
    cells = {rings[int(label.rpartition("!")[2]) - 2] for label, field in said if field == "ring"}
    # where both are rings that a stranger may bear, either may be the wrong one
    assert cells & {typed, "GH40821"}


@pytest.mark.parametrize("typed", ["--", "GH4O8!21", "RING OLD", "999000777000123456"])
def test_what_no_ring_can_bear_is_found_anywhere(typed):
    season = other_season(9, replace(TEAMS["plain"], boxes=6))
    rows = [dict(row) for row in season["handlings"]]
    rows[3] |= {"ring": typed.replace(" ", ""), "event": "re-encountered", "age": "6", "wing_mm": 290.0}
    rows[3] |= {"tag": None, "gross_g": None, "bag_g": None, "net_g": None}
    assert ("handlings!5", "ring") in blamed_rows({**season, "handlings": rows})
