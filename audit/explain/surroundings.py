"""What surrounds the measures of each handling: its bags, its brood, its own other visits, its season."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.learnt_slips import learn_rate
from audit.models.mass_balance import imbalance
from audit.models.written_number import typed_unit
from audit.rules.birds import birds_of
from audit.rules.case import Case
from audit.rules.layouts import Layouts
from audit.rules.species_outlook import species_outlook
from audit.rules.weighings import MASSES, weighings_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from audit.declarations import Declarations
    from audit.rules.birds import Birds
    from audit.rules.outlook import Outlook
    from audit.rules.weighings import Weighings
    from audit.season import Season

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["MEASURES", "Surroundings", "far_masses", "far_wings", "surroundings_of"]

#: Columns that are weighed together.
MEASURES: tuple[str, ...] = (*MASSES, "wing_mm")


@dataclass(frozen=True, slots=True)
class Distances:
    """How far each wing and mass lies from what is foretold of it, in standard deviations, shape (n,).

    Missing where nothing is foretold; no measure is foretold from itself.
    """

    wing: Floats
    mass: Floats


@dataclass(frozen=True)
class Surroundings:
    """The measures of a season and what speaks for or against each.

    Attributes
    ----------
    typed : numpy.ndarray, shape (n, 4)
        Gross, bag, net, g, and wing, mm, as typed; NaN where missing. Rows in sheet order. A number below
        nought is kept: it cannot be, but somebody typed it.
    allowed : numpy.ndarray, shape (n,)
        How far gross less bag may differ from net by rounding, g.
    unit, unit_mm : numpy.ndarray, shape (n,)
        Unit to which the masses and the wing of a row were written, g and mm.
    log_rate : float
        Log probability that one measure is wrong: the declared rate, moved by the sums of this season that
        do not come out.
    birds : Birds
        All handlings; cells in doubt are missing.
    outlooks : mapping of str to Outlook
        What is expected of the birds of each species, whose own measures stand there as typed.
    place : numpy.ndarray of int, shape (n,)
        Where each row stands in the outlook of its species; -1 for a species that nobody declared.
    """

    weighings: Weighings
    weigher: Case
    grower: Case
    typed: Floats
    allowed: Floats
    unit: Floats
    unit_mm: Floats
    log_rate: float
    birds: Birds
    outlooks: Mapping[str, Outlook]
    place: NDArray[np.int64]

    @property
    def labels(self) -> list[str]:
        """Row labels in sheet order."""
        return self.weighings.labels

    @property
    def broken(self) -> Flags:
        """Rows in which gross less bag is not net."""
        off: Flags = np.abs(imbalance(*self.typed[:, :3].T)) > self.allowed
        return off

    @cached_property
    def distances(self) -> Distances:
        """How far each wing and mass lies from what all other cells let expect."""
        wing, mass = np.full(len(self.place), np.nan), np.full(len(self.place), np.nan)
        for slug, outlook in self.outlooks.items():
            rows = np.flatnonzero((self.place >= 0) & (self.birds.slug == slug))
            wing[rows], mass[rows] = outlook.distances()
        return Distances(wing, mass)

    def unaccountable(self, row: int, cell: int) -> float:
        """Share of the slips in a measure that have no known reason.

        It is the declared share; for nestlings it is raised where more of this season lie far off than it
        accounts for. Full-grown birds that lie far off may as well be of another species or sex.
        """
        wing = cell == len(MEASURES) - 1
        share = float(self.weigher.setting(f"explain.measures.{'wing' if wing else 'mass'}_other"))
        if self.birds.grown[row] != 0:
            return share
        return share * (self._raised_wing if wing else self._raised_mass)

    @cached_property
    def _raised_wing(self) -> float:
        return self._raised(self.distances.wing, far_wings(self))

    @cached_property
    def _raised_mass(self) -> float:
        return self._raised(self.distances.mass, far_masses(self))

    def _raised(self, distances: Floats, far: Flags) -> float:
        share = float(self.weigher.setting("explain.measures.wing_other"))
        rate, slips = float(np.exp(self.log_rate)) * share, self.weigher.declared.slips
        young = self.birds.grown == 0
        learnt = learn_rate(
            rate,
            float((far & young).sum()),
            float((np.isfinite(distances) & young).sum()),
            slips.share("rates.weight"),
            (rate, slips.ranges["field"][1]),
        )
        # many far sizes may also be those of birds that grow otherwise
        return min(learnt / rate, float(self.weigher.setting("explain.measures.raised_most")))

    @cached_property
    def decimals(self) -> Floats:
        """How usual decimals are in masses and in wings of birds of the species of each row, shape (n, 2)."""
        found = np.empty((len(self.place), 2))
        found[:] = _with_decimals(self.birds)
        for slug, outlook in self.outlooks.items():
            found[(self.place >= 0) & (self.birds.slug == slug)] = _with_decimals(outlook.birds)
        return found

    def outlook(self, row: int) -> tuple[Outlook, int] | None:
        """Return the outlook of a row's species and the row's place in it; None where nothing is declared."""
        slug = str(self.birds.slug[row])
        place = int(self.place[row])
        return (self.outlooks[slug], place) if place >= 0 else None


def surroundings_of(
    season: Season,
    declared: Declarations,
    doubted: frozenset[tuple[str, str]],
    layouts: Layouts | None = None,
) -> Surroundings:
    """Lay out what surrounds each handling.

    Parameters
    ----------
    doubted : frozenset of (label, field)
        Cells that a rule blames: they say nothing about other rows.
    layouts : Layouts, optional
        What the rules have laid out.
    """
    layouts = Layouts() if layouts is None else layouts
    weigher = Case(season, declared, declared.rules["tare"], doubted, layouts)
    grower = Case(season, declared, declared.rules["growth"], doubted, layouts)
    weighings = weighings_of(weigher)
    frame = season.frame("handlings")
    wing = (
        frame["wing_mm"].to_numpy(dtype=np.float64, na_value=np.nan)
        if "wing_mm" in frame.columns
        else np.full(len(frame), np.nan)
    )
    typed = np.column_stack([weighings.triples, wing])
    # a nought stands for not measured, but a bag may weigh nothing on a balance set to zero
    typed = np.where((typed != 0) | (np.arange(len(MEASURES)) == MEASURES.index("bag_g")), typed, np.nan)
    birds = birds_of(grower, fallback=str(grower.setting("season.species.default_species")))
    place = np.full(len(frame), -1, dtype=np.int64)
    outlooks = {}
    for slug in dict.fromkeys(birds.slug):
        if slug not in declared.species:
            continue
        rows = np.flatnonzero(birds.slug == slug)
        own = birds.of(rows)
        outlook = species_outlook(grower, str(slug), own)
        place[rows] = np.arange(len(rows))
        outlooks[str(slug)] = replace(outlook, birds=_as_typed(own, typed[rows]))
    allowed = _room(weigher, weighings)
    return Surroundings(
        weighings,
        weigher,
        grower,
        typed,
        allowed,
        typed_unit(*weighings.triples.T),
        np.where(_mostly_whole(wing), 1.0, typed_unit(wing)),
        _log_rate(weigher, weighings.triples, allowed),
        birds,
        outlooks,
        place,
    )


def _log_rate(case: Case, triples: Floats, allowed: Floats) -> float:
    whole = np.isfinite(triples).all(axis=1)
    broken = whole & (np.abs(imbalance(*triples.T)) > allowed)
    cells = float(whole.sum() * triples.shape[1])
    slips = case.declared.slips
    rate = learn_rate(
        slips.share("rates.field"),
        float(broken.sum()),
        cells,
        slips.share("rates.weight"),
        slips.ranges["field"],
    )
    return float(np.log(rate))


def _mostly_whole(values: Floats) -> bool:
    """Whether most numbers of a column have no decimals."""
    known = values[np.isfinite(values)]
    return bool((np.mod(known, 1) > 0).sum() * 2 <= len(known))


def _with_decimals(birds: Birds) -> list[float]:
    known = [column[np.isfinite(column)] for column in (birds.mass, birds.wing)]
    return [float(((np.mod(one, 1) > 0).sum() + 1 / 2) / (len(one) + 1)) for one in known]


def far_wings(around: Surroundings) -> Flags:
    """Rows whose wing lies so far off that a person should look, however likely a slip is."""
    far: Flags = np.abs(np.nan_to_num(around.distances.wing)) >= around.weigher.setting("explain.far.wing")
    return far


def far_masses(around: Surroundings) -> Flags:
    """Rows whose mass lies so far off; light birds are let go further, since some of them starve."""
    off = np.nan_to_num(around.distances.mass)
    far: Flags = (off >= around.weigher.setting("explain.far.heavy")) | (
        off <= -around.weigher.setting("explain.far.light")
    )
    return far


def _as_typed(birds: Birds, typed: Floats) -> Birds:
    """Return the birds with their own measures as typed, also those in doubt."""
    gross, bag, net, wing = typed.T
    mass = np.where(np.isfinite(net), net, gross - bag)
    return replace(birds, wing=np.where(wing > 0, wing, np.nan), mass=np.where(mass > 0, mass, np.nan))


def _room(case: Case, weighings: Weighings) -> Floats:
    """Imbalance that is no slip: what rounding explains, and one unit where that is only a note."""
    room = weighings.room(case)
    off = np.abs(imbalance(*weighings.triples.T))
    return np.where(room.one_unit, np.maximum(room.allowed, off), room.allowed)
