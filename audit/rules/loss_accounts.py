"""A ring that is on a bird and among the losses: which of the two cells is wrong, and what was meant."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd

from audit.models.ring_number import bare, join_ring, split_ring
from audit.rules.expected_rings import Fit, expected_rings

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from audit.models.keying import Channel
    from audit.rules.case import Case
    from audit.rules.ring_rows import Key, Ringings

__all__ = ["Account", "Loss", "Losses", "losses_of"]

Story = Literal["row", "counted", "loss", "taken off"]


@dataclass(frozen=True, slots=True)
class Loss:
    """One row of the losses; the day as days since 1970, None where unknown."""

    label: str
    ring: str
    at: tuple[Key, int]
    fate: str
    day: int | None


@dataclass(frozen=True, slots=True)
class Account:
    """What may have happened, with its share of the probability.

    Attributes
    ----------
    story : {'row', 'counted', 'loss', 'taken off'}
        The ring of one row is wrong; the rings of several rows were counted on over the lost one; the line in
        the losses is wrong; nothing is, since the ring was on the bird before it was destroyed.
    p : float
        Probability.
    meant : tuple of (int, str)
        Rows with the ring that was meant, empty where it cannot be named.
    instead : str
        Ring meant in the losses.
    """

    story: Story
    p: float
    meant: tuple[tuple[int, str], ...] = ()
    instead: str = ""


@dataclass(frozen=True)
class Losses:
    """The losses of a season beside its rings."""

    case: Case
    rings: Ringings
    channel: Channel
    all: tuple[Loss, ...]

    def used(self) -> Iterator[tuple[Loss, int]]:
        """Losses that are on a bird, each with the row of its first ringing."""
        for loss in self.all:
            for i in self.rings.used.get(loss.at, ())[:1]:
                yield loss, i

    def accounts(self, loss: Loss, i: int) -> list[Account]:
        """Weigh what may have happened, likeliest first.

        Parameters
        ----------
        loss : Loss
            A loss that is on a bird.
        i : int
            Row of the first ringing.

        References
        ----------
        Bayes' theorem: the chance of a slip in either cell, times how well the order of the visit, other
        encounters of the rings and the day of the loss go with what was meant.
        """
        if self._taken_off(loss, i):
            return [Account("taken off", 1.0)]
        told = [*self._row_wrong(loss, i), *self._loss_wrong(loss, i)]
        total = math.fsum(account.p for account in told)
        shares = [Account(a.story, a.p / total, a.meant, a.instead) for a in told]
        return sorted(shares, key=lambda a: (-a.p, a.story, a.meant, a.instead))

    def _taken_off(self, loss: Loss, i: int) -> bool:
        """Whether a ring was destroyed on a later day on which the bird's box was visited."""
        rings = self.rings
        if loss.fate != self.case.limit("taken_off_fate") or loss.day is None or rings.visit[i] < 0:
            return False
        here = rings.rows_of_box.get(str(rings.box[i]), ())
        days = {int(rings.day[j]) for j in here if rings.visit[j] >= 0}
        seen = [int(rings.day[j]) for j in rings.rows_of_ring[bare(loss.ring)] if rings.visit[j] >= 0]
        return int(rings.day[i]) < loss.day and loss.day in days and max(seen) <= loss.day

    def _row_wrong(self, loss: Loss, i: int) -> Iterator[Account]:
        """Take the loss for right: one row was mistyped, or rings were counted on over the lost one."""
        rings, limit = self.rings, self.case.limit
        rate = self.case.share("rates.ring")
        about = self._day_fits(loss, loss.at, i) * self._met_by_chance(loss.ring)
        odd = self._odd(loss, i)
        for expected in expected_rings(rings, i):
            chance = math.exp(self.channel.log_chance(loss.ring, expected.ring))
            if not chance:
                continue
            p = rate * chance * about * self._in_order(i, expected.ring) * self._by_chance(odd, expected.ring)
            if expected.fit < Fit.BESIDE:
                p *= limit("p_tip")
            yield Account("row", p, ((i, expected.ring),))
        run = self._counted(loss, i)
        if run:
            p = (
                limit("p_counted" if len(run) > 1 else "p_counted_one")
                * about
                * (1 - self._disorder)
                * self._by_chance(odd, run[-1][1])
            )
            yield Account("counted", p, tuple(run))
        p = rate * limit("p_no_reason") * about * self._by_chance(odd, "")
        yield Account("row", p, ((i, ""),))

    def _loss_wrong(self, loss: Loss, i: int) -> Iterator[Account]:
        """Take the ring on the bird for right: another one was lost, or none."""
        rings, limit = self.rings, self.case.limit
        rate = self.case.share("rates.ring")
        home = 1.0 if rings.at_home[i] else limit("p_stray")
        on = home * self._in_order(i, loss.ring)
        odd = self._odd(loss, i)
        for meant, at, tip in self._unused(loss):
            chance = math.exp(self.channel.log_chance(loss.ring, meant))
            p = rate * chance * on * self._day_fits(loss, at, i) * self._by_chance(odd, meant, on=False)
            yield Account("loss", p * limit("p_tip") if tip else p, (), meant)
        yield Account(
            "loss",
            rate * limit("p_no_reason_loss") * on * limit("p_day") ** (1 / 2) * self._by_chance(odd, ""),
        )

    def _odd(self, loss: Loss, i: int) -> tuple[frozenset[str], frozenset[str]]:
        """Rings that are odd unless they were meant: met again or passed over, though put on nobody."""
        near = [e.ring for e in expected_rings(self.rings, i) if self.rings.slip(e.ring, loss.ring)]
        end = [ring for _, ring in self._counted(loss, i)[-1:]]
        met = frozenset(ring for ring in (*near, *end) if self._met_by_chance(ring) < 1)
        passed = {ring for ring, _, tip in self._unused(loss) if not tip}
        passed |= {ring for ring in end if self._is_gap(ring)}
        return met, frozenset(passed)

    def _by_chance(self, odd: tuple[frozenset[str], frozenset[str]], told: str, *, on: bool = True) -> float:
        """How likely what is odd came about, given that one ring of it is accounted for."""
        met, passed = odd
        left = len(met - {told}) if on else len(met)
        return float(self.case.limit("p_met") ** left * self.case.limit("p_gap") ** len(passed - {told}))

    def _is_gap(self, ring: str) -> bool:
        stem, digits = split_ring(ring)
        gaps = self._gaps.get((bare(stem), len(digits)))
        return gaps is not None and int(digits) in gaps

    def _counted(self, loss: Loss, i: int) -> list[tuple[int, str]]:
        """Rows that count on from a lost ring to the end of the visit, where the next ring is on no bird."""
        rings = self.rings
        key, serial = loss.at
        if key not in rings.own or rings.visit[i] < 0 or key not in rings.running:
            return []
        by_serial = {
            int(rings.serial[j]): j
            for j in (i, *rings.mates(i))
            if rings.first[j] and rings.key[j] == key and rings.serial[j] >= serial - 1
        }
        run, n = [], serial
        while n in by_serial:
            run.append(by_serial[n])
            n += 1
        rising = all(run[k] < run[k + 1] for k in range(len(run) - 1))
        before = by_serial.get(serial - 1)
        free = (key, n) not in rings.used and (key, n) not in rings.lost
        issued = rings.issued_at((key, n)) or not any(string.key == key for string in rings.stock)
        if before is None or before > i or not rising or not free or not issued or len(str(n)) > key[1]:
            return []
        if max(by_serial) > n:
            # the visit goes on with rings in their place
            return []
        later = [j for j in rings.used.get((key, n + 1), ()) if rings.day[j] < rings.day[i]]
        if later:
            return []
        stem = rings.own[key]
        return [(j, join_ring(stem, int(rings.serial[j]) + 1, key[1])) for j in run]

    def _unused(self, loss: Loss) -> Iterator[tuple[str, tuple[Key, int], bool]]:
        """Rings on no bird, one slip from the loss: passed over, or else at the tip of those in use."""
        for table, tip in ((self._gaps, False), (self._tips, True)):
            for key, serials in table.items():
                for serial in serials.tolist():
                    ring = join_ring(self.rings.own[key], serial, key[1])
                    if self.rings.slip(ring, loss.ring):
                        yield ring, (key, serial), tip

    @cached_property
    def _gaps(self) -> Mapping[Key, NDArray[np.int64]]:
        """Serial numbers passed over, by series."""
        found = {}
        for key, used in self._used.items():
            steps = np.diff(used)
            short = np.flatnonzero((steps > 1) & (steps <= self.rings.reach)).tolist()
            inside = [n for k in short for n in range(int(used[k]) + 1, int(used[k + 1]))]
            found[key] = self._left(key, inside)
        return found

    @cached_property
    def _tips(self) -> Mapping[Key, NDArray[np.int64]]:
        """Serial numbers just above and below runs of rings in use, by series."""
        found = {}
        for key, used in self._used.items():
            far = np.diff(used) > self.rings.reach
            above = used[np.concatenate((far, [True]))] + 1
            below = used[np.concatenate(([True], far))] - 1
            found[key] = self._left(key, [*above.tolist(), *below.tolist()])
        return found

    @cached_property
    def _used(self) -> Mapping[Key, NDArray[np.int64]]:
        """Serial numbers put on, rising, by series in use."""
        rings = self.rings
        return {
            key: np.unique(rings.serial[rings.of_series[key]])
            for key in sorted(rings.running)
            if key in rings.of_series
        }

    def _left(self, key: Key, serials: Sequence[int]) -> NDArray[np.int64]:
        """Those of some numbers that are not among the losses and may have been issued."""
        rings = self.rings
        told = any(string.key == key for string in rings.stock)
        kept = [
            n
            for n in serials
            if n >= 0 and (key, n) not in rings.lost and (not told or rings.issued_at((key, n)))
        ]
        return np.array(kept, dtype=np.int64)

    def _day_fits(self, loss: Loss, at: tuple[Key, int], i: int) -> float:
        """How well the day of the loss goes with the days on which the rings around a number were put on."""
        if loss.day is None:
            return float(self.case.limit("p_day") ** (1 / 2))
        rings, reach = self.rings, self.rings.reach
        key, serial = at
        days = [
            int(rings.day[j])
            for n in range(serial - reach, serial + reach + 1)
            for j in rings.used.get((key, n), ())
            if j != i and rings.visit[j] >= 0
        ]
        if not days:
            return float(self.case.limit("p_day") ** (1 / 2))
        fits = min(days) <= loss.day <= max(days)
        return 1.0 if fits else float(self.case.limit("p_day"))

    def _met_by_chance(self, ring: str) -> float:
        """How likely a ring was met again if it is on no bird; 1 where it was not met."""
        rows = self.rings.rows_of_ring.get(bare(ring), ())
        again = any(not self.rings.first[j] for j in rows)
        return float(self.case.limit("p_met")) if again else 1.0

    def _in_order(self, i: int, ring: str) -> float:
        """How likely a ring stands in a row, by the rings of the rows above and below of its visit."""
        rings = self.rings
        stem, digits = split_ring(ring)
        key, serial = (bare(stem), len(digits)), int(digits or -1)
        asked = False
        for j, sign in ((i - 1, 1), (i + 1, -1)):
            if not 0 <= j < len(rings.labels) or rings.visit[j] != rings.visit[i] or rings.visit[i] < 0:
                continue
            if rings.key[j] != key or not rings.first[j]:
                continue
            asked = True
            if (serial - int(rings.serial[j])) * sign < 0:
                return self._disorder
        return 1 - self._disorder if asked else 1.0

    @cached_property
    def _disorder(self) -> float:
        """Share of neighbours within a visit whose rings do not rise."""
        rings = self.rings
        pairs = wrong = 0
        for j in np.flatnonzero((rings.visit[1:] == rings.visit[:-1]) & (rings.visit[1:] >= 0)).tolist():
            k = j + 1
            if rings.first[j] and rings.first[k] and rings.key[j] == rings.key[k] and rings.serial[j] >= 0:
                pairs += 1
                wrong += bool(rings.serial[k] < rings.serial[j])
        return (wrong + 1) / (pairs + 2)


def losses_of(case: Case, rings: Ringings) -> Losses:
    """Read the losses; rows without a ring, or whose ring is in doubt, are left out."""
    found = []
    if case.season.has("ring_losses", "ring"):
        frame = case.sure("ring_losses")
        lacking = pd.Series(pd.NA, index=frame.index, dtype="object")
        columns = [frame.get(name, lacking) for name in ("ring", "fate", "date")]
        for label, ring, fate, day in zip(frame.index, *columns, strict=True):
            stem, digits = split_ring(ring) if isinstance(ring, str) else ("", "")
            if digits:
                when = None if pd.isna(day) else int(np.datetime64(pd.Timestamp(day), "D").astype(np.int64))
                word = fate if isinstance(fate, str) and fate else "lost"
                found.append(Loss(str(label), ring, ((bare(stem), len(digits)), int(digits)), word, when))
    return Losses(case, rings, case.declared.slips.channel(), tuple(found))
