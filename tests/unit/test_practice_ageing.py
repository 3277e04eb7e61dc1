"""The ageing drill: ages beside published growth, broods, lean and spread, files."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from audit.cli import main
from audit.declarations import load_declarations
from audit.models.limits_of_agreement import limits_of_agreement
from audit.practice.ageing.marking import advice, estimate_of, lean_words, mark_ages, record_of
from audit.practice.ageing.page import cautions, key_page, round_page
from audit.practice.ageing.round import (
    STAGES,
    VERDICTS,
    aged_species,
    make_round,
    nestling_of,
    next_mix,
    round_of_code,
)
from audit.practice.exercise.progress import read_progress
from audit.refusal import Refusal
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from pathlib import Path

DECLARED = load_declarations()
OFFERED, REASONS = aged_species(DECLARED)
OWL = OFFERED["barn_owl"]
MADE = make_round("AB", 1, "barn_owl", (3, 3, 3), DECLARED)


@pytest.mark.parametrize("age", range(20, 61, 5))
def test_wings_of_a_published_equation_are_aged_within_two_days(age: int) -> None:
    """Wing of Swiss barn owls, 298.8 * exp(-4.186 * 0.9454**t) mm, from 14 days on.

    Source: public code of a study of inbreeding and growth in the long-term Swiss population (repository
    Inbreeding_morph_growth_BarnOwl), read; another fit than the declared one, which differs from it by 1.7
    days at most between 20 and 60 days.
    """
    wing = 298.8 * np.exp(-4.186 * 0.9454**age)
    bird = nestling_of(float(wing), OWL, 0.95)
    assert bird.age == pytest.approx(age, abs=2.0)
    assert estimate_of(bird, f"{age} days").kind == "inside"


def test_a_brood_whose_ages_were_guessed_by_feathers_leans_old() -> None:
    """A British group aged young of 35, 29, 26 days by feathers at 37, 33, 28 (a group's web page, read)."""
    limits = limits_of_agreement([2, 4, 2])
    assert limits.bias.value == pytest.approx(8 / 3)
    # Student: t(0.975, 2) = 4.303, SD 1.155, so +- 2.87; common tables
    assert (limits.bias.low, limits.bias.high) == pytest.approx((-0.20, 5.54), abs=0.01)
    assert lean_words(limits).startswith("No lean is seen: on average +2.7 days (-0.2 to +5.5).")


def test_answers_are_told_apart_by_the_interval() -> None:
    bird = nestling_of(187.0, OWL, 0.95)
    assert bird.low < bird.age < bird.high
    told = [estimate_of(bird, text) for text in ("40", f"{bird.low - 1:.1f}", f"{bird.high + 1:.1f}", "old")]
    assert [one.kind for one in told] == ["inside", "too young", "too old", "missing"]
    assert told[0].off == pytest.approx(40 - bird.age)


def test_only_species_with_a_wing_curve_around_their_ringing_are_offered() -> None:
    assert set(OFFERED) == {"barn_owl"}
    assert set(REASONS) == set(DECLARED.species) - {"barn_owl"}
    with pytest.raises(Refusal, match="holds for days 14 to 16 only"):
        make_round("AB", 1, "blue_tit", (3, 3, 3), DECLARED)
    with pytest.raises(Refusal, match="no curve of its wing"):
        make_round("AB", 1, "great_tit", (3, 3, 3), DECLARED)


def test_broods_have_one_clear_answer() -> None:
    seen = set()
    for number in range(1, 13):
        for brood, meant in make_round("AB", number, "barn_owl", (1, 1, 1), DECLARED).broods:
            ages = [bird.age for bird in brood]
            # declared days of ringing, 20 to 48
            told = "too young" if min(ages) < 20 else "too old" if max(ages) > 48 else "within"
            assert told == meant
            assert max(ages) <= 48 or min(ages) >= 20
            seen.add(meant)
    assert seen == set(VERDICTS)


def test_a_teams_own_days_of_ringing_stand_on_the_page(tmp_path: Path) -> None:
    (tmp_path / "species").mkdir()
    (tmp_path / "species" / "barn_owl.yaml").write_text(
        "ringing:\n  youngest_day: {value: 28, unit: d, source: our licence, grade: common practice}\n",
        encoding="utf-8",
    )
    own = load_declarations(tmp_path)
    made = make_round("AB", 1, "barn_owl", (3, 3, 3), own)
    assert "28 (our licence; common practice) to 48" in round_page(made, own)
    assert "20 (they keep warm themselves" in round_page(MADE, DECLARED)


def test_days_of_ringing_that_are_too_few_are_refused(tmp_path: Path) -> None:
    (tmp_path / "species").mkdir()
    (tmp_path / "species" / "barn_owl.yaml").write_text(
        "ringing:\n  youngest_day: {value: 46, unit: d, source: our licence, grade: common practice}\n",
        encoding="utf-8",
    )
    own = load_declarations(tmp_path)

    def made_often() -> None:
        for number in range(1, 5):
            make_round("AB", number, "barn_owl", (1, 1, 1), own)

    with pytest.raises(Refusal, match="clearly 'within'"):
        made_often()


def test_a_round_comes_out_the_same_and_every_page_warns() -> None:
    again = round_of_code(MADE.code, DECLARED)
    assert again == MADE
    page = round_page(again, DECLARED)
    assert page == round_page(MADE, DECLARED)
    key = key_page(MADE, DECLARED)
    assert all(safe(one) in page and safe(one) in key for one in cautions(MADE, DECLARED))
    for word in ("licence", "held longer", "cold", "distress"):
        assert word in page


def test_the_sentence_tells_lean_and_what_to_practise() -> None:
    right = [meant for _, meant in MADE.broods]
    older = mark_ages(MADE, [f"{bird.age + 3:.1f}" for bird in MADE.nestlings], right, DECLARED)
    assert advice(older).startswith("You take nestlings for too old, by 3.0 days on average (3.0 to 3.0).")
    wrong = ["too old" if one == "within" else "within" for one in right]
    assert advice(mark_ages(MADE, ["20"] * 9, wrong, DECLARED)).endswith(
        "Of a brood, age the smallest and the largest bird first: they decide."
    )
    exact = mark_ages(MADE, [f"{bird.age:.0f}" for bird in MADE.nestlings], right, DECLARED)
    assert "All ages lie within the interval of the curve." in advice(exact)
    assert (exact.inside.hits, exact.broods.hits) == (9, 3)


def test_what_was_missed_comes_more_often() -> None:
    assert next_mix([], DECLARED) == (3, 3, 3)
    ages = [f"{bird.age + 20 * (bird.stage == 'old'):.0f}" for bird in MADE.nestlings]
    record = record_of(mark_ages(MADE, ages, ["", "", ""], DECLARED), at="")
    assert record.counts["missed"] == {"young": 0, "middling": 0, "old": 3}
    mix = next_mix([record], DECLARED)
    assert sum(mix) == 9
    assert mix[STAGES.index("old")] == max(mix) > 3


def test_files_from_the_command_line_and_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "practice"
    assert main(["practise", "--out", str(out), "--trainee", "AB", "--drill", "ageing"]) == 0
    answers = out / "AB-ageing-001.answers.csv"
    mark = ["practise", "--out", str(out), "--drill", "ageing", "--marked", str(answers)]
    assert main(mark) == 2
    assert "Nothing was written" in capsys.readouterr().err
    told = [f"{bird.age:.0f}" for bird in MADE.nestlings] + [meant for _, meant in MADE.broods]
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
        lambda: round_page(MADE, DECLARED, "a3"),
    ):
        with pytest.raises(Refusal) as told:
            wrong()
        assert told.value.where
        assert told.value.cure
