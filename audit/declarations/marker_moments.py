"""Moments of the day at which marker tags beat, as a team declares them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document

__all__ = ["MarkerMoments", "marker_moments"]

_DAY_S = 86_400
_MOMENT = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?")
_DIGIT = re.compile(r"\d")
_TRAIL = ("reading", "marker_moments", "value")


@dataclass(frozen=True, slots=True)
class MarkerMoments:
    """When marker tags beat.

    Attributes
    ----------
    of_all : tuple of int
        Moments of the day of all marker tags that are not named, in seconds since midnight by the time of the
        season, in order; empty where none are declared.
    by_tag : mapping of str to tuple of int
        The same of each tag, as the declaration writes it.
    """

    of_all: tuple[int, ...] = ()
    by_tag: Mapping[str, tuple[int, ...]] = field(default_factory=dict)


def marker_moments(document: Document) -> MarkerMoments:
    """Read the declared moments.

    Parameters
    ----------
    document : Document
        One that fits the form ``loggers``.

    Raises
    ------
    DeclarationRefusal
        A moment is not written as HH:MM or HH:MM:SS, a tag has no digit, or several moments do not lie at
        even intervals over the day.
    """
    value = document.tree["reading"]["marker_moments"]["value"]
    if isinstance(value, list):
        return MarkerMoments(of_all=_moments(document, value, ()))
    by_tag = {}
    for tag, moments in value.items():
        if not _DIGIT.search(tag):
            raise DeclarationRefusal(
                f"'{tag}' is no tag.",
                where=document.where(*_TRAIL, tag),
                cure='Write the tag with its digits before the colon, such as "999000000109999": ["13:37"].',
            )
        by_tag[tag] = _moments(document, moments, (tag,))
    return MarkerMoments(by_tag=by_tag)


def _moments(document: Document, written: list[Any], trail: tuple[str, ...]) -> tuple[int, ...]:
    found = []
    for nr, text in enumerate(written):
        told = _MOMENT.fullmatch(str(text).strip())
        if told is None:
            raise DeclarationRefusal(
                f"'{text}' is no moment of the day.",
                where=document.where(*_TRAIL, *trail, nr),
                cure='Write hours and minutes, and seconds where they are known: "13:37" or "13:37:20".',
            )
        hours, minutes, seconds = (int(part or 0) for part in told.groups())
        found.append(3600 * hours + 60 * minutes + seconds)
    found.sort()
    gaps = {later - sooner for sooner, later in pairwise([*found, found[0] + _DAY_S])} if found else set()
    if len(gaps) > 1 or 0 in gaps:
        raise DeclarationRefusal(
            "These moments do not lie at even intervals over the day, so nothing can be told by them.",
            where=document.where(*_TRAIL, *trail),
            cure="Write one moment at which the marker beats, or all of the day at even intervals, such as "
            '["01:37", "13:37"]. Where several tags beat, each at a moment of its own, write them by tag.',
        )
    return tuple(found)
