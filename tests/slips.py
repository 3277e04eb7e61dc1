"""Single slips put into clean invented seasons, with the key: what do the rules see, whom do they bother?"""

from __future__ import annotations

import datetime as dt
from copy import deepcopy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from invented import Row

__all__ = ["KINDS", "Planted", "plant_slips"]


@dataclass(frozen=True)
class Planted:
    """One slip: the cells it changed (index of the row, field, true value)."""

    kind: str
    cells: tuple[tuple[int, str, Any], ...]


def _replace_digit(text: str, rng: np.random.Generator) -> str:
    places = [i for i, c in enumerate(text) if c.isdigit()]
    i = places[int(rng.integers(0, len(places)))]
    digit = str((int(text[i]) + int(rng.integers(1, 10))) % 10)
    return text[:i] + digit + text[i + 1 :]


def _exchange(text: str, rng: np.random.Generator) -> str | None:
    places = [
        i
        for i in range(len(text) - 1)
        if text[i].isdigit() and text[i + 1].isdigit() and text[i] != text[i + 1]
    ]
    if not places:
        return None
    i = places[int(rng.integers(0, len(places)))]
    return text[:i] + text[i + 1] + text[i] + text[i + 2 :]


def _drop(text: str, rng: np.random.Generator) -> str:
    places = [i for i, c in enumerate(text) if c.isdigit()]
    i = places[int(rng.integers(0, len(places)))]
    return text[:i] + text[i + 1 :]


def _double(text: str, rng: np.random.Generator) -> str:
    places = [i for i, c in enumerate(text) if c.isdigit()]
    i = places[int(rng.integers(0, len(places)))]
    return text[:i] + text[i] + text[i:]


KEYED = {"digit": _replace_digit, "exchange": _exchange, "drop": _drop, "double": _double}
CODES = ("ring", "tag")
NUMBERS = ("gross_g", "bag_g", "net_g", "wing_mm")

KINDS = (
    *(f"{field}.{slip}" for field in (*CODES, *NUMBERS) for slip in KEYED),
    "net_g.not_subtracted",
    "net_g.subtracted_twice",
    "net_g.added",
    "net_g.tenfold",
    "wing_mm.tenfold",
    "wing_mm.tenth",
    "net_g.exchanged_with_wing",
    "ring.copied",
    "tag.copied",
    "tag.exchanged_with_sibling",
    "date.day_month",
    "date.year",
    "date.digit",
    "box.near_miss",
    "box.other",
    "brood_size.digit",
    "species.other",
    "ring_leg.other",
    "tag_leg.other",
)


def _as_number(text: str) -> float | None:
    return float(text) if text and text != "." else None


def _keyed(row: Row, field: str, slip: str, rng: np.random.Generator) -> Any:
    value = row[field]
    if value is None:
        return None
    text = f"{value:g}" if isinstance(value, float) else str(value)
    wrong = KEYED[slip](text, rng)
    if wrong is None or wrong == text:
        return None
    if isinstance(value, float):
        return _as_number(wrong)
    return wrong


def _one(rows: list[Row], i: int, kind: str, rng: np.random.Generator) -> list[tuple[int, str, Any]]:
    """Change the rows; return (index, field, true value) of each changed cell; empty if it cannot be done."""
    row = rows[i]
    field, _, slip = kind.partition(".")
    true = row.get(field)
    wrong: Any = None
    if slip in KEYED and field in (*CODES, *NUMBERS):
        wrong = _keyed(row, field, slip, rng)
    elif kind == "net_g.not_subtracted":
        wrong = row["gross_g"]
    elif kind == "net_g.subtracted_twice":
        wrong = row["gross_g"] - 2 * row["bag_g"]
    elif kind == "net_g.added":
        wrong = row["gross_g"] + row["bag_g"]
    elif kind in ("net_g.tenfold", "wing_mm.tenfold"):
        wrong = true * 10
    elif kind == "wing_mm.tenth":
        wrong = round(true / 10, 2)
    elif kind == "net_g.exchanged_with_wing":
        changed = [(i, "net_g", row["net_g"]), (i, "wing_mm", row["wing_mm"])]
        row["net_g"], row["wing_mm"] = row["wing_mm"], row["net_g"]
        return changed
    elif slip == "copied":
        wrong = rows[i - 1][field]
    elif kind == "tag.exchanged_with_sibling":
        other = rows[i - 1]
        if (
            row["event"] == "ringed"
            or other["event"] == "ringed"
            or other["box"] != row["box"]
            or not other["tag"]
        ):
            return []
        changed = [(i - 1, "tag", other["tag"]), (i, "tag", row["tag"])]
        row["tag"], other["tag"] = other["tag"], row["tag"]
        return changed
    elif kind == "date.day_month":
        if true.day > 12 or true.day == true.month:
            return []
        wrong = dt.date(true.year, true.day, true.month)
    elif kind == "date.year":
        wrong = true.replace(year=true.year + int(rng.choice([-1, 1, 10])))
    elif kind == "date.digit":
        shift = int(rng.choice([-20, -10, -7, -3, 3, 7, 10, 20]))
        wrong = true + dt.timedelta(days=shift)
        if wrong.month != true.month:
            return []
    elif kind == "box.near_miss":
        wrong = _drop(true, rng)
    elif kind == "box.other":
        wrong = _replace_digit(true, rng)
    elif kind == "brood_size.digit":
        wrong = (true + int(rng.integers(1, 9))) % 10
    elif kind == "species.other":
        wrong = "common_kestrel" if true == "barn_owl" else "barn_owl"
    elif field in ("ring_leg", "tag_leg") and true:
        wrong = "L" if true == "R" else "R"
    if wrong is None or wrong == true:
        return []
    row[field] = wrong
    return [(i, field, true)]


def plant_slips(
    season: dict[str, list[Row]], rng: np.random.Generator, each: int = 1, apart: int = 4
) -> tuple[dict[str, list[Row]], list[Planted]]:
    """Plant `each` slips of every kind, no two within `apart` rows of each other."""
    dirty = deepcopy(season)
    rows = dirty["handlings"]
    free = set(range(1, len(rows) - 1))
    planted = []
    for kind in KINDS * each:
        for i in rng.permutation(sorted(free))[:60]:
            changed = _one(rows, int(i), kind, rng)
            if changed:
                planted.append(Planted(kind, tuple(changed)))
                free -= set(range(int(i) - apart, int(i) + apart + 1))
                break
    return dirty, planted
