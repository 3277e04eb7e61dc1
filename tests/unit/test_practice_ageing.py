"""The ageing drill: ages beside published growth, broods, lean and spread, files."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from audit.ageing_practice import practise_ageing
from audit.cli import main
from audit.declarations import load_declarations
from audit.models.limits_of_agreement import limits_of_agreement
from audit.practice.ageing.brood import CLOSE, verdict_of
from audit.practice.ageing.clue import clues_of
from audit.practice.ageing.drill import ageing_drill, mix_for
from audit.practice.ageing.levels import ageing_levels
from audit.practice.ageing.marking import advice, estimate_of, lean_words, mark_ages, record_of
from audit.practice.ageing.nestling import Nestling, nestling_of
from audit.practice.ageing.page import key_paper, round_paper
from audit.practice.ageing.plumage import feathered, plumage_ages
from audit.practice.ageing.round import STAGES, make_round, round_of_code
from audit.practice.ageing.words import cautions, how_far, how_to
from audit.practice.exercise.progress import read_progress
from audit.refusal import Refusal
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from pathlib import Path

DECLARED = load_declarations()
OFFERED, REASONS = clues_of(DECLARED)
OWL = OFFERED["barn_owl"]
MADE = make_round("AB", 1, "barn_owl", "birds", (3, 3, 3), DECLARED)


@pytest.mark.parametrize("age", range(20, 61, 5))
def test_wings_of_a_published_equation_are_aged_within_two_days(age: int) -> None:
    """Wing of Swiss barn owls, 298.8 * exp(-4.186 * 0.9454**t) mm, from 14 days on.

    Source: public code of a study of inbreeding and growth in the long-term Swiss population (repository
    Inbreeding_morph_growth_BarnOwl), read; another fit than the declared one, which differs from it by 1.7
    days at most between 20 and 60 days.
    """
    wing = 298.8 * np.exp(-4.186 * 0.9454**age)
    bird = nestling_of(OWL, float(wing))
    assert bird.age == pytest.approx(age, abs=2.0)
    assert estimate_of(bird, f"{age} days").kind == "inside"


def test_a_brood_whose_ages_were_guessed_by_feathers_leans_old() -> None:
    """A British group aged young of 35, 29, 26 days by feathers at 37, 33, 28 (a group's web page, read)."""
    limits = limits_of_agreement([2, 4, 2])
    assert limits.bias.value == pytest.approx(8 / 3)
    # Student: t(0.975, 2) = 4.303, SD 1.155, so +- 2.87; common tables
    assert (limits.bias.low, limits.bias.high) == pytest.approx((-0.20, 5.54), abs=0.01)
    assert lean_words(limits).startswith(
        "On the whole you take nestlings neither for too young nor for too old, as far as these tell: on "
        "average +2.7 days (-0.2 to +5.5)."
    )


def test_answers_are_told_apart_by_the_interval() -> None:
    bird = nestling_of(OWL, 187.0)
    assert bird.low < bird.age < bird.high
    told = [estimate_of(bird, text) for text in ("40", f"{bird.low - 1:.1f}", f"{bird.high + 1:.1f}", "old")]
    assert [one.kind for one in told] == ["inside", "too young", "too old", "missing"]
    assert told[0].off == pytest.approx(40 - bird.age)
    # ends in whole days hold the interval, and less than a day more
    exact = OWL.half(bird.age)
    assert 0 <= bird.age - exact - bird.low < 1
    assert 0 <= bird.high - bird.age - exact < 1


def test_species_without_a_curve_of_the_wing_are_aged_by_mass_and_no_others() -> None:
    """Curves of the wing are declared of three species; of two they hold for a few days only."""
    wings = {slug for slug, one in DECLARED.species.items() if "wing_mm" in one.curves}
    assert wings == {"barn_owl", "blue_tit", "tree_swallow"}
    assert {slug for slug, clue in OFFERED.items() if clue.is_wing} == {"barn_owl"}
    assert set(OFFERED) | set(REASONS) == set(DECLARED.species)
    assert "no curve of its wing is declared" in REASONS["little_owl"]
    assert "the curve of its wing holds for days 8 to 12" in REASONS["tree_swallow"]
    with pytest.raises(Refusal, match="tells ages apart too roughly"):
        make_round("AB", 1, "tree_swallow", "birds", (3, 3, 3), DECLARED)


@pytest.mark.parametrize("slug", sorted(set(OFFERED) - {"barn_owl"}))
def test_of_mass_only_ages_are_asked_and_the_page_says_why(slug: str) -> None:
    made = make_round("AB", 2, slug, "birds", (3, 3, 3), DECLARED)
    clue = OFFERED[slug]
    assert made.broods == ()
    # an interval wider than the days of ringing are long would decide nothing
    longest = clue.window[1] - clue.window[0]
    assert all(clue.first <= bird.age <= clue.last for bird in made.nestlings)
    assert all(2 * clue.half(bird.age) <= longest * 1.02 for bird in made.nestlings)
    page = round_paper(made, DECLARED).page()
    assert "No curve of the wing is declared for this species" in page
    assert "Within the days of ringing?" not in page


def test_a_starling_of_the_mean_of_day_8_is_8_days_old() -> None:
    """Logistic of broods of five to seven, 72.4 / (1 + exp(-0.399 * (t - 6.7))) g.

    Source: fitted to the points of Nettle et al. 2013 as stored in an open collection; read.
    """
    bird = nestling_of(OFFERED["starling"], mass=72.4 / (1 + np.exp(-0.399 * (8 - 6.7))))
    assert bird.low < 8 < bird.high
    assert bird.age == pytest.approx(8, abs=0.5)


def birds(*ends: tuple[float, float]):
    return [nestling_of(OWL, 100.0).__class__(1.0, None, (low + high) / 2, low, high) for low, high in ends]


@pytest.mark.parametrize(
    ("ends", "told"),
    [
        (((21, 25), (30, 34)), "within"),
        (((14, 19), (30, 34)), "too young"),
        (((30, 34), (49, 55)), "too old"),
        (((18, 22), (30, 34)), "too close"),
        (((30, 34), (45, 50)), "too close"),
        (((14, 19), (49, 55)), ""),
    ],
)
def test_a_brood_is_told_by_the_bird_that_decides(ends, told) -> None:
    assert verdict_of(birds(*ends), (20, 48)) == told


@pytest.mark.parametrize("level", ageing_levels(DECLARED), ids=lambda level: level.slug)
def test_broods_have_one_clear_answer(level) -> None:
    seen = set()
    for number in range(1, 9):
        made = make_round("AB", number, "barn_owl", level.slug, mix_for(level.slug, [], DECLARED), DECLARED)
        assert (len(made.nestlings), len(made.broods)) == (level.nestlings, level.broods)
        for brood in made.broods:
            # declared days of ringing, 20 to 48
            assert verdict_of(brood.birds, (20, 48)) == brood.verdict
            seen.add(brood.verdict)
    assert seen == (set(level.verdicts) if level.broods else set())
    assert (CLOSE in seen) == (level.slug == "edge")


def test_a_teams_own_days_of_ringing_stand_on_the_page(tmp_path: Path) -> None:
    (tmp_path / "species").mkdir()
    (tmp_path / "species" / "barn_owl.yaml").write_text(
        "ringing:\n  youngest_day: {value: 28, unit: d, source: our licence, grade: common practice}\n",
        encoding="utf-8",
    )
    own = load_declarations(tmp_path)
    made = make_round("AB", 1, "barn_owl", "birds", (3, 3, 3), own)
    told = "declared as day 28 to day 48. The first day: our licence. This is common practice."
    assert told in round_paper(made, own).page()
    assert "declared as day 20 to day 48. The first day: they keep warm" in round_paper(MADE, DECLARED).page()


def test_broods_that_cannot_be_are_not_asked(tmp_path: Path) -> None:
    """Of days of ringing as short as an interval no brood is surely within them."""
    (tmp_path / "species").mkdir()
    (tmp_path / "species" / "barn_owl.yaml").write_text(
        "ringing:\n  youngest_day: {value: 40, unit: d, source: our licence, grade: common practice}\n",
        encoding="utf-8",
    )
    own = load_declarations(tmp_path)
    made = make_round("AB", 1, "barn_owl", "birds", (1, 1, 1), own)
    assert made.broods == ()
    assert "too few for a wing to tell" in round_paper(made, own).page()


def test_the_example_is_that_of_the_table_and_feathers_come_with_their_source() -> None:
    first = how_to(MADE, DECLARED)[0]
    assert first == (
        "Look the wing up in the table. One of 145 mm lies half way between 130 mm, 30 days, and 160 mm, 35 "
        "days: the bird is about 32 to 33 days old."
    )
    assert "2 to 4 days too old (web page of a British group of ringers: three young of 35" in how_far(
        DECLARED
    )


@pytest.mark.parametrize(("told", "true"), [(37, 35), (33, 29), (28, 26)])
def test_feathers_hold_the_true_age_of_young_that_were_aged_by_them(told: int, true: int) -> None:
    """A British group aged young of 35, 29, 26 days by feathers at 37, 33, 28 (a group's web page, read)."""
    states = [one for one in DECLARED.species["barn_owl"].plumages if one.first_day <= told < one.last_day]
    (low, high) = plumage_ages(states[0], DECLARED)
    assert low <= true <= high


def test_feathers_alone_are_a_level_of_their_own() -> None:
    made = make_round("AB", 4, "barn_owl", "feathers", (3, 3, 3), DECLARED)
    alone = [bird for bird in made.nestlings if not bird.is_measured]
    assert len(alone) == 6
    assert made.broods == ()
    for bird in alone:
        assert bird.plumage is not None
        assert bird.low <= bird.plumage.first_day < bird.age < bird.plumage.last_day <= bird.high
    page = round_paper(made, DECLARED).page()
    assert all(
        state.says in page and safe(state.source) in page for state in DECLARED.species["barn_owl"].plumages
    )
    assert "Some nestlings are not measured." in page
    right = mark_ages(made, [f"{bird.age:.0f}" for bird in made.nestlings], [], DECLARED)
    assert right.inside.value == 1
    assert [estimate_of(alone[0], f"{day}").kind for day in (alone[0].low, alone[0].high + 1)] == [
        "inside",
        "too old",
    ]
    assert round_of_code(made.code, DECLARED) == made


@pytest.mark.parametrize("slug", sorted(slug for slug in OFFERED if DECLARED.species[slug].plumages))
def test_feathers_are_those_of_the_true_age(slug: str) -> None:
    """Of a nestling of a true age such feathers can be seen, however far they are ahead or behind."""
    rng, species = np.random.default_rng(7), DECLARED.species[slug]
    for age in rng.uniform(1, species.plumages[-1].last_day, 300):
        bird = feathered(Nestling(None, 1.0, age, age, age), float(age), species, rng, DECLARED)
        assert bird.plumage is not None
        low, high = plumage_ages(bird.plumage, DECLARED)
        assert low <= age <= high


def test_levels_follow_what_is_declared_of_a_species() -> None:
    def slugs(species: str) -> list[str]:
        return [level.slug for level in ageing_drill(species).levels(DECLARED)]

    assert slugs("barn_owl") == ["birds", "broods", "edge", "feathers"]
    assert slugs("great_tit") == ["birds", "feathers"]
    assert slugs("starling") == ["birds"]
    with pytest.raises(
        Refusal, match=r"since no curve of its wing tells broods .*, and no states of its feathers"
    ):
        practise_ageing("AB", species="starling", level="feathers")


@pytest.mark.parametrize(
    ("days", "line", "said"),
    [
        (((0, 9), (12, 20)), 6, "begins on day 12, and the one before it ends on day 9"),
        (((0, 9), (9, 9)), 7, "ends on day 9 and begins on day 9"),
    ],
)
def test_states_of_feathers_that_leave_days_out_are_refused(tmp_path: Path, days, line, said) -> None:
    (tmp_path / "species").mkdir()
    rows = "".join(
        f"  - says: White down.\n    from_day: {first}\n    to_day: {last}\n"
        "    source: ours\n    grade: memory\n"
        for first, last in days
    )
    (tmp_path / "species" / "starling.yaml").write_text(f"plumage:\n{rows}", encoding="utf-8")
    with pytest.raises(Refusal, match=said) as caught:
        load_declarations(tmp_path)
    assert f"starling.yaml, line {line + 2}" in str(caught.value)


def test_a_round_comes_out_the_same_and_every_page_warns() -> None:
    again = round_of_code(MADE.code, DECLARED)
    assert again == MADE
    page = round_paper(again, DECLARED).page()
    assert page == round_paper(MADE, DECLARED).page()
    key = key_paper(MADE, DECLARED).page()
    assert all(safe(one) in page and safe(one) in key for one in cautions(MADE, DECLARED))
    for word in ("licence", "held longer", "cold", "distress"):
        assert word in page


def test_the_sentence_tells_lean_and_what_to_practise() -> None:
    right = [brood.verdict for brood in MADE.broods]
    older = mark_ages(MADE, [f"{bird.age + 3:.1f}" for bird in MADE.nestlings], right, DECLARED)
    assert advice(older).startswith("You take nestlings for too old, by 3.0 days on average (3.0 to 3.0).")
    wrong = ["too old" if one == "within" else "within" for one in right]
    assert advice(mark_ages(MADE, ["20"] * 9, wrong, DECLARED)).endswith(
        "Of a brood, age the smallest and the largest wing first: they decide."
    )
    exact = mark_ages(MADE, [f"{bird.age:.0f}" for bird in MADE.nestlings], right, DECLARED)
    assert "All ages lie within the interval of the curve." in advice(exact)
    assert (exact.inside.hits, exact.broods.hits) == (9, 3)


def test_what_was_missed_comes_more_often() -> None:
    assert mix_for("birds", [], DECLARED) == (3, 3, 3)
    assert mix_for("edge", [], DECLARED) == (1, 1, 1)
    ages = [f"{bird.age + 20 * (bird.stage == 'old'):.0f}" for bird in MADE.nestlings]
    record = record_of(mark_ages(MADE, ages, ["", "", ""], DECLARED), at="")
    assert record.counts["missed"] == {"young": 0, "middling": 0, "old": 3}
    mix = mix_for("birds", [record], DECLARED)
    assert sum(mix) == 9
    assert mix[STAGES.index("old")] == max(mix) > 3


def test_files_from_the_command_line_and_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "practice"
    assert main(["practise", "--out", str(out), "--trainee", "AB", "--drill", "ageing"]) == 0
    answers = out / "ageing-AB-barn_owl-birds-1.answers.csv"
    mark = ["practise", "--out", str(out), "--drill", "ageing", "--marked", str(answers)]
    assert main(mark) == 2
    assert "Nothing was written" in capsys.readouterr().err
    told = [f"{bird.age:.0f}" for bird in MADE.nestlings] + [brood.verdict for brood in MADE.broods]
    head, *lines = answers.read_text(encoding="utf-8").splitlines()
    filled = [head, *(line + one for line, one in zip(lines, told, strict=True))]
    answers.write_text("\n".join(filled), encoding="utf-8")
    assert main(mark) == 0
    assert "All ages lie within" in capsys.readouterr().out
    (record,) = read_progress(out / "practice.progress.jsonl").drills_of("AB", "ageing")
    assert (record.asked, record.right) == (12, 12)


def test_refusals_name_place_and_cure() -> None:
    for wrong in (
        lambda: round_of_code("ageing", DECLARED),
        lambda: mark_ages(MADE, ["1"], ["within"], DECLARED),
        lambda: mark_ages(MADE, ["1"] * 9, ["maybe"] * 3, DECLARED),
        lambda: round_paper(MADE, DECLARED).page("a3"),
    ):
        with pytest.raises(Refusal) as told:
            wrong()
        assert told.value.where
        assert told.value.cure
