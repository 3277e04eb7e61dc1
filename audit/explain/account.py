"""Accounts of what was typed, and how they share the probability between them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from numpy.typing import NDArray

__all__ = ["NOTHING", "Account", "Posterior"]

#: The account that what was typed is true.
NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Account:
    """One way in which what stands in a neighbourhood of cells may have come about.

    Attributes
    ----------
    kind : str
        What happened, such as ``not_subtracted``; ``nothing`` when all is as it was meant.
    meant : tuple of (str, object)
        Each wrong cell, by column, with the value meant; None where nobody can tell.
    log_weight : float
        Logarithm of prior times likelihood, up to a constant that all accounts share.
    how : str
        Way of the hand, such as ``neighbours``, where the kind leaves it open.
    parts : tuple of Account
        The slips of which this account is made, where there are several.
    """

    kind: str
    meant: tuple[tuple[str, object], ...]
    log_weight: float
    how: str = ""
    parts: tuple[Account, ...] = ()

    @property
    def wrong(self) -> frozenset[str]:
        """Columns of the cells that are wrong."""
        return frozenset(field for field, _ in self.meant)


@dataclass(frozen=True)
class Posterior:
    """Competing accounts of one neighbourhood, each with its probability.

    Attributes
    ----------
    accounts : tuple of Account
        At least one, in a fixed order.

    References
    ----------
    Bayes' theorem over a finite set of hypotheses; Kernighan, M. D., Church, K. W. & Gale, W. A. (1990),
    A spelling correction program based on a noisy channel model, COLING 1990, 205-210, for the slips.

    Examples
    --------
    >>> half = np.log(1 / 2)
    >>> told = Posterior((Account(NOTHING, (), half), Account("keyed", (("net_g", 373.0),), half)))
    >>> told.nothing, told.wrong("net_g"), told.likeliest("net_g")
    (0.5, 0.5, (373.0, 0.5))
    """

    accounts: tuple[Account, ...]

    @cached_property
    def shares(self) -> NDArray[np.float64]:
        """Probability of each account; they sum to 1."""
        weights = np.array([account.log_weight for account in self.accounts])
        top = weights.max()
        if not np.isfinite(top):
            return np.full(len(weights), 1 / len(weights))
        scaled = np.exp(weights - top)
        shares: NDArray[np.float64] = scaled / scaled.sum()
        return shares

    @property
    def nothing(self) -> float:
        """Probability that all is as it was meant."""
        return self.sum(lambda account: not account.meant)

    def sum(self, fits: Callable[[Account], bool]) -> float:
        """Probability of all accounts that fit a condition."""
        return self._whole(share for account, share in self._shared if fits(account))

    def wrong(self, field: str) -> float:
        """Probability that one cell is wrong."""
        return self._whole(share for _, _, share in self._of_field.get(field, ()))

    @cached_property
    def _of_field(self) -> dict[str, list[tuple[frozenset[str], Account, float]]]:
        """Accounts that make a cell wrong, by its column, with all cells that they make wrong."""
        found: dict[str, list[tuple[frozenset[str], Account, float]]] = {}
        for wrong, (account, share) in zip(self._wrong, self._shared, strict=True):
            for field in wrong:
                found.setdefault(field, []).append((wrong, account, share))
        return found

    @staticmethod
    def _whole(shares: Iterable[float]) -> float:
        # rounding may carry a sum of shares beyond their whole
        return min(1.0, float(sum(shares)))

    @cached_property
    def _shared(self) -> list[tuple[Account, float]]:
        return list(zip(self.accounts, self.shares.tolist(), strict=True))

    @cached_property
    def _wrong(self) -> list[frozenset[str]]:
        # many accounts blame the same cells
        known: dict[tuple[str, ...], frozenset[str]] = {}
        fields = [tuple(field for field, _ in account.meant) for account in self.accounts]
        return [known.setdefault(some, frozenset(some)) for some in fields]

    def by_cells(self) -> list[tuple[frozenset[str], float]]:
        """Give sets of cells that are wrong together, likeliest first; the empty set is left out."""
        return list(self._by_cells)

    @cached_property
    def _by_cells(self) -> list[tuple[frozenset[str], float]]:
        found: dict[frozenset[str], float] = {}
        for wrong, (_, share) in zip(self._wrong, self._shared, strict=True):
            if wrong:
                found[wrong] = found.get(wrong, 0.0) + share
        return sorted(found.items(), key=lambda item: (-item[1], sorted(item[0])))

    def leading(self, cells: frozenset[str]) -> tuple[Account, float]:
        """Likeliest account that makes just these cells wrong, and its probability."""
        inside = [pair for wrong, pair in zip(self._wrong, self._shared, strict=True) if wrong == cells]
        return max(inside, key=lambda pair: pair[1])

    def likeliest(self, field: str, among: Iterable[frozenset[str]] | None = None) -> tuple[object, float]:
        """Likeliest value meant in a cell and its probability; None when no account names one.

        Parameters
        ----------
        among : iterable of frozenset of str, optional
            Only accounts that make just these sets of cells wrong choose the value.
        """
        offered = self.values(field, among)
        if not offered:
            return None, 0.0
        best = max(offered, key=lambda value: (offered[value], str(value)))
        return best, min(1.0, self.values(field)[best])

    def values(self, field: str, among: Iterable[frozenset[str]] | None = None) -> dict[object, float]:
        """Give all values that may be meant in a cell with their probabilities, in the order of the accounts.

        Parameters
        ----------
        among : iterable of frozenset of str, optional
            Only accounts that make just these sets of cells wrong count.
        """
        chosen = None if among is None else set(among)
        chances: dict[object, float] = {}
        for wrong, account, share in self._of_field.get(field, ()):
            if chosen is not None and wrong not in chosen:
                continue
            for name, value in account.meant:
                if name == field and value is not None:
                    chances[value] = chances.get(value, 0.0) + share
        return chances
