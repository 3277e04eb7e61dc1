"""Favoured last digits."""

from __future__ import annotations

import numpy as np
import pytest
from invented import Style, invented_season
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.findings import NotRun
from audit.rules.digits import RULE

DECLARED = load_declarations()


def season_of(wings, ringers="AB", **more):
    return [
        {
            "date": "2026-06-13",
            "box": "SL-01",
            "ring": f"SV{i:05d}",
            "species": "barn owl",
            "wing_mm": float(wing),
            "ringer": ringer,
            **{name: values[i] for name, values in more.items()},
        }
        for i, (wing, ringer) in enumerate(zip(wings, [ringers] * len(wings), strict=True))
    ]


def answers_to(rows):
    return ask(RULE, typed_season(DECLARED, handlings=rows), DECLARED)


def wings(n, seed=1):
    return np.random.default_rng(seed).integers(120, 260, n)


def test_rounding_to_five_is_said_kindly():
    read = wings(80)
    read[:60] = np.round(read[:60] / 5) * 5
    (answer,) = answers_to(season_of(read))
    assert answer.severity == "note"
    assert answer.rule == "digits.favoured"
    assert (answer.suspects[0].cell.label, answer.suspects[0].cell.field) == ("handlings!2", "wing_mm")
    times = sum(wing % 5 == 0 for wing in read)
    assert answer.message == (
        f"Of 80 wing lengths by AB, {times} end in 0 or 5 where about 16 would be expected: "
        "easily done in a hurry, and a second look at the last digit helps."
    )


def test_another_digit():
    read = wings(100)
    read[:40] = read[:40] // 10 * 10 + 4
    (answer,) = answers_to(season_of(read))
    assert " end in 4 where about 10 would be expected" in answer.message


def test_only_the_observer_who_does_it():
    read = wings(160)
    read[:80] = np.round(read[:80] / 5) * 5
    rows = season_of(read)
    for row in rows[:40]:
        row["wing_mm"] += 1 if row["ring"] < "SV00010" else 0
    for row in rows[80:]:
        row["ringer"] = "IP"
    (answer,) = answers_to(rows)
    assert " by AB" in answer.message


def test_even_reading_gives_nothing():
    assert not answers_to(season_of(wings(400)))


def test_too_few_values_give_nothing():
    assert not answers_to(season_of([200] * 49))


def test_a_balance_marked_in_fives_is_the_instrument():
    masses = [float(5 * (60 + i % 20)) for i in range(100)]
    rows = season_of(wings(100), gross_g=masses)
    assert not answers_to(rows)


def test_two_balances_are_not_a_preference_for_nought():
    """Tenths on some days and whole grams on others (as in a real data set): no habit of the observer."""
    rng = np.random.default_rng(5)
    rows = []
    for day in range(20):
        for _ in range(10):
            mass = rng.uniform(250, 390)
            rows.append(
                {
                    "date": f"2026-06-{day + 1:02d}",
                    "box": "SL-01",
                    "ring": f"SV{len(rows):05d}",
                    "ringer": "AB",
                    "net_g": round(mass, 1) if day % 2 else float(round(mass)),
                }
            )
    assert not answers_to(rows)


def test_birds_that_hardly_vary_are_no_evidence():
    """Grown great tits have wings of 72 to 77 mm: their last digits cannot be even."""
    rng = np.random.default_rng(2)
    rows = season_of(np.round(rng.normal(75, 1.5, 200)))
    for row in rows:
        row["species"] = "great tit"
    assert not answers_to(rows)


def test_the_scribe_stands_in_for_the_ringer():
    read = np.round(wings(80) / 5) * 5
    read[::9] += 1
    rows = season_of(read)
    for row in rows:
        row["scribe"] = row.pop("ringer")
    (answer,) = answers_to(rows)
    assert " by AB" in answer.message


def test_the_scribe_stands_in_where_no_ringer_is_named():
    read = np.round(wings(80) / 5) * 5
    read[::9] += 1
    rows = season_of(read)
    for row in rows:
        row.update(scribe="CD", ringer=None)
    (answer,) = answers_to(rows)
    assert " by CD" in answer.message
    # one ringer who is named is an observer, and nobody else is
    rows[0]["ringer"] = "AB"
    assert not answers_to(rows)


def test_without_observers_it_does_not_run():
    rows = season_of(wings(80))
    for row in rows:
        del row["ringer"]
    assert answers_to(rows) == [NotRun("digits.favoured", "There is no column for the ringer or the scribe.")]


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(
    "style", [Style(), Style(step_g=0.1), Style(tits=0.9)], ids=["grams", "tenths", "tits"]
)
def test_a_clean_season_gives_nothing(seed, style):
    answers = ask(RULE, typed_season(DECLARED, **invented_season(seed, style)), DECLARED)
    assert not answers
    assert not blamed(answers)


def test_a_balance_in_half_grams_beside_one_in_tenths():
    # owls on a balance of 0.5 g, tits on one of 0.1 g: both are typed with one decimal
    random = np.random.default_rng(4)
    owls = np.round(random.uniform(250, 420, 90) * 2) / 2
    tits = np.round(random.uniform(9, 20, 90), 1)
    rows = season_of([*wings(180)], gross_g=np.concatenate([owls, tits]).tolist())
    for row in rows[90:]:
        row["species"] = "great tit"
    assert not answers_to(rows)


def test_one_of_two_balances_is_coarse():
    masses = np.random.default_rng(5).integers(250, 420, 160)
    masses[80:] = masses[80:] // 5 * 5
    rows = season_of(wings(160), gross_g=masses.astype(float).tolist())
    for row in rows[80:]:
        row["ringer"] = "IP"
    assert not answers_to(rows)
    rows[80]["gross_g"] += 1
    rows[90]["gross_g"] += 2
    (answer,) = answers_to(rows)
    assert " by IP, 78 end in 0 or 5" in answer.message


def test_siblings_of_one_size_are_no_habit():
    random = np.random.default_rng(6)
    brood = np.repeat(random.integers(30, 60, 12), 9)
    rows = season_of(brood)
    assert answers_to(rows)  # as if each wing had been drawn for itself
    for i, row in enumerate(rows):
        row["box"] = f"SL-{i // 9 + 1:02d}"
    assert not answers_to(rows)
