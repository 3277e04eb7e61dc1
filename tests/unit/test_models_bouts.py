"""Bouts made of groups are those made of the reads themselves."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.bouts import together
from audit.models.read_groups import Groups, group_reads
from audit.models.reads import Reads

_ASKED = sorted(set(Groups.__slots__) - {"changes", "inward", "outward"})


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(st.integers(0, 1), st.integers(0, 2), st.integers(0, 60), st.integers(0, 1)), max_size=40
    )
)
def test_bouts_of_groups_are_those_of_the_reads(rows):
    box, tag, at, antenna = np.array(sorted(rows), dtype=np.int64).reshape(-1, 4).T
    reads = Reads(box.astype(np.int32), tag.astype(np.int32), at * 1000, antenna.astype(np.int8))
    for gap, bout in ((2.0, 10.0), (0.0, 3.0), (4.0, 4.0)):
        made = together(group_reads(reads, gap, moments=False), bout)
        whole = group_reads(reads, bout)
        for name in _ASKED:
            assert getattr(made, name).tolist() == getattr(whole, name).tolist(), name
        assert made.kind.tolist() == whole.kind.tolist()
