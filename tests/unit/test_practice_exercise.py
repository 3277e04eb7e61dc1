"""Practice sheets: slips as they were wished for, seen or unseen as meant, and made again as they were."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from html import escape

import numpy as np
import pandas as pd
import pytest

from audit.declarations import load_declarations
from audit.intake import read
from audit.practice.exercise.aids import aids_of
from audit.practice.exercise.exercise import exercise_from, make_exercise
from audit.practice.exercise.levels import HIDDEN, level_named, levels_of
from audit.practice.exercise.recipe import Recipe, recipe_in
from audit.practice.exercise.season_page import PageWish, season_page
from audit.practice.exercise.sheet_page import key_page, sheet_page
from audit.practice.exercise.words import MEANINGS
from audit.practice.kinds import ways_of
from audit.practice.planting import Planter
from audit.refusal import DeclarationRefusal, Refusal

shipped = cache(load_declarations)


@cache
def sheet(level="tare", *kinds, seed=2, species="barn_owl"):
    return make_exercise(Recipe("AB", level, species, seed, 0, kinds or (level,)), shipped())


def blamed(exercise):
    found = exercise.report.above_notes
    return {(one.cell.label, one.cell.field) for finding in found for one in finding.suspects}


@pytest.mark.parametrize("level", [level.slug for level in levels_of(load_declarations()) if level.ways])
def test_a_sheet_of_each_level_holds_its_slip_and_no_other(level):
    exercise = sheet(level)
    (planted,) = exercise.planted
    assert planted.slip.name in level_named(levels_of(shipped()), level).ways
    typed, clean = (season.tables["handlings"].typed for season in (exercise.season, exercise.clean))
    differ = {
        (label, field)
        for field in typed.columns
        for label in typed.index
        if typed.loc[label, field] != clean.loc[label, field]
    }
    assert differ == set(exercise.changes)
    if planted.is_hidden:
        assert not blamed(exercise)
    else:
        assert blamed(exercise)
        assert blamed(exercise) <= differ


@pytest.mark.parametrize("level", ["one_digit", "tare", "neighbours", "unit"])
def test_a_beginners_sheet_tells_what_was_meant(level):
    exercise = sheet(level, seed=5)
    assert all(exercise.is_told(place) for place in exercise.changes)


def test_what_cannot_be_seen_has_a_remark_and_so_has_a_cell_that_is_right():
    exercise = sheet(HIDDEN)
    place = exercise.planted[0].slip.changes[0].place
    assert place in exercise.doubtful
    assert len(exercise.doubtful) == 2
    remarked = [label for label in exercise.labels if exercise.typed((label, "remarks"))]
    assert remarked == [label for label, _ in exercise.doubtful]
    assert not exercise.is_told(place)


def test_a_sheet_without_a_slip_is_as_it_was_meant():
    exercise = make_exercise(Recipe("AB", "whole_round", "barn_owl", 1, 0, ()), shipped())
    assert exercise.changes == {}
    assert exercise.report.above_notes == ()


def test_a_sheet_is_made_again_from_its_code():
    exercise = sheet("tag_check", "tag_check", "tare")
    again = exercise_from(recipe_in(exercise.recipe.code), shipped())
    assert again.changes == exercise.changes
    assert again.recipe == exercise.recipe


def test_a_sheet_that_comes_out_otherwise_is_refused():
    exercise = sheet()
    for other in (replace(exercise.recipe, seed=99), replace(exercise.recipe, digest="0")):
        with pytest.raises(Refusal, match="cannot be made again"):
            exercise_from(other, shipped())


@pytest.mark.parametrize("code", ["", "nonsense!", "ORUGS4Y", Recipe("AB", "tare", "x", -1, 0, ()).code])
def test_a_code_that_is_none_is_refused(code):
    with pytest.raises(Refusal, match="cannot be read"):
        recipe_in(code)


def test_a_code_survives_blanks_and_small_letters():
    recipe = sheet().recipe
    assert recipe_in(f" {recipe.code.lower()[:30]} {recipe.code.lower()[30:]}") == recipe


def test_a_level_that_is_not_there_is_refused():
    with pytest.raises(Refusal) as told:
        level_named(levels_of(shipped()), "15")
    assert "14 (whole_round)" in told.value.cure


@pytest.mark.parametrize(
    ("name", "value", "cure"),
    [
        ("ways", "[net_g.beak]", "'net_g.beak' is none"),
        ("slips", "[1]", "two whole numbers"),
        ("page", "[0, 1]", "two whole numbers"),
    ],
)
def test_an_odd_level_of_a_team_is_refused_with_its_place(tmp_path, name, value, cure):
    (tmp_path / "practice.yaml").write_text(
        f"levels: {{tare: {{{name}: {{value: {value}}}}}}}\n", encoding="utf-8"
    )
    with pytest.raises(DeclarationRefusal) as told:
        levels_of(load_declarations(tmp_path))
    assert told.value.where == f"practice.yaml, levels.tare.{name}"
    assert cure in told.value.cure


def test_every_level_names_slips_columns_and_words_that_are_there():
    levels = levels_of(shipped())
    assert [level.number for level in levels] == list(range(1, len(levels) + 1))
    for level in levels:
        ways = ways_of(level.ways) if level.ways else ()
        assert any(set(way.needs) <= set(level.columns) for way in ways) or not ways
        assert set(level.columns) <= set(MEANINGS)
        assert 1 <= level.slips[0] <= level.slips[1]
        assert level.says.endswith(".")


def test_the_first_sheet_explains_each_of_its_columns():
    exercise = sheet("one_digit")
    page = sheet_page(exercise, aids_of(exercise, shipped()))
    for field in exercise.fields:
        assert escape(MEANINGS[field]) in page
    assert "There is 1 slip on this page." in page
    assert "licence" in page


def test_the_sheet_does_not_hold_its_key_and_the_key_is_closed_at_first():
    exercise = sheet()
    told = "was meant</li>"
    (change,) = exercise.changes.values()
    page, key = sheet_page(exercise, aids_of(exercise, shipped())), key_page(exercise)
    assert f"{change.typed} stands there, {change.meant} was meant" in key
    assert "stands there" not in page.replace("type it over what stands there", "")
    assert told not in page
    assert "<details><summary>Open the key" in key


@pytest.mark.parametrize("level", [level for level in levels_of(load_declarations()) if level.ways])
def test_every_slip_of_a_level_finds_room_on_its_page(level):
    wish = PageWish(broods=level.broods, visits=level.visits, columns=level.columns)
    rooms = set()
    for seed in range(6):
        rng = np.random.default_rng([seed, level.number])
        tables = season_page("barn_owl", shipped(), rng, wish)
        page = read({name: pd.DataFrame(rows) for name, rows in tables.items()}, shipped())
        for way in ways_of(level.ways):
            planter = Planter(page, shipped(), rng, 1, tilted=True)
            if planter.can_hold(way) and planter.add(way) is not None:
                rooms.add(way.name)
    assert rooms == {way.name for way in ways_of(level.ways)}


def test_no_early_level_has_a_slip_of_which_no_page_tells_what_was_meant():
    # of 36 pages with two digits of a wing exchanged none told which wing was meant: mass tells too little
    early = int(shipped().settings["practice.sheets.told_until"].value)
    ways = {way for level in levels_of(shipped()) if level.number <= early for way in level.ways}
    assert "wing_mm.neighbours" not in ways
