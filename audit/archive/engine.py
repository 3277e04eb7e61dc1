"""What an engine must do for an archive: hold its rows, keep what was worked out, hand over what is small."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd
    from narwhals import LazyFrame

    from audit.archive.laid_out import Stored

__all__ = ["Engine", "Raw"]


@dataclass(frozen=True, slots=True)
class Raw:
    """The handlings of an archive as they lie in its files.

    Attributes
    ----------
    rows : narwhals.LazyFrame
        ``at``, ``file``, ``row`` (`laid_out.PLACE`) and the columns that are there.
    stored : mapping of str to {'text', 'number', 'date'}
        How each of these is stored.
    """

    rows: LazyFrame[Any]
    stored: Mapping[str, Stored]


class Engine(Protocol):
    """Where relations are worked out."""

    def table(self, frame: pd.DataFrame, name: str) -> LazyFrame[Any]:
        """Make a small frame known as a relation."""
        ...

    def keep(self, relation: LazyFrame[Any], name: str) -> LazyFrame[Any]:
        """Work a relation out once, and keep it for as long as the engine lives."""
        ...

    def frame(self, relation: LazyFrame[Any]) -> pd.DataFrame:
        """Work a relation out, and hand it over; in any order of rows."""
        ...
