"""What is said of marker and test tags that are declared and that a log does not have."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from audit.handover.passages.clock_record import shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

__all__ = ["Unmet", "unmet_sentences"]

_TAGS_SHOWN = 6


@dataclass(frozen=True, slots=True)
class Unmet:
    """Something declared of a tag that a log does not have, or has otherwise.

    Attributes
    ----------
    key : str
        Where it is declared, such as ``reading.held_tags``.
    tag : str
    near : tuple of str
        Tags of the log that are one slip away.
    box : str
        Where it is about a box, and else about the tag anywhere.
    moments : tuple of int
        When the tag was held there, or else was first read there; in milliseconds since 1970.
    visit : bool
        It is about a visit that is declared; else about reads for which none is.
    several : bool
        The tag was read near that visit more than once, so that nothing is told by it.
    """

    key: str
    tag: str
    near: tuple[str, ...] = ()
    box: str = ""
    moments: tuple[int, ...] = ()
    visit: bool = False
    several: bool = False


def unmet_sentences(unmet: Iterable[Unmet]) -> Iterator[str]:
    """Say of each what is not used, and what to look at."""
    for (key, apart), each in groupby(unmet, key=lambda one: (one.key, bool(one.near or one.box))):
        some = [*each]
        if apart:
            yield from map(_sentence, some)
            continue
        tags = ", ".join(one.tag for one in some[:_TAGS_SHOWN])
        more = f" and {len(some) - _TAGS_SHOWN:,} more" if len(some) > _TAGS_SHOWN else ""
        yield f"Declared in loggers.yaml ({key}) and never read in this log: {tags}{more}."


def _sentence(one: Unmet) -> str:
    if one.near:
        return (
            f"{one.tag}, declared in loggers.yaml ({one.key}), was never read in this log; one slip away "
            f"from it is {' or '.join(one.near)}, which was. If that is the tag, mend loggers.yaml: until "
            "then it tells nothing by what is declared."
        )
    when = shown(one.moments[0])
    if not one.visit:
        return (
            f"{one.box}: the test tag {one.tag} was read here, first at {when} by the logger, and no visit "
            f"to this box is declared for it in loggers.yaml ({one.key}). If it was held there, write box "
            "and moment: then the clock can be set right by it."
        )
    if one.several:
        return (
            f"{one.box}: near {when}, when {one.tag} was held there as declared ({one.key}), it was read "
            "more than once, and nothing tells which read it was: the clock is not set right by it. Declare "
            "the other times, too."
        )
    return (
        f"{one.box}: {one.tag} was held there at {when} as declared ({one.key}), and the log has no read of "
        "it within a day: the clock is not set right by it. Look whether box, day and tag are right, and "
        "whether an antenna was awake."
    )
