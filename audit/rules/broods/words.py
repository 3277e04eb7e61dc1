"""Numbers and birds in words."""

from __future__ import annotations

import numpy as np

__all__ = ["birds", "have", "its", "whole"]


def whole(number: float) -> int | str:
    """Give a number without a point; empty where there is none."""
    return int(number) if np.isfinite(number) else ""


def birds(number: int) -> str:
    """Count birds."""
    return "1 bird" if number == 1 else f"{number} birds"


def its(number: int) -> str:
    """Say whose, of so many."""
    return "its" if number == 1 else "their"


def have(number: int) -> str:
    """Say that so many have."""
    return "has" if number == 1 else "have"
