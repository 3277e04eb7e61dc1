"""Who sends a season: what only a team can know about itself."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.declarations.limit import limits_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document
    from audit.declarations.limit import Limit

__all__ = ["Place", "Sender", "sender_from"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where boxes lie: the code by which the scheme knows the place, and its name; empty where not told."""

    code: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True)
class Sender:
    """Who sends the season. All texts are empty where the team has not written them.

    Attributes
    ----------
    title, team, contact, email, licence : str
        Title of the season; who gathered the data; whom to ask and where; terms of use.
    scheme : str
        Three capitals by which the ringing scheme is known to others.
    place : Place
        Where the boxes lie.
    boxes : mapping of str to Place
        Boxes that lie elsewhere.
    limits : mapping of str to Limit
        ``uncertainty_m``: how well the co-ordinates of the boxes are known, 0 for unknown;
        ``public_step_deg``: to which step co-ordinates are rounded where anybody may read them.
    """

    title: str = ""
    team: str = ""
    contact: str = ""
    email: str = ""
    licence: str = ""
    scheme: str = ""
    place: Place = Place()
    boxes: Mapping[str, Place] = field(default_factory=dict)
    limits: Mapping[str, Limit] = field(default_factory=dict)

    def place_of(self, box: str) -> Place:
        """Where a box lies."""
        return self.boxes.get(box, self.place)


def sender_from(document: Document) -> Sender:
    """Build the sender from a document that fits the form ``sender``."""
    tree = document.tree
    contact = tree.get("contact", {})
    return Sender(
        title=tree.get("title", ""),
        team=tree.get("team", ""),
        contact=contact.get("name", ""),
        email=contact.get("email", ""),
        licence=tree.get("licence", ""),
        scheme=tree.get("scheme", ""),
        place=Place(**tree.get("place", {})),
        boxes={str(box): Place(**body) for box, body in (tree.get("boxes") or {}).items()},
        limits=dict(limits_in(tree.get("coordinates", {}))),
    )
