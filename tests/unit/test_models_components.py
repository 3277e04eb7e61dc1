"""What hangs together, held against scipy."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from audit.models.components import components


@settings(max_examples=50)
@given(
    st.integers(1, 15).flatmap(
        lambda n: st.tuples(
            st.just(n), st.lists(st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)), max_size=25)
        )
    )
)
def test_numbers_of_components_are_those_of_scipy(graph):
    nodes, links = graph
    one, other = (np.array([link[end] for link in links], dtype=np.int64) for end in (0, 1))
    edges = coo_array((np.ones(len(links)), (one, other)), shape=(nodes, nodes))
    assert components(nodes, one, other).tolist() == connected_components(edges, directed=False)[1].tolist()
