"""What was worked out of some arrays, recalled where it is asked of equal ones again.

Rules see a season with other cells in doubt, one after the other: where a mass is in doubt, all that
wings tell is as it was.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Recall", "anew", "same"]

Made = TypeVar("Made")


class Recall(Protocol):
    """Gives what was made under a key, or makes it."""

    def __call__(self, key: Hashable, make: Callable[[], Made], /) -> Made:
        """Give it."""


def anew(_key: Hashable, make: Callable[[], Made], /) -> Made:
    """Recall nothing."""
    return make()


def same(name: str, *arrays: NDArray[np.generic]) -> Hashable:
    """Give a key that is equal where all arrays are.

    Examples
    --------
    >>> import numpy as np
    >>> same("wings", np.arange(2)) == same("wings", np.array([0, 1]))
    True
    """
    return (name, *(one.tobytes() for one in arrays))
