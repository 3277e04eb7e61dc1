"""What can have happened to a row of three masses, and the weight of each cause."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["CAUSES", "CauseWeights"]

#: What can have happened to a row of three masses; the first three are one mistyped cell.
CAUSES: tuple[str, ...] = (
    "gross",
    "bag",
    "net",
    "not_subtracted",
    "subtracted_twice",
    "added",
    "gross_net_exchanged",
    "gross_bag_exchanged",
    "bag_net_exchanged",
    "bag_carried",
    "all_ten_times",
    "all_a_tenth",
    "all_kilograms",
    "bird_kilograms",
    "fine",
)

_NEVER = -np.inf
_LEAST = float(np.finfo(np.float64).tiny)


class CauseWeights:
    """Log weight of each cause in each row, gathered one cause at a time."""

    def __init__(self, rows: int) -> None:
        self.log = np.full((rows, len(CAUSES)), _NEVER)

    def put(self, cause: str, evidence: Floats, share: float = 1.0, fits: Flags | None = None) -> None:
        """Weigh a cause: log evidence for it, how often it happens, where it can be at all."""
        weight = evidence + np.log(share)
        self.log[:, CAUSES.index(cause)] = weight if fits is None else np.where(fits, weight, _NEVER)

    def posterior(self) -> Floats:
        """Share of each cause in each row: shape (n, len(CAUSES)), rows sum to 1."""
        top = self.log.max(axis=1, keepdims=True)
        scaled: Floats = np.exp(self.log - np.where(np.isfinite(top), top, 0.0))
        total: Floats = np.maximum(scaled.sum(axis=1, keepdims=True), _LEAST)
        return np.divide(scaled, total)
