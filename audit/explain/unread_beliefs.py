"""What a cell may be expected to say by the cells around it: dates, times, boxes, codes and counts."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.explain.unread_sheet import Belief
from audit.models.steps import Steps
from audit.models.time_of_day import DAY, clock
from audit.rules.case import Case
from audit.rules.plain import plain_text
from audit.rules.reader_clock import clocks_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.explain.unread_sheet import Sheet, Tables

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Beliefs"]

_EPOCH = dt.date(1970, 1, 1)
#: Young of one brood are fewer.
_COUNTED = 100


def _iso(day: float) -> str:
    if np.isnan(day):
        return "a day that cannot be read"
    return (_EPOCH + dt.timedelta(days=int(day))).isoformat()


#: Young of one brood are fewer.
_COUNTED = 100


class Beliefs:
    """Beliefs about cells of one table."""

    def __init__(self, tables: Tables, sheet: Sheet) -> None:
        self.tables = tables
        self.sheet = sheet

    def _setting(self, name: str) -> Any:  # noqa: ANN401 - a number or a list
        return self.tables.setting(name)

    # --- dates ----------------------------------------------------------------------------------------

    @cached_property
    def _days(self) -> Ints:
        """Days that a date of the season may have."""
        known = np.concatenate(
            [
                sheet.days[np.isfinite(sheet.days)]
                for name in ("handlings", "visits")
                if (sheet := self.tables.sheet(name)) is not None
            ]
            or [np.empty(0)]
        )
        if not len(known):
            return np.empty(0, dtype=np.int64)
        middle, reach, margin = np.median(known), self._setting("season_days"), self._setting("margin_days")
        inside = known[np.abs(known - middle) <= reach]
        if not len(inside):
            # two seasons far apart have no middle
            return np.empty(0, dtype=np.int64)
        return np.arange(inside.min() - margin, inside.max() + margin + 1).astype(np.int64)

    def date(self, row: int) -> Belief | None:
        """Weigh a date by the rows around, the table of visits and the reader."""
        days, sheet = self._days, self.sheet
        if not len(days):
            return None
        log = np.zeros(len(days))
        box = sheet.boxes[row]
        above, below = sheet.beside(row, np.isfinite(sheet.days))
        for other, sign in ((above, 1), (below, -1)):
            if other is None:
                continue
            same = box is not None and sheet.boxes[other] == box
            steps = ((days - sheet.days[other]) * sign).astype(np.int64)
            log += sheet.day_steps[int(same)].log_chance(steps)
            if np.isfinite(sheet.minutes[row]) and np.isfinite(sheet.minutes[other]):
                later = np.array([(sheet.minutes[row] - sheet.minutes[other]) * sign], dtype=np.int64)
                today = sheet.time_steps[int(same)].log_chance(later)[0]
                log += np.where(days == sheet.days[other], today, -np.log(DAY))
        visited = self._visited_on(box)
        log += self._one_of(days, visited, self._kept_visits)
        read = self._read_on(row)
        if read:
            log += self._one_of(days, read, self._kept_reads)
        said = [sheet.days[other] if other is not None else np.nan for other in (above, below)]

        def because(k: int) -> str:
            day = days[k]
            if said[0] == said[1] == day:
                return f"the rows above and below say {_iso(day)}"
            for other, side in ((above, "above"), (below, "below")):
                if other is not None and sheet.days[other] == day:
                    same = box is not None and sheet.boxes[other] == box
                    of = f", of the same box {box}," if same else ""
                    return f"the row {side}{of} says {_iso(day)}"
            if day in visited:
                return f"box {box} was visited on {_iso(day)}"
            if day in read:
                return f"its tag was read on {_iso(day)}"
            if all(np.isfinite(said)) and said[0] <= day <= said[1]:
                return f"the row stands between {_iso(said[0])} and {_iso(said[1])}"
            return ""

        return Belief([_iso(day) for day in days], log, because, "a date")

    def other_date(self, field: str, row: int) -> Belief | None:
        """Weigh a date of another kind by the others of its column, and those of the same visit."""
        column = self.sheet.days_of(field)
        known = column[np.isfinite(column)]
        if not len(known):
            return None
        margin = self._setting("margin_days")
        days = np.arange(known.min() - margin, known.max() + margin + 1).astype(np.int64)
        if len(days) > 2 * self._setting("season_days"):
            return None
        mates = [float(column[i]) for i in self.sheet.mates(row) if np.isfinite(column[i])]
        log = _smooth(days, known, margin) + _smooth(days, np.array(mates), self._setting("hatch_days"))
        return Belief([_iso(day) for day in days], log, lambda _: "", "a date")

    def _visited_on(self, box: object) -> set[float]:
        return set(self._visit_days.get(box, ())) if box is not None else set()

    @cached_property
    def _visit_days(self) -> dict[object, set[float]]:
        visits = self.tables.sheet("visits")
        found: dict[object, set[float]] = {}
        if visits is not None and visits is not self.sheet:
            for day, box in visits.visits:
                found.setdefault(box, set()).add(day)
        return found

    @cached_property
    def _kept_visits(self) -> float:
        """Share of rows whose day and box stand in the table of visits."""
        keys = self.sheet.visits
        hits = sum(len(rows) for (day, box), rows in keys.items() if day in self._visit_days.get(box, ()))
        return (hits + 1 / 2) / (sum(map(len, keys.values())) + 1)

    @cached_property
    def _reads(self) -> dict[object, list[tuple[float, float]]]:
        """Day and minute of each read of a tag, the reader's clock set right."""
        reads = self.tables.sheet("tag_reads")
        found: dict[object, list[tuple[float, float]]] = {}
        if reads is None or not reads.has("read_at"):
            return found
        tables = self.tables
        case = Case(tables.season, tables.declared, tables.declared.rules["reader"], tables.doubted)
        moments = clocks_of(case).moments.astype("datetime64[m]")
        for tag, moment in zip(reads.words("tag"), moments, strict=True):
            if tag is not None and not np.isnat(moment):
                day = moment.astype("datetime64[D]")
                minute = (moment - day).astype(np.int64)
                found.setdefault(tag, []).append((float(day.astype(np.int64)), float(minute)))
        return found

    @cached_property
    def _tags(self) -> NDArray[np.object_]:
        return self.sheet.words("tag")

    def _read_on(self, row: int) -> set[float]:
        return {day for day, _ in self._reads.get(self._tags[row], ())} if self._tags[row] else set()

    @cached_property
    def _kept_reads(self) -> float:
        """Share of rows with a tag that was read at all whose day is one of its reads."""
        rows = [
            i for i, tag in enumerate(self._tags) if tag in self._reads and np.isfinite(self.sheet.days[i])
        ]
        hits = sum(self.sheet.days[i] in self._read_on(i) for i in rows)
        return (hits + 1 / 2) / (len(rows) + 1)

    @staticmethod
    def _one_of(values: Ints, chosen: set[float], share: float) -> Floats:
        """Log probability of values of which some are told to be right in a share of all cases."""
        if not chosen:
            return np.zeros(len(values))
        inside = np.isin(values, list(chosen))
        others = max(int((~inside).sum()), 1)
        told, untold = float(np.log(share / len(chosen))), float(np.log((1 - share) / others))
        return np.where(inside, told, untold)

    # --- times ----------------------------------------------------------------------------------------

    def time(self, row: int) -> Belief | None:
        """Weigh a time by the rows of the same day, the table of visits and the reader."""
        sheet = self.sheet
        known = sheet.minutes[np.isfinite(sheet.minutes)]
        if not len(known):
            return None
        grid = np.arange(DAY)
        log = _smooth(grid, known, self._setting("day_minutes"))
        today = np.isfinite(sheet.minutes) & (sheet.days == sheet.days[row])
        above, below = sheet.beside(row, today)
        for other, sign in ((above, 1), (below, -1)):
            if other is not None:
                same = sheet.boxes[row] is not None and sheet.boxes[other] == sheet.boxes[row]
                steps = ((grid - sheet.minutes[other]) * sign).astype(np.int64)
                log += sheet.time_steps[int(same)].log_chance(steps)
        visit = self._visit_minutes.get((float(sheet.days[row]), sheet.boxes[row]))
        if visit is not None:
            log += self._after_visit.log_chance((grid - visit).astype(np.int64))
        reads = [m for day, m in self._reads.get(self._tags[row], ()) if day == sheet.days[row]]
        if reads:
            log += self._after_read.log_chance((grid - reads[0]).astype(np.int64))
        bounds = [None if other is None else float(sheet.minutes[other]) for other in (above, below)]

        def because(k: int) -> str:
            low, high = bounds
            if low is not None and high is not None and low <= k <= high:
                if low == high:
                    return f"the rows above and below say {clock(low)}"
                return f"the row stands between {clock(low)} and {clock(high)}"
            if reads and abs(k - reads[0]) <= self._setting("reader_minutes"):
                return f"its tag was read at {clock(reads[0])}"
            if low is not None and low <= k:
                return f"the row above says {clock(low)}"
            if high is not None and k <= high:
                return f"the row below says {clock(high)}"
            if visit is not None:
                return f"the visit began at {clock(visit)}"
            return ""

        return Belief([clock(float(k)) for k in grid], log, because, "a time of day")

    @cached_property
    def _visit_minutes(self) -> dict[tuple[float, object], float]:
        visits = self.tables.sheet("visits")
        if visits is None or visits is self.sheet:
            return {}
        return {
            key: float(visits.minutes[rows[0]])
            for key, rows in visits.visits.items()
            if len(rows) == 1 and np.isfinite(visits.minutes[rows[0]])
        }

    @cached_property
    def _after_visit(self) -> Steps:
        sheet = self.sheet
        seen = [
            sheet.minutes[i] - begun
            for key, begun in self._visit_minutes.items()
            for i in sheet.visits.get(key, ())
            if np.isfinite(sheet.minutes[i])
        ]
        return self._minutes_apart(seen)

    @cached_property
    def _after_read(self) -> Steps:
        sheet = self.sheet
        seen = [
            sheet.minutes[i] - reads[0]
            for i, tag in enumerate(self._tags)
            if tag in self._reads
            and np.isfinite(sheet.minutes[i])
            and (reads := [m for day, m in self._reads[tag] if day == sheet.days[i]])
        ]
        return self._minutes_apart(seen)

    def _minutes_apart(self, seen: Sequence[float]) -> Steps:
        width = int(self._setting("reader_minutes"))
        return Steps(np.array(seen, dtype=np.int64), width, 2 * DAY, self._setting("exact"))

    # --- boxes ----------------------------------------------------------------------------------------

    @cached_property
    def _labels(self) -> list[str]:
        found: dict[str, None] = {}
        for name in ("boxes", "visits", "handlings"):
            sheet = self.tables.sheet(name)
            if sheet is not None:
                found.update(dict.fromkeys(box for box in sheet.boxes if box is not None))
        return list(found)

    def box(self, row: int) -> Belief | None:
        """Weigh a box by the rows around, the table of visits and the bird's own rows."""
        labels, sheet = self._labels, self.sheet
        if not labels:
            return None
        names = np.array(labels, dtype=object)
        log = np.zeros(len(labels))
        day = sheet.days[row]
        known = np.array([box is not None for box in sheet.boxes]) & np.isfinite(sheet.days)
        above, below = sheet.beside(row, known)
        for other, sign in ((above, 1), (below, -1)):
            if other is not None:
                log += self._box_beside(names, row, other, sign)
        today = self._boxes_of_day.get(float(day), set())
        if today:
            hit = np.array([name in today for name in names], dtype=bool)
            share = self._kept_visits
            log += np.where(hit, np.log(share / len(today)), np.log((1 - share) / max((~hit).sum(), 1)))
        own = Counter(sheet.boxes[i] for i in sheet.same_bird(row) if sheet.boxes[i] is not None)
        if own:
            stays = sheet.alike("box", "bird")
            near = np.array([own[name] / own.total() for name in labels])
            log += np.log(stays * near + (1 - stays) / len(labels))
        said = [
            None if other is None or sheet.days[other] != day else sheet.boxes[other]
            for other in (above, below)
        ]

        def because(k: int) -> str:
            label = labels[k]
            when = f" of {_iso(day)}" if np.isfinite(day) else ""
            if said[0] == said[1] == label:
                return f"the rows above and below say {label}"
            if label in said:
                return f"the row {'above' if said[0] == label else 'below'}{when} says {label}"
            if own.get(label):
                return f"the bird was in box {label} at its other visit"
            if label in today:
                return f"box {label} was visited on {_iso(day)}"
            return ""

        return Belief(labels, log, because, "a box")

    def _box_beside(self, names: NDArray[np.object_], row: int, other: int, sign: int) -> Floats:
        """Log probability of each box beside a row of a known one, by what else both rows say."""
        sheet = self.sheet
        same_day = sheet.days[row] == sheet.days[other]
        stays = self._box_stays[int(same_day)]
        log_same, log_other = np.log(stays), np.log((1 - stays) / max(len(names) - 1, 1))
        if same_day and np.isfinite(sheet.minutes[row]) and np.isfinite(sheet.minutes[other]):
            step = np.array([(sheet.minutes[row] - sheet.minutes[other]) * sign], dtype=np.int64)
            log_same += sheet.time_steps[1].log_chance(step)[0]
            log_other += sheet.time_steps[0].log_chance(step)[0]
        sizes = sheet.numbers("brood_size")
        if np.isfinite(sizes[row]) and np.isfinite(sizes[other]):
            equal = sizes[row] == sizes[other]
            same, apart = self._size_stays
            log_same += np.log(same if equal else 1 - same)
            log_other += np.log(apart if equal else 1 - apart)
        return np.where(names == sheet.boxes[other], float(log_same), float(log_other))

    @cached_property
    def _box_stays(self) -> tuple[float, float]:
        """Share of rows in the box of the row before: on another day, on the same day."""
        sheet = self.sheet
        known = np.array([box is not None for box in sheet.boxes]) & np.isfinite(sheet.days)
        one, other = sheet.pairs(known)
        today = sheet.days[one] == sheet.days[other]
        same = np.array([sheet.boxes[i] == sheet.boxes[j] for i, j in zip(one, other, strict=True)], bool)
        return _share(same[~today]), _share(same[today])

    @cached_property
    def _size_stays(self) -> tuple[float, float]:
        """Share of rows with the brood size of the row before: of the same box and day, of another."""
        sheet = self.sheet
        sizes = sheet.numbers("brood_size")
        known = (
            np.array([box is not None for box in sheet.boxes]) & np.isfinite(sheet.days) & np.isfinite(sizes)
        )
        one, other = sheet.pairs(known)
        together = (sheet.days[one] == sheet.days[other]) & np.array(
            [sheet.boxes[i] == sheet.boxes[j] for i, j in zip(one, other, strict=True)], bool
        )
        equal = sizes[one] == sizes[other]
        return _share(equal[together]), _share(equal[~together])

    @cached_property
    def _boxes_of_day(self) -> dict[float, set[object]]:
        found: dict[float, set[object]] = {}
        for box, days in self._visit_days.items():
            for day in days:
                found.setdefault(day, set()).add(box)
        return found

    # --- counts of young ------------------------------------------------------------------------------

    def brood_size(self, row: int) -> Belief | None:
        """Weigh a brood size by the siblings and the count of the visit."""
        sheet = self.sheet
        sizes = sheet.numbers("brood_size")
        mates = [float(sizes[i]) for i in sheet.mates(row) if np.isfinite(sizes[i])]
        key = (float(sheet.days[row]), sheet.boxes[row])
        log = self._count(sizes, mates, sheet.alike("brood_size", "visit"))
        alive = self._alive.get(key)
        if alive is not None:
            log += self._told(len(log), alive, self._kept_alive)
        handled = len(self._young_of(key))
        # more young than were counted in the box are rarely in the hand
        log += np.where(np.arange(len(log)) < handled, np.log(self._setting("fewer_than_handled")), 0.0)
        return Belief(
            [str(k) for k in range(len(log))],
            log,
            lambda k: self._why_size(key, k, mates, alive, handled),
            "a brood size",
        )

    def _why_size(
        self, key: tuple[float, object], k: int, mates: list[float], alive: float | None, handled: int
    ) -> str:
        same = mates.count(k)
        if same:
            birds = "1 other bird" if same == 1 else f"{same} other birds"
            where = f"box {key[1]} on {_iso(key[0])}"
            counted = f", and {k} young were counted" if alive == k else ""
            return f"{birds} of {where} {'has' if same == 1 else 'have'} brood size {k}{counted}"
        if alive == k:
            return f"{k} young were counted in box {key[1]} on {_iso(key[0])}"
        if handled == k:
            return f"{k} young of box {key[1]} were handled on {_iso(key[0])}"
        return ""

    def alive(self, row: int) -> Belief | None:
        """Weigh the count of a visit by the brood sizes of the birds handled."""
        birds = self.tables.sheet("handlings")
        if birds is None:
            return None
        counts, sizes = self.sheet.numbers("alive"), birds.numbers("brood_size")
        key = (float(self.sheet.days[row]), self.sheet.boxes[row])
        mates = [float(sizes[i]) for i in birds.visits.get(key, ()) if np.isfinite(sizes[i])]
        log = self._count(counts, mates, 1 - 1 / (2 + len(mates)))

        def because(k: int) -> str:
            same = mates.count(k)
            return f"{same} birds of box {key[1]} on {_iso(key[0])} have brood size {k}" if same else ""

        return Belief([str(k) for k in range(len(log))], log, because, "a count")

    @staticmethod
    def _count(column: Floats, mates: list[float], alike: float) -> Floats:
        # a count beyond every brood is a slip, and would ask for a table as long
        counts = (column >= 0) & (column < _COUNTED)
        known = column[counts].astype(np.int64)
        mates = [mate for mate in mates if 0 <= mate < _COUNTED]
        top = int(max([*known, *mates], default=1)) * 2 + 1
        usual = (np.bincount(known, minlength=top)[:top] + 1 / 2) / (len(known) + top / 2)
        if not mates:
            return np.asarray(np.log(usual), dtype=np.float64)
        near = np.array([mates.count(k) / len(mates) for k in range(top)])
        found: Floats = np.log(alike * near + (1 - alike) * usual)
        return found

    @staticmethod
    def _told(n: int, value: float, share: float) -> Floats:
        told, untold = float(np.log(share)), float(np.log((1 - share) / max(n - 1, 1)))
        return np.where(np.arange(n) == value, told, untold)

    @cached_property
    def _alive(self) -> dict[tuple[float, object], float]:
        visits = self.tables.sheet("visits")
        if visits is None:
            return {}
        counts = visits.numbers("alive")
        return {
            key: float(counts[rows[0]])
            for key, rows in visits.visits.items()
            if len(rows) == 1 and np.isfinite(counts[rows[0]])
        }

    @cached_property
    def _kept_alive(self) -> float:
        """Share of brood sizes that are the count of the visit."""
        sizes = self.sheet.numbers("brood_size")
        said = [
            sizes[i] == alive
            for key, alive in self._alive.items()
            for i in self.sheet.visits.get(key, ())
            if np.isfinite(sizes[i])
        ]
        return _share(np.array(said, dtype=bool))

    def _young_of(self, key: tuple[float, object]) -> set[object]:
        ages, rings = self.sheet.words("age"), self.sheet.words("ring")
        codes = set(self.tables.declared.rules["declared"].limits["pullus_codes"].value)
        return {rings[i] or i for i in self.sheet.visits.get(key, ()) if ages[i] in codes}

    # --- codes of few values --------------------------------------------------------------------------

    def code(self, field: str, row: int, allowed: Sequence[str]) -> Belief | None:
        """Weigh a code such as a leg by siblings, the bird's own rows and the whole column."""
        sheet = self.sheet
        column = sheet.words(field)
        usual = Counter(value for value in column if value is not None)
        values = list(dict.fromkeys([*allowed, *usual]))
        if not values or len(values) > self._setting("most_codes"):
            return None
        total = usual.total() + len(values) / 2
        share = np.array([(usual[value] + 1 / 2) / total for value in values])
        log = np.log(share)
        groups: list[Counter[object]] = []
        for by, rows in (("visit", sheet.mates(row)), ("bird", sheet.same_bird(row))):
            said = Counter(column[i] for i in rows if column[i] is not None)
            groups.append(said)
            if said:
                alike = sheet.alike(field, by)
                near = np.array([said[value] / said.total() for value in values])
                # how much likelier than usual
                log += np.log(alike * near + (1 - alike) * share) - np.log(share)

        def because(k: int) -> str:
            value = values[k]
            if n := groups[1][value]:
                return f"the same bird has {value} in {n} other row{'s' if n > 1 else ''}"
            if n := groups[0][value]:
                return (
                    f"{n} other bird{'s' if n > 1 else ''} of the visit {'have' if n > 1 else 'has'} {value}"
                )
            if usual[value] * 2 > usual.total():
                return f"{usual[value]} of {usual.total()} rows have {value}"
            return ""

        return Belief([plain_text(value) for value in values], log, because, "a code of this column")

    # --- other numbers --------------------------------------------------------------------------------

    def number(self, field: str, row: int, unit: float) -> Belief | None:
        """Weigh a number by the whole column and the same visit."""
        column = self.sheet.numbers(field)
        known = column[np.isfinite(column)]
        grid = self.grid(known, unit)
        if grid is None:
            return None
        mates = np.array([column[i] for i in self.sheet.mates(row) if np.isfinite(column[i])])
        width = max(float(np.subtract(*np.quantile(known, [0.75, 0.25]))) / 2, unit)
        log = _smooth(grid, known, width)
        if len(mates):
            log = log + _smooth(grid, mates, max(width / 2, unit))
        low, high = (float(mates.min()), float(mates.max())) if len(mates) else (0.0, 0.0)

        def because(k: int) -> str:
            if not len(mates) or not low <= grid[k] <= high:
                return ""
            if low == high:
                return f"its siblings have {plain_text(low)}"
            return f"its siblings have {plain_text(low)} to {plain_text(high)}"

        return Belief([plain_text(value) for value in grid], log, because, "a number")

    def grid(self, known: Floats, unit: float) -> Floats | None:
        """All numbers that a column may hold, to its unit; None where they are too many."""
        if not len(known):
            return None
        top = float(np.max(np.abs(known))) * self._setting("beyond_column")
        low = min(float(known.min()) * 2, 0.0)
        n = int((top - low) / unit) + 1
        if n > self._setting("most_numbers"):
            return None
        found: Floats = np.round(low + np.arange(n + 1) * unit, 2)
        return found


def _share(hits: Flags) -> float:
    """Share of hits, a half before any is seen."""
    return float((hits.sum() + 1 / 2) / (len(hits) + 1))


def _smooth(grid: NDArray[Any], known: Floats, width: float) -> Floats:
    """Log density over a grid, from values smoothed to a width and a little everywhere."""
    if not len(known):
        return np.zeros(len(grid))
    values, counts = np.unique(known, return_counts=True)
    z = (grid[:, None] - values[None, :]) / width
    bell = np.exp(-(z**2) / 2) @ counts / len(known)
    found: Floats = np.log(bell / max(bell.sum(), 1e-300) + 1 / len(grid) / (len(known) + 1))
    return found
