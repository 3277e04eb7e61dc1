"""What the public archive of a season is written with: terms, words, measures, licences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.declarations.limit import limits_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document
    from audit.declarations.limit import Limit

__all__ = ["DarwinCore", "Licence", "Measure", "darwin_core_from"]


@dataclass(frozen=True, slots=True)
class Measure:
    """What one column becomes as a measurement or fact: what, unit (empty for counts and facts), how."""

    title: str
    unit: str
    method: str


@dataclass(frozen=True, slots=True)
class Licence:
    """Terms of use: name, address of the text, address in the list of licences."""

    name: str
    legal: str
    url: str


@dataclass(frozen=True, slots=True)
class DarwinCore:
    """Declarations of the public archive.

    Attributes
    ----------
    terms : mapping of str to str
        Name of a term -> its address.
    measures : mapping of str to Measure
        By column of the sheet, and ``ring_action``, ``tag_action``, ``reads`` for what follows from several.
    licences : mapping of str to Licence
        By short name.
    limits : mapping of str to Limit
        Every other word and number under a dotted key such as ``words.visit`` or ``limits.sum_room_g``.
    """

    terms: Mapping[str, str]
    measures: Mapping[str, Measure]
    licences: Mapping[str, Licence]
    limits: Mapping[str, Limit]

    def word(self, key: str) -> str:
        """Return a declared word by dotted key; empty where none is."""
        limit = self.limits.get(key)
        return "" if limit is None else str(limit.value)

    def number(self, name: str) -> float:
        """Return a declared number of the group ``limits``."""
        return float(self.limits[f"limits.{name}"].value)

    def goes_out(self, what: str) -> bool:
        """Whether texts of a kind, ``remarks`` or ``observers``, are made public."""
        return bool(self.limits[f"publish.{what}"].value)

    def words(self, group: str) -> dict[str, str]:
        """Return all words of a group such as ``ages`` by their key."""
        start = f"{group}."
        return {
            key.removeprefix(start): str(one.value)
            for key, one in self.limits.items()
            if key.startswith(start)
        }


def darwin_core_from(document: Document) -> DarwinCore:
    """Build the declarations from a document that fits the form ``darwin_core``."""
    tree = document.tree
    return DarwinCore(
        terms={name: f"{body['iri']}{name}" for body in tree["terms"].values() for name in body["names"]},
        measures={
            column: Measure(body["title"], body["unit"], body["method"])
            for column, body in tree["measures"].items()
        },
        licences={
            name: Licence(body["name"], body["legal"], body["url"]) for name, body in tree["licences"].items()
        },
        limits=dict(limits_in(tree)),
    )
