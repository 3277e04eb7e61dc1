"""One part of what goes out: its files, and what a person must know before sending them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

__all__ = ["Part"]


@dataclass(frozen=True, slots=True)
class Part:
    """Files that belong together.

    Attributes
    ----------
    title : str
        What they are, for a person.
    files : mapping of str to callable
        Name in the folder of the handover, ``/`` between folders, -> what writes the file to a path.
    told : tuple of str
        Sentences for the person who sends the files: what was left out, what must still be looked up.
    """

    title: str
    files: Mapping[str, Callable[[Path], object]]
    told: tuple[str, ...] = ()
