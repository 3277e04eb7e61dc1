"""What is known of a bird before it was in the hand: its ringing, and the tags that it bore."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.exchange.handled import RINGED

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.handover.exchange.handled import Handled

__all__ = ["Histories", "Past", "histories"]


@dataclass(frozen=True, slots=True)
class Past:
    """One handling of a bird, and all before it.

    Attributes
    ----------
    is_ringing : bool
        Whether the ring was put on at this handling.
    event_told : bool
        Whether the sheet says so.
    ringing : Handled or None
        The handling at which the ring was put on; None where nobody told of it.
    before : tuple of Handled
        Earlier handlings, in order.
    """

    is_ringing: bool
    event_told: bool
    ringing: Handled | None
    before: tuple[Handled, ...]

    @property
    def tag_before(self) -> str:
        """Key of the tag that the bird bore last; empty where none is known."""
        return next((one.tag_key for one in reversed(self.before) if one.tag_key), "")

    @property
    def is_known_from_ringing(self) -> bool:
        """Whether everything from the ringing on is known."""
        return self.is_ringing or self.ringing is not None


@dataclass(frozen=True, slots=True)
class Histories:
    """All birds by their rings.

    Attributes
    ----------
    of : mapping of str to Past
        By row label, for every row with ring and day.
    rings_of_tag : mapping of str to tuple of str
        Rings, without separators, on which a tag was met, in order of day.
    """

    of: Mapping[str, Past]
    rings_of_tag: Mapping[str, tuple[str, ...]]


def histories(now: Sequence[Handled], earlier: Sequence[Handled] = ()) -> Histories:
    """Lay out the lives of all birds, in order of day, time and row.

    Parameters
    ----------
    now, earlier : sequence of Handled
        Rows of this season and of earlier ones, in sheet order.
    """
    lives: dict[str, list[Handled]] = defaultdict(list)
    tags: dict[str, dict[str, None]] = defaultdict(dict)
    for one in sorted((*earlier, *now), key=lambda one: one.when):
        if one.ring_key and one.day is not None:
            lives[one.ring_key].append(one)
        if one.tag_key and one.ring_key:
            tags[one.tag_key][one.ring_key] = None
    wanted = {one.label for one in now}
    of: dict[str, Past] = {}
    for life in lives.values():
        put_on = [one.event == RINGED or (not one.event and at == 0) for at, one in enumerate(life)]
        ringing: Handled | None = None
        for at, one in enumerate(life):
            if put_on[at] and ringing is None:
                ringing = one
            if one.label in wanted:
                of[one.label] = Past(put_on[at], bool(one.event), ringing, tuple(life[:at]))
    return Histories(of, {key: tuple(rings) for key, rings in tags.items()})
