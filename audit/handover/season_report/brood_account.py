"""What became of one brood, as a record."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["BroodAccount", "BroodAccounts", "EmptyBox"]


@dataclass(frozen=True, slots=True)
class BroodAccount:
    """One species in one box in one year; days are ISO 8601, numbers None where no column tells them.

    Attributes
    ----------
    species, box, year : str, str, int
        Name of the species, empty where no bird was in the hand; label of the box, empty where missing.
    visits : int
        Days on which the box was visited or a bird of it handled.
    eggs, alive, dead : int or None
        The most counted at one visit.
    ringed : int
        Young ringed; where no age was written, all birds ringed.
    ringed_on : str
        First day of that.
    size : int or None
        Live young at ringing: the brood size that most rows say, or the count of that day.
    tagged : int or None
        Of those ringed, birds that bear a tag.
    again : int
        Of those ringed, birds met again on a later day.
    grown : int or None
        Full-grown birds in the hand; None without ages.
    last_seen : str
        Last day with a bird of it in the hand, or with eggs or young counted.
    cleaned : str or None
        Day of the last cleaning after the last bird in the hand, empty where none is ticked.
    """

    species: str
    box: str
    year: int
    visits: int
    eggs: int | None
    alive: int | None
    dead: int | None
    ringed: int
    ringed_on: str
    size: int | None
    tagged: int | None
    again: int
    grown: int | None
    last_seen: str
    cleaned: str | None

    @property
    def is_brood(self) -> bool:
        """Whether there were eggs or young."""
        return bool(self.ringed or self.eggs or self.alive or self.dead)


@dataclass(frozen=True, slots=True)
class EmptyBox:
    """A box without eggs or young: its visits, full-grown birds in the hand, and its cleaning."""

    box: str
    visits: int
    grown: int
    cleaned: str | None


@dataclass(frozen=True, slots=True)
class BroodAccounts:
    """All broods of a season.

    Attributes
    ----------
    broods : tuple of BroodAccount
        By species, most birds first, then by box.
    empty : tuple of EmptyBox
        Boxes of the table of boxes, of the visits or of the handlings that held none.
    has_ages : bool
        Whether any age was written, so that young are told from full-grown birds.
    """

    broods: tuple[BroodAccount, ...]
    empty: tuple[EmptyBox, ...]
    has_ages: bool

    @property
    def by_species(self) -> dict[str, list[BroodAccount]]:
        """Broods of each species."""
        found: dict[str, list[BroodAccount]] = {}
        for brood in self.broods:
            found.setdefault(brood.species, []).append(brood)
        return found
