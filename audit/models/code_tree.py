"""How likely a code is among others of its kind: the more begin alike, the likelier is one that does so."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["CodeTree"]


@dataclass(frozen=True, slots=True)
class CodeTree:
    """Known codes, counted by all their beginnings.

    Parameters
    ----------
    codes : iterable of str
        The known codes; repeated ones count once.
    signs : int
        How many signs may stand in one place, such as 10 digits.
    weight : float
        How many codes the belief counts for that any sign may follow any beginning.

    References
    ----------
    The chance of the next sign after a beginning is the mean of a Dirichlet posterior with an even prior, as
    in: Gelman, A. et al. (2013). Bayesian data analysis, 3rd edition, section 3.4; over all places of a code
    these make a Polya tree: Ferguson, T. S. (1974). Prior distributions on spaces of probability measures.
    Annals of Statistics 2(4), 615-629.

    Examples
    --------
    >>> tree = CodeTree(["120", "121", "122"], 10, 1.0)
    >>> tree.chance("123") > tree.chance("923"), round(CodeTree([], 10, 1.0).chance("5"), 3)
    (True, 0.1)
    """

    codes: Iterable[str]
    signs: int
    weight: float
    _begun: Counter[str] = field(default_factory=Counter, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Count the beginnings."""
        for code in set(self.codes):
            self._begun.update(code[:length] for length in range(len(code) + 1))

    def chance(self, code: str, *, but: str = "") -> float:
        """Probability that a code is the next one of this kind and length.

        Parameters
        ----------
        but : str
            One of the known codes that is not to speak.
        """
        found = 1.0
        before = self._count("", but)
        for length in range(1, len(code) + 1):
            here = self._count(code[:length], but)
            found *= (here + self.weight / self.signs) / (before + self.weight)
            before = here
        return found

    def shared(self, code: str, *, but: str = "") -> int:
        """Count the signs at the beginning that a code shares with any known one."""
        # what begins alike for so long does so for less
        return bisect_left(range(1, len(code) + 1), 1, key=lambda n: self._count(code[:n], but) <= 0)

    def begins(self, code: str, length: int, *, but: str = "") -> bool:
        """Whether a code shares so many signs at its beginning with any known one."""
        return length <= 0 or (length <= len(code) and self._count(code[:length], but) > 0)

    def _count(self, beginning: str, but: str) -> int:
        return self._begun[beginning] - (bool(but) and but.startswith(beginning))
