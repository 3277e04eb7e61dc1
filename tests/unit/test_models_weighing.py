"""Three masses that should balance: slips in numbers, bags, and what is most likely wrong."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy import stats

from audit.declarations import load_declarations
from audit.models.bag_use import BagHabits, BagUse, usual_drift
from audit.models.mass_balance import balance_steps, imbalance, rounding_room
from audit.models.mass_causes import CAUSES
from audit.models.net_prior import NetPrior
from audit.models.slip_kinds import KINDS
from audit.models.spelling import one_slip_apart
from audit.models.usual_mass import usual_by_size
from audit.models.weighing import SlipShares, explain_balanced, explain_broken
from audit.models.written_number import typed_unit

KEYING = load_declarations().slips.channel()
SHARES = SlipShares(
    slip_rate=0.005,
    copied=0.06,
    borrow=0.05,
    not_subtracted=0.12,
    subtracted_twice=0.05,
    added=0.04,
    gross_net_exchanged=0.01,
    gross_bag_exchanged=0.03,
    bag_net_exchanged=0.03,
    scaled_rows=0.03,
    keying=KEYING,
)
HABITS = BagHabits(
    same_in_visit=0.55,
    same_in_day=0.25,
    drifted=0.15,
    other=0.05,
    drift_sd_g=0.5,
    swing_sd_g=3.0,
    swing_share=0.2,
    beyond=0.01,
    low_g=15.0,
    high_g=60.0,
    drift_rows=3,
)
#: How the slips of texts and of numbers are called in the two modules.
SAME_SLIP = {
    "changed": "digit",
    "exchanged": "neighbours",
    "dropped": "dropped",
    "doubled": "extra",
    "added": "extra",
}


def kind_of(typed, meant, unit=1.0):
    chance = KEYING.numbers(np.array([float(typed)]), np.array([float(meant)]), np.array([unit]))[0]
    return KINDS[int(chance.argmax())] if chance.any() else ""


@pytest.mark.parametrize(
    ("meant", "typed", "kind"),
    [
        (373, 378, "digit"),
        (373, 337, "neighbours"),
        (373, 33, "dropped"),
        (373, 3773, "extra"),
        (373, 3713, "extra"),
        (398, 893, "jump"),
        (344, 355, "twin"),
        (343, 545, "jump_twin"),
        (330, 313, "phonetic"),
        (313, 330, "phonetic"),
        (373, 415, "unknown"),
        (373, 985, "unknown"),
        (373, 475, "two_edits"),
        (373, 37.3, "tenfold"),
        (373, 3730, "tenfold"),
        (373, 0.373, "kilograms"),
        (373, 373, ""),
        (-22, 22, ""),
    ],
)
def test_each_way_to_mistype_a_number(meant, typed, kind):
    assert kind_of(typed, meant) == kind


@settings(max_examples=12, deadline=None)
@example(meant=1)
@example(meant=105)
@example(meant=1000)
@example(meant=3373)
@given(meant=st.integers(1, 9_999))
def test_numbers_and_texts_agree_on_single_slips(meant):
    """The digit arithmetic against the text comparison of restricted Damerau distance (Damerau 1964)."""
    numbers = range(1, 100_000)
    typed = np.array(numbers, dtype=float)
    chance = KEYING.numbers(typed, np.full(len(typed), float(meant)), np.ones(len(typed)))
    text = str(meant)
    # 105 without its 1 is 05, which a sheet shows as 5
    shortened = {int(f"0{text[:i]}{text[i + 1 :]}") for i in range(len(text))} - {0}
    by_text: dict[str, set[int]] = {"digit": set(), "neighbours": set(), "extra": set(), "dropped": shortened}
    for number in numbers:
        slip = SAME_SLIP.get(one_slip_apart(text, str(number)))
        if slip:
            by_text[slip].add(number)
    for kind, expected in by_text.items():
        assert set(typed[chance[:, KINDS.index(kind)] > 0].astype(int)) == expected


def test_a_doubled_digit_is_likelier_than_any_other_digit_too_many():
    typed = np.array([3773.0, 3713.0])
    chance = KEYING.numbers(typed, np.full(2, 373.0), np.ones(2))[:, KINDS.index("extra")]
    assert chance[0] > 3 * chance[1] > 0


@given(meant=st.integers(100, 999))
def test_single_digit_slips_sum_to_their_share(meant):
    """Summed over all numbers of as many digits, the chance of one wrong digit is its declared share."""
    typed = np.arange(100.0, 1000.0)
    chance = KEYING.numbers(typed, np.full(len(typed), float(meant)), np.ones(len(typed)))
    # a first digit of nought makes a shorter number
    shorter = KEYING.swaps[meant // 100, 0] / 3
    total = chance[:, KINDS.index("digit")].sum() / (1 - shorter)
    assert total == pytest.approx(KEYING.keyed * KEYING.codes["digit"])


def test_the_unit_is_the_finest_of_a_row():
    columns = [np.array([395.0, 31.4, np.nan]), np.array([22.0, 8.0, 1.25])]
    assert typed_unit(*columns).tolist() == [1.0, 0.1, 0.01]


def test_imbalance_of_the_common_example():
    """Common practice: 395 g on the balance, a bag of 22 g, 373 g of bird."""
    assert imbalance(np.array([395.0]), np.array([22.0]), np.array([373.0]))[0] == 0
    assert imbalance(np.array([395.3]), np.array([22.1]), np.array([373.2]))[0] == 0
    assert np.isnan(imbalance(np.array([395.3]), np.array([np.nan]), np.array([373.2]))[0])


def test_a_whole_number_among_tenths_is_no_rounding_where_all_else_balances():
    exact = np.array([[26.0, 7.6, 18.4], [25.1, 7.0, 18.1], [24.9, 7.9, 17.0]])
    slipped = np.array([[26.0, 7.0, 18.4]])
    season = np.concatenate([np.repeat(exact, 3, axis=0), slipped])
    settings = {"habit_share": 0.03, "habit_rows": 3}
    known = rounding_room(season, **settings, exact_share=0.8, exact_rows=6)
    assert known.allowed[-1] == 0
    assert not known.one_unit[-1]
    # nets rounded after the subtraction balance by half a gram only
    rounded = np.repeat(np.array([[24.6, 6.3, 18.0], [25.9, 7.2, 19.0], [25.2, 7.2, 18.0]]), 4, axis=0)
    assert (rounding_room(rounded, **settings, exact_share=0.8, exact_rows=6).allowed > 0.4).all()


def test_one_unit_off_is_a_slip_where_a_season_computes_its_nets():
    firm = {"habit_share": 0.03, "habit_rows": 3, "firm_share": 0.02, "firm_rows": 50}
    exact, off = np.array([[395.0, 22.0, 373.0]]), np.array([[395.0, 22.0, 372.0]])
    few = rounding_room(np.concatenate([np.repeat(exact, 20, axis=0), off]), **firm)
    assert few.one_unit[-1]
    many = rounding_room(np.concatenate([np.repeat(exact, 60, axis=0), off]), **firm)
    assert not many.one_unit[-1]
    assert many.allowed[-1] == 0
    # three masses rounded one by one: a third of the rows is one unit off (Irwin-Hall), a habit
    rng = np.random.default_rng(5)
    net, bag = rng.uniform(250, 400, 400), rng.uniform(20, 30, 400)
    rounded = rounding_room(np.round(np.stack([net + bag, bag, net], axis=1)), **firm)
    assert (rounded.allowed >= 1).all()


def test_rounding_room():
    triples = np.array([[395, 22, 373], [395.4, 22.1, 373], [395, 22, 374]], dtype=float)
    room = rounding_room(triples, habit_share=0.03, habit_rows=3)
    assert room.allowed[0] == 0
    assert room.allowed[1] == pytest.approx(0.5)
    assert room.one_unit.tolist() == [False, False, True]
    habit = rounding_room(np.repeat(triples[2:], 4, axis=0), habit_share=0.03, habit_rows=3)
    assert (habit.allowed >= 1).all()


def bags_of(*masses, same_visit=True):
    bag = np.array(masses, dtype=float)
    group = np.zeros(len(bag), dtype=np.int64) if same_visit else np.arange(len(bag))
    return BagUse(bag, group, group, HABITS)


def chance(bags, mass, row=0):
    return float(np.exp(bags.log_chance(np.array([float(mass)]), np.ones(1), np.array([row])))[0])


def test_the_bag_of_the_siblings_is_the_likeliest():
    bags = bags_of(22, 22, 22, 22)
    assert chance(bags, 22) > 0.8
    assert chance(bags, 22) > chance(bags, 23) > chance(bags, 27) > chance(bags, 90) > 0


def test_a_row_does_not_vouch_for_itself():
    assert chance(bags_of(52, 22, 22), 52) < 0.01
    assert chance(bags_of(52, 52, 22), 52) > 0.3


def test_without_other_bags_any_mass_in_range_is_as_likely():
    bags = bags_of(22, 30, same_visit=False)
    assert chance(bags, 22) == pytest.approx(chance(bags, 55))
    assert chance(bags, 22) == pytest.approx(0.99 / 45)


def test_chances_of_a_bag_sum_to_about_one():
    bags = bags_of(22, 22, 23, 31)
    total = sum(chance(bags, mass) for mass in range(15, 61))
    assert total == pytest.approx(1, abs=0.02)


def test_usual_drift_is_that_of_neighbouring_rows_of_one_day():
    bag = np.array([22.0, 31.0, 22.2, 31.3, 22.5, np.nan, 40.0])
    day = np.array([0, 0, 0, 0, 0, 0, 1])
    assert usual_drift(bag, day, 3) == pytest.approx(0.3)
    assert np.isnan(usual_drift(np.array([22.0]), np.array([0]), 3))


@pytest.mark.parametrize("z", [0.0, 0.7, -2.5, 8.0])
def test_the_prior_of_net_is_students_t(z):
    """Against scipy.stats.t."""
    prior = NetPrior(np.array([350.0]), np.array([30.0]), 500.0, 0.0, 5.0)
    found = prior.log_chance(np.array([350.0 + 30 * z]), np.ones(1))
    assert found[0] == pytest.approx(stats.t.logpdf(30 * z, 5, scale=30))


def flat(n):
    return NetPrior(np.full(n, np.nan), np.full(n, np.nan), 500.0, 0.03, 5.0)


def about(mean, sd):
    return NetPrior(np.array([float(mean)]), np.array([float(sd)]), 500.0, 0.03, 5.0)


def explained(triple, bags, prior=None, doubt=(1, 1, 1)):
    triples = np.array([triple], dtype=float)
    bags = BagUse(np.r_[triples[0, 1], bags.bag], np.r_[0, bags.visit], np.r_[0, bags.day], HABITS)
    return explain_broken(
        triples,
        np.array([0]),
        bags,
        prior or flat(1),
        SHARES,
        allowed=np.zeros(1),
        above=np.full((1, 3), np.nan),
        doubt=np.array([doubt], dtype=float),
    )


def posterior(verdicts, cause):
    return float(verdicts.posterior[0, CAUSES.index(cause)])


def test_the_same_digit_fits_all_three_cells_and_the_siblings_decide():
    """One digit changed by the same amount mends gross, bag or net: distance alone cannot tell them apart."""
    alone = explained((395, 24, 373), bags_of(), flat(1))
    three = [posterior(alone, cause) for cause in ("gross", "bag", "net")]
    assert sum(three) == pytest.approx(1, abs=1e-6)
    assert max(three) < 0.6
    with_siblings = explained((395, 24, 373), bags_of(22, 22, 22))
    assert posterior(with_siblings, "bag") > 0.95
    assert with_siblings.implied[0].tolist() == [397, 22, 371]


def test_growth_decides_between_gross_and_net():
    bags = bags_of(22, 22, 22)
    assert posterior(explained((495, 22, 373), bags, about(370, 30)), "gross") > 0.9
    assert posterior(explained((395, 22, 173), bags, about(370, 30)), "net") > 0.99


def test_a_cell_in_doubt_is_the_likelier_culprit():
    bags = bags_of(22, 22, 22)
    before, after = (explained((375, 22, 373), bags, doubt=(times, 1, 1)) for times in (1, 20))
    assert posterior(after, "gross") > 0.9 > posterior(before, "gross")


def test_exchanged_columns_of_a_row_that_balances():
    triples = np.array([[395.0, 373.0, 22.0], [395.0, 22.0, 373.0]])
    bags = BagUse(np.array([373.0, 22.0, 22.0, 22.0]), np.zeros(4, dtype=int), np.zeros(4, dtype=int), HABITS)
    found = explain_balanced(triples, np.array([0, 1]), bags, flat(2), SHARES)
    assert found.posterior[0, CAUSES.index("bag_net_exchanged")] > 0.9
    assert found.posterior[1, CAUSES.index("fine")] > 0.999


@settings(max_examples=80, deadline=None)
@given(
    net=st.integers(60, 480),
    bag=st.integers(15, 60),
    cell=st.integers(0, 2),
    wrong=st.floats(0, 1000),
    siblings=st.lists(st.integers(15, 60), max_size=3),
)
def test_probabilities_stay_probabilities(net, bag, cell, wrong, siblings):
    triple = [net + bag, bag, net]
    triple[cell] = round(wrong, 1)
    assume(abs(triple[0] - triple[1] - triple[2]) > 0.2)
    found = explained(triple, bags_of(*siblings))
    assert found.posterior.sum() == pytest.approx(1)
    assert (found.posterior >= 0).all()
    assert found.implied[0, cell] == pytest.approx([net + bag, bag, net][cell])


def test_a_season_is_its_own_yardstick():
    rng = np.random.default_rng(3)
    size = rng.uniform(60, 250, 400)
    visit = np.repeat(np.arange(100), 4)
    brood = np.repeat(rng.normal(0, 0.06, 100), 4)
    mass = (100 + size) * (1 + brood + rng.normal(0, 0.05, 400))
    typed = mass.copy()
    typed[::40] *= 10
    expected, sd = usual_by_size(
        typed,
        size,
        np.zeros(400, dtype=np.int64),
        visit,
        start=(np.full(400, np.nan), np.full(400, np.nan)),
        window=15,
        few=3,
        rough_cv=0.25,
        visit_share=0.4,
        least_cv=0.05,
    )
    z = (mass - expected) / sd
    assert abs(np.median(z)) < 0.2
    assert 0.7 < np.std(z) < 1.4
    assert (np.abs(typed - expected)[::40] / sd[::40] > 10).all()


def test_heavy_siblings_make_a_heavy_bird_expected():
    """Birds of a brood a quarter heavier are expected above the others, but not all the way."""
    n = 120
    visit = np.arange(n) // 6
    mass = np.where(visit == 3, 400.0, 320.0) + np.tile([-9.0, -3, 0, 3, 6, 9], 20)
    expected, sd = usual_by_size(
        mass,
        np.full(n, 200.0) + np.arange(n) % 7,
        np.zeros(n, dtype=np.int64),
        visit,
        start=(np.full(n, np.nan), np.full(n, np.nan)),
        window=15,
        few=3,
        rough_cv=0.25,
        visit_share=0.4,
        least_cv=0.05,
    )
    assert expected[visit == 3].min() > 330
    assert expected[visit == 3].max() < 400
    assert abs(np.median(expected[visit != 3]) - 321) < 3
    assert (sd < 0.05 * 320).all()


def test_few_birds_fall_back_on_what_is_declared():
    n = 4
    start = (np.array([300.0, 300.0, 300.0, np.nan]), np.full(n, 30.0))
    expected, sd = usual_by_size(
        np.array([310.0, 320.0, 330.0, 335.0]),
        np.array([150.0, 160.0, 170.0, np.nan]),
        np.zeros(n, dtype=np.int64),
        np.arange(n),
        start=start,
        window=15,
        few=3,
        rough_cv=0.25,
        visit_share=0.4,
        least_cv=0.05,
    )
    assert expected.tolist() == [300, 300, 300, 325]
    assert sd[:3].tolist() == [30, 30, 30]
    assert sd[3] == pytest.approx(325 * 0.25)


def test_the_step_of_a_balance_is_read_off_its_numbers():
    rng = np.random.default_rng(5)
    bag, net = rng.uniform(20, 40, 60), rng.uniform(250, 400, 60)
    exact = np.stack([net + bag, bag, net], axis=1)
    one_group = np.zeros(60, dtype=np.int64)
    known = {"steps": [0.2, 0.5, 1, 2, 5, 10], "share": 0.95, "rows": 10}
    for step in (0.2, 0.5, 1.0, 2.0, 5.0):
        weighed = np.round(np.rint(exact / step) * step, 1)
        assert balance_steps(weighed, one_group, **known).tolist() == [step] * 60
    fine = np.round(exact, 1)
    assert np.isnan(balance_steps(fine, one_group, **known)).all()
    assert np.isnan(balance_steps(np.rint(exact[:9] / 5) * 5, one_group[:9], **known)).all()
    # small birds on their own balance do not hide that of the large ones
    both = np.concatenate([np.rint(exact / 5) * 5, np.round(exact / 20, 1)])
    steps = balance_steps(both, np.repeat([0, 1], 60), **known)
    assert (steps[:60] == 5.0).all()
    assert np.isnan(steps[60:]).all()


def test_three_masses_rounded_to_five_grams_may_be_five_off():
    rng = np.random.default_rng(6)
    bag, net = rng.uniform(20, 40, 60), rng.uniform(250, 400, 60)
    typed = np.rint(np.stack([net + bag, bag, net], axis=1) / 5) * 5
    steps = balance_steps(typed, np.zeros(60, dtype=np.int64), steps=[1, 5], share=0.95, rows=10)
    habits = {"habit_share": 0.03, "habit_rows": 3}
    assert (np.abs(imbalance(*typed.T)) > rounding_room(typed, **habits).allowed).any()
    assert (np.abs(imbalance(*typed.T)) <= rounding_room(typed, **habits, step=steps).allowed).all()


def test_a_number_between_two_steps_stays_a_slip_where_all_else_balances():
    rng = np.random.default_rng(7)
    bag, net = np.rint(rng.uniform(20, 40, 60) * 2) / 2, np.rint(rng.uniform(250, 400, 60) * 2) / 2
    typed = np.stack([net + bag, bag, net], axis=1)
    typed[17] = [348.0, 22.5, 325.9]
    steps = balance_steps(typed, np.zeros(60, dtype=np.int64), steps=[0.5, 1], share=0.95, rows=10)
    room = rounding_room(
        typed,
        habit_share=0.03,
        habit_rows=3,
        exact_share=0.8,
        exact_rows=6,
        firm_share=0.02,
        firm_rows=50,
        step=steps,
    )
    broken = np.abs(imbalance(*typed.T)) > room.allowed
    assert np.flatnonzero(broken).tolist() == [17]
    assert not room.one_unit[17]
