"""Invented archives of many seasons and teams: fast, by columns, with slips put in and the key to them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path  # noqa: TC003 - a dataclass holds it

import duckdb
import numpy as np
import pandas as pd

from audit.declarations import load_declarations
from audit.models import growth

__all__ = ["KINDS", "Archive", "Plan", "make_archive"]

SPECIES = ("barn_owl", "common_kestrel", "jackdaw", "great_tit")
#: Bag, day of the first visit after hatching, reading of a wing (mm), step of the balance (g), by species.
WAYS = {
    "barn_owl": (38.0, 33, 2.0, 1.0),
    "common_kestrel": (24.0, 19, 1.0, 1.0),
    "jackdaw": (22.0, 20, 1.0, 1.0),
    "great_tit": (6.5, 15, 0.5, 0.1),
}
SHARES = (0.5, 0.2, 0.1, 0.2)

#: Slips, and the column that is wrong.
KINDS = {
    "net_digit": "net_g",
    "not_subtracted": "net_g",
    "wing_digit": "wing_mm",
    "sex_word": "sex",
    "no_date": "date",
    "negative": "bag_g",
    "other_ring": "ring",
    "other_tag": "tag",
    "other_species": "species",
    "other_sex": "sex",
    "nestling": "age",
    "dead_before": "condition",
    "far": "box",
    "again": "ring",
    "ringed": "event",
}


@dataclass(frozen=True)
class Plan:
    """What an archive looks like."""

    handlings: int
    seasons: int = 20
    teams: int = 12
    slips: float = 0.004
    seed: int = 1
    first: int = 2001


@dataclass(frozen=True)
class Archive:
    """Where an archive lies, and which cells are wrong."""

    folder: Path
    rows: int
    #: ``file``, ``row`` (the first of the data is 2), ``field``, ``kind``, ``meant``
    key: pd.DataFrame


def make_archive(folder: Path, plan: Plan, *, ending: str = "parquet") -> Archive:
    """Write one file for each season, a table of boxes, and give the key."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(plan.seed)
    boxes = _boxes(plan, rng)
    engine = duckdb.connect()
    engine.execute("set enable_progress_bar = false")
    roster: dict[str, np.ndarray] = {}
    ring_next = np.full(plan.teams, 1)
    keys, rows = [], 0
    each = plan.handlings // plan.seasons
    suffix = "(format parquet)" if ending == "parquet" else "(format csv, header)"
    for number in range(plan.seasons):
        year = plan.first + number
        frame, roster = _season(plan, rng, boxes, year, each, roster, ring_next)
        frame, key = _with_slips(plan, rng, frame, boxes)
        path = folder / "handlings" / f"{year}.{ending}"
        path.parent.mkdir(exist_ok=True)
        engine.register("frame", frame)
        engine.execute(f"copy (select * from frame) to '{path.as_posix()}' {suffix}")  # noqa: S608 - a path of ours
        engine.unregister("frame")
        keys.append(key.assign(file=path.name))
        rows += len(frame)
    engine.register("boxes", boxes.drop(columns=["nr"]))
    engine.execute(f"copy (select * from boxes) to '{(folder / f'boxes.{ending}').as_posix()}' {suffix}")  # noqa: S608 - a path of ours
    engine.close()
    return Archive(folder, rows, pd.concat(keys, ignore_index=True))


def _boxes(plan: Plan, rng: np.random.Generator) -> pd.DataFrame:
    per_team = max(int(plan.handlings / plan.seasons / plan.teams / 4), 4)
    team = np.repeat(np.arange(plan.teams), per_team)
    middle = rng.uniform([46.0, -2.0], [54.0, 14.0], size=(plan.teams, 2))
    place = middle[team] + rng.normal(0, 0.1, size=(len(team), 2))
    number = np.tile(np.arange(per_team), plan.teams)
    return pd.DataFrame(
        {
            "nr": np.arange(len(team)),
            "team": _numbered("T", team + 1, 2),
            "box": _joined(_numbered("S", team + 1, 2), _numbered("-", number + 1, 4)),
            "latitude": place[:, 0].round(5),
            "longitude": place[:, 1].round(5),
        }
    )


def _numbered(prefix: str, number: np.ndarray, width: int) -> np.ndarray:
    return np.char.add(prefix, np.char.zfill(number.astype("U"), width))


def _joined(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return np.char.add(one, other)


def _season(plan, rng, boxes, year, each, roster, ring_next):
    """One season of all teams: broods, second visits, grown birds of earlier years."""
    declared = load_declarations().species
    per_brood = 4.5 * 1.3 / 0.92
    broods = min(int(each / per_brood) + 1, len(boxes))
    place = np.sort(rng.choice(len(boxes), broods, replace=False))
    kind_of_box = rng.choice(len(SPECIES), len(boxes), p=SHARES)
    size = rng.integers(3, 7, broods)
    bird_brood = np.repeat(np.arange(broods), size)
    n = len(bird_brood)
    kind = kind_of_box[place][bird_brood]
    hatched = rng.integers(110, 160, broods)[bird_brood]
    ahead = rng.normal(0, 1, broods)[bird_brood] * 0.03 + rng.normal(0, 0.02, n)
    fat = rng.normal(0, 0.05, broods)[bird_brood] + rng.normal(0, 0.05, n)
    shift = np.array([np.random.default_rng(team).normal(0, 0.04) for team in range(plan.teams)])
    team = np.searchsorted(np.unique(boxes["team"]), boxes["team"].to_numpy()[place])[bird_brood]
    order = np.lexsort((bird_brood, team))
    ring = np.empty(n, dtype=np.int64)
    for t in range(plan.teams):
        mine = order[team[order] == t]
        ring[mine] = ring_next[t] + np.arange(len(mine))
        ring_next[t] += len(mine)
    code = (team + 1) * 1_000_000 + ring
    tagged = rng.random(n) < 0.6
    birds = {
        "place": place[bird_brood],
        "team": team,
        "kind": kind,
        "ring": code,
        "tag": np.where(tagged, 999_000_000_000_000 + code, 0),
        "sex": rng.choice([1, 2], n),
        "year": np.full(n, year),
    }
    older = rng.normal(0, 1, n) * 0.7
    second = np.flatnonzero((rng.random(broods) < 0.3)[bird_brood])
    met = _met_again(rng, roster, int(each * 0.08), year)
    parts = []
    for which, visit in ((np.arange(n), 0), (second, 1)):
        age = np.empty(len(which))
        for slug_nr, slug in enumerate(SPECIES):
            here = kind[which] == slug_nr
            base = WAYS[slug][1] - (3 if slug == "great_tit" else 0)
            spread = 2 if slug == "great_tit" else 8
            gap = 2 if slug == "great_tit" else 9
            brood_age = base + rng.integers(0, spread, broods) - spread // 2
            age[here] = brood_age[bird_brood[which[here]]] + visit * gap
        # one day for all birds of a brood
        day = hatched[which] + age
        parts.append(
            _measured(rng, declared, birds, which, age + older[which], day, ahead, fat + shift[team], visit)
        )
    if len(met["ring"]):
        parts.append(_grown(rng, declared, met, year))
    frame = pd.concat(parts, ignore_index=True)
    frame["date"] = (
        np.datetime64(f"{year}-01-01") + frame.pop("day").to_numpy().astype("timedelta64[D]")
    ).astype("datetime64[us]")
    bag = _bags(rng, frame)
    frame["bag_g"] = bag
    frame["gross_g"] = (frame["net_g"] + bag).round(1)
    frame["box"] = boxes["box"].to_numpy()[frame["place"]]
    frame["team"] = boxes["team"].to_numpy()[frame["place"]]
    frame["season"] = year
    frame = frame.sort_values(["team", "date", "box", "ring"], kind="stable").reset_index(drop=True)
    keep = {name: np.concatenate([roster[name], birds[name]]) if roster else birds[name] for name in birds}
    return frame, keep


def _measured(rng, declared, birds, which, age, day, ahead, fat, visit):
    wing, net = np.empty(len(which)), np.empty(len(which))
    for nr, slug in enumerate(SPECIES):
        here = birds["kind"][which] == nr
        curves = declared[slug].curves
        for column, into, factor in (("wing_mm", wing, ahead), ("mass_g", net, fat)):
            curve = curves.get(column)
            adult = declared[slug].adult[("", column)].middle
            if curve is None:
                # no curve is declared: one that rises all along
                steep, half = (0.16, 16) if column == "wing_mm" else (0.3, 8)
                middle = adult / (1 + np.exp(-steep * (age[here] - half)))
            else:
                middle = growth.mean(curve, np.clip(age[here], curve.first_day, curve.last_day))
            into[here] = middle * np.exp(factor[which[here]] + rng.normal(0, 0.008, here.sum()))
        step, small = WAYS[slug][3], slug == "great_tit"
        net[here] = np.round(net[here] / step) * step
        wing[here] = np.round(wing[here] * 2) / 2 if small else np.round(wing[here])
    return pd.DataFrame(
        {
            "day": day.astype(np.int64),
            "place": birds["place"][which],
            "species": np.array(SPECIES)[birds["kind"][which]],
            "ring": _numbered("SV", birds["ring"][which], 9),
            "tag": _tags(birds["tag"][which]),
            "age": "1",
            "event": "ringed" if visit == 0 else "re-encountered",
            "net_g": net.round(1),
            "wing_mm": wing,
            "sex": "U",
            "condition": None,
        }
    )


def _tags(tag: np.ndarray) -> np.ndarray:
    text = tag.astype("U").astype(object)
    text[tag == 0] = None
    return text


def _met_again(rng, roster, number, year):
    if not roster:
        return {"ring": np.empty(0)}
    some = np.unique(rng.integers(0, len(roster["ring"]), number))
    some = some[year - roster["year"][some] < 9]
    return {name: values[some] for name, values in roster.items()}


def _grown(rng, declared, met, year):
    n = len(met["ring"])
    wing, net = np.empty(n), np.empty(n)
    for nr, slug in enumerate(SPECIES):
        here = met["kind"] == nr
        # a bird has its own size, whenever it is met
        own = np.sin(met["ring"][here].astype(float) * 12.9898) * 0.9
        for column, into in (("wing_mm", wing), ("mass_g", net)):
            size = declared[slug].adult[("", column)]
            into[here] = size.middle + size.sd * (
                own if column == "wing_mm" else rng.normal(0, 0.8, here.sum())
            )
        step = WAYS[slug][3]
        net[here] = np.round(net[here] / step) * step
        wing[here] = np.round(wing[here])
    since = year - met["year"]
    return pd.DataFrame(
        {
            "day": rng.integers(100, 170, n),
            "place": met["place"],
            "species": np.array(SPECIES)[met["kind"]],
            "ring": _numbered("SV", met["ring"], 9),
            "tag": _tags(met["tag"]),
            "age": np.minimum(3 + 2 * since, 9).astype("U").astype(object),
            "event": "re-encountered",
            "net_g": net.round(1),
            "wing_mm": wing,
            "sex": np.array(["U", "M", "F"])[met["sex"]],
            "condition": None,
        }
    )


def _bags(rng, frame):
    bag = frame["species"].map({slug: way[0] for slug, way in WAYS.items()}).to_numpy(dtype=float)
    step = frame["species"].map({slug: way[3] for slug, way in WAYS.items()}).to_numpy(dtype=float)
    visits = frame.groupby(["place", "date"], sort=False).ngroup().to_numpy()
    wet = rng.normal(0, 1.5, visits.max() + 1)[visits] * np.minimum(step * 2, 1)
    return (np.round((bag + wet) / step) * step).round(1)


ORDER = [
    *("season", "team", "date", "box", "species", "ring", "tag", "age", "event", "gross_g", "bag_g", "net_g"),
    *("wing_mm", "sex", "condition"),
]


def _with_slips(plan, rng, frame, boxes):
    """Put slips in, and write down where."""
    kinds = list(KINDS)
    number = int(len(frame) * plan.slips)
    again = (frame["event"] == "re-encountered").to_numpy()
    old = (frame["age"] != "1").to_numpy()
    tagged = frame["tag"].notna().to_numpy()
    may = {
        "other_species": again,
        "nestling": old,
        "dead_before": ~again,
        "other_sex": old,
        "other_tag": tagged,
        "far": old,
        "ringed": old,
        "wing_digit": frame["wing_mm"].to_numpy() >= 100,
        "net_digit": frame["net_g"].to_numpy() >= 100,
    }
    taken: set[int] = set()
    places, names = [], []
    for kind, many in zip(kinds, rng.multinomial(number, np.full(len(kinds), 1 / len(kinds))), strict=True):
        could = np.flatnonzero(may.get(kind, np.ones(len(frame), dtype=bool)))
        for row in rng.choice(could, min(many, len(could)), replace=False) if len(could) else ():
            if int(row) not in taken:
                taken.add(int(row))
                places.append(int(row))
                names.append(kind)
    rows = np.array(places, dtype=np.int64)
    kind = np.array(names)
    frame = frame[ORDER].copy()
    fields = np.array([KINDS[name] for name in names])
    meant = [frame[field].iloc[row] for row, field in zip(rows, fields, strict=True)]
    columns = {name: frame[name].to_numpy(dtype=object, copy=True) for name in set(KINDS.values())}

    def at(name: str) -> np.ndarray:
        return rows[kind == name]

    def digit(values: np.ndarray, some: np.ndarray) -> None:
        tens = 10.0 ** rng.integers(1, 3, len(some))
        values[some] = [
            float(v) + t * s
            for v, t, s in zip(values[some], tens, rng.choice([-1, 1, 2], len(some)), strict=True)
        ]

    digit(columns["net_g"], at("net_digit"))
    digit(columns["wing_mm"], at("wing_digit"))
    columns["net_g"][at("not_subtracted")] = frame["gross_g"].to_numpy()[at("not_subtracted")]
    columns["sex"][at("sex_word")] = "X"
    columns["date"][at("no_date")] = None
    columns["bag_g"][at("negative")] = -frame["bag_g"].to_numpy()[at("negative")]
    for name, field in (("other_ring", "ring"), ("other_tag", "tag")):
        pool = frame[field].dropna().to_numpy()
        columns[field][at(name)] = rng.choice(pool, len(at(name)))
    species = frame["species"].to_numpy()
    columns["species"][at("other_species")] = np.where(
        species[at("other_species")] == "barn_owl", "common_kestrel", "barn_owl"
    )
    sexes = frame["sex"].to_numpy()
    columns["sex"][at("other_sex")] = np.where(sexes[at("other_sex")] == "M", "F", "M")
    columns["age"][at("nestling")] = "1"
    columns["condition"][at("dead_before")] = "dead"
    columns["event"][at("ringed")] = "ringed"
    for name, values in columns.items():
        typed = pd.Series(values, index=frame.index)
        if name in ("net_g", "wing_mm", "bag_g"):
            typed = typed.astype(float).round(1)
        elif name == "date":
            typed = pd.to_datetime(typed).astype("datetime64[us]")
        frame[name] = typed
    twice, far = at("again"), frame.iloc[at("far")]
    # seen again on the next day, in a box of another team
    place = rng.integers(0, len(boxes), len(far))
    far = far.assign(
        date=far["date"] + pd.Timedelta(days=1),
        box=boxes["box"].to_numpy()[place],
        team=boxes["team"].to_numpy()[place],
    )
    where = rows.copy()
    where[kind == "again"] = len(frame) + np.arange(len(twice))
    where[kind == "far"] = len(frame) + len(twice) + np.arange(len(far))
    frame = pd.concat([frame, frame.iloc[twice], far], ignore_index=True)
    key = pd.DataFrame(
        {"row": where + 2, "field": fields, "kind": kind, "meant": [str(value) for value in meant]}
    )
    return frame, key
