"""The slip generator: known slips in any clean season, with the key to them."""

from __future__ import annotations

from audit.practice.key import Change, Key, Slip
from audit.practice.kinds import KINDS, Kind, Way, ways_of
from audit.practice.planting import Planter, plant, restore

__all__ = ["KINDS", "Change", "Key", "Kind", "Planter", "Slip", "Way", "plant", "restore", "ways_of"]
