"""Clean seasons of teams with other habits than those of the Sallow Levels round.

Nothing here is shared with the seasons that the rules were tried on: growth is drawn from tables of round
figures (bird-like, from memory), and prefixes, strings, bags, balances, visits and columns vary as they do
between teams (common practice). A finding above a note in such a season is a false alarm.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

Row = dict[str, Any]

#: Days, wing in mm, mass in g: round figures from memory that only have to be bird-like.
GROWTH: dict[str, tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]] = {
    "barn_owl": (
        (0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80),
        (12, 18, 29, 47, 72, 101, 130, 159, 187, 211, 231, 248, 262, 273, 281, 288),
        (15, 42, 95, 163, 228, 279, 316, 340, 352, 357, 359, 355, 347, 338, 329, 315),
    ),
    "common_kestrel": (
        (0, 4, 8, 12, 16, 20, 24, 28, 32, 40),
        (12, 19, 38, 70, 110, 148, 178, 200, 216, 236),
        (15, 50, 107, 158, 190, 206, 212, 212, 208, 204),
    ),
    "great_tit": (
        (0, 3, 6, 9, 12, 15, 18, 21),
        (6, 11, 20, 32, 43, 52, 59, 64),
        (1.5, 4.3, 9, 13.6, 16.4, 17.5, 17.8, 17.6),
    ),
    "blue_tit": (
        (0, 3, 6, 9, 12, 15, 18, 21),
        (5, 9, 16, 26, 36, 45, 52, 56),
        (1.0, 2.8, 5.8, 8.6, 10.4, 11.1, 11.2, 11.0),
    ),
}
#: Adult wing (mean, sd) and mass (mean, sd); females of the raptors are heavier in the season.
ADULT = {
    "barn_owl": (292, 5, 345, 24),
    "common_kestrel": (252, 6, 225, 18),
    "great_tit": (75, 2, 18.2, 0.8),
    "blue_tit": (65, 1.6, 11.0, 0.5),
}
#: Smallest and largest brood, days between two hatchlings, ringing age, first hatching.
HABITS: dict[str, tuple[int, int, float, tuple[int, int], tuple[int, int]]] = {
    "barn_owl": (1, 8, 2.3, (22, 42), (4, 20)),
    "common_kestrel": (2, 6, 0.7, (12, 22), (5, 18)),
    "great_tit": (4, 11, 0.1, (10, 15), (5, 2)),
    "blue_tit": (5, 13, 0.1, (10, 15), (5, 4)),
}
SMALL = ("great_tit", "blue_tit")


@dataclass(frozen=True)
class Ways:
    """The ways of one team. Every default is a plain habit; the configurations change some of them."""

    year: int = 2025
    years: int = 1
    boxes: int = 40
    box_form: str = "K{:02d}"
    occupied: float = 0.7
    species: Mapping[str, float] = field(default_factory=lambda: {"barn_owl": 1.0})
    season_days: int = 60
    second_broods: float = 0.0
    ringing_age: tuple[int, int] | None = None
    second_visit: float = 0.5
    gap_days: tuple[int, int] = (7, 18)
    third_visit: float = 0.0
    females: float = 0.3
    from_before: float = 0.5
    trapping: int = 0
    heavy: float = 1.0
    runts: float = 0.1
    starved: float = 0.02
    foster: float = 0.0
    dead: float = 0.0
    too_small: float = 0.0
    eggs: float = 0.0
    # rings
    prefix: Mapping[str, str] = field(
        default_factory=lambda: {
            "barn_owl": "VW",
            "common_kestrel": "VK",
            "great_tit": "VT",
            "blue_tit": "VB",
        }
    )
    digits: int = 5
    string_length: int = 100
    ringers: tuple[str, ...] = ("CD", "JR")
    lost: float = 0.01
    losses_listed: float = 0.6
    handed_over: float = 0.0
    shared_visits: float = 0.0
    ring_stock: str = "bare"
    leg_of: Mapping[str, str] = field(default_factory=dict)
    # balance and rule
    step_g: float = 1.0
    small_step_g: float = 0.1
    bag: str = "day"
    bag_range: tuple[float, float] = (15.0, 40.0)
    net: str = "exact"
    net_missing: float = 0.0
    bag_missing: float = 0.0
    wing_step: float = 1.0
    observer_sd: float = 1.5
    wing_missing: float = 0.0
    ages: str = "none"
    # tags
    tags: float = 1.0
    tag_form: str = "999"
    tagged_again: float = 0.0
    tagged_late: float = 0.0
    reader: bool = True
    missed_reads: float = 0.05
    clock_offset_s: int = 40
    tag_stock: bool = True
    # tables and sheet
    visits: float = 1.0
    box_table: bool = True
    brood_size: str = "live"
    order: str = "date"
    without: tuple[str, ...] = ()
    autumn_round: bool = True
    males: float = 0.0
    adults_again: float = 0.0
    other_step: float = 0.0
    first_row_only: tuple[str, ...] = ()
    species_text: Mapping[str, str] = field(default_factory=dict)
    wings: float = 1.0


@dataclass
class Bird:
    species: str
    hatched: dt.date
    wing: float
    mass: float
    sex: str = "U"
    ring: str = ""
    tag: str = ""
    leg: str = ""
    small: bool = False
    dead: bool = False
    code: str = "1"
    ringed_in: int = 0
    moved_on: dt.date | None = None


@dataclass
class _Team:
    ways: Ways
    rng: np.random.Generator
    handlings: list[tuple[tuple[Any, ...], Row]] = field(default_factory=list)
    visits: list[Row] = field(default_factory=list)
    stock: list[Row] = field(default_factory=list)
    losses: list[Row] = field(default_factory=list)
    reads: list[Row] = field(default_factory=list)
    in_hand: dict[tuple[str, str], list[int]] = field(default_factory=dict)
    next_string: dict[str, int] = field(default_factory=dict)
    bags: dict[Any, list[float]] = field(default_factory=dict)
    tags: list[str] = field(default_factory=list)
    page: int = 0
    line: int = 0

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def write(self, species: str, number: int) -> str:
        return f"{self.ways.prefix[species]}{number:0{self.ways.digits}d}"

    def draw_ring(self, species: str, ringer: str, day: dt.date) -> str:
        ways, key = self.ways, (self.ways.prefix[species], ringer)
        while True:
            held = self.in_hand.get(key)
            if not held:
                first = self.next_string.get(key[0])
                if first is None:
                    first = int(self.rng.integers(3, 10 ** (ways.digits - 2) // 3)) * 100 + 1
                length = ways.string_length
                self.next_string[key[0]] = first + length * int(self.rng.integers(1, 4))
                held = list(range(first, first + length))
                self.stock.append(
                    {
                        "species": species,
                        "first_no": first,
                        "last_no": first + length - 1,
                        "issued_to": ringer,
                        "issued": dt.date(day.year, 1, 20),
                    }
                )
                self.in_hand[key] = held
            number = held.pop(0)
            if not self.chance(ways.lost):
                return self.write(species, number)
            if self.chance(ways.losses_listed):
                fate = str(self.rng.choice(["lost", "destroyed"]))
                self.losses.append({"ring": self.write(species, number), "fate": fate, "date": day})

    def hand_over(self) -> None:
        """One ringer gives the rest of his string to another, who gives his own in return."""
        series = sorted({prefix for prefix, _ in self.in_hand})
        for prefix in series:
            holders = [key for key in self.in_hand if key[0] == prefix]
            if len(holders) > 1:
                one, other = holders[0], holders[1]
                self.in_hand[one], self.in_hand[other] = self.in_hand[other], self.in_hand[one]

    def draw_tag(self) -> str:
        if not self.tags:
            start = int(self.rng.integers(10_000, 800_000)) * 1000
            numbers = start + np.cumsum(self.rng.integers(1, 30, size=50))
            form = self.ways.tag_form
            self.tags = [
                f"{0x4100000000 + int(n):010X}" if form == "hex" else f"{form}{int(n):012d}"
                for n in self.rng.permutation(numbers)
            ]
            self.stock_tags.extend(self.tags)
        return self.tags.pop()

    stock_tags: list[str] = field(default_factory=list)

    def weigh_bag(self, day: dt.date, ringer: str, species: str) -> float:
        ways = self.ways
        low, high = ways.bag_range if species not in SMALL else (5.0, 9.0)
        small = species in SMALL
        if ways.bag == "zeroed":
            return 0.0
        if ways.bag == "many":  # a heap of bags, another one each time
            bags = self.bags.setdefault(small, [float(v) for v in self.rng.uniform(low, high, 6)])
            return bags[int(self.rng.integers(0, len(bags)))]
        key = (small, ringer) if ways.bag == "own" else (small, day)
        if key not in self.bags:
            self.bags[key] = [float(self.rng.uniform(low, high))]
        if ways.bag == "wet":
            self.bags[key][0] += float(self.rng.exponential(0.3)) * (0.1 if small else 1.0)
        return self.bags[key][0] + float(self.rng.normal(0, 0.15 if not small else 0.02))

    def handle(
        self,
        bird: Bird,
        day: dt.date,
        clock: dt.datetime,
        box: str | None,
        ringer: str,
        brood: int | None,
        page: int,
        remark: str | None = None,
    ) -> None:
        ways, rng = self.ways, self.rng
        pullus = bird.code == "1"
        age = (day - bird.hatched).days
        if pullus:
            days, wings, masses = GROWTH[bird.species]
            wing = float(np.interp(age, days, wings)) * bird.wing
            mass = float(np.interp(age, days, masses)) * bird.mass * ways.heavy
            wing *= ways.wings
        else:
            wing_mean, wing_sd, mass_mean, mass_sd = ADULT[bird.species]
            wing, mass = wing_mean + wing_sd * bird.wing, (mass_mean + mass_sd * bird.mass) * ways.heavy**0.3
        small = bird.species in SMALL
        mass *= 1 + rng.normal(0, 0.02)
        wing += rng.normal(0, ways.observer_sd if not small else min(0.7, ways.observer_sd / 2))
        step = ways.small_step_g if small else ways.step_g
        if ways.other_step and not small and ringer != ways.ringers[0]:
            step = ways.other_step
        bag = self.weigh_bag(day, ringer, bird.species)
        gross_typed, bag_typed = _to_step(mass + bag, step), _to_step(bag, step)
        net = _to_step(gross_typed - bag_typed if ways.net == "exact" else mass, step)
        event = "re-encountered" if bird.ring else "ringed"
        if not bird.ring and not bird.small:
            bird.ring = self.draw_ring(bird.species, ringer, day)
            bird.leg = ways.leg_of.get(ringer, "R")
            bird.ringed_in = day.year
            if not small and not self.chance(ways.tagged_late) and self.chance(ways.tags):
                bird.tag = self.draw_tag()
        elif ways.tagged_late and not bird.tag and not small and bird.ring and not bird.dead:
            bird.tag = self.draw_tag()
        elif bird.tag and self.chance(ways.tagged_again) and not bird.dead:
            bird.tag = self.draw_tag()
            remark = "tag lost, new tag fitted"
        row: Row = {
            "date": day,
            "time": clock.strftime("%H:%M"),
            "box": box,
            "species": ways.species_text.get(bird.species, bird.species),
            "ring": bird.ring or None,
            "ring_leg": bird.leg or None,
            "tag": bird.tag or None,
            "tag_leg": {"R": "L", "L": "R"}.get(bird.leg) if bird.tag else None,
            "age": bird.code,
            "event": event if bird.ring else None,
            "gross_g": gross_typed,
            "bag_g": bag_typed,
            "net_g": net,
            "wing_mm": _to_step(wing, ways.wing_step),
            "age_days": None,
            "hatch_date": None,
            "brood_size": brood,
            "sex": bird.sex,
            "condition": None,
            "ringer": ringer,
            "scribe": None,
            "remarks": remark,
        }
        if bird.small:
            row["remarks"] = "too small to ring"
        if bird.dead:
            row.update(gross_g=None, bag_g=None, net_g=None, wing_mm=None, condition="dead", remarks="dead")
        if ways.net == "only":
            row.update(gross_g=None, bag_g=None)
        if ways.net == "never" or self.chance(ways.net_missing):
            row["net_g"] = None
        if self.chance(ways.bag_missing):
            row["bag_g"] = None
        if self.chance(ways.wing_missing):
            row["wing_mm"] = None
        if pullus and ways.ages in ("age_days", "both"):
            row["age_days"] = float(max(1, age + round(float(np.clip(rng.normal(0, 1.5), -3, 3)))))
        if pullus and ways.ages in ("hatch", "both"):
            row["hatch_date"] = bird.hatched
            if ways.ages == "both":
                row["age_days"] = float(age)
        self.line += 1
        self.handlings.append(((page, self.line), row))
        if bird.tag and ways.reader and not self.chance(ways.missed_reads):
            late = dt.timedelta(seconds=ways.clock_offset_s + int(rng.integers(-20, 60)))
            self.reads.append({"read_at": clock + late, "tag": bird.tag, "reader": "H2"})


def _to_step(value: float, step: float) -> float:
    return round(math.floor(value / step + 0.5) * step, 2)


def _young(team: _Team, species: str, oldest: dt.date) -> list[Bird]:
    rng, ways = team.rng, team.ways
    low, high, interval, _, _ = HABITS[species]
    size = int(np.clip(round(rng.normal((low + high) / 2, (high - low) / 5)), low, high))
    starving = 0.78 if team.chance(ways.starved) else 1.0
    of_brood = rng.normal(1, 0.06) * starving
    wing_of_brood = rng.normal(1, 0.015) * (0.98 if starving < 1 else 1.0)
    birds, late = [], 0.0
    for place in range(size):
        runt = 1 - rng.uniform(0.08, 0.3) if place and place == size - 1 and team.chance(ways.runts) else 1.0
        birds.append(
            Bird(
                species,
                oldest + dt.timedelta(days=int(late)),
                wing=float(wing_of_brood * rng.normal(1, 0.015)) * (1 - (1 - runt) * 0.4),
                mass=float(of_brood * rng.normal(1, 0.05)) * runt,
            )
        )
        late = min(16.0, late + max(0.0, float(rng.normal(interval, interval / 3))))
    return birds


def _adult(team: _Team, species: str, year: int, sex: str) -> Bird:
    rng = team.rng
    bird = Bird(
        species,
        dt.date(year - 2, 6, 1),
        float(np.clip(rng.normal(0, 0.9), -2, 2)),
        float(np.clip(rng.normal(0.5 if sex == "F" else -0.6, 0.7), -1.8, 2)),
        sex=sex,
        code="4",
    )
    if team.chance(team.ways.from_before):
        number = int(rng.integers(1, 299))
        elsewhere = f"XZ{int(rng.integers(20_000, 99_999))}"
        bird.ring = team.write(species, number) if team.chance(0.7) else elsewhere
        bird.leg = team.ways.leg_of.get(team.ways.ringers[0], "R")
        bird.code = "6"
    return bird


def other_season(seed: int, ways: Ways | None = None) -> dict[str, list[Row]]:
    """Make one clean season of a team with these ways."""
    ways = ways or Ways()
    team = _Team(ways, np.random.default_rng(seed))
    rng = team.rng
    boxes = [ways.box_form.format(i + 1) for i in range(ways.boxes)]
    names, shares = list(ways.species), np.array(list(ways.species.values()))
    kinds = {box: str(rng.choice(names, p=shares / shares.sum())) for box in boxes}
    back: list[Bird] = []
    for year in range(ways.year - ways.years + 1, ways.year + 1):
        back = _one_year(team, year, boxes, kinds, back)
    return _tables(team, boxes)


@dataclass
class _Nest:
    box: str
    birds: list[Bird]
    adults: list[Bird]
    laid: int


def _one_year(
    team: _Team, year: int, boxes: list[str], kinds: dict[str, str], back: list[Bird]
) -> list[Bird]:
    ways, rng = team.ways, team.rng
    plan: list[tuple[dt.date, int, int]] = []
    nests: list[_Nest] = []
    for box in boxes:
        if not team.chance(ways.occupied):
            continue
        species = kinds[box]
        _, _, _, ages, start = HABITS[species]
        spread = ways.season_days if species not in SMALL else min(25, ways.season_days)
        begin = dt.date(year, *start) + dt.timedelta(days=int(rng.integers(0, spread)))
        broods = [begin]
        if species == "barn_owl" and team.chance(ways.second_broods):
            broods.append(begin + dt.timedelta(days=int(rng.integers(95, 115))))
        for oldest in broods:
            birds = _young(team, species, oldest)
            nest = _Nest(box, birds, [], int(team.chance(ways.eggs)) * int(rng.integers(1, 3)))
            nests.append(nest)
            low, high = ways.ringing_age if ways.ringing_age and species not in SMALL else ages
            day = oldest + dt.timedelta(days=int(rng.integers(low, high + 1)))
            plan.append((day, len(nests) - 1, 1))
            if team.chance(ways.females):
                old = [b for b in back if b.species == species and b.ringed_in and b.sex != "M"]
                if old and team.chance(0.5):
                    again = old[int(rng.integers(0, len(old)))]
                    back.remove(again)
                    if again.code == "1":
                        again.wing, again.mass = float(rng.normal(0, 0.7)), float(rng.normal(0.4, 0.6))
                    again.code, again.sex = ("5" if again.code == "1" else "6"), "F"
                    nest.adults.append(again)
                else:
                    nest.adults.append(_adult(team, species, year, "F"))
            if team.chance(ways.males):
                nest.adults.append(_adult(team, species, year, "M"))
            if species not in SMALL and team.chance(ways.second_visit):
                again_on = day + dt.timedelta(days=int(rng.integers(ways.gap_days[0], ways.gap_days[1] + 1)))
                if (again_on - oldest).days < (62 if species == "barn_owl" else 29):
                    plan.append((again_on, len(nests) - 1, 2))
                    third = again_on + dt.timedelta(days=int(rng.integers(4, 9)))
                    if team.chance(ways.third_visit) and (third - oldest).days < 62:
                        plan.append((third, len(nests) - 1, 3))
    plan.sort(key=lambda item: item[0])
    for n in range(ways.trapping):
        when = dt.date(year, 2, 10) + dt.timedelta(days=7 * (n // 12))
        at = dt.datetime(year, when.month, when.day, 18, 0) + dt.timedelta(minutes=9 * (n % 12))
        bird = _adult(team, str(rng.choice(list(ways.species))), year, "U")
        team.handle(bird, when, at, None, ways.ringers[n // 12 % len(ways.ringers)], None, -1)
    day: dt.date | None = None
    clock = dt.datetime(year, 1, 1)
    ringer = ways.ringers[0]
    for place, (when, number, turn) in enumerate(plan):
        if when != day:
            day = when
            clock = dt.datetime(when.year, when.month, when.day, int(rng.integers(8, 15)), 10)
            ringer = str(rng.choice(ways.ringers))
            if team.chance(ways.handed_over):
                team.hand_over()
        nest = nests[number]
        foster_to = None
        if team.chance(ways.foster):
            later = plan[place + 1 :]
            same_day = [
                n for d, n, _ in later if d == when and nests[n].birds[0].species == nest.birds[0].species
            ]
            foster_to = same_day[0] if same_day and same_day[0] != number else None
        clock = _visit(team, nest, when, clock, ringer, turn)
        can_go = [b for b in nest.birds if b.ring and not b.dead and not b.small and b.moved_on != when]
        if foster_to is not None and len(nest.birds) > 3 and can_go:
            moved = can_go[-1]
            moved.moved_on = when
            nest.birds.remove(moved)
            nests[foster_to].birds.append(moved)
        clock += dt.timedelta(minutes=int(rng.integers(15, 50)))
    in_use = [(when, nests[number].box) for when, number, _ in plan]
    if ways.autumn_round:
        for i, box in enumerate(boxes):
            autumn = dt.date(year, 10, 20) + dt.timedelta(days=i // 12)
            if any(b == box and (autumn - d).days < 62 for d, b in in_use):
                continue  # nobody cleans a box with young in it
            team.visits.append(_visit_row(autumn, "11:00", box, ways.ringers[0], 0, 0, cleaned=True))
    return [b for nest in nests for b in [*nest.birds, *nest.adults] if b.ring and not b.dead]


def _visit(
    team: _Team, nest: _Nest, when: dt.date, clock: dt.datetime, ringer: str, turn: int
) -> dt.datetime:
    ways, rng = team.ways, team.rng
    began, page = clock, team.page
    team.page += 1
    birds = [b for b in nest.birds if not b.dead]
    died = None
    if turn > 1:
        birds = [birds[i] for i in rng.permutation(len(birds))]
        if len(birds) > 2 and team.chance(ways.dead) and birds[-1].ring:
            died = birds.pop()
            died.dead = True
    else:
        birds[-1].small = len(birds) > 2 and team.chance(ways.too_small)
        for bird in birds:
            bird.small |= bird.species == "barn_owl" and (when - bird.hatched).days < 10
    if turn > 1:
        for bird in birds:
            bird.small = False
    ringed = [b for b in birds if not b.small]
    brood = {"live": len(birds), "ringed": len(ringed), "none": None}[ways.brood_size]
    other = [r for r in ways.ringers if r != ringer]
    hands = [ringer, other[0]] if other and team.chance(ways.shared_visits) else [ringer]
    for i, bird in enumerate(birds if ways.brood_size != "ringed" else ringed):
        remark = None
        if bird.ring and bird.moved_on == when:
            remark = "fostered, from another box"
        team.handle(bird, when, clock, nest.box, hands[i * len(hands) // len(birds)], brood, page, remark)
        clock += dt.timedelta(minutes=int(rng.integers(2, 8)))
    if died is not None:
        team.handle(died, when, clock, nest.box, ringer, brood, page)
        clock += dt.timedelta(minutes=3)
    for adult in nest.adults:
        if turn > 1 and not team.chance(ways.adults_again):
            continue
        team.handle(adult, when, clock, nest.box, ringer, brood, page)
        clock += dt.timedelta(minutes=6)
    if team.chance(ways.visits):
        dead = int(died is not None)
        row = _visit_row(when, began.strftime("%H:%M"), nest.box, ringer, len(birds), dead)
        team.visits.append({**row, "eggs": nest.laid})
    return clock


def _visit_row(
    day: dt.date, time: str, box: str, ringer: str, alive: int, dead: int, *, cleaned: bool = False
) -> Row:
    return {
        "date": day,
        "time": time,
        "box": box,
        "ringer": ringer,
        "eggs": 0,
        "alive": alive,
        "dead": dead,
        "cleaned": cleaned,
        "remarks": None,
    }


def _tables(team: _Team, boxes: list[str]) -> dict[str, list[Row]]:
    ways, rng = team.ways, team.rng
    rows = list(team.handlings)
    if ways.order == "box":
        rows.sort(key=lambda item: (str(item[1]["box"]), item[0]))
    elif ways.order == "ring":
        rows.sort(key=lambda item: (str(item[1]["ring"]), item[1]["date"]))
    elif ways.order == "newest":
        rows.sort(key=lambda item: (-item[1]["date"].toordinal(), item[0]))
    elif ways.order == "pages":
        places = rng.permutation(team.page + 1)
        rows.sort(key=lambda item: (places[item[0][0]], item[0]))
    else:
        rows.sort(key=lambda item: (item[1]["date"], item[0]))
    if ways.first_row_only:
        above: tuple[Any, ...] = ()
        for _, row in rows:
            here = (row["date"], row["box"])
            if here == above:
                row.update(dict.fromkeys(ways.first_row_only))
            above = here
    absent = {name.partition(".")[2] for name in ways.without if name.startswith("handlings.")}
    handlings = [{k: v for k, v in row.items() if k not in absent} for _, row in rows]
    tables: dict[str, list[Row]] = {"handlings": handlings}
    if ways.visits:
        tables["visits"] = sorted(team.visits, key=lambda row: (row["date"], row["time"]))
    if ways.box_table:
        tables["boxes"] = [
            {
                "box": box,
                "latitude": round(44.0 + 0.013 * (i // 9), 4),  # open ocean
                "longitude": round(-31.0 + 0.017 * (i % 9), 4),
                "capacity": 13,
                "since": dt.date(ways.year - 9, 3, 1),
            }
            for i, box in enumerate(boxes)
        ]
    if ways.ring_stock != "none":
        tables["ring_stock"] = [_string_row(team, row) for row in team.stock]
        tables["ring_losses"] = team.losses
    if ways.tag_stock and ways.tags:
        tables["tag_stock"] = [{"tag": tag, "batch": None} for tag in team.stock_tags]
    if ways.reader and ways.tags:
        tables["tag_reads"] = team.reads
    return {name: rows for name, rows in tables.items() if rows or name == "handlings"}


def _string_row(team: _Team, row: Row) -> Row:
    ways = team.ways
    prefix = ways.prefix[row["species"]]
    first, last = (f"{row[key]:0{ways.digits}d}" for key in ("first_no", "last_no"))
    common = {"issued_to": row["issued_to"], "issued": row["issued"]}
    if ways.ring_stock == "prefixed":
        return {"prefix": None, "first": prefix + first, "last": prefix + last, **common}
    return {"prefix": prefix.rstrip("-") or None, "first": first, "last": last, **common}


_MIXED = {"barn_owl": 0.6, "common_kestrel": 0.4}
_ALIKE = {"barn_owl": "", "common_kestrel": "", "great_tit": "", "blue_tit": ""}

#: One team each. The name says what is unlike the other teams.
TEAMS: dict[str, Ways] = {
    "plain": Ways(),
    "two_species": Ways(species=_MIXED),
    "all_species": Ways(
        boxes=50, species={"barn_owl": 0.4, "common_kestrel": 0.2, "great_tit": 0.2, "blue_tit": 0.2}
    ),
    "digits_with_hyphen": Ways(
        prefix={"barn_owl": "871-", "common_kestrel": "463-"}, species=_MIXED, ring_stock="prefixed"
    ),
    "no_prefix_7_digits": Ways(prefix=_ALIKE, digits=7),
    "one_letter_6_digits": Ways(prefix={"barn_owl": "G"}, digits=6, ring_stock="prefixed"),
    "three_letters": Ways(prefix={"barn_owl": "HXJ"}, digits=5, string_length=50),
    "same_prefix_two_species": Ways(
        prefix={"barn_owl": "H", "common_kestrel": "H"}, digits=6, species=_MIXED
    ),
    "four_ringers": Ways(ringers=("CD", "JR", "PW", "TS"), string_length=50, shared_visits=0.3),
    "handed_over": Ways(
        ringers=("CD", "JR", "PW"), string_length=50, handed_over=0.3, shared_visits=0.2, lost=0.04
    ),
    "losses_unlisted": Ways(lost=0.06, losses_listed=0.0, ring_stock="none"),
    "by_box": Ways(order="box", second_broods=0.2),
    "by_ring": Ways(order="ring", third_visit=0.3),
    "shuffled_pages": Ways(order="pages"),
    "newest_first": Ways(order="newest"),
    "three_years": Ways(years=3, boxes=25, females=0.6),
    "three_years_by_box": Ways(years=3, boxes=25, females=0.6, order="box", without=("handlings.event",)),
    "second_broods": Ways(second_broods=0.5, season_days=75, gap_days=(4, 25), third_visit=0.3),
    "heavy": Ways(heavy=1.25, step_g=0.5),
    "light": Ways(heavy=0.8, runts=0.3, starved=0.15, dead=0.2),
    "late_ringing": Ways(ringing_age=(18, 50), gap_days=(4, 12)),
    "kestrels_only": Ways(species={"common_kestrel": 1.0}, tags=0.0),
    "great_tits_only": Ways(
        species={"great_tit": 1.0}, tags=0.0, females=0.6, prefix={"great_tit": "AZ"}, digits=6
    ),
    "blue_tits_only": Ways(
        species={"blue_tit": 1.0}, tags=0.0, prefix={"blue_tit": "B"}, digits=6, bag="many", boxes=60
    ),
    "both_tits": Ways(
        species={"blue_tit": 0.5, "great_tit": 0.5},
        tags=0.0,
        prefix={"blue_tit": "AZ", "great_tit": "AZ"},
        digits=6,
        net="independent",
        small_step_g=0.1,
    ),
    "tits_only_net": Ways(
        species={"blue_tit": 0.5, "great_tit": 0.5},
        tags=0.0,
        net="only",
        visits=0.0,
        wing_step=0.5,
        without=("handlings.gross_g", "handlings.bag_g"),
    ),
    "zeroed_balance": Ways(bag="zeroed"),
    "half_zeroed": Ways(bag="zeroed", net_missing=0.3),
    "coarse_balance": Ways(step_g=5.0, bag_range=(20, 45)),
    "coarse_independent": Ways(step_g=5.0, bag_range=(20, 45), net="independent"),
    "tenth_gram": Ways(step_g=0.1, net="independent", bag="own"),
    "many_bags": Ways(bag="many", bag_range=(8, 60)),
    "wet_bags": Ways(bag="wet"),
    "own_bags": Ways(bag="own", net="independent"),
    "net_only": Ways(net="only", without=("handlings.gross_g", "handlings.bag_g")),
    "net_only_empty_columns": Ways(net="only"),
    "no_net": Ways(net="never"),
    "bag_often_missing": Ways(bag_missing=0.3, net_missing=0.1, wing_missing=0.1),
    "half_mm": Ways(wing_step=0.5, observer_sd=1.0),
    "five_mm": Ways(wing_step=5.0, observer_sd=2.0),
    "careless_wings": Ways(observer_sd=3.0, gap_days=(4, 10), third_visit=0.4),
    "age_days": Ways(ages="age_days"),
    "hatch_dates": Ways(ages="hatch", species=_MIXED),
    "both_ages": Ways(ages="both"),
    "no_tags": Ways(tags=0.0),
    "some_tags": Ways(tags=0.3, missed_reads=0.3),
    "tags_985": Ways(tag_form="985", tag_stock=False),
    "tags_900": Ways(tag_form="900", clock_offset_s=-3600),
    "tags_country": Ways(tag_form="276", reader=False),
    "hex_tags": Ways(tag_form="hex"),
    "hex_no_stock": Ways(tag_form="hex", tag_stock=False, tagged_again=0.03, missed_reads=0.4),
    "tagged_again": Ways(tagged_again=0.05, second_visit=0.9),
    "clock_wrong": Ways(clock_offset_s=7200),
    "no_stocks": Ways(ring_stock="none", tag_stock=False, reader=False, box_table=False, visits=0.0),
    "some_visits": Ways(visits=0.6, autumn_round=False),
    "no_boxes": Ways(box_table=False, box_form="{}"),
    "letters_for_boxes": Ways(box_form="BARN {:d}A", boxes=30),
    "ringed_counted": Ways(brood_size="ringed", too_small=0.2),
    "small_ones_counted": Ways(brood_size="live", too_small=0.3, eggs=0.3),
    "no_brood_size": Ways(brood_size="none", without=("handlings.brood_size",)),
    "fostered": Ways(foster=0.6, boxes=80, season_days=20),
    "dead_found": Ways(dead=0.4, second_visit=0.9),
    "legs_by_ringer": Ways(leg_of={"CD": "R", "JR": "L"}),
    "trapping": Ways(
        boxes=0,
        trapping=80,
        species={"barn_owl": 0.3, "great_tit": 0.7},
        visits=0.0,
        box_table=False,
        brood_size="none",
    ),
    "trapping_too": Ways(trapping=40, from_before=0.3),
    "tagged_late": Ways(tagged_late=0.8, second_visit=0.9),
    "pairs": Ways(males=0.6, females=0.8, adults_again=0.5, second_visit=0.8),
    "two_balances": Ways(step_g=1.0, other_step=0.1, net="independent"),
    "two_coarse_balances": Ways(step_g=1.0, other_step=5.0, net="independent"),
    "half_gram_independent": Ways(step_g=0.5, net="independent"),
    "two_gram_independent": Ways(step_g=2.0, net="independent"),
    "first_row_only": Ways(first_row_only=("time", "bag_g", "brood_size", "ringer")),
    "first_row_species": Ways(first_row_only=("species", "time", "brood_size"), species=_MIXED),
    "names_of_species": Ways(
        species=_MIXED, species_text={"barn_owl": "Tyto alba", "common_kestrel": "Turmfalke"}
    ),
    "long_wings": Ways(wings=1.04),
    "short_wings": Ways(wings=0.96, heavy=0.9),
    "no_event": Ways(without=("handlings.event",)),
    "no_age": Ways(without=("handlings.age",)),
    "no_species": Ways(without=("handlings.species",)),
    "bare": Ways(
        without=tuple(
            f"handlings.{name}"
            for name in ("time", "species", "age", "event", "ring_leg", "tag_leg", "sex", "ringer", "scribe")
        ),
        ring_stock="none",
        tag_stock=False,
        box_table=False,
        visits=0.0,
        reader=False,
    ),
    "one_box": Ways(boxes=1, occupied=1.0, females=0.0),
    "two_boxes": Ways(boxes=2, occupied=1.0),
    "four_boxes": Ways(boxes=4, occupied=1.0, species=_MIXED),
    "ten_boxes": Ways(boxes=10, occupied=0.8, ringers=("CD",)),
    "large": Ways(boxes=300, ringers=("CD", "JR", "PW"), species=_MIXED, second_broods=0.1),
}


def first_rows(season: Mapping[str, list[Row]], handlings: int) -> dict[str, list[Row]]:
    """Keep the first handlings only, as a season that has just begun."""
    return {**season, "handlings": season["handlings"][:handlings]}


def any_ways(seed: int) -> Ways:
    """Mix the habits of several teams at random."""
    rng = np.random.default_rng([seed, 77])
    names = list(TEAMS)

    def pick(*values: Any) -> Any:
        return values[int(rng.integers(0, len(values)))]

    donor = TEAMS[names[int(rng.integers(0, len(names)))]]
    if not donor.boxes:
        donor = TEAMS["plain"]
    return replace(
        donor,
        boxes=min(donor.boxes, 45),
        heavy=float(rng.uniform(0.82, 1.22)),
        order=pick("date", "date", "box", "ring", "pages", "newest"),
        step_g=pick(0.1, 0.5, 1.0, 1.0, 5.0),
        bag=pick("day", "own", "many", "wet", "zeroed"),
        net=pick("exact", "independent", donor.net),
        observer_sd=float(rng.uniform(1, 3)),
        wing_step=pick(0.5, 1.0, 1.0),
        ages=pick("none", "age_days", "hatch"),
        tagged_again=pick(0.0, 0.02),
        lost=float(rng.uniform(0, 0.05)),
        losses_listed=pick(0.0, 0.5, 1.0),
        handed_over=pick(0.0, 0.1),
        shared_visits=pick(0.0, 0.2),
        too_small=pick(0.0, 0.1),
        dead=pick(0.0, 0.1),
        second_broods=pick(0.0, 0.3),
        ringing_age=pick(None, (18, 50), (25, 35)),
        gap_days=pick((4, 25), (7, 14)),
        third_visit=pick(0.0, 0.3),
        starved=pick(0.0, 0.1),
        runts=pick(0.1, 0.3),
        visits=pick(0.0, 0.7, 1.0),
        # without an age nothing tells a bird out of a net from a nestling
        trapping=pick(0, 0, 0 if "handlings.age" in donor.without else 15),
        eggs=pick(0.0, 0.3),
    )
