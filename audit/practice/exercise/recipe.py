"""What a practice sheet is made from, so that the same one can be made again and marked."""

from __future__ import annotations

import base64
import binascii
import json
from dataclasses import asdict, dataclass

from audit.refusal import Refusal

__all__ = ["Recipe", "recipe_in"]

#: Version of the form of a code.
_FORM = 1


@dataclass(frozen=True, slots=True)
class Recipe:
    """All that makes a practice sheet.

    Attributes
    ----------
    trainee : str
        Initials.
    level, species : str
        Names, as declared.
    seed, turn : int
        Chance: one page for each seed; turns are pages of one seed that were tried.
    kinds : tuple of str
        Kinds of slip on the sheet, by the level that each belongs to; none on a sheet without a slip.
    digest : str
        Of the sheet as typed, so that one made otherwise is noticed.
    """

    trainee: str
    level: str
    species: str
    seed: int
    turn: int
    kinds: tuple[str, ...]
    digest: str = ""

    @property
    def name(self) -> str:
        """How files of the sheet begin: ``practice-AB-barn_owl-tare-7``."""
        return f"practice-{self.trainee}-{self.species}-{self.level}-{self.seed}"

    @property
    def code(self) -> str:
        """Write it so that no eye reads the kinds of slip out of it by accident.

        Examples
        --------
        >>> recipe = Recipe("AB", "tare", "barn_owl", 7, 0, ("tare",))
        >>> recipe_in(recipe.code) == recipe, "tare" in recipe.code
        (True, False)
        """
        told = json.dumps([_FORM, *asdict(self).values()], ensure_ascii=True, separators=(",", ":"))
        return base64.b32encode(told.encode()).decode().rstrip("=")


def recipe_in(code: str) -> Recipe:
    """Read a code.

    Raises
    ------
    audit.refusal.Refusal
        It is none, or of a later form.
    """
    plain = "".join(code.split()).upper()
    try:
        told = json.loads(base64.b32decode(plain + "=" * (-len(plain) % 8)).decode())
        recipe = _recipe(*told)
    except (ValueError, TypeError, binascii.Error) as fault:
        raise Refusal(
            "The code of this practice sheet cannot be read.",
            where=f"code {code[:20] or '(nothing)'}",
            cure="Give the workbook as 'nestproof practise' wrote it; the code in it must stay as it is.",
        ) from fault
    return recipe


def _recipe(
    form: int, trainee: str, level: str, species: str, seed: int, turn: int, kinds: list[str], digest: str
) -> Recipe:
    """Take what a code says, as far as it has the right types."""
    texts, numbers = (trainee, level, species, digest, *kinds), (seed, turn)
    is_fit = form == _FORM and all(isinstance(one, str) for one in texts)
    if not is_fit or not all(type(one) is int and one >= 0 for one in numbers):
        raise ValueError(form)
    return Recipe(trainee, level, species, seed, turn, tuple(kinds), digest)
