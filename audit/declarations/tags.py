"""Declared ways of writing a tag, prefixes, and what a team expects."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

from audit.declarations.limit import Limit, limits_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document

__all__ = ["PrefixRange", "TagDeclarations", "TagFormat", "country_codes", "tags_from"]


@dataclass(frozen=True, slots=True)
class TagFormat:
    """One way of writing a tag.

    Attributes
    ----------
    slug, title : str
        Name in declarations; name for a person.
    family : str
        ``iso`` or ``em``.
    pattern : str
        Regular expression that the whole text matches.
    """

    slug: str
    title: str
    family: str
    pattern: str


@dataclass(frozen=True, slots=True)
class PrefixRange:
    """Prefixes that are no country codes, `first` to `last`."""

    slug: str
    title: str
    first: int
    last: int
    on_bird: bool


@dataclass(frozen=True, slots=True)
class TagDeclarations:
    """Everything declared about tags.

    Attributes
    ----------
    withdrawn : frozenset of int
        Withdrawn country codes beyond those of the installed register.
    digit_for_letter : mapping of str to mapping of str to str
        Under ``decimal`` and ``hex``: letter typed to digit meant.
    expected_formats, expected_prefixes : tuple
        What the team fits; empty when nothing in particular is expected.
    """

    limits: Mapping[str, Limit]
    formats: Mapping[str, TagFormat] = field(default_factory=dict)
    prefixes: Mapping[str, PrefixRange] = field(default_factory=dict)
    withdrawn: frozenset[int] = frozenset()
    digit_for_letter: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    expected_formats: tuple[str, ...] = ()
    expected_prefixes: tuple[int, ...] = ()

    def prefix_class(self, prefix: int) -> str:
        """Name the class of a prefix.

        Parameters
        ----------
        prefix : int
            First three digits of the fifteen, or the ten bits of the code word.

        Returns
        -------
        str
            ``country``, ``withdrawn``, the slug of a declared range (``shared``, ``maker``, ``test``), or
            ``senseless``.

        References
        ----------
        ISO 11784: country code of ISO 3166-1 numeric, or a manufacturer code from 900 on.
        """
        for slug, declared in self.prefixes.items():
            if declared.first <= prefix <= declared.last:
                return slug
        current, historic = country_codes()
        if prefix in current:
            return "country"
        return "withdrawn" if prefix in historic or prefix in self.withdrawn else "senseless"

    def on_bird(self, prefix: int) -> bool:
        """Whether a bird may carry a tag with this prefix."""
        slug = self.prefix_class(prefix)
        return self.prefixes[slug].on_bird if slug in self.prefixes else slug != "senseless"


@cache
def country_codes() -> tuple[frozenset[int], frozenset[int]]:
    """Return the numeric country codes in use and the withdrawn ones, from the installed register."""
    import pycountry

    current = frozenset(int(country.numeric) for country in pycountry.countries)
    historic = (getattr(country, "numeric", None) for country in pycountry.historic_countries)
    return current, frozenset(int(code) for code in historic if code) - current


def tags_from(document: Document) -> TagDeclarations:
    """Build tag declarations from a document that fits the form ``tags``."""
    tree = document.tree
    expected = tree.get("expected") or {}
    return TagDeclarations(
        limits=dict(limits_in(tree)),
        formats={
            slug: TagFormat(slug, body["title"], body["family"], body["pattern"])
            for slug, body in tree.get("formats", {}).items()
        },
        prefixes={
            slug: PrefixRange(slug, body["title"], body["first"], body["last"], body["on_bird"])
            for slug, body in tree.get("prefixes", {}).items()
        },
        withdrawn=frozenset(int(code) for code in tree.get("countries", {}).get("withdrawn", {})),
        digit_for_letter={
            family: {letter: str(digit) for letter, digit in body["value"].items()}
            for family, body in tree.get("letters", {}).items()
        },
        expected_formats=tuple(expected.get("formats", ())),
        expected_prefixes=tuple(int(prefix) for prefix in expected.get("prefixes", ())),
    )
