"""From which birds a log is learnt, and what is left possible that no model knows: against counting."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from audit.declarations import load_declarations
from audit.models.passage_alike import pauses_of
from audit.models.passage_habits import as_all
from audit.models.passage_hearing import no_spells
from audit.models.passage_learning import learn
from audit.models.passage_ready import stored_again
from audit.models.passages import Limits, _sample
from audit.models.read_groups import group_reads
from audit.models.reads import Reads

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)
BIRDS, VISITS = 6, 20


@pytest.fixture(scope="module")
def reads():
    """Birds that go in and out by the hour, heard by both antennas."""
    rows = [
        (0, tag, (tag * 1000 + visit * 3600 + side) * 1000, side if visit % 2 == 0 else 1 - side)
        for tag in range(BIRDS)
        for visit in range(VISITS)
        for side in (0, 1)
    ]
    box, tag, at, antenna = (np.array(column) for column in zip(*sorted(rows), strict=True))
    return Reads(box.astype(np.int32), tag.astype(np.int32), at.astype(np.int64), antenna.astype(np.int8))


def sampled(reads, most):
    limits = replace(LIMITS, learn_groups=most)
    return _sample(reads, group_reads(reads, 10.0), no_spells(), limits, stored_again(reads, limits))


@pytest.mark.parametrize(("most", "birds"), [(1000, range(BIRDS)), (60, (0, 2, 4)), (40, (0, 3)), (20, (0,))])
def test_a_log_is_learnt_from_whole_birds_taken_evenly(reads, most, birds):
    chains = sampled(reads, most)
    assert np.unique(chains.tag).tolist() == list(birds)
    assert len(chains.tag) == VISITS * len(birds)
    assert chains.groups.fresh.sum() == len(birds)


def test_of_a_bird_longer_than_all_that_is_needed_its_first_groups_do(reads):
    chains = sampled(reads, 7)
    assert len(chains.tag) == 7
    assert (chains.tag == 0).all()


def test_a_little_of_everything_stays_possible_between_two_groups(reads):
    chains = sampled(reads, 1000)
    habits = learn(chains, LIMITS)
    own = as_all(chains, habits)
    known, wondered = (pauses_of(chains, habits, own, wonder).gaps for wonder in (0.0, LIMITS.wonder))
    assert wondered - known == pytest.approx(LIMITS.wonder)
    # without it, antennas that hear everything would leave no way from one state to the other
    sure = replace(own, efficiency=np.ones_like(own.efficiency))
    assert pauses_of(chains, habits, sure, 0.0).gaps[[0, 1], [1, 0]] == pytest.approx(0.0)
    assert pauses_of(chains, habits, sure, LIMITS.wonder).gaps.min() == pytest.approx(LIMITS.wonder)
