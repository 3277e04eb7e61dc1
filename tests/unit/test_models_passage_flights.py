"""Nestlings that look out before they fly: whatever order both antennas hear them in, they stay."""

from __future__ import annotations

import numpy as np
import pytest

from audit.declarations import load_declarations
from audit.models.passage_limits import Limits
from audit.models.passages import passages
from audit.models.reads import INNER, OUTER, Reads

_START = "antennas.passages."
LIMITS = Limits(
    **{
        name.removeprefix(_START): number.value
        for name, number in load_declarations().settings.items()
        if name.startswith(_START)
    }
)
_NIGHT, _PARENTS, _NIGHTS = 86_400, 2, 16


def _brood(seed: int, nestlings: int, flies: int) -> Reads:
    """Parents that feed all night, nestlings that look out now and then; the first of these fly at last.

    The logger stores a tag at an antenna once in 8 s, so that a look out for less reads inner and then
    outer, as a way out does.
    """
    rng = np.random.default_rng(seed)
    rows: list[tuple[int, float, int]] = []
    for parent in range(_PARENTS):
        for night in range(_NIGHTS):
            at = night * _NIGHT + rng.uniform(0, 1800)
            for _ in range(10):
                rows += [(parent, at, OUTER), (parent, at + rng.uniform(0.5, 3), INNER)]
                at += rng.lognormal(np.log(150), 0.6)
                rows += [(parent, at, INNER), (parent, at + rng.uniform(0.5, 3), OUTER)]
                at += rng.lognormal(np.log(1500), 0.6)
    for nestling in range(nestlings):
        tag = _PARENTS + nestling
        for _ in range(rng.integers(4, 9)):
            at = rng.uniform(0, (_NIGHTS - 6) * _NIGHT)
            many = rng.integers(1, 4)
            for nr in range(many):
                rows.append((tag, at + 8.2 * nr, INNER))
                rows.append((tag, at + 8.2 * nr + rng.uniform(0.5, 4), OUTER))
            if many > 1:
                rows.append((tag, at + 8.2 * many, INNER))
        if nestling < flies:
            at = (_NIGHTS - 5) * _NIGHT
            for _ in range(8):
                rows += [(tag, at, INNER), (tag, at + 1, OUTER)]
                at += rng.lognormal(np.log(3000), 0.4)
                rows += [(tag, at, OUTER), (tag, at + 1, INNER)]
                at += rng.lognormal(np.log(3000), 0.4)
    rows.sort()
    tag, at, antenna = (np.array(column) for column in zip(*rows, strict=True))
    return Reads(
        np.zeros(len(tag), np.int32),
        tag.astype(np.int32),
        (at * 1000).astype(np.int64),
        antenna.astype(np.int8),
    )


def test_a_look_out_that_reads_as_a_way_out_is_seldom_a_first_flight() -> None:
    broods = [passages(_brood(seed, nestlings=4, flies=0), None, LIMITS) for seed in (60, 61, 62, 63)]
    for found in broods:
        assert (found.tag < _PARENTS).sum() == 2 * 10 * _PARENTS * _NIGHTS
    # of some hundred looks
    assert sum((found.tag >= _PARENTS).sum() for found in broods) <= 2


def test_those_that_fly_at_last_are_told_from_then_on() -> None:
    found = passages(_brood(53, nestlings=4, flies=2), None, LIMITS)
    first = [int(found.at[found.tag == _PARENTS + nr].min(initial=2**62)) / 1000 for nr in range(4)]
    flight = (_NIGHTS - 5) * _NIGHT
    assert first[:2] == pytest.approx([flight + 1] * 2, abs=5)
    assert min(first[2:]) > 2**50
    assert [(found.tag == _PARENTS + nr).sum() for nr in range(2)] == [16, 16]
