"""Engines that would load all of Spark, where that is installed, are kept from it."""

from __future__ import annotations

import contextlib
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["without_spark"]

_SPARK = ("pyspark", "pyspark.pandas")


@contextlib.contextmanager
def without_spark() -> Iterator[None]:
    """Hide Spark from what is imported meanwhile: neither engine needs it here.

    It takes half a second to load and warns that it does not know this version of pandas.
    """
    kept = {name: sys.modules[name] for name in _SPARK if name in sys.modules}
    sys.modules.update(dict.fromkeys(_SPARK))  # type: ignore[arg-type]  # none: not to be imported
    try:
        yield
    finally:
        for name in _SPARK:
            sys.modules.pop(name, None)
        sys.modules.update(kept)
