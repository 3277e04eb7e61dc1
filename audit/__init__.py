"""Nestproof: proof-reading for a season of nest-box ringing.

Front door: `read_season`, `check` and `Report`. Nothing heavy is imported before it is used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.findings import Report
from audit.refusal import Refusal

if TYPE_CHECKING:
    from audit.checking import check, read_season

__all__ = ["Refusal", "Report", "__version__", "check", "read_season"]

__version__ = "0.1.0"


def __getattr__(name: str) -> object:
    if name in ("check", "read_season"):
        from audit import checking

        return getattr(checking, name)
    raise AttributeError(f"module 'audit' has no attribute {name!r}")
