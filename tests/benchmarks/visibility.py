"""Can any evidence in the sheet show this slip? Answered from what the generator knew, never from findings.

Each planted slip is held against the clean rest of the season, column by column that the season has. The
criteria are in the functions below, one per kind of field; a slip is visible when one of its cells is. What
is declared invisible: a size within four standard deviations of what the rest of the brood lets expect; a
size, tag or ring left out (the sheet does not say that it was there); a bag within what bags weigh where no
sum tells; an adult's other age code; a sex, remark or condition; a scribe or ringer among those of the season
with nothing beside it; a ring at the edge of its string that keeps its order; any code without a second
witness.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from benchmarks.expected import MASS, WING, Expected, expect

if TYPE_CHECKING:
    from benchmarks.planting import Changed, Slip
    from benchmarks.seasons import Made

__all__ = ["Seen", "Witnesses"]

#: Standard deviations beyond which a size is visible.
FAR = 4.0
#: A number further on than this in a string is out of its order.
NEXT_RINGS = 10
EURING_AGES = frozenset("0123456789ABCDEFGHJ")
FIELD_AGE = 10


#: What is typed in the cells of the slip under judgement; they are no witnesses.
Typed = dict[tuple[int, str], str]


@dataclass(frozen=True)
class Seen:
    """Whether a slip can be seen, by what, and how large it is: in units, in SD of the size at its age."""

    visible: bool
    why: str
    units: float | None = None
    sds: float | None = None
    #: how many standard deviations a size lies off what the rest of the brood lets expect
    away: float | None = None


def _over(units: float | None, sd: float) -> float | None:
    return None if units is None else units / sd


def _number(text: Any) -> float | None:
    try:
        return float(text)
    except (TypeError, ValueError):
        return None


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


def _form(code: str) -> str:
    return re.sub(r"\d", "9", code)


def _minutes(text: Any) -> int | None:
    match = re.fullmatch(r"(\d{1,2}):(\d\d)", str(text))
    return int(match[1]) * 60 + int(match[2]) if match and int(match[1]) < 24 and int(match[2]) < 60 else None


class Witnesses:
    """Everything in a clean season that could speak against a cell."""

    def __init__(self, made: Made) -> None:
        self.made = made
        self.rows = made.tables["handlings"]
        self.truth = made.truth
        self.by_bird: dict[int, list[int]] = defaultdict(list)
        self.by_visit: dict[tuple[Any, Any], list[int]] = defaultdict(list)
        for i, (row, truth) in enumerate(zip(self.rows, self.truth, strict=True)):
            self.by_bird[truth.bird].append(i)
            self.by_visit[row["date"], row["box"]].append(i)
        visits = made.tables.get("visits", [])
        self.visits = {(row["date"], row["box"]) for row in visits}
        covered = [key in self.visits for key in self.by_visit if key[1]]
        self.visits_tell = bool(visits) and sum(covered) > 0.95 * len(covered)
        self.boxes = {row["box"] for row in made.tables.get("boxes", [])}
        self.reads: dict[str, list[dt.datetime]] = defaultdict(list)
        for read in made.tables.get("tag_reads", []):
            self.reads[read["tag"]].append(read["read_at"])
        self.tag_stock = {row["tag"] for row in made.tables.get("tag_stock", [])}
        self.strings = [
            (str(row.get("prefix") or "") + re.sub(r"\d", "", str(row["first"])), *map(_serial, _ends(row)))
            for row in made.tables.get("ring_stock", [])
        ]
        self.lost = {row["ring"] for row in made.tables.get("ring_losses", [])}
        self.rings = Counter(row.get("ring") for row in self.rows)
        self.tags = Counter(row.get("tag") for row in self.rows)
        self.forms = {
            name: {
                form
                for form, n in Counter(_form(row[name]) for row in self.rows if row.get(name)).items()
                if n > 1
            }
            for name in ("ring", "tag")
        }
        self.first_ringings = self._strings_as_used()
        self.places = {row: place for used in self.first_ringings.values() for place, row in enumerate(used)}

    def _strings_as_used(self) -> dict[tuple[str, str], list[int]]:
        used: dict[tuple[str, str], list[int]] = defaultdict(list)
        order = sorted(range(len(self.rows)), key=lambda i: self.truth[i].place)
        for i in order:
            ring = self.rows[i].get("ring")
            if ring and self.truth[i].ringed_here:
                used[re.sub(r"\d+$", "", ring), str(self.rows[i].get("ringer", ""))].append(i)
        return used

    def see(self, slip: Slip) -> Seen:
        """Judge one slip."""
        typed = {(cell.row, cell.field): cell.typed for cell in slip.cells}
        judged = [self._cell(cell, typed) for cell in slip.cells]
        best = next((seen for seen in judged if seen.visible), judged[0])
        units = [seen.units for seen in judged if seen.units is not None]
        sds = [seen.sds for seen in judged if seen.sds is not None]
        away = [seen.away for seen in judged if seen.away is not None]
        largest = (max(values, default=None) for values in (units, sds, away))
        return Seen(best.visible, best.why, *largest)

    def _cell(self, cell: Changed, hidden: Typed) -> Seen:
        required = ("date", "box", *(("ring",) if self.truth[cell.row].ringed_here else ()))
        if cell.typed.strip() == "":
            told = cell.field in required or (cell.field == "ring" and self._before(cell))
            return Seen(told, "must be there" if told else "left out")
        judge = getattr(self, f"_{cell.field}", None)
        if cell.field in ("gross_g", "bag_g", "net_g", "wing_mm"):
            return self._size(cell, hidden)
        why = judge(cell, hidden) if judge else ""
        units: float | None = None
        true, wrong = _number(cell.true), _number(cell.typed)
        if cell.field == "date":
            day = _day(cell.typed)
            units = float(abs((day - cell.true).days)) if day else None
        elif true is not None and wrong is not None and cell.field in ("brood_size", "age_days"):
            units = abs(true - wrong)
        return Seen(bool(why), why or "nothing beside it", units)

    def _elsewhere(self, cell: Changed, hidden: Typed) -> list[Any]:
        """Values of the same column in the bird's other rows."""
        return [
            self.rows[i].get(cell.field)
            for i in self.by_bird[self.truth[cell.row].bird]
            if i != cell.row and (i, cell.field) not in hidden and self.rows[i].get(cell.field)
        ]

    def _before(self, cell: Changed) -> bool:
        """Whether an earlier row of the bird has the same value."""
        return any(
            self.truth[i].place < self.truth[cell.row].place and self.rows[i].get(cell.field) == cell.true
            for i in self.by_bird[self.truth[cell.row].bird]
        )

    def _mates(self, cell: Changed, hidden: Typed) -> list[int]:
        row = self.rows[cell.row]
        return [
            i
            for i in self.by_visit[row["date"], row["box"]]
            if i != cell.row and (i, cell.field) not in hidden
        ]

    # sizes

    def _size(self, cell: Changed, hidden: Typed) -> Seen:
        row, truth = self.rows[cell.row], self.truth[cell.row]
        wrong = _number(cell.typed)
        if wrong is None:
            return Seen(True, "no number")
        units = abs(wrong - float(cell.true)) if cell.true is not None else None
        now = {
            name: _number(hidden.get((cell.row, name), row.get(name)))
            for name in ("gross_g", "bag_g", "net_g")
        }
        step = self.made.habits.step_g if truth.species not in ("great_tit", "blue_tit") else 0.1
        if cell.field == "wing_mm":
            expected = expect(self.made, cell.row, WING, hidden)
            return self._far(expected, wrong, units, truth.wing_sd)
        gross, bag, net = (now[name] for name in ("gross_g", "bag_g", "net_g"))
        whole = gross is not None and bag is not None and net is not None
        if whole and abs(gross - bag - net) > self.made.habits.net_rounds + 0.01:
            return Seen(True, "sum broken", units, _over(units, truth.mass_sd))
        mass = net if net is not None and not (whole and cell.field != "net_g") else None
        if mass is None and gross is not None and bag is not None:
            mass = gross - bag
        seen = Seen(False, "size within what is expected", units, _over(units, truth.mass_sd))
        if mass is not None:
            seen = self._far(expect(self.made, cell.row, MASS, hidden), mass, units, truth.mass_sd)
            if seen.visible:
                return seen
        if cell.field == "bag_g" and self._bag_is_odd(cell, wrong, step, hidden):
            return Seen(True, "other bags of the day", units, _over(units, truth.mass_sd))
        return seen

    @staticmethod
    def _far(expected: Expected, value: float, units: float | None, sd: float) -> Seen:
        away = float(expected.distance(value))
        far = value <= 0 or away > FAR
        why = "size beyond 4 SD" if far else "size within what is expected"
        return Seen(far, why, units, _over(units, sd), away)

    def _bag_is_odd(self, cell: Changed, wrong: float, step: float, hidden: Typed) -> bool:
        small = self.truth[cell.row].species in ("great_tit", "blue_tit")
        row, kind = self.rows[cell.row], self.made.habits.bag
        alike = [
            i
            for i, other in enumerate(self.rows)
            if i != cell.row
            and (i, "bag_g") not in hidden
            and other.get("bag_g") is not None
            and (self.truth[i].species in ("great_tit", "blue_tit")) == small
        ]
        if kind in ("day", "zeroed", "wet"):
            today = [self.rows[i]["bag_g"] for i in alike if self.rows[i]["date"] == row["date"]]
            slack = max(2 * step, 1.0) if kind != "wet" else 8.0
            return len(today) > 1 and min(abs(wrong - bag) for bag in today) > slack
        season = [self.rows[i]["bag_g"] for i in alike]
        if len(season) < 5:
            return False
        return bool(abs(wrong - np.mean(season)) > FAR * max(float(np.std(season)), step))

    # codes

    def _ring(self, cell: Changed, hidden: Typed) -> str:
        row, truth, typed = self.rows[cell.row], self.truth[cell.row], cell.typed.strip().upper()
        own = truth.pullus or truth.ringed_here  # an old bird may bear any team's ring
        if _form(typed) not in self.forms["ring"] and (own or not re.fullmatch(r"[A-Z0-9-]+", typed)):
            return "form of the code"
        same_tag = row.get("tag") and (cell.row, "tag") not in hidden
        if self._elsewhere(cell, hidden):
            if same_tag and any(
                self.rows[i].get("tag") == row["tag"] for i in self.by_bird[truth.bird] if i != cell.row
            ):
                return "own tag at another visit"
            if truth.pullus and self.rings[typed] == 0:
                return "nestling met with no ringing, or ringed and not met"
        others = [
            i
            for i, other in enumerate(self.rows)
            if other.get("ring") == typed and (i, "ring") not in hidden and self.truth[i].bird != truth.bird
        ]
        for i in others:
            other = self.rows[i]
            if (other["date"], other["box"]) == (row["date"], row["box"]) or other["box"] != row["box"]:
                return "ring of another bird"
            if same_tag and other.get("tag"):
                return "ring of another bird"
            if truth.ringed_here and self.truth[i].ringed_here:
                return "ringed twice"
        if typed in self.lost:
            return "lost ring"
        if not truth.ringed_here:
            return ""
        prefix, serial = re.sub(r"\d+$", "", typed), _serial(typed)
        ranges = [(first, last) for name, first, last in self.strings if name == prefix]
        if ranges and not any(first <= serial <= last for first, last in ranges):
            return "not in the stock"
        return self._out_of_order(cell, hidden)

    def _out_of_order(self, cell: Changed, hidden: Typed) -> str:
        ring = str(cell.true)
        used = self.first_ringings[re.sub(r"\d+$", "", ring), str(self.rows[cell.row].get("ringer", ""))]
        place = self.places[cell.row]
        true, typed = _serial(ring), _serial(cell.typed.strip())

        def beside(step: int) -> int | None:
            at = place + step
            if not 0 <= at < len(used):
                return None
            ring = self.rows[used[at]]["ring"]
            # of several rings that changed places, each is held against what now stands beside it
            near = abs(_serial(ring) - true) <= 4
            return _serial(hidden.get((used[at], "ring"), ring)) if near else None

        below, above = beside(-1), beside(1)
        if below is not None and above is not None:
            return "" if below < typed < above else "order of the rings"
        if below is not None and not below < typed <= below + NEXT_RINGS:
            return "order of the rings"
        if above is not None and not above - NEXT_RINGS <= typed < above:
            return "order of the rings"
        return ""

    def _tag(self, cell: Changed, hidden: Typed) -> str:
        row, typed = self.rows[cell.row], cell.typed.strip().upper()
        if _form(typed) not in self.forms["tag"] and not re.fullmatch(r"[0-9A-F]{10}", typed):
            return "form of the code"
        if self.tag_stock and typed not in self.tag_stock:
            return "not in the stock"
        if self._elsewhere(cell, hidden) and cell.true in self._elsewhere(cell, hidden):
            return "own ring at another visit"
        birds = {self.truth[i].bird for i, other in enumerate(self.rows) if other.get("tag") == typed}
        exchanged = any((i, "tag") in hidden and i != cell.row for i in range(len(self.rows)))
        if birds - {self.truth[cell.row].bird} and not exchanged:
            return "tag of another bird"
        reads = [at for at in self.reads.get(cell.true, ()) if at.date() == row["date"]]
        if reads and (not exchanged or _minutes(row.get("time")) is not None):
            return "the reader's download"
        return ""

    # place and time

    def _date(self, cell: Changed, hidden: Typed) -> str:
        day = _day(cell.typed.strip())
        if day is None:
            return "no date"
        row = self.rows[cell.row]
        if day.year not in {other["date"].year for other in self.rows}:
            return "year"
        if self.made.habits.date_order:
            above = next((i for i in range(cell.row - 1, -1, -1) if (i, "date") not in hidden), None)
            below = next((i for i in range(cell.row + 1, len(self.rows)) if (i, "date") not in hidden), None)
            early = above is not None and day < self.rows[above]["date"]
            late = below is not None and day > self.rows[below]["date"]
            if early or late:
                return "order of the sheet"
        if self.visits_tell and row["box"] and (day, row["box"]) not in self.visits:
            return "table of visits"
        near = [i for i in (cell.row - 1, cell.row + 1) if i in self._mates(cell, hidden)]
        if near:
            return "rows of the same visit"
        if any(at.date() == row["date"] for at in self.reads.get(row.get("tag"), ())):
            return "the reader's download"
        weekdays = {other["date"].weekday() for other in self.rows}
        return "weekday" if len(weekdays) < 4 and day.weekday() not in weekdays else ""

    def _box(self, cell: Changed, hidden: Typed) -> str:
        row, typed = self.rows[cell.row], cell.typed.strip().upper()
        if self.boxes and typed not in self.boxes:
            return "no such box"
        if self.visits_tell and (row["date"], typed) not in self.visits:
            return "table of visits"
        if any(i in self._mates(cell, hidden) for i in (cell.row - 1, cell.row + 1)):
            return "rows of the same visit"
        if self.truth[cell.row].pullus and cell.true in self._elsewhere(cell, hidden):
            return "own box at another visit"
        return ""

    def _time(self, cell: Changed, _hidden: Typed) -> str:
        typed = _minutes(cell.typed.strip())
        if typed is None:
            return "no time"
        row = self.rows[cell.row]
        if self.made.habits.date_order:
            for step in (-1, 1):
                i = cell.row + step
                if not 0 <= i < len(self.rows) or self.rows[i]["date"] != row["date"]:
                    continue
                other = _minutes(self.rows[i].get("time"))
                if other is not None and (other - typed) * step < 0:
                    return "order of the sheet"
        for at in self.reads.get(row.get("tag"), ()):
            if at.date() == row["date"] and abs(at.hour * 60 + at.minute - typed) > 90:
                return "the reader's download"
        return ""

    # words

    def _species(self, cell: Changed, hidden: Typed) -> str:
        if cell.typed not in {row.get("species") for row in self.rows} | {"common_kestrel", "barn_owl"}:
            return "no such species"
        if self._mates(cell, hidden):
            return "nest mates"
        return "own other visit" if self._elsewhere(cell, hidden) else ""

    def _leg(self, cell: Changed, hidden: Typed) -> str:
        if cell.typed not in ("L", "R"):
            return "no leg"
        other = "tag_leg" if cell.field == "ring_leg" else "ring_leg"
        if self.rows[cell.row].get(other) == cell.typed and (cell.row, other) not in hidden:
            return "both on one leg"
        if self._elsewhere(cell, hidden):
            return "own other visit"
        legs = Counter(row.get(cell.field) for row in self.rows if row.get(cell.field))
        return "habit" if legs[cell.true] > max(19, 0.95 * legs.total()) else ""

    _ring_leg = _tag_leg = _leg

    def _age(self, cell: Changed, hidden: Typed) -> str:
        if cell.typed not in EURING_AGES:
            return "no such code"
        if cell.typed != "1" and cell.true != "1":
            return ""
        if "1" in self._elsewhere(cell, hidden) or (cell.typed == "1" and self._elsewhere(cell, hidden)):
            return "own other visit"
        truth, wing = self.truth[cell.row], self.rows[cell.row].get("wing_mm")
        if wing is None:
            return ""
        if truth.pullus:
            adult = {"barn_owl": 291, "common_kestrel": 250, "great_tit": 75, "blue_tit": 65}[truth.species]
            return "wing" if wing < adult - FAR * truth.spread.adult_wing_mm else ""
        mates = [self.rows[i].get("wing_mm") or 0 for i in self._mates(cell, hidden) if self.truth[i].pullus]
        return "wing" if mates and wing > 1.3 * max(mates) else ""

    def _event(self, cell: Changed, _hidden: Typed) -> str:
        if cell.typed not in ("ringed", "re-encountered"):
            return "no such event"
        truth = self.truth[cell.row]
        before = [i for i in self.by_bird[truth.bird] if truth.place > self.truth[i].place]
        if cell.typed == "ringed":
            if before:
                return "ringed before"
            return "not in the stock" if self.strings and not truth.ringed_here else ""
        if truth.pullus:
            return "nestling met before its ringing"
        return self._out_of_order_if_absent(cell)

    def _out_of_order_if_absent(self, cell: Changed) -> str:
        place = self.places.get(cell.row)
        return "ring in the order of first ringings" if place else ""

    def _sex(self, cell: Changed, hidden: Typed) -> str:
        if cell.typed not in ("M", "F", "U"):
            return "no such sex"
        known = [sex for sex in self._elsewhere(cell, hidden) if sex != "U"]
        return "own other visit" if known and cell.typed != "U" else ""

    # counts and ages

    def _brood_size(self, cell: Changed, hidden: Typed) -> str:
        typed = _number(cell.typed)
        if typed is None or typed < 0 or typed != round(typed):
            return "no number"
        same = [i for i in self._mates(cell, hidden) if self.rows[i].get("brood_size") == cell.true]
        row = self.rows[cell.row]
        if same:
            return "rows of the same visit"
        return "table of visits" if (row["date"], row["box"]) in self.visits else ""

    def _age_days(self, cell: Changed, _hidden: Typed) -> str:
        typed = _number(cell.typed)
        if typed is None or typed < 0:
            return "no number"
        if self.rows[cell.row].get("hatch_date") is not None:
            return "day of hatching"
        return "size and nest mates" if abs(typed - float(cell.true)) > FIELD_AGE else ""

    def _hatch_date(self, cell: Changed, hidden: Typed) -> str:
        day = _day(cell.typed.strip())
        if day is None:
            return "no date"
        if self._elsewhere(cell, hidden):
            return "own other visit"
        if self.rows[cell.row].get("age_days") is not None:
            return "age in days"
        return "size and nest mates" if abs((day - cell.true).days) > FIELD_AGE else ""

    def _hand(self, cell: Changed, hidden: Typed) -> str:
        mates = [i for i in self._mates(cell, hidden) if self.rows[i].get(cell.field) == cell.true]
        return "rows of the same visit" if len(mates) > 1 and not self.made.habits.shared_visits else ""

    _ringer = _scribe = _hand


def _ends(row: dict[str, Any]) -> tuple[str, str]:
    return str(row["first"]), str(row["last"])


def _serial(code: str) -> int:
    digits = re.search(r"(\d+)\D*$", code)
    return int(digits[1]) if digits else -1
