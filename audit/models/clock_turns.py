"""By how many whole intervals of its marker a clock was off, at first and after each time that it was set.

Beats of a marker tell how far a clock was off, but for whole intervals. Where it was set meanwhile, steps tie
what it was before to what it was after: who sets a clock by a right watch leaves it right, and then the step
tells how far it had been off.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.clock_errors import REACH, shares, within

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.marker_phase import MarkerPhase, RoundLimits

    Floats = NDArray[np.float64]

__all__ = ["Turns", "turns_of"]


@dataclass(frozen=True, slots=True)
class Turns:
    """Whole intervals by which a clock was off, by ways of sharing kinds of clocks.

    Attributes
    ----------
    like : numpy.ndarray of float, shape (ways,)
        Log of how much likelier its phases are than any, and its steps than the likeliest one.
    chances : numpy.ndarray of float, shape (settings + 1, ways, turns)
        Chance that it was further ahead by so many intervals than its phase and the steps tell.
    likely : numpy.ndarray of float, shape (settings + 1, ways, turns)
        How likely each is by itself; the last of the turns stands for clocks off by anything.
    ties : numpy.ndarray of float, shape (settings, turns, turns)
        How likely the step between two is.
    tied : tuple of bool
        Whether anything tells how far it was set, for each setting.
    """

    like: Floats
    chances: Floats
    likely: Floats
    ties: Floats
    tied: tuple[bool, ...]

    def along(self, way: Floats) -> tuple[tuple[int, float], ...]:
        """Give the likeliest turns, at first and after each setting, and the chance of each.

        Parameters
        ----------
        way : numpy.ndarray of float, shape (ways,)
            Probability of each way of sharing.

        Notes
        -----
        The likeliest run of states, as in `clock_path`, under the likeliest way of sharing.
        """
        with np.errstate(divide="ignore"):
            own, ties = np.log(self.likely[:, int(np.argmax(way))]), np.log(self.ties)
        best, came = own[0], []
        for nr, tie in enumerate(ties):
            reached = best[:, None] + tie
            came.append(np.argmax(reached, axis=0))
            best = reached.max(axis=0) + own[nr + 1]
        path = [int(np.argmax(best))]
        for back in reversed(came):
            path.append(int(back[path[-1]]))
        path.reverse()
        middle, chance = (len(best) - 2) // 2, np.einsum("w,jws->js", way, self.chances)
        found: list[tuple[int, float]] = []
        for nr, state in enumerate(path):
            if nr and not self.tied[nr - 1]:
                # nothing tells of the step: it was what beats missed tell, and all goes with what was before
                found.append(found[-1])
                continue
            turn = 0 if state == len(best) - 1 else state - middle
            found.append((turn, float(chance[nr, turn + middle])))
        return tuple(found)


def turns_of(phase: MarkerPhase, limits: RoundLimits) -> Turns:
    """Weigh by how many whole intervals a clock was off, if its marker beats at round moments.

    Parameters
    ----------
    phase : MarkerPhase
    limits : RoundLimits

    Notes
    -----
    A chain over the times between settings, forward and backward (Rabiner 1989, Proc. IEEE 77, 257-286, from
    memory). A clock that was set by more than such errors come to, as by days, is held only against the round
    moment nearest to it.
    """
    off = np.array([phase.off_s, *(phase.off_s + one.further_s for one in phase.again)])
    scales = np.array(limits.scales_s)
    reach = REACH * float(scales.max())
    far = np.abs(off) > reach + phase.every_s
    off = np.where(far, within(off, phase.every_s), off)
    many = int(np.ceil((reach + np.abs(off).max()) / phase.every_s)) + 1
    turns = np.arange(-many, many + 1.0)
    trusted = np.minimum(scales, limits.trusted_part * phase.every_s)
    likely = np.concatenate(
        [_likely(off, turns, phase.every_s, kind, limits) for kind in (trusted, scales)], 1
    )
    tied = tuple(bool(one.ways) and not (far[nr] or far[nr + 1]) for nr, one in enumerate(phase.again))
    ties = np.ones((len(tied), len(turns) + 1, len(turns) + 1))
    for nr, one in enumerate(phase.again):
        if tied[nr]:
            ties[nr] = _tie(one.ways, len(turns))
    return _weighed(likely, ties, tied)


def _likely(off: Floats, turns: Floats, every: float, scales: Floats, limits: RoundLimits) -> Floats:
    """How much likelier than any, shape (settings + 1, ways, turns); last, that it is off by anything."""
    ahead = (off[:, None] + turns * every)[..., None]
    density = np.exp(-0.5 * (ahead / scales) ** 2) * every / (scales * np.sqrt(2 * np.pi))
    told = (1 - limits.beyond) * np.moveaxis(density @ shares(len(scales), limits.parts).T, 2, 1)
    return np.concatenate([told, np.full((*told.shape[:2], 1), limits.beyond)], axis=2)


def _tie(ways: tuple[tuple[int, float], ...], turns: int) -> Floats:
    """Lay out how likely steps are from each state to each."""
    tie = np.zeros((turns + 1, turns + 1))
    for more, weight in ways:
        if abs(more) < turns:
            tie[:turns, :turns] += weight * np.eye(turns, k=more)
    # whoever is off by anything is so by any step
    tie[turns, :] = tie[:, turns] = sum(weight for _, weight in ways) / len(ways)
    return tie


def _weighed(likely: Floats, ties: Floats, tied: tuple[bool, ...]) -> Turns:
    ahead, like = [likely[0]], np.zeros(likely.shape[1])
    for nr, tie in enumerate(ties):
        whole = ahead[-1].sum(axis=1, keepdims=True)
        like += np.log(whole[:, 0])
        ahead.append((ahead[-1] / whole) @ tie * likely[nr + 1])
    like += np.log(ahead[-1].sum(axis=1))
    behind = [np.ones_like(likely[0])]
    for nr in range(len(ties) - 1, -1, -1):
        later = (likely[nr + 1] * behind[0]) @ ties[nr].T
        behind.insert(0, later / later.max(axis=1, keepdims=True))
    chances = np.array(ahead) * np.array(behind)
    return Turns(like, chances / chances.sum(axis=2, keepdims=True), likely, ties, tied)
