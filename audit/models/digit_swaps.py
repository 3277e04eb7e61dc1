"""Which digit is typed for which: digits that look alike, and keys that lie side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["digit_swaps"]

_TEN = 10
_DIGITS = "0123456789"


def digit_swaps(
    confused: Iterable[str],
    confused_times: float,
    keypad: Sequence[str],
    beside_times: float,
    diagonal_times: float,
) -> Floats:
    """Probability of each wrong digit, given the one meant.

    Parameters
    ----------
    confused : iterable of str
        Pairs of digits that look alike, such as ``17``.
    confused_times : float
        How many times likelier they are taken for each other than other digits.
    keypad : sequence of str
        Rows of keys from above; a digit that stands twice is a wide key.
    beside_times, diagonal_times : float
        How many times likelier than a far key is one beside, above or below; one that touches at a corner.

    Returns
    -------
    ndarray, shape (10, 10)
        Row: digit meant; column: digit typed. Rows sum to 1, the diagonal is 0.

    Examples
    --------
    >>> swaps = digit_swaps(["17"], 2, ["789", "456", "123", "00."], 1.5, 1.25)
    >>> bool(swaps[1, 7] > swaps[1, 4] > swaps[1, 5] > swaps[1, 9])
    True
    """
    keys = [(int(key), x, y) for y, row in enumerate(keypad) for x, key in enumerate(row) if key in _DIGITS]
    near = np.ones((_TEN, _TEN))
    for a, x, y in keys:
        for b, x2, y2 in keys:
            touches = max(abs(x - x2), abs(y - y2)) == 1
            beside = abs(x - x2) + abs(y - y2) == 1
            times = beside_times if beside else diagonal_times if touches else 1.0
            near[a, b] = max(near[a, b], times)
    alike = np.ones((_TEN, _TEN))
    for pair in confused:
        one, other = int(pair[0]), int(pair[1])
        alike[one, other] = alike[other, one] = confused_times
    # the eye and the finger err each on their own
    weight = near + alike - 1
    np.fill_diagonal(weight, 0.0)
    swaps: Floats = weight / weight.sum(axis=1, keepdims=True)
    return swaps
