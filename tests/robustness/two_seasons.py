"""Two seasons in a row of one team, cut from an invented round of several years; and rings of strangers."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any

from robustness.other_rounds import ADULT

from audit.declarations import load_declarations

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np

Row = dict[str, Any]
Tables = dict[str, list[Row]]

#: Moment of each row of the tables that are split by year.
_DAYS = {"handlings": "date", "visits": "date", "ring_losses": "date", "tag_reads": "read_at"}
#: Columns of an earlier season.
_WITNESS = tuple(field.name for field in load_declarations().tables["earlier"].fields)
_LETTERS = list("ABCDEFGHJKLMNPQRSTUVWXYZ")


def cut(season: Mapping[str, list[Row]], year: int) -> Tables:
    """Return the season of one year, with the handlings of the years before as its table ``earlier``."""
    now = {
        name: [row for row in rows if name not in _DAYS or row[_DAYS[name]].year == year]
        for name, rows in season.items()
    }
    before = [row for row in season["handlings"] if row["date"].year < year]
    now["earlier"] = [{name: value for name, value in row.items() if name in _WITNESS} for row in before]
    return {name: rows for name, rows in now.items() if rows or name == "handlings"}


def foreign_rings(rng: np.random.Generator, own: str) -> dict[str, str]:
    """Rings of other ringers and schemes, by what is odd about them; `own` is one of the season."""
    found = re.fullmatch(r"(.*?)(\d+)", own)
    stem, digits = (found[1], found[2]) if found else ("", "01001")

    def numbers(n: int) -> str:
        return "".join(str(digit) for digit in rng.integers(0, 10, n))

    def letters(n: int) -> str:
        return "".join(rng.choice(_LETTERS, n))

    return {
        "another prefix": letters(2) + numbers(5),
        "one letter": letters(1) + numbers(6),
        "three letters": letters(3) + numbers(5),
        "short": letters(2) + numbers(4),
        "long": letters(2) + numbers(8),
        "six digits": numbers(6),
        "seven digits": numbers(7),
        "eight digits": numbers(8),
        "a letter in the middle": numbers(1) + letters(1) + numbers(5),
        "letters and digits in turn": letters(1) + numbers(1) + letters(1) + numbers(5),
        "a short tail": f"{letters(1)}{numbers(4)}-{numbers(2)}",
        "a hyphen": f"{numbers(4)}-{numbers(5)}",
        "a hyphen after letters": f"{letters(2)}-{numbers(5)}",
        "a dot": f"{letters(2)}.{numbers(5)}",
        "a scheme's code word": f"{letters(3)}{letters(2)}{numbers(5)}",
        "a code word of three": f"{letters(3)}{numbers(7)}",
        "a long code word": f"{letters(5)}{numbers(6)}",
        "an own number, another prefix": letters(max(1, len(stem))) + digits,
        "an own number, no prefix": digits if stem else letters(2) + digits,
        "an older ring of the series": f"{stem}{int(rng.integers(1, 300)):0{len(digits)}d}",
        "a ring of the series from elsewhere": stem + numbers(len(digits)),
        "one digit more than the series": stem + numbers(len(digits) + 1),
        "one digit less than the series": stem + numbers(max(3, len(digits) - 1)),
    }


def with_strangers(
    rng: np.random.Generator, season: Mapping[str, list[Row]], n: int
) -> tuple[Tables, dict[str, str]]:
    """Put full-grown birds with rings of others among the handlings, and say which rows and how odd.

    One at a visit and two to a box, as the parents of a brood; some come from a mist net, long before.
    """
    rows = [dict(row) for row in season["handlings"]]
    columns = set().union(*rows)
    own: dict[Any, list[str]] = {}
    for row in rows:
        if row.get("ring") and row.get("event", "ringed") == "ringed":
            own.setdefault(row.get("species"), []).append(row["ring"])
    taken = {row["ring"] for row in rows if row.get("ring")}
    tags = sorted({row["tag"] for row in rows if row.get("tag")})
    places = [i for i, row in enumerate(rows) if row["date"] and row["box"]]
    met: Counter[Any] = Counter()
    beside: dict[int, list[tuple[Row, str]]] = {}
    for _ in range(n):
        i = int(rng.choice(places))
        base = rows[i]
        kinds = foreign_rings(rng, str(rng.choice(own.get(base.get("species"), [""]))))
        kind = str(rng.choice(sorted(kinds)))
        ring = kinds[kind]
        if ring in taken or met[base["box"]] > 1 or met[base["box"], base["date"]]:
            continue
        met[base["box"]] += 1
        met[base["box"], base["date"]] += 1
        taken.add(ring)
        bird = _bird(rng, base, columns, tags)
        bird["ring"] = ring
        if "age" in columns and rng.random() < 0.15:
            first = rows[places[0]]
            bird.update(box=None, date=min(row["date"] for row in rows), ringer=first.get("ringer"))
            i = -1
        beside.setdefault(i, []).append(({k: v for k, v in bird.items() if k in columns}, kind))
    out: list[Row] = []
    strangers: dict[str, str] = {}
    for i in range(-1, len(rows)):
        out += rows[i : i + 1] if i >= 0 else []
        for bird, kind in beside.get(i, ()):
            out.append(bird)
            strangers[f"handlings!{len(out) + 1}"] = kind
    return {**season, "handlings": out}, strangers


def _bird(rng: np.random.Generator, base: Row, columns: set[str], tags: list[str]) -> Row:
    wing, sd, _, _ = ADULT.get(str(base.get("species")), ADULT["barn_owl"])
    bird = dict.fromkeys(columns)
    bird |= {name: base.get(name) for name in ("date", "box", "species", "ringer", "time", "ring_leg")}
    bird["wing_mm"] = float(round(float(rng.normal(wing, sd * 0.4))))
    bird["age"], bird["sex"] = str(rng.choice(["4", "5", "6"])), "F"
    bird["event"] = None if "age" in columns and rng.random() < 0.2 else "re-encountered"
    if tags and rng.random() < 0.5:
        like = str(rng.choice(tags))
        number = int(rng.integers(0, 10**9))
        bird["tag"] = (
            f"{like[:6]}{number:09d}" if len(like) > len("0123456789") else f"41{number % 16**8:08X}"
        )
        bird["tag_leg"] = base.get("tag_leg")
    return bird
