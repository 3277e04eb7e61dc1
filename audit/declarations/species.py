"""Declared species: names, growth curves, breeding numbers and cautions."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from audit.declarations.limit import Limit, limits_in
from audit.declarations.once import once_for
from audit.declarations.plumage import Plumage, plumages_from
from audit.models.growth import Curve, Recession, Spread
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document

__all__ = ["Range", "Species", "SpeciesIndex", "species_from", "species_index"]


@dataclass(frozen=True, slots=True)
class Range:
    """A closed range that holds about 95 in 100 birds."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Centre of the range, of sizes that scatter by a share of themselves: the geometric mean."""
        return math.sqrt(self.low * self.high)

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm, with about 95 in 100 inside."""
        return math.log(self.high / self.low) / (2 * 2)

    @property
    def sd(self) -> float:
        """Standard deviation, with about 95 in 100 inside."""
        return (self.high - self.low) / (2 * 2)


@dataclass(frozen=True, slots=True)
class Species:
    """One declared species.

    Attributes
    ----------
    slug : str
        Stem of the file, such as ``barn_owl``.
    scientific : str
        Genus and species.
    names : tuple of str
        Every declared name in every language.
    english : str
        The first English name: how messages call the bird.
    euring : str
        Five-digit species number as text; empty when not declared.
    curves : mapping of str to Curve
        Growth by column, ``mass_g`` and ``wing_mm``; absent where no curve is known.
    adult : mapping of (str, str) to Range
        Full-grown birds by sex (``''`` both, ``M``, ``F``) and column.
    limits : mapping of str to Limit
        Every number under a dotted key such as ``breeding.clutch.high``.
    caution : str
        What to heed in the field.
    plumages : tuple of Plumage
        States of the feathers of nestlings, youngest first; empty where none is declared.
    """

    slug: str
    names: tuple[str, ...]
    limits: Mapping[str, Limit]
    scientific: str = ""
    english: str = ""
    euring: str = ""
    curves: Mapping[str, Curve] = field(default_factory=dict)
    adult: Mapping[tuple[str, str], Range] = field(default_factory=dict)
    caution: str = ""
    plumages: tuple[Plumage, ...] = ()

    def number(self, key: str) -> float | None:
        """Return a declared number by dotted key; None when it is not declared."""
        limit = self.limits.get(key)
        return None if limit is None else float(limit.value)


def species_from(slug: str, document: Document) -> Species:
    """Build a species from a document that fits the form ``species``.

    Raises
    ------
    DeclarationRefusal
        A curve lacks a number that its model needs: with file, line and cure.
    """
    tree = document.tree
    names = tree.get("names") or {}
    words = [str(word) for group in names.values() for word in group]
    english = [str(word) for word in names.get("en", ())]
    return Species(
        slug=slug,
        names=tuple(dict.fromkeys(words)),
        limits=dict(limits_in(tree)),
        scientific=str(tree["scientific"]),
        english=english[0] if english else slug.replace("_", " "),
        euring=str(tree["euring"]["value"]) if "euring" in tree else "",
        curves={
            column: _curve_from(body, document, ("curves", column))
            for column, body in (tree.get("curves") or {}).items()
        },
        adult=_adult_from(tree.get("adult") or {}),
        caution=str(tree.get("caution", "")),
        plumages=plumages_from(tree.get("plumage") or (), document),
    )


#: What each model and each form of spread cannot do without.
_MODEL_NEEDS = {
    "logistic": ("asymptote", "rate", "inflection"),
    "gompertz": ("asymptote", "rate", "inflection"),
    "offset_gompertz": ("asymptote", "rate", "inflection", "offset"),
    "table": ("days", "values"),
}
_SPREAD_NEEDS = {
    "saturating": ("start", "rise", "scale"),
    "ramp": ("start", "slope", "cap"),
    "table": ("days", "values"),
    "share": ("days", "values"),
}


def _curve_from(body: dict[str, Any], document: Document, trail: tuple[str, ...]) -> Curve:
    _need(body, body["model"], _MODEL_NEEDS[body["model"]], document, trail)
    wide = body["spread"]
    _need(wide, wide["form"], _SPREAD_NEEDS[wide["form"]], document, (*trail, "spread"))
    recession = body.get("recession")
    return Curve(
        model=body["model"],
        spread=Spread(
            form=wide["form"],
            days=tuple(float(day) for day in wide.get("days", ())),
            values=tuple(float(value) for value in wide.get("values", ())),
            **{key: float(wide[key]) for key in ("start", "rise", "scale", "slope", "cap") if key in wide},
        ),
        first_day=float(body["from_day"]),
        last_day=float(body["to_day"]),
        recession=None
        if recession is None
        else Recession(float(recession["share"]), float(recession["day"]), float(recession["scale"])),
        days=tuple(float(day) for day in body.get("days", ())),
        values=tuple(float(value) for value in body.get("values", ())),
        **{key: float(body[key]) for key in ("asymptote", "rate", "inflection", "offset") if key in body},
    )


def _need(
    body: dict[str, Any], kind: str, keys: tuple[str, ...], document: Document, trail: tuple[str, ...]
) -> None:
    lacking = [key for key in keys if key not in body]
    if lacking:
        raise DeclarationRefusal(
            f"'{kind}' needs {', '.join(keys)}; {', '.join(lacking)} is missing.",
            where=document.where(*trail),
            cure=f"Add '{lacking[0]}:' or choose another form.",
        )
    if "days" in keys and (
        len(body["days"]) != len(body["values"])
        or any(later <= earlier for earlier, later in zip(body["days"], body["days"][1:], strict=False))
    ):
        raise DeclarationRefusal(
            "'days' and 'values' must be of one length, and 'days' must rise.",
            where=document.where(*trail, "days"),
            cure="Write one value for each day, the youngest first.",
        )


def _adult_from(tree: dict[str, Any]) -> dict[tuple[str, str], Range]:
    found = {}
    for sex, body in (("", tree), ("M", tree.get("male") or {}), ("F", tree.get("female") or {})):
        for column in ("mass_g", "wing_mm"):
            if column in body:
                found[sex, column] = Range(
                    float(body[column]["low"]["value"]), float(body[column]["high"]["value"])
                )
    return found


@dataclass(frozen=True, slots=True)
class SpeciesIndex:
    """Finds the species that a text means."""

    known: Mapping[str, str]
    spoken: Mapping[tuple[str, ...], str] = field(default_factory=dict)

    def resolve(self, text: object) -> str | None:
        """Return the slug of the species that a text means, None when it means none.

        Capitals, accents, hyphens and blanks do not matter; a number is taken as the EURING species number
        with or without the zero in front. All words of a name but its last may be shortened, as in "B. Owl".

        Examples
        --------
        >>> species_index({"barn_owl": Species("barn_owl", ("Schleiereule",), {})}).resolve("SCHLEIEREULE")
        'barn_owl'
        """
        if not isinstance(text, str):
            return None
        plain = _plain(text)
        found = self.known.get(plain)
        if found is None and plain.isdigit():
            # a spreadsheet drops the zero in front
            found = self.known.get(plain.zfill(5))
        return found or self.resolve_short(text)

    def resolve_short(self, text: str) -> str | None:
        """Return the slug of the one species of which a text is a shortened name, None when there is none.

        Examples
        --------
        >>> species = {"barn_owl": Species("barn_owl", ("barn owl",), {})}
        >>> [species_index(species).resolve_short(text) for text in ("B. Owl", "Bn owl", "barn owl", "owl")]
        ['barn_owl', None, None, None]
        """
        if _plain(text) in self.known:
            return None
        words = _spoken(text)
        if len(words) == 1:
            return None
        meant = {
            slug
            for name, slug in self.spoken.items()
            if len(name) == len(words)
            and name[-1] == words[-1]
            and all(full.startswith(short) for full, short in zip(name, words, strict=True))
        }
        return meant.pop() if len(meant) == 1 else None


@once_for
def species_index(species: Mapping[str, Species]) -> SpeciesIndex:
    """Build the index of all names, scientific names, slugs and EURING numbers.

    A name that two species share means neither, nor does a text that is short for names of two.
    """
    known: dict[str, str] = {}
    shared: set[str] = set()
    for slug, one in species.items():
        for word in {_plain(word) for word in (slug, one.scientific, one.euring, *one.names) if word}:
            if known.setdefault(word, slug) != slug:
                shared.add(word)
    known = {word: slug for word, slug in known.items() if word not in shared}
    spoken = {_spoken(name): slug for slug, one in species.items() for name in one.names}
    return SpeciesIndex(known, {words: slug for words, slug in spoken.items() if "".join(words) in known})


def _plain(text: str) -> str:
    return "".join(_spoken(text))


def _spoken(text: str) -> tuple[str, ...]:
    """Words of a text, without capitals and accents."""
    bare = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(sign for sign in bare if not unicodedata.combining(sign))
    return tuple(re.findall(r"[^\W_]+", letters))
