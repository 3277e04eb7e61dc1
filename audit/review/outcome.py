"""What became of an act at the desk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.review.objections import Objection

__all__ = ["Outcome", "refused"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of an act at the desk.

    Attributes
    ----------
    said : str
        One sentence for the person.
    objections : tuple of Objection
        What is wrong with an amended value.
    taken : bool
        Whether it stands in the log.
    """

    said: str
    objections: tuple[Objection, ...] = ()
    taken: bool = True


def refused(said: str, objections: tuple[Objection, ...] = ()) -> Outcome:
    """Say why an act was not done."""
    return Outcome(said, objections, taken=False)
