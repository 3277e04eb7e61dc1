"""When the marker tags of a log beat, where a team declared it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.antennas.log_codes import tag_codes

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.declarations.marker_moments import MarkerMoments

__all__ = ["BeatMoments", "beat_moments"]


@dataclass(frozen=True, slots=True)
class BeatMoments:
    """Declared moments by the codes of a log.

    Attributes
    ----------
    of_all : tuple of int
        Of all marker tags that are not named, in seconds since midnight.
    by_code : mapping of int to tuple of int
        Of those that are.
    """

    of_all: tuple[int, ...] = ()
    by_code: Mapping[int, tuple[int, ...]] = field(default_factory=dict)

    def of(self, tag: int) -> tuple[int, ...]:
        """Give the moments at which a marker tag beats; none where these are not declared."""
        return self.by_code.get(tag, self.of_all)


def beat_moments(declared: MarkerMoments, tags: Sequence[str]) -> BeatMoments:
    """Find the tags of a log for which moments are declared, in whatever way either is written.

    Parameters
    ----------
    declared : MarkerMoments
    tags : sequence of str
        Labels by code.
    """
    if not declared.by_tag:
        return BeatMoments(declared.of_all)
    code = tag_codes([*declared.by_tag, *tags])[1]
    told = {code[tag]: moments for tag, moments in declared.by_tag.items() if tag in code}
    found = {nr: told[code[tag]] for nr, tag in enumerate(tags) if code.get(tag) in told}
    return BeatMoments(declared.of_all, found)
