"""How often each kind of slip happens, as declared."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from audit.practice.kinds import ways_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations

__all__ = ["declared_shares"]

#: Kinds of slip in a code -> names under ``codes`` in the declarations; half each where two share a name.
_CODES = {
    "digit": "digit",
    "neighbours": "neighbours",
    "dropped": "dropped",
    "doubled": "extra",
    "extra": "extra",
    "jump": "jump",
    "twin": "twin",
    "jump_twin": "jump_twin",
    "phonetic": "phonetic",
    "two_edits": "two_edits",
}
#: The same for ``habits``.
_HABITS = {
    "letter": "look_alike",
    "nought_lost": "zeros_lost",
    "rounded": "rounded",
    "power": "scientific",
    "above": "copied",
    "series": "filled",
}
#: The same for ``measures`` and its parts; a name that stands under two columns is shared by them.
_MEASURES = {
    "tenfold": "tenfold.point",
    "tenth": "tenfold.point",
    "centimetres": "tenfold.point",
    "kilograms": "tenfold.kilograms",
    "whole_row": "tenfold.row",
    "above": "copied.above",
    "last_visit": "copied.before",
    "not_subtracted": "gross_net.not_subtracted",
    "subtracted_twice": "gross_net.subtracted_twice",
    "added": "gross_net.added",
    "off_by_ten": "gross_net.borrow",
    "gross_g.exchanged_with_net": "exchanged.gross_net",
    "gross_g.exchanged_with_bag": "exchanged.gross_bag",
    "bag_g.exchanged_with_net": "exchanged.bag_net",
    "net_g.exchanged_with_wing": "exchanged.net_wing",
}
_CODE_FIELDS = ("ring", "tag")
_MEASURED = ("gross_g", "bag_g", "net_g", "wing_mm")
#: Siblings written in each other's row.
_CROSSED = ("sibling", "slid")


def declared_shares(declared: Declarations) -> dict[str, float]:
    """Return how often each kind of slip happens in one filled row.

    Parameters
    ----------
    declared : Declarations
        Its ``slips``.

    Returns
    -------
    dict of str to float
        Name such as ``tag.digit`` -> probability per row, for `plant` (``kinds=``). Columns of which nothing
        is declared but the rate of a field divide it evenly over their kinds.
    """
    slips = declared.slips
    parts: dict[str, list[tuple[str, str, float]]] = defaultdict(list)
    for way in ways_of():
        for group, rate in _groups(way.field, way.kind.name, way.name, declared):
            parts[f"{way.field if way.field in _CODE_FIELDS else ''}|{group}"].append((way.name, group, rate))
    found: dict[str, float] = {}
    for members in parts.values():
        for name, group, rate in members:
            share = 1.0 if group.startswith("any ") else slips.share(group)
            found[name] = found.get(name, 0.0) + rate * share / len(members)
    return found


def _groups(field: str, kind: str, name: str, declared: Declarations) -> Iterator[tuple[str, float]]:
    """Yield the groups of declared shares that a kind belongs to, with the rate that they divide."""
    slips = declared.slips
    if field in _CODE_FIELDS:
        if kind in _CROSSED:
            yield f"any {field} crossed", slips.share("rates.rows_crossed")
            return
        rate = slips.share(f"rates.{field}")
        habits = sum(slips.group("habits").values())
        if kind in _CODES:
            yield f"codes.{_CODES[kind]}", rate * (1 - habits)
        elif kind in _HABITS:
            yield f"habits.{_HABITS[kind]}", rate
        return
    rate = slips.share("rates.field")
    if field not in _MEASURED:
        yield f"any {field}", rate
        return
    every = rate * len(_MEASURED)
    if kind in _CODES:
        yield f"codes.{_CODES[kind]}", every * slips.share("measures.digit")
    else:
        known = _MEASURES.get(name) or _MEASURES.get(kind)
        if known:
            yield known, every
