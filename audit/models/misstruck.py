"""What was meant by a text that was typed with one slip: a wrong key, a stray sign, parts turned round."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from itertools import chain, permutations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

__all__ = ["Hand", "Struck"]

_PARTS = re.compile(r"[^\W_]+")


@dataclass(frozen=True, slots=True)
class Struck:
    """How a text may have come about.

    Attributes
    ----------
    chance : float
        Probability of the text as typed, given the text meant and a slip.
    kind : str
        ``digit`` (a wrong sign), ``neighbours``, ``dropped``, ``extra``, ``stray`` (signs round the text),
        ``turned`` (parts exchanged).
    typed, meant : str
        The signs concerned.
    """

    chance: float
    kind: str
    typed: str = ""
    meant: str = ""


@dataclass(frozen=True, slots=True)
class Hand:
    """A hand that slips once.

    Attributes
    ----------
    shares : mapping of str to float
        How slips divide: ``digit``, ``neighbours``, ``dropped``, ``extra``, ``two_edits``, ``unknown``.
    beside, alike : mapping of str to str
        Keys beside a key; signs that look like a sign.
    by_key, by_look : float
        Shares of wrong signs that are the key beside, or look like the one meant.
    stray, turned : float
        Shares of slips that leave signs round the text, or exchange its parts.
    signs : int
        Signs on a keyboard.

    References
    ----------
    Damerau, F. J. (1964). A technique for computer detection and correction of spelling errors.
    Communications of the ACM 7(3), 171-176: the four single slips.
    """

    shares: Mapping[str, float]
    beside: Mapping[str, str]
    alike: Mapping[str, str]
    by_key: float
    by_look: float
    stray: float
    turned: float
    signs: int
    _cache: dict[tuple[str, str], float] = field(default_factory=dict, init=False, repr=False, compare=False)

    def wrong(self, typed: str, meant: str) -> float:
        """Probability of a sign, given that another was meant and the hand slipped."""
        pair = (typed.casefold(), meant.casefold())
        if pair not in self._cache:
            self._cache[pair] = self._wrong(*pair)
        return self._cache[pair]

    def _wrong(self, typed: str, meant: str) -> float:
        near, like = self.beside.get(meant, ""), self.alike.get(meant, "")
        rest = (1 - self.by_key - self.by_look) / 2
        chance = rest / self.signs
        if typed.isdigit() and meant.isdigit():
            chance += rest / 9
        if typed in near:
            chance += self.by_key / len(near)
        if typed in like:
            chance += self.by_look / len(like)
        return chance

    def nothing_like_it(self, typed: str, span: float | None = None) -> float:
        """Probability of a text that has nothing to do with what was meant.

        Parameters
        ----------
        span : float, optional
            Where the text is a number, though not one of its column: half of such numbers lie below this.
        """
        chance = float(self.signs) ** -len(typed)
        return self.shares["unknown"] * (chance if span is None else max(chance, 1 / (2 * span)))

    def before(
        self, typed: str, alphabet: str, known: Callable[[str], object], *, strays: bool = True
    ) -> dict[str, Struck]:
        """List the texts from which one slip leads to the one typed.

        Parameters
        ----------
        alphabet : str
            Signs of which texts of this kind are made.
        known : callable
            Whether a text is one of this kind; others are left out.
        strays : bool
            Whether signs at the ends that are no letters or digits may have strayed there.

        Returns
        -------
        dict of str to Struck
            By the text meant; chances of several ways are added, the likeliest is named.

        Examples
        --------
        >>> from audit.models.keyboard import keys_beside
        >>> shares = {"digit": 0.7, "neighbours": 0.1, "dropped": 0.05, "extra": 0.05, "unknown": 0.01}
        >>> keys = keys_beside(["1234567890", "qwertyuiop"])
        >>> hand = Hand(shares, keys, {}, 0.6, 0.1, 0.05, 0.05, 90)
        >>> found = hand.before("3w", "0123456789", str.isdigit)
        >>> sorted(found, key=lambda text: -found[text].chance)[:2], found["32"].kind
        (['32', '33'], 'digit')
        """
        found: dict[str, Struck] = {}
        ways = chain(self._ways(typed, alphabet), self._strayed(typed) if strays else ())
        for meant, struck in ways:
            if meant == typed or not meant or not known(meant):
                continue
            other = found.get(meant)
            if other is None:
                found[meant] = struck
            else:
                best = max(other, struck, key=lambda one: one.chance)
                total = other.chance + struck.chance
                found[meant] = Struck(total, best.kind, best.typed, best.meant)
        return found

    def two_wrong(self, typed: str, meant: str) -> float:
        """Probability of a text of the same length with two wrong signs; 0 where it has not just two."""
        if len(typed) != len(meant):
            return 0.0
        apart = [(t, m) for t, m in zip(typed, meant, strict=True) if t.casefold() != m.casefold()]
        if len(apart) != 2:  # noqa: PLR2004 - one key moved, one sign at each of two places
            return 0.0
        chance = self.shares["two_edits"] / (len(meant) * (len(meant) - 1) / 2)
        for t, m in apart:
            chance *= self.wrong(t, m)
        return chance

    def _ways(self, typed: str, alphabet: str) -> Iterator[tuple[str, Struck]]:
        n = len(typed)
        shares = self.shares
        for i, sign in enumerate(typed):
            for meant in alphabet:
                if meant.casefold() != sign.casefold():
                    chance = shares["digit"] / n * self.wrong(sign, meant)
                    yield typed[:i] + meant + typed[i + 1 :], Struck(chance, "digit", sign, meant)
            without = typed[:i] + typed[i + 1 :]
            yield without, Struck(self._put_in(typed, i), "extra", sign)
        for i in range(n + 1):
            for meant in alphabet:
                chance = shares["dropped"] / (n + 1)
                yield typed[:i] + meant + typed[i:], Struck(chance, "dropped", meant=meant)
        for i in range(n - 1):
            turned = typed[:i] + typed[i + 1] + typed[i] + typed[i + 2 :]
            yield turned, Struck(shares["neighbours"] / (n - 1), "neighbours", typed[i : i + 2])
        yield from self._parts(typed)

    def _put_in(self, typed: str, i: int) -> float:
        """Probability of the sign at one place, had it been put in."""
        n = len(typed) - 1
        if n == 0:
            return 0.0
        sign, around = typed[i].casefold(), (typed[max(i - 1, 0) : i] + typed[i + 1 : i + 2]).casefold()
        doubled = float(sign in around)
        beside = max((self.wrong(sign, other) for other in around), default=0.0)
        return self.shares["extra"] / 2 * (doubled / n + max(beside, 1 / self.signs) / (n + 1))

    def _strayed(self, typed: str) -> Iterator[tuple[str, Struck]]:
        pieces = _PARTS.search(typed)
        if pieces is None:
            return
        inner = typed[pieces.start() :]
        while not inner[-1].isalnum():
            inner = inner[:-1]
        strayed = len(typed) - len(inner)
        if strayed:
            # signs that stray are those that are no letters or digits: about a third of the keys
            chance = self.stray * (3.0 / self.signs) ** strayed
            yield inner, Struck(chance, "stray", typed.replace(inner, "", 1))

    def _parts(self, typed: str) -> Iterator[tuple[str, Struck]]:
        pieces = _PARTS.findall(typed)
        if not 2 <= len(pieces) <= 3:  # noqa: PLR2004 - parts of a date or a time
            return
        between = _PARTS.split(typed)
        orders = [order for order in permutations(pieces) if list(order) != pieces]
        for order in orders:
            meant = "".join(a + b for a, b in zip(between, [*order, ""], strict=True))
            yield meant, Struck(self.turned / len(orders), "turned")
