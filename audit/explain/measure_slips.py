"""What the hand can do to the measures of one handling: each slip with the true measures it started from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.handling import BAG, GROSS, MASSES, NET, WING
from audit.models.written_number import close, slack, tidy

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from audit.explain.account import Account
    from audit.explain.handling import Handling

    Floats = NDArray[np.float64]

__all__ = ["Slips", "slips_of"]

_TEN = 10.0
_GRAMS_PER_KG = 1000.0


@dataclass(frozen=True, slots=True)
class Slips:
    """Slips of one kind in one handling.

    Attributes
    ----------
    kind : str
        What happened.
    true : numpy.ndarray, shape (k, 4)
        The measures as they were; NaN where they may have been anything.
    log_prior : numpy.ndarray, shape (k,)
        Log probability that the slip happens and makes of these measures what was typed.
    how : tuple of str, length k
        Way of the hand.
    cells : tuple of int
        The cells that are wrong.
    unknown : tuple of int
        Those of them whose true value nobody can tell.
    parts : tuple of Account
        The slips of which this is made, where there are several.
    """

    kind: str
    true: Floats
    log_prior: Floats
    how: tuple[str, ...]
    cells: tuple[int, ...]
    unknown: tuple[int, ...] = ()
    parts: tuple[Account, ...] = ()


def slips_of(handling: Handling) -> list[Slips]:
    """List all slips that are worth a thought; two at once are left to the one who weighs them."""
    kinds = (_mistyped, _unknown, _copied_wing, _of_the_bag, _exchanged, _carried, _scaled)
    found = (slips for kind in kinds for slips in kind(handling))
    return [slips for slips in found if len(slips.log_prior)]


def _setting(handling: Handling, name: str) -> float:
    return float(handling.around.weigher.setting(f"explain.measures.{name}"))


def _one(
    handling: Handling, kind: str, true: Sequence[float] | Floats, log_share: float, cells: tuple[int, ...]
) -> Slips:
    """Make a slip of which there is one form only."""
    prior = np.array([handling.around.log_rate + log_share])
    return Slips(kind, np.array([true], dtype=np.float64), prior, (kind,), cells)


def _mistyped(handling: Handling) -> Iterator[Slips]:
    """Mistype one cell. Where three masses are there, the other two tell what was meant."""
    for cell in (*MASSES, WING):
        if not handling.has[cell]:
            continue
        if cell != WING and handling.whole:
            value = handling.implied(cell)
            if value < 0 or abs(value - handling.typed[cell]) <= handling.allowed:
                continue
            values = np.array([value])
            yield from _copied_mass(handling, cell, value)
        else:
            values = handling.sources(cell)
        chance, how = handling.log_typed(cell, values)
        prior = handling.around.log_rate + chance
        yield Slips("keyed", handling.instead(cell, values), prior, how, (cell,))


def _copied_mass(handling: Handling, cell: int, value: float) -> Iterator[Slips]:
    """Repeat the row above, or be a one, a ten or a hundred off in the subtraction."""
    shares = handling.around.weighings.shares
    (true,) = handling.instead(cell, np.array([value]))
    if _above(handling, cell):
        yield _one(handling, "copied", true, np.log(shares.copied), (cell,))
    steps = (1.0, _TEN, _TEN * _TEN)
    if cell == NET and any(np.isclose(abs(value - handling.typed[cell]), step) for step in steps):
        yield _one(handling, "borrow", true, np.log(shares.borrow / (2 * len(steps))), (cell,))


def _above(handling: Handling, cell: int) -> bool:
    """Whether the row above holds the same."""
    if not handling.row:
        return False
    above = handling.around.typed[handling.row - 1, cell]
    return bool(abs(above - handling.typed[cell]) <= slack(np.array([above]))[0])


def _unknown(handling: Handling) -> Iterator[Slips]:
    """Be wrong for no known reason, in one cell or in mass and wing both."""
    for cell in (*MASSES, WING):
        if not handling.has[cell]:
            continue
        share = np.log(_other(handling, cell))
        if cell != WING and handling.whole:
            value = handling.implied(cell)
            if value > 0 and abs(value - handling.typed[cell]) > handling.allowed:
                true = handling.instead(cell, np.array([value]))
                prior = np.array([handling.around.log_rate + share + handling.log_anything(cell)])
                yield Slips("unknown", true, prior, ("unknown",), (cell,))
            continue
        true = handling.instead(cell, np.array([np.nan]))
        if cell in (GROSS, NET):
            # nothing is left to tell what the bird weighed
            true[:, [GROSS, NET]] = np.nan
        elif cell == BAG:
            # whatever the bag weighed, it was no far cry from the one beside it
            true[:, BAG] = handling.usual_bag()
        far, near = (share + np.log(part) for part in _far_and_near(handling))
        prior = np.array([handling.around.log_rate + far + handling.log_anything(cell)])
        yield Slips("unknown", true, prior, ("unknown",), (cell,), (cell,))
        if cell != BAG and handling.typed[cell] > 0:
            yield from _misread(handling, handling.around.log_rate + near, (cell,))
    if handling.has[WING] and handling.weighed and not handling.whole:
        mass = NET if handling.has[NET] else GROSS
        true = handling.instead(WING, np.array([np.nan]))
        true[:, [GROSS, NET]] = np.nan
        share = np.log(_other(handling, WING) * _other(handling, mass))
        prior = (
            2 * handling.around.log_rate + share + handling.log_anything(WING) + handling.log_anything(mass)
        )
        yield Slips("unknown", true, np.array([prior]), ("unknown",), (mass, WING), (mass, WING))


def _other(handling: Handling, cell: int) -> float:
    return handling.around.unaccountable(handling.row, cell)


def _far_and_near(handling: Handling) -> tuple[float, float]:
    """Shares of unaccountable values that lie anywhere, and somewhere about the true one."""
    near = _setting(handling, "misread_share")
    return 1 - near, near


def _misread(handling: Handling, log_share: float, cells: tuple[int, ...]) -> Iterator[Slips]:
    """Read a scale wrongly, so that the number is off by some part of itself.

    Values at even distances about the typed one stand for all that may have been read.
    """
    spread, points = _setting(handling, "misread_sd"), int(_setting(handling, "misread_points"))
    cell = cells[0]
    typed = float(handling.typed[cell])
    off = np.linspace(-2 * spread, 2 * spread, points) * typed
    values = (typed + off)[off != 0]
    if not len(values) or typed <= 0:
        return
    step = float(np.diff(off)[0])
    z = (typed - values) / (spread * values)
    dense = -(z**2) / 2 - np.log(spread * values * np.sqrt(2 * np.pi))
    true = handling.instead(cell, values)
    if len(cells) > 1:
        true[:, cells[1]] += values - typed
    prior = log_share + dense + np.log(step)
    yield Slips("unknown", true, prior, ("misread",) * len(values), cells, cells)


def _copied_wing(handling: Handling) -> Iterator[Slips]:
    """Repeat the wing of the row above, so that nobody can tell what was measured."""
    if handling.has[WING] and _above(handling, WING):
        true = handling.instead(WING, np.array([np.nan]))
        share = handling.around.weigher.share("copied.above")
        prior = np.array([handling.around.log_rate + np.log(share)])
        yield Slips("copied", true, prior, ("copied",), (WING,), (WING,))


def _of_the_bag(handling: Handling) -> Iterator[Slips]:
    """Subtract the bag not at all, twice, or add it."""
    gross, bag, net, wing = handling.typed
    shares = handling.around.weighings.shares
    if not handling.whole or bag <= handling.allowed or gross <= bag:
        return
    room = np.array([2 * max(handling.allowed, handling.unit(NET) / 2)])
    true = (gross, bag, handling.implied(NET), wing)
    for kind, result, share in (
        ("not_subtracted", gross, shares.not_subtracted),
        ("subtracted_twice", gross - 2 * bag, shares.subtracted_twice),
        ("added", gross + bag, shares.added),
    ):
        if close(np.array([net]), np.array([result]), room)[0]:
            yield _one(handling, kind, true, np.log(len(MASSES) * share), (NET,))


def _exchanged(handling: Handling) -> Iterator[Slips]:
    """Write two numbers in each other's column."""
    shares = handling.around.weighings.shares
    mass = NET if handling.has[NET] else GROSS
    for one, other, share in (
        (GROSS, NET, len(MASSES) * shares.gross_net_exchanged),
        (GROSS, BAG, len(MASSES) * shares.gross_bag_exchanged),
        (BAG, NET, len(MASSES) * shares.bag_net_exchanged),
        (mass, WING, handling.around.weigher.share("exchanged.net_wing")),
    ):
        if handling.has[one] and handling.has[other] and handling.typed[one] != handling.typed[other]:
            true = handling.typed.copy()
            true[[one, other]] = true[[other, one]]
            yield _one(handling, "exchanged", true, float(np.log(share)), (one, other))


def _carried(handling: Handling) -> Iterator[Slips]:
    """Mistake gross or bag before the subtraction, so that net carries the slip."""
    gross, bag, net, _ = handling.typed
    if not handling.whole or abs(gross - bag - net) > handling.allowed:
        return
    carried = handling.around.log_rate + float(np.log(_setting(handling, "carried")))
    for cell in (GROSS, BAG):
        values = handling.sources(cell)
        chance, how = handling.log_typed(cell, values)
        true = handling.instead(cell, values)
        true[:, NET] = tidy(true[:, GROSS] - true[:, BAG], np.full(len(values), handling.unit(NET)))
        yield Slips("carried", true, carried + chance, how, (cell, NET))
    other = carried + np.log(_other(handling, GROSS))
    far, near = (other + float(np.log(part)) for part in _far_and_near(handling))
    true = handling.typed[None, :].copy()
    true[:, [GROSS, NET]] = np.nan
    cells = (GROSS, NET)
    prior = np.array([far + handling.log_anything(NET)])
    yield Slips("unknown", true, prior, ("unknown",), cells, cells)
    yield from _misread(handling, near, cells)


def _scaled(handling: Handling) -> Iterator[Slips]:
    """Write several masses ten times too large or small, or in kilograms."""
    there = tuple(cell for cell in MASSES if handling.has[cell])
    if len(there) < 2:  # noqa: PLR2004 - one mass alone is a mistyped one
        return
    share = float(np.log(len(MASSES) * handling.around.weighings.shares.scaled_rows))
    every = np.array([cell in there for cell in (*MASSES, WING)])
    bird = every & (np.arange(len(every)) != BAG)
    for kind, times, cells, part in (
        ("tenfold", _TEN, every, 2),
        ("tenfold", 1 / _TEN, every, 2),
        ("kilograms", _GRAMS_PER_KG, every, 1),
        *([("kilograms", _GRAMS_PER_KG, bird, 1)] if handling.whole else []),
    ):
        true = np.where(cells, handling.typed * times, handling.typed)
        yield _one(handling, kind, true, share - float(np.log(part)), tuple(np.flatnonzero(cells).tolist()))
