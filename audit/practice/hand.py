"""What a hand has before it when it makes a slip: the sheet, and the words and signs that it knows."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.declarations.species import species_index
from audit.intake.words import Words
from audit.practice.sheet import Sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import numpy as np
    from numpy.typing import NDArray

    from audit.declarations import Declarations
    from audit.season import Season

    Floats = NDArray[np.float64]
    #: A hand, a row and a column -> the cells to type, the one that the slip is named after first; none where
    #: it cannot be done.
    Make = Callable[["Hand", int, str], tuple["Typed", ...]]

__all__ = ["Hand", "Typed"]

#: A row, a column, and the text that is now typed there.
Typed = tuple[int, str, str]


@dataclass(frozen=True)
class Hand:
    """The hand that makes the slips.

    Attributes
    ----------
    sheet : Sheet
        The handlings as they were meant.
    rng : numpy.random.Generator
        Source of chance.
    letters : mapping of str to str
        Letter -> digit that it is taken for.
    boxes : tuple of str
        Every box of the round.
    species : mapping of str to str
        Each way in which a species may be written -> slug of the species; those of the season first.
    choices : mapping of str to tuple of str
        Column -> the only values that it may hold.
    swaps : ndarray, shape (10, 10), or None
        Probability of each wrong digit (column) for each one meant (row); None where all are alike.
    """

    sheet: Sheet
    rng: np.random.Generator
    letters: Mapping[str, str] = field(default_factory=dict)
    boxes: tuple[str, ...] = ()
    species: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    swaps: Floats | None = None

    @classmethod
    def over(
        cls, season: Season, declared: Declarations, rng: np.random.Generator, *, tilted: bool = False
    ) -> Hand:
        """Lay a season before a hand.

        Parameters
        ----------
        tilted : bool
            Whether wrong digits are drawn as declared: those that look alike, or lie side by side on the
            keys, more often than others.
        """
        sheet = Sheet.of(season)
        boxes = list(sheet.texts.get("box", ()))
        if season.has("boxes", "box"):
            boxes += [str(box) for box in season.frame("boxes")["box"].dropna()]
        index = species_index(declared.species)
        written = dict.fromkeys(text for text in sheet.texts.get("species", ()) if text)
        species = {text: slug for text in written if (slug := index.resolve(text)) is not None}
        if len(set(species.values())) < 2:  # noqa: PLR2004 - with one species only, another must be brought in
            species.update({one.english: slug for slug, one in declared.species.items()})
        return cls(
            sheet=sheet,
            rng=rng,
            letters=Words(declared.settings).digits_for_letters(),
            boxes=tuple(dict.fromkeys(box for box in boxes if box)),
            species=species,
            choices={
                one.name: one.allowed
                for one in declared.tables["handlings"].fields
                if one.allowed is not None
            },
            swaps=declared.slips.channel().swaps if tilted else None,
        )
