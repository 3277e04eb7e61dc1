"""How well antennas hear, drawn together over pieces and boxes."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from simulated_detections import Sky, by_events, f1

from audit.declarations import load_declarations
from audit.models.passage_efficiency import of_all, of_pieces
from audit.models.passages import Limits, passages

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)


def boxes_of(many, told=0.8):
    """Chains of so many boxes with one piece of each antenna."""
    pairs = np.arange(2 * many).reshape(many, 2).T
    hearing = SimpleNamespace(
        pairs=pairs,
        side=np.tile([0, 1], many),
        told=np.full(2 * many, told),
        off=np.zeros(2 * many, dtype=np.bool_),
        doubted=np.zeros(2 * many, dtype=np.bool_),
    )
    return SimpleNamespace(hearing=hearing, logger=np.arange(many))


def learnt(chains, heard, asked):
    hits, trials, alike = of_all(chains, heard, asked, LIMITS)
    about = hits / trials
    return about, alike, SimpleNamespace(efficiency=about, heard=hits, asked=trials, alike=alike)


def test_boxes_with_few_crossings_hear_like_all_others():
    rng = np.random.default_rng(31)
    chains, asked = boxes_of(40), np.repeat(rng.integers(5, 40, 40), 2).astype(float)
    true = np.tile([0.70, 0.55], 40)
    heard = rng.binomial(asked.astype(int), true).astype(float)
    about, alike, habits = learnt(chains, heard, asked)
    # 95 % interval of a share of so many crossings
    assert about == pytest.approx([0.70, 0.55], abs=1.96 * 0.5 / np.sqrt(asked[::2].sum()) + 0.01)
    assert (alike >= 100).all()
    found = of_pieces(chains, habits, heard, asked, LIMITS)
    assert np.abs(found - true).max() < 0.1 < np.abs(heard / asked - true).max()


def test_boxes_that_differ_speak_for_themselves():
    rng = np.random.default_rng(32)
    chains, asked = boxes_of(30), np.full(60, 400.0)
    true = np.where(np.arange(60) // 2 % 2, 0.95, 0.5)
    heard = rng.binomial(400, true).astype(float)
    _, alike, habits = learnt(chains, heard, asked)
    assert (alike <= 30).all()
    assert of_pieces(chains, habits, heard, asked, LIMITS) == pytest.approx(true, abs=0.1)


def test_an_antenna_hears_as_before_it_was_dead():
    hearing = SimpleNamespace(
        pairs=np.array([[0, 1, 2], [3, 3, 3]]),
        side=np.array([0, 0, 0, 1]),
        told=np.array([0.8, 0.01, 0.8, 0.8]),
        off=np.array([False, True, False, False]),
        doubted=np.zeros(4, dtype=np.bool_),
    )
    chains = SimpleNamespace(hearing=hearing, logger=np.zeros(3, dtype=np.int64))
    heard, asked = np.array([140.0, 0.0, 2.0, 200.0]), np.array([200.0, 30.0, 2.0, 232.0])
    _, _, habits = learnt(chains, heard, asked)
    found = of_pieces(chains, habits, heard, asked, LIMITS)
    assert found[[0, 2]] == pytest.approx([0.71, 0.71], abs=0.02)
    assert found[1] <= 0.011
    # where it may have been dead, a few crossings count for more
    hearing.doubted[2] = True
    assert of_pieces(chains, habits, heard, asked, LIMITS)[2] > found[2]


def test_what_was_said_of_antennas_that_were_awake_is_learnt_anew():
    log = by_events(Sky(seed=933, boxes=1, nights=6, nestlings=2, detection=(0.70, 0.55)))
    turned = replace(log.spells, efficiency=np.where(log.spells.antenna == 0, 0.3, 0.9))
    found, other = (passages(log.reads, spells, LIMITS) for spells in (log.spells, turned))
    assert found.at.tolist() == other.at.tolist()
    assert f1(found, log.truth) >= 0.9
