"""Numbers of rows that hold the same, held against pandas (`DataFrame.groupby(...).ngroup()`)."""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.rules.numbered import numbered

CELLS = st.tuples(
    st.sampled_from(["SL-01", "SL-02", None]), st.sampled_from(["2026-06-10", "2026-06-24", None])
)


@settings(max_examples=10, deadline=None)
@given(st.lists(CELLS, max_size=12), st.booleans())
def test_rows_are_numbered_as_pandas_numbers_groups(cells: list, missing: bool) -> None:
    frame = pd.DataFrame(
        {
            "box": pd.Series([box for box, _ in cells], dtype="str"),
            "date": pd.Series([day for _, day in cells], dtype="datetime64[us]"),
        }
    )
    for columns in (["box"], ["date", "box"]):
        groups = frame.groupby(columns, sort=False, dropna=not missing)
        expected = groups.ngroup().fillna(-1).to_numpy().astype(np.int64)
        assert numbered(frame, columns, missing=missing).tolist() == expected.tolist()
