"""Rows that hold the same in some columns, by a number of their own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["number_rows", "numbered"]


def numbered(frame: pd.DataFrame, columns: Sequence[str], *, missing: bool = True) -> NDArray[np.int64]:
    """Give one number to each combination of what stands in some columns, in the order of first rows.

    Parameters
    ----------
    columns : sequence of str
        Of the frame; one at least.
    missing : bool
        An empty cell is as good as any other; else a row with one has the number -1.

    Returns
    -------
    numpy.ndarray, shape (n,)

    Examples
    --------
    >>> frame = pd.DataFrame({"box": ["SL-02", "SL-01", None, "SL-02"], "row": [1, 1, 1, 1]})
    >>> numbered(frame, ["box", "row"]).tolist(), numbered(frame, ["box"], missing=False).tolist()
    ([0, 1, 2, 0], [0, 1, -1, 0])
    """
    codes = [pd.factorize(frame[name])[0].astype(np.int64) for name in columns]
    return number_rows(codes, missing=missing)


def number_rows(codes: Sequence[NDArray[np.int64]], *, missing: bool = True) -> NDArray[np.int64]:
    """Give one number to each combination of some numbers of a row, in the order of first rows.

    Parameters
    ----------
    codes : sequence of numpy.ndarray, shape (n,)
        Each numbered in the order of first rows; below nought where nothing stands.
    missing : bool
        As in `numbered`.

    Returns
    -------
    numpy.ndarray, shape (n,)
    """
    empty = codes[0] < 0
    joined = pd.factorize(codes[0] + 1)[0].astype(np.int64)
    for code in codes[1:]:
        empty = empty | (code < 0)
        # two numbers below that of rows make one; numbered anew, so that it never outgrows them
        joined = joined * (int(code.max(initial=0)) + 2) + code + 1
        joined = pd.factorize(joined)[0].astype(np.int64)
    if not missing and empty.any():
        joined[~empty] = pd.factorize(joined[~empty])[0]
        joined[empty] = -1
    return joined
