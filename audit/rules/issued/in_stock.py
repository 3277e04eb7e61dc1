"""Rings in stock that may have been meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.models.ring_number import join_ring

if TYPE_CHECKING:
    from audit.rules.ring_rows import Ringings

__all__ = ["near_in_stock"]


def near_in_stock(rings: Ringings, text: str, longest: int) -> list[str]:
    """Find the unused rings of the stock that are one slip away."""
    near: set[str] = set()
    for string in rings.stock:
        if string.fault or string.last - string.first >= longest:
            continue
        stem = rings.own.get(string.key, string.stem)
        for serial in range(string.first, string.last + 1):
            ring = join_ring(stem, serial, string.width)
            at = (string.key, serial)
            if rings.slip(ring, text) and at not in rings.used and at not in rings.lost:
                near.add(ring)
    return sorted(near)
