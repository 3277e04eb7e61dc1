"""Charts that are built without being held against the schema of the drawing language."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["trusted"]


@contextlib.contextmanager
def trusted() -> Iterator[None]:
    """Build charts in half the time; the tests build each of them with the schema at hand."""
    from altair.utils.schemapi import debug_mode

    with debug_mode(arg=False):
        yield
