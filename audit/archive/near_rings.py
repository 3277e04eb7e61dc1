"""Rings of an archive that are one slip away from others: whose bird may have been meant."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from audit.models.spelling import SlipIndex

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from narwhals import LazyFrame

    from audit.archive.engine import Engine

__all__ = ["near_in_archive", "near_rings"]

_DIGITS = "0123456789"
#: Rings asked about at once; each may have been made of some two hundred others.
_AT_ONCE = 2000


def near_rings(asked: Collection[str], known: Collection[str]) -> dict[str, tuple[str, ...]]:
    """List the known rings that are one slip away from those asked about.

    Parameters
    ----------
    asked, known : collection of str
        Without separators.

    Examples
    --------
    >>> near_rings(["SV01263"], ["SV01235", "SV01236"])
    {'SV01263': ('SV01236',)}
    """
    index = SlipIndex(known)
    found = {ring: tuple(index.near(ring)) for ring in sorted(asked)}
    return {ring: near for ring, near in found.items() if near}


def near_in_archive(
    engine: Engine, marks: LazyFrame[Any], asked: Collection[str]
) -> dict[str, tuple[str, ...]]:
    """List the same where an archive has too many rings to be held in memory.

    Parameters
    ----------
    engine : Engine
    marks : frame
        Of `marks.marked`.
    asked : collection of str
        A few rings; only slips in their digits are asked about.
    """
    import pandas as pd

    found: dict[str, tuple[str, ...]] = {}
    ordered = sorted(asked)
    for number, begin in enumerate(range(0, len(ordered), _AT_ONCE)):
        forms = {ring: {*_one_slip(ring)} - {ring} for ring in ordered[begin : begin + _AT_ONCE]}
        meant = pd.DataFrame({"ring": sorted(set().union(*forms.values()))})
        table = engine.table(meant, f"near_rings_{number}")
        there = {*engine.frame(marks.select("ring").join(table, on="ring", how="semi").unique())["ring"]}
        found |= {ring: tuple(sorted(near)) for ring, some in forms.items() if (near := some & there)}
    return found


def _one_slip(ring: str) -> Iterator[str]:
    """Give what one slip in the digits may have turned into a ring."""
    for i, sign in enumerate(ring):
        if sign in _DIGITS:
            yield ring[:i] + ring[i + 1 :]
            yield from (ring[:i] + digit + ring[i + 1 :] for digit in _DIGITS if digit != sign)
            yield from (ring[:i] + digit + ring[i:] for digit in _DIGITS)
            if i + 1 < len(ring):
                yield ring[:i] + ring[i + 1] + sign + ring[i + 2 :]
    yield from (ring + digit for digit in _DIGITS)
