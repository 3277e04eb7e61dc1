"""Accounts compete: shares, marginal probabilities, the likeliest value, ties."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.explain.account import NOTHING, Account, Posterior

FIELDS = ("gross_g", "bag_g", "net_g", "wing_mm")

accounts = st.lists(
    st.builds(
        Account,
        kind=st.sampled_from(["keyed", "unknown", "exchanged"]),
        meant=st.lists(
            st.tuples(st.sampled_from(FIELDS), st.one_of(st.none(), st.floats(0, 500))),
            min_size=1,
            max_size=2,
            unique_by=lambda pair: pair[0],
        ).map(tuple),
        log_weight=st.one_of(st.just(-math.inf), st.floats(-700, 50)),
    ),
    max_size=8,
)


def posterior(*weighed: tuple[str, dict[str, object], float]) -> Posterior:
    """Accounts by kind, meant values and plain weight."""
    return Posterior(
        tuple(Account(kind, tuple(meant.items()), math.log(weight)) for kind, meant, weight in weighed)
    )


def test_bayes_by_hand():
    # two explanations and nothing wrong, weights 1 : 2 : 1, so 1/4, 1/2, 1/4
    told = posterior(
        (NOTHING, {}, 1), ("not_subtracted", {"net_g": 373.0}, 2), ("keyed", {"gross_g": 417.0}, 1)
    )
    assert told.nothing == pytest.approx(1 / 4)
    assert told.wrong("net_g") == pytest.approx(1 / 2)
    assert told.wrong("gross_g") == pytest.approx(1 / 4)
    assert told.wrong("wing_mm") == 0
    assert told.likeliest("net_g") == (373.0, pytest.approx(1 / 2))
    assert told.by_cells()[0][0] == {"net_g"}


def test_all_values_of_a_cell_share_what_speaks_against_it():
    told = posterior(
        (NOTHING, {}, 1),
        ("keyed", {"net_g": 373.0}, 4),
        ("carried", {"gross_g": 395.0, "net_g": 373.0}, 1),
        ("keyed", {"net_g": 379.0}, 1),
        ("unknown", {"net_g": None}, 1),
    )
    values = told.values("net_g")
    assert values == {373.0: pytest.approx(5 / 8), 379.0: pytest.approx(1 / 8)}
    # nobody knows the value in the rest
    assert told.wrong("net_g") - sum(values.values()) == pytest.approx(1 / 8)
    assert told.values("net_g", {frozenset({"net_g"})}) == {
        373.0: pytest.approx(1 / 2),
        379.0: pytest.approx(1 / 8),
    }
    assert told.values("wing_mm") == {}


def test_two_ways_to_the_same_value_add_up():
    told = posterior(
        (NOTHING, {}, 1),
        ("keyed", {"net_g": 373.0}, 1),
        ("borrow", {"net_g": 373.0}, 1),
        ("keyed", {"net_g": 379.0}, 1),
    )
    assert told.likeliest("net_g") == (373.0, pytest.approx(1 / 2))


def test_a_wrong_cell_without_a_value_is_wrong_all_the_same():
    told = posterior((NOTHING, {}, 1), ("unknown", {"wing_mm": None}, 3))
    assert told.wrong("wing_mm") == pytest.approx(3 / 4)
    assert told.likeliest("wing_mm") == (None, 0.0)


def test_equal_accounts_come_in_a_fixed_order():
    one = posterior((NOTHING, {}, 1), ("keyed", {"net_g": 1.0}, 1), ("keyed", {"bag_g": 2.0}, 1))
    other = posterior((NOTHING, {}, 1), ("keyed", {"bag_g": 2.0}, 1), ("keyed", {"net_g": 1.0}, 1))
    assert one.by_cells() == other.by_cells()


def test_nothing_but_impossible_accounts_share_alike():
    told = Posterior((Account(NOTHING, (), -math.inf), Account("keyed", (("net_g", 1.0),), -math.inf)))
    assert told.nothing == pytest.approx(1 / 2)


@given(accounts)
def test_shares_are_probabilities(found: list[Account]):
    told = Posterior((Account(NOTHING, (), 0.0), *found))
    assert sum(told.shares) == pytest.approx(1)
    assert 0 <= told.nothing <= 1
    for field in FIELDS:
        value, chance = told.likeliest(field)
        # a value is never surer than that the cell is wrong at all
        assert 0 <= chance <= told.wrong(field) + 1e-12 <= 1 + 1e-12
        assert (value is None) == (chance == 0) or chance == pytest.approx(0)
    assert sum(share for _, share in told.by_cells()) == pytest.approx(1 - told.nothing)


def test_weights_far_from_nought_are_no_less_than_shares() -> None:
    for weights in ((-2000.0, -2000.0 + math.log(3)), (2000.0, 2000.0 + math.log(3))):
        told = Posterior((Account(NOTHING, (), weights[0]), Account("keyed", (("net_g", 3.0),), weights[1])))
        assert told.nothing == pytest.approx(0.25)
        assert told.wrong("net_g") == pytest.approx(0.75)
    told = Posterior((Account(NOTHING, (), 0.0), Account("keyed", (("net_g", 3.0),), -3000.0)))
    assert (told.nothing, told.wrong("net_g")) == (1.0, 0.0)
