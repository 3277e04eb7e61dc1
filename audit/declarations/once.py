"""What is worked out of declarations, once for each of them."""

from __future__ import annotations

from functools import wraps
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["once_for"]

Given = TypeVar("Given")
Made = TypeVar("Made")

#: Declarations are few, but a long test, or a team that edits its own, may load many.
_MOST = 64


def once_for(make: Callable[[Given], Made]) -> Callable[[Given], Made]:
    """Keep what is made of an object, by which object it is.

    Parameters
    ----------
    make : callable
        Its answer is never changed by anybody, and neither is what it is made of.

    Notes
    -----
    Declarations hold mappings and so have no hash; they are held as long as what was made of them, so that no
    other object can take their place.
    """
    kept: dict[int, tuple[Given, Made]] = {}

    @wraps(make)
    def asked(given: Given) -> Made:
        found = kept.get(id(given))
        if found is None:
            while len(kept) >= _MOST:
                kept.pop(next(iter(kept)), None)
            found = kept[id(given)] = (given, make(given))
        return found[1]

    return asked
