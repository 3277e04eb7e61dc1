"""Moments known otherwise: tags that somebody read by hand, or held to an antenna, in the codes of a log."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.antennas.log_codes import box_codes, tag_codes
from audit.models.clock_limits import Anchors

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.models.visit_anchors import AnchorLimits

    Ints = NDArray[np.int64]

__all__ = ["anchors_here", "held_anchors", "held_here"]

_SECOND_MS = 1000.0
_HOUR_MS = 3_600_000.0


def anchors_here(
    read: Mapping[str, Sequence[tuple[str, int]]], tags: Sequence[str]
) -> dict[str, list[tuple[int, int]]]:
    """Find the tags that were read by hand in a log, in whatever way either writes them.

    Parameters
    ----------
    read : mapping
        Box -> tags and moments, in milliseconds since 1970.
    tags : sequence of str
        Labels by code.

    Returns
    -------
    dict
        Box -> codes and moments of those that the log has.
    """
    given = {tag for each in read.values() for tag, _ in each}
    code = tag_codes([*tags, *sorted(given)])[1] if given else {}
    here = {code[label]: nr for nr, label in enumerate(tags) if label in code}
    return {
        box: [(here[code[tag]], moment) for tag, moment in each if code.get(tag) in here]
        for box, each in read.items()
    }


def held_here(
    declared: Mapping[str, Mapping[str, Sequence[int]]], tags: Sequence[str], boxes: Sequence[str]
) -> tuple[frozenset[int], dict[str, list[tuple[int, int]]]]:
    """Find the declared test tags in a log, in whatever way either writes them.

    Parameters
    ----------
    declared : mapping
        Tag -> box -> moments, in milliseconds since 1970.
    tags, boxes : sequence of str
        Labels by code.

    Returns
    -------
    frozenset of int
        Codes of the test tags.
    dict
        Box -> code and moment of each time that one was held to its antennas.
    """
    if not declared:
        return frozenset(), {}
    code = tag_codes([*declared, *tags])[1]
    here = {code[label]: nr for nr, label in enumerate(tags) if label in code}
    box_code = box_codes([*(box for each in declared.values() for box in each), *boxes])[1]
    label = {box_code[box]: box for box in boxes if box in box_code}
    known: dict[str, list[tuple[int, int]]] = {}
    found = set()
    for tag, at_boxes in declared.items():
        if code.get(tag) in here:
            nr = here[code[tag]]
            found.add(nr)
            for box, moments in at_boxes.items():
                if (own := label.get(box_code.get(box, -1))) is not None:
                    known.setdefault(own, []).extend((nr, moment) for moment in moments)
    return frozenset(found), known


def held_anchors(known: Sequence[tuple[int, int]], tag: Ints, stored: Ints, limits: AnchorLimits) -> Anchors:
    """Find the reads of tags held to an antenna.

    Parameters
    ----------
    known : sequence of (int, int)
        Codes of tags and the moments at which they were held there, in milliseconds since 1970.
    tag, stored : numpy.ndarray of int64, shape (n,)
        The memory of a logger, in its order.
    limits : AnchorLimits
        A clock is looked for within `farthest_h`, and reads within `within_s` are of one holding.

    Returns
    -------
    Anchors
        Of each moment with one holding near it, the first read. Where there are several, the one that agrees
        best with those that are sure; none where nothing is sure.
    """
    found: list[tuple[int, float]] = []
    open_: list[tuple[Ints, int]] = []
    for code, moment in known:
        mine = np.flatnonzero(tag == code)
        begins = np.abs(np.diff(stored[mine], prepend=-np.inf)) > limits.within_s * _SECOND_MS
        first = mine[begins]
        near = first[np.abs(stored[first] - moment) <= limits.farthest_h * _HOUR_MS]
        if len(near) == 1:
            found.append((int(near[0]), float(moment)))
        elif len(near):
            open_.append((near, moment))
    if found and open_:
        middle = float(np.median([stored[place] - moment for place, moment in found]))
        for near, moment in open_:
            beside = np.abs(stored[near] - moment - middle)
            if beside.min() <= limits.pooled * limits.within_s * _SECOND_MS:
                found.append((int(near[np.argmin(beside)]), float(moment)))
    found = sorted(dict(found).items())
    return Anchors(
        np.array([place for place, _ in found], dtype=np.int64),
        np.array([moment for _, moment in found], dtype=np.float64),
    )
