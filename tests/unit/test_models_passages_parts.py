"""Boxes weighed at once, birds that show what holds for all, and tags that were hardly read."""

from __future__ import annotations

import numpy as np
import pytest

from audit.declarations import load_declarations
from audit.models import passages as asked
from audit.models.passage_limits import Limits
from audit.models.passages import passages
from audit.models.read_groups import group_reads
from audit.models.reads import INNER, Reads

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)


def boxes(counts):
    """Reads of one tag at each box, so many groups at each."""
    box = np.repeat(np.arange(len(counts)), counts).astype(np.int32)
    at = np.concatenate([np.arange(count) * 600_000 for count in counts])
    return Reads(box, np.zeros_like(box), at, np.zeros(len(box), dtype=np.int8))


@pytest.mark.parametrize("counts", [[3, 4, 2, 9, 1], [12], [1, 1, 1], [5, 5, 5]])
def test_boxes_are_weighed_whole_and_few_at_once(counts, monkeypatch):
    monkeypatch.setattr(asked, "_AT_ONCE", 5)
    reads = boxes(counts)
    groups = group_reads(reads, 10.0)
    parts = list(asked._parts(reads, groups))
    assert [part.start for part in parts] == [0, *(part.stop for part in parts[:-1])]
    assert parts[-1].stop == sum(counts)
    ends = set(np.cumsum(counts).tolist())
    assert all(part.stop in ends for part in parts)
    assert all(part.stop - part.start <= max(5, *counts) for part in parts)


def test_a_tag_read_a_single_time_is_no_passage():
    # in and out again after some minutes, forty times
    at = np.arange(80) * 400_000 + np.array([[0], [1000]])
    way = np.tile([[0, 1], [1, 0]], 40).astype(np.int8)
    none = np.zeros(160, dtype=np.int32)
    reads = Reads(none, none, at.T.ravel(), way.T.ravel())
    whole = passages(reads, None, LIMITS)
    assert len(whole.at) == 80
    n = len(reads.at)
    one = Reads(
        np.zeros(n + 1, dtype=np.int32),
        np.append(reads.tag, 1).astype(np.int32),
        np.append(reads.at, reads.at[-1] + 7_200_000),
        np.append(reads.antenna, INNER).astype(np.int8),
    )
    assert (passages(one, None, LIMITS).tag == 0).all()
    assert len(passages(one, None, LIMITS).at) == len(whole.at)
