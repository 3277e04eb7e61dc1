"""Numbers as they were written: to which step, and whether two are the same to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["close", "equal", "slack", "step_of", "steps_of", "tidy", "typed_unit"]

_TEN = 10
_TWO = 2
_MOST_DECIMALS = 2
#: Half a millionth is rounded away, as by `round(value, 6)`.
_ROUNDED = 5e-7


def typed_unit(*columns: Floats) -> Floats:
    """Find the unit to which the numbers of each row were written: 1, 0.1 or 0.01.

    Parameters
    ----------
    *columns : ndarray, shape (n,)
        Numbers; NaN is ignored.

    Returns
    -------
    ndarray, shape (n,)
        The finest unit that any number of the row needs.

    Examples
    --------
    >>> import numpy as np
    >>> typed_unit(np.array([395.0, 31.4]), np.array([22.0, 8.0])).tolist()
    [1.0, 0.1]
    """
    unit = np.ones(len(columns[0]))
    for values in columns:
        known = np.nan_to_num(values, nan=0.0)
        for decimals in range(1, _MOST_DECIMALS + 1):
            scaled = known * float(_TEN ** (decimals - 1))
            needs = np.abs(scaled - np.rint(scaled)) > slack(scaled)
            unit = np.where(needs, np.minimum(unit, 1.0 / _TEN**decimals), unit)
    return unit


def step_of(value: float) -> float:
    """Smallest step that one number was written to: 1, a tenth or a hundredth.

    Examples
    --------
    >>> step_of(373.0), step_of(37.3), step_of(0.25)
    (1.0, 0.1, 0.01)
    """
    if float(value).is_integer():
        return 1.0
    return 1 / _TEN if float(round(value * _TEN, 6)).is_integer() else 1 / _TEN**_TWO


def steps_of(values: Floats) -> Floats:
    """Smallest steps that numbers were written to, as `step_of` tells of one.

    Parameters
    ----------
    values : ndarray, shape (n,)
        None of them missing.

    Examples
    --------
    >>> import numpy as np
    >>> steps_of(np.array([373.0, 37.3, 0.25])).tolist()
    [1.0, 0.1, 0.01]
    """
    tenths = values * _TEN
    of_ten = np.abs(tenths - np.rint(tenths)) < _ROUNDED
    return np.where(values == np.rint(values), 1.0, np.where(of_ten, 1 / _TEN, 1 / _TEN**_TWO))


def tidy(values: Floats, unit: Floats) -> Floats:
    """Round to the unit, so that 395.1 - 22.4 is 372.7."""
    steps = np.rint(1 / unit)
    tidied: Floats = np.rint(values * steps) / steps
    return tidied


def close(a: Floats, b: Floats, unit: Floats) -> Flags:
    """Whether two numbers are the same to the unit."""
    same: Flags = np.abs(a - b) <= unit / 2 + slack(b)
    return same


def slack(values: Floats) -> Floats:
    """Room for the binary representation of decimal fractions."""
    room: Floats = np.abs(values) * 1e-9 + 1e-9
    return room


def equal(one: Floats, other: Floats) -> Flags:
    """Whether two numbers are the same but for their binary representation."""
    same: Flags = np.abs(one - other) <= slack(other)
    return same
