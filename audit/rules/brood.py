"""Birds handled, brood sizes written, young counted and the size of the box must agree."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.box_visits import BoxVisit, box_visits_of, visit_counts_of, young_handled
from audit.rules.case import At
from audit.rules.heeded import BOX_VISITS, together
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from audit.findings import Finding, NotRun
    from audit.rules.box_visits import BoxVisits, Key, VisitCounts
    from audit.rules.case import Case

    Ints = NDArray[np.int64]

__all__ = ["RULE", "check"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare what was handled, written and counted at each box on each day."""
    sheet = box_visits_of(case)
    if not case.season.has("handlings", "brood_size"):
        yield case.not_run("mixed", "There is no column for the brood size.")
    aged = case.season.has("handlings", "age")
    if not aged:
        yield case.not_run("more_handled", "Without age codes grown birds cannot be told from young.")
    counts = visit_counts_of(case)
    handled = young_handled(sheet) if aged else np.zeros(int(sheet.visit.max(initial=-1)) + 1, dtype=np.int64)
    desk = _Desk(case, sheet, counts, handled)
    yield from desk.disagreements()
    yield from desk.full_boxes()
    yield from desk.growing()
    yield from desk.strangers()


class _Desk:
    """The question asked visit by visit; a cell is blamed once."""

    def __init__(self, case: Case, sheet: BoxVisits, counts: VisitCounts, handled: Ints) -> None:
        self.case = case
        self.sheet = sheet
        self.counts = counts
        self.handled = handled
        self.blamed: set[tuple[str, str]] = set()
        order = np.argsort(sheet.visit, kind="stable")
        self.rows_of = np.split(order, np.flatnonzero(np.diff(sheet.visit[order])) + 1) if len(order) else []
        self.keys = [(sheet.dates[rows[0]], str(sheet.boxes[rows[0]])) for rows in self.rows_of]
        self.with_birds: set[Key] = set(self.keys)
        self.ringed_only = self._ringed_only()

    def _ringed_only(self) -> frozenset[int]:
        """Visits with more young counted than ringed, where brood sizes count the ringed ones by habit."""
        compared, such = 0, []
        for number, rows in enumerate(self.rows_of):
            alive = self.counts.alive.get(self.keys[number], (float("nan"), ""))[0]
            sizes = {size for size in self.sheet.size[rows].tolist() if np.isfinite(size)}
            if not np.isfinite(alive) or len(sizes) != 1:
                continue
            compared += 1
            young = self.sheet.young[rows] if self.handled.any() else np.ones(len(rows), dtype=bool)
            ringed = {ring for ring in self.sheet.rings[rows][young] if isinstance(ring, str)}
            if alive > (size := sizes.pop()) and size == len(ringed):
                such.append(number)
        least, share = self.case.limit("ringed_only_visits"), self.case.limit("ringed_only_share")
        return frozenset(such if len(such) >= max(least, share * compared) else ())

    # ---- the visits worth a look ----

    def disagreements(self) -> Iterator[Finding]:
        """Visits in which sizes differ from each other, from the count, or from the birds handled."""
        yield from self._habit()
        for number in self._disputed():
            if int(number) in self.ringed_only:
                continue
            visit = self._visit(number)
            sizes = self.sheet.size[visit.rows]
            written = Counter(sizes[np.isfinite(sizes)].tolist())
            if len(written) > 1:
                yield from self._mixed(visit, written)
            else:
                yield from self._one_size(visit, next(iter(written), float("nan")))

    def _habit(self) -> Iterator[Finding]:
        if not self.ringed_only:
            return
        visit = self._visit(min(self.ringed_only))
        row = next(int(row) for row in visit.rows if np.isfinite(self.sheet.size[row]))
        yield self.case.blame(
            "ringed_only",
            [At(self.sheet.labels[row], "brood_size", _whole(visit.alive))],
            f"At {len(self.ringed_only)} visits, such as box {visit.box} on {visit.date}, more young were"
            " counted than the brood size says, and it is the number of young ringed:"
            " does it count only those?",
            [(visit.alive_label, "alive")],
        )

    def _disputed(self) -> Ints:
        sheet = self.sheet
        n = len(self.rows_of)
        known = np.isfinite(sheet.size)
        low, high = np.full(n, np.inf), np.full(n, -np.inf)
        np.minimum.at(low, sheet.visit[known], sheet.size[known])
        np.maximum.at(high, sheet.visit[known], sheet.size[known])
        nothing = (float("nan"), "")
        alive = np.array([self.counts.alive.get(key, nothing)[0] for key in self.keys])
        sized = np.isfinite(low)
        disputed = sized & (low != high)
        disputed |= sized & (self.handled > high)
        disputed |= sized & np.isfinite(alive) & (alive != high)
        disputed |= np.isfinite(alive) & (alive < self.handled)
        return np.flatnonzero(disputed)

    def _visit(self, number: int) -> BoxVisit:
        key = self.keys[number]
        alive, label = self.counts.alive.get(key, (float("nan"), ""))
        return BoxVisit(key, self.rows_of[number], int(self.handled[number]), alive, label)

    # ---- sizes that differ among siblings ----

    def _mixed(self, visit: BoxVisit, written: Counter[float]) -> Iterator[Finding]:
        blocks = self._blocks(visit, written)
        if blocks:
            yield from self._two_broods(visit, blocks)
            return
        (top, times), *rest = written.most_common()
        odd = sum(n for _, n in rest)
        if times > odd:
            yield from self._odd_ones(visit, top, times)
        else:
            yield from self._even(visit, written)

    def _odd_ones(self, visit: BoxVisit, top: float, times: int) -> Iterator[Finding]:
        sheet, case = self.sheet, self.case
        rows = [int(row) for row in visit.rows if np.isfinite(sheet.size[row]) and sheet.size[row] != top]
        for row in rows:
            stray = self._stray(visit, row)
            if visit.handled > top and stray:
                yield self._other_box(visit, row, stray, top)
                continue
            typed = _whole(sheet.size[row])
            yield self._blame(
                "mixed",
                [At(sheet.labels[row], "brood_size", _whole(top), case.limit("p_odd"), case.limit("p_odd"))],
                f"Brood size {typed}, but {_birds(times)} of box {visit.box} on {visit.date}"
                f" {_have(times)} {_whole(top)}.",
                [(sheet.labels[k], "brood_size") for k in visit.rows if sheet.size[k] == top],
            )

    def _even(self, visit: BoxVisit, written: Counter[float]) -> Iterator[Finding]:
        """As many birds say one size as say another: a count, or the birds handled, may decide."""
        sheet, case = self.sheet, self.case
        possible = [size for size in written if size >= visit.handled]
        true = visit.alive if visit.alive in written else possible[0] if len(possible) == 1 else float("nan")
        decided = np.isfinite(true)
        p = case.limit("p_decided") if decided else case.limit("p_even")
        sizes = " and ".join(str(_whole(size)) for size in sorted(written))
        suspects = []
        for row in visit.rows:
            if not np.isfinite(sheet.size[row]) or sheet.size[row] == true:
                continue
            others = [size for size in written if size != sheet.size[row]]
            meant = true if decided else others[0] if len(others) == 1 else float("nan")
            suspects.append(At(sheet.labels[row], "brood_size", _whole(meant), p, p))
        why = ""
        if decided:
            why = (
                f"; {_whole(visit.alive)} young were counted"
                if visit.alive == true
                else f"; {_birds(visit.handled)} were handled"
            )
        yield self._blame("mixed", suspects, f"Box {visit.box} on {visit.date} has brood sizes {sizes}{why}.")

    def _blocks(self, visit: BoxVisit, written: Counter[float]) -> list[tuple[float, list[int]]]:
        """Two runs of rows, each of a brood size that its own birds fit, together too many for either."""
        if len(written) != 2 or visit.handled <= max(written):  # noqa: PLR2004 - two broods
            return []
        sized = [int(row) for row in visit.rows if np.isfinite(self.sheet.size[row])]
        values = [self.sheet.size[row] for row in sized]
        changes = sum(one != other for one, other in pairwise(values))
        blocks = [
            (value, [r for r in sized if self.sheet.size[r] == value]) for value in dict.fromkeys(values)
        ]
        fits = all(1 < self.sheet.young[rows].sum() <= value for value, rows in blocks)
        return blocks if changes == 1 and fits else []

    def _two_broods(self, visit: BoxVisit, blocks: list[tuple[float, list[int]]]) -> Iterator[Finding]:
        empty = self.counts.without_birds(visit.key[0], self.with_birds)
        fitting = [
            (box, rows, size) for size, rows in blocks for box, count in empty.items() if count == size
        ]
        sizes = " and ".join(str(_whole(size)) for size, _ in blocks)
        if len(fitting) == 1:
            box, rows, size = fitting[0]
            yield self._blame(
                "wrong_page",
                [At(self.sheet.labels[row], "box", box) for row in rows],
                f"Broods of {sizes} stand under box {visit.box} on {visit.date};"
                f" box {box} was visited that day, {_whole(size)} young were counted there,"
                " and no bird is written for it.",
                [(self.sheet.labels[row], "brood_size") for row in rows],
            )
            return
        yield self._blame(
            "two_broods",
            [At(self.sheet.labels[blocks[-1][1][0]], "box")],
            f"Broods of {sizes} stand under box {visit.box} on {visit.date}:"
            " is one of them from another box?",
        )

    # ---- one size, but too many birds or another count ----

    def _one_size(self, visit: BoxVisit, size: float) -> Iterator[Finding]:
        if visit.handled > size:
            yield from self._more_handled(visit, size)
        elif np.isfinite(visit.alive) and visit.alive != size:
            yield from self._count(visit, size)

    def _more_handled(self, visit: BoxVisit, size: float) -> Iterator[Finding]:
        sheet = self.sheet
        strays = [(int(row), box) for row in visit.rows if (box := self._stray(visit, int(row)))]
        if visit.handled - size == len(strays):
            for row, box in strays:
                yield self._other_box(visit, row, box, size)
            return
        sized = [int(row) for row in visit.rows if np.isfinite(sheet.size[row])]
        says = f"{_birds(visit.handled)} were handled in box {visit.box} on {visit.date}"
        if visit.alive == visit.handled:
            p = self.case.limit("p_decided")
            yield self._blame(
                "more_handled",
                [At(sheet.labels[row], "brood_size", visit.handled, p, p) for row in sized],
                f"{says} and as many were counted, but brood size says {_whole(size)}.",
                [(visit.alive_label, "alive")],
            )
        elif len(grown := self._full_grown(visit)) == visit.handled - size:
            yield self._blame(
                "grown",
                [At(sheet.labels[row], "age") for row in grown],
                f"{says}, but brood size says {_whole(size)}: by {_its(len(grown))} wing"
                f" {_birds(len(grown))} of them {'is' if len(grown) == 1 else 'are'} full-grown.",
                [(sheet.labels[row], "wing_mm") for row in grown],
            )
        elif visit.alive == size or visit.handled >= size * 2:
            yield self._blame(
                "two_broods",
                [At(sheet.labels[sized[0]], "box")],
                f"{says}, but brood size says {_whole(size)}: are some of them from another box, or grown?",
            )
        else:
            yield self._blame(
                "more_handled",
                [At(sheet.labels[sized[0]], "brood_size", visit.handled)],
                f"{says}, but brood size says {_whole(size)}.",
                [(sheet.labels[row], "ring") for row in visit.rows],
            )

    def _full_grown(self, visit: BoxVisit) -> list[int]:
        """Rows of young whose wing is that of a full-grown bird, where siblings are smaller."""
        rows = [int(row) for row in visit.rows if self.sheet.young[row] and self.sheet.full_wing[row]]
        return rows if len(rows) * 2 < visit.handled else []

    def _stray(self, visit: BoxVisit, row: int) -> str:
        """Box between whose rows a row stands, when that is not its own."""
        sheet = self.sheet
        if row in (0, len(sheet.labels) - 1) or len(visit.rows) == 1:
            return ""
        above, below = row - 1, row + 1
        same_day = sheet.dates[above] == sheet.dates[row] == sheet.dates[below]
        together = sheet.boxes[above] == sheet.boxes[below] != sheet.boxes[row]
        return str(sheet.boxes[above]) if same_day and together else ""

    def _other_box(self, visit: BoxVisit, row: int, box: str, size: float) -> Finding:
        return self._blame(
            "other_box",
            [At(self.sheet.labels[row], "box", box)],
            f"{_birds(visit.handled)} are written for box {visit.box} on {visit.date}, more than its brood"
            f" of {_whole(size)}, and this row stands among those of box {box}.",
            [(self.sheet.labels[other], "box") for other in (row - 1, row + 1)],
        )

    def _count(self, visit: BoxVisit, size: float) -> Iterator[Finding]:
        """Set the count of the visit against the brood size written for its birds."""
        sheet, case = self.sheet, self.case
        alive = _whole(visit.alive)
        if not np.isfinite(size):
            yield self._blame(
                "count",
                [At(visit.alive_label, "alive", visit.handled)],
                f"{alive} young counted in box {visit.box} on {visit.date}, but {_birds(visit.handled)}"
                " were handled.",
            )
            return
        sized = [int(row) for row in visit.rows if sheet.size[row] == size]
        message = (
            f"{alive} young counted in box {visit.box} on {visit.date},"
            f" but {_birds(len(sized))} of it {_have(len(sized))} brood size {_whole(size)}."
        )
        even, sure = case.limit("p_even"), case.limit("p_decided")
        witnesses = [(sheet.labels[row], "brood_size") for row in sized]
        if len(sized) > 1 or visit.alive < visit.handled:
            yield self._blame(
                "count", [At(visit.alive_label, "alive", _whole(size), sure, sure)], message, witnesses
            )
            return
        yield self._blame(
            "count",
            [
                At(sheet.labels[sized[0]], "brood_size", alive, even, even),
                At(visit.alive_label, "alive", _whole(size), even, even),
            ],
            message,
        )

    # ---- boxes that are too small, broods that are too large ----

    def full_boxes(self) -> Iterator[Finding]:
        """Brood sizes and counts beyond what the box holds or the species lays."""
        case, sheet = self.case, self.sheet
        capacity, labels, usual = self._capacities()
        clutch = {slug: s.number("breeding.clutch.high") for slug, s in case.declared.species.items()}
        most = np.array([clutch.get(slug) or np.inf for slug in sheet.slug], dtype=np.float64)
        # where nobody said what a box holds, it holds what the species lays
        likely = np.where(np.isfinite(most), np.maximum(most, usual), usual)
        stated = np.array([capacity.get(str(box), np.nan) for box in sheet.boxes], dtype=np.float64)
        room = np.where(np.isfinite(stated), stated, likely)
        small: set[str] = set()
        for row in np.flatnonzero((sheet.size > room) | (sheet.size > most)):
            label, size, box = sheet.labels[row], sheet.size[row], str(sheet.boxes[row])
            if (label, "brood_size") in self.blamed or box in small:
                continue
            typed = _whole(size)
            meant = self._meant_size(int(row))
            if size > room[row]:
                if box in labels and size <= usual and room[row] < usual:
                    small.add(box)
                    yield self._blame(
                        "capacity",
                        [At(labels[box], "capacity", _whole(usual))],
                        f"Box {box} is said to hold {_whole(room[row])}, but had a brood of {typed};"
                        f" other boxes hold {_whole(usual)}.",
                        [(label, "brood_size")],
                    )
                    continue
                message = f"Brood size {typed}, but box {box} holds {_whole(room[row])}."
                yield self._blame("over_capacity", [At(label, "brood_size", meant)], message)
            else:
                name = case.declared.species[sheet.slug[row]].english
                message = f"Brood size {typed}: clutches of the {name} have {_whole(most[row])} eggs at most."
                yield self._blame("above_species", [At(label, "brood_size", meant)], message)
        trusted = {box: room for box, room in capacity.items() if box not in small}
        yield from self._full_counts(trusted, float(likely.max(initial=usual)))

    def _full_counts(self, capacity: Mapping[str, float], usual: float) -> Iterator[Finding]:
        for (day, box), (count, label) in self.counts.alive.items():
            room = capacity.get(box, usual)
            if count > room and (label, "alive") not in self.blamed:
                yield self._blame(
                    "over_capacity",
                    [At(label, "alive")],
                    f"{_whole(count)} young counted on {day.date().isoformat()},"
                    f" but box {box} holds {_whole(room)}.",
                )

    def _capacities(self) -> tuple[dict[str, float], dict[str, str], float]:
        """Capacity and row of each box, and the capacity that most boxes have."""
        stated = float(self.case.limit("capacity_if_unstated"))
        if not self.case.season.has("boxes", "capacity"):
            return {}, {}, stated
        frame = self.case.sure("boxes")
        frame = frame[frame["box"].notna() & frame["capacity"].notna()]
        capacity = {str(box): float(room) for box, room in zip(frame["box"], frame["capacity"], strict=True)}
        labels = {str(box): str(label) for box, label in zip(frame["box"], frame.index, strict=True)}
        common = Counter(capacity.values()).most_common(1)
        enough = common and common[0][1] >= self.case.limit("boxes_for_a_usual_capacity")
        return capacity, labels, common[0][0] if enough else stated

    def _meant_size(self, row: int) -> object:
        """Say what the count or the birds handled give instead."""
        visit = self._visit(int(self.sheet.visit[row]))
        if np.isfinite(visit.alive) and visit.alive >= max(visit.handled, 1):
            return _whole(visit.alive)
        return visit.handled if visit.handled > 1 else ""

    # ---- one brood at two visits ----

    def growing(self) -> Iterator[Finding]:
        """Broods with more young at the later of two visits, when no more could hatch."""
        by_box: dict[str, list[int]] = {}
        for number, (_, box) in enumerate(self.keys):
            by_box.setdefault(box, []).append(number)
        for numbers in by_box.values():
            ordered = sorted(numbers, key=lambda number: self.keys[number][0])
            for one, other in pairwise(ordered):
                yield from self._grown(self._visit(one), self._visit(other))

    def _grown(self, first: BoxVisit, later: BoxVisit) -> Iterator[Finding]:
        sheet = self.sheet
        sizes = [sheet.size[visit.rows] for visit in (first, later)]
        known = [size[np.isfinite(size)] for size in sizes]
        if not all(len(size) and size.min() == size.max() for size in known):
            return
        before, after = known[0][0], known[1][0]
        days = (later.key[0] - first.key[0]).days
        if after <= before or days > self.case.limit("same_brood_days"):
            return
        rings = {ring for ring in sheet.rings[first.rows] if isinstance(ring, str)}
        ages = sheet.age[first.rows]
        oldest = np.nanmax(ages) if np.isfinite(ages).any() else 0.0
        late = oldest < self.case.limit("all_hatched_days") or self.counts.eggs.get(first.key, 0) > 0
        if late or not rings & {ring for ring in sheet.rings[later.rows] if isinstance(ring, str)}:
            return
        row = next(int(row) for row in later.rows if np.isfinite(sheet.size[row]))
        if (sheet.labels[row], "brood_size") not in self.blamed:
            yield self._blame(
                "growing",
                [At(sheet.labels[row], "brood_size")],
                f"Box {later.box} had a brood of {_whole(before)} on {first.date}"
                f" and of {_whole(after)} on {later.date}.",
            )

    # ---- a bird too old or too young for its brood ----

    def strangers(self) -> Iterator[Finding]:
        """Broods in which one bird alone stretches the ages too far."""
        sheet, case = self.sheet, self.case
        n = len(self.rows_of)
        aged = np.isfinite(sheet.age)
        low, high = np.full(n, np.inf), np.full(n, -np.inf)
        np.minimum.at(low, sheet.visit[aged], sheet.age[aged])
        np.maximum.at(high, sheet.visit[aged], sheet.age[aged])
        for number in np.flatnonzero(high - low > case.limit("spread_margin_days")):
            rows = self.rows_of[number]
            rows = rows[aged[rows]]
            if len(rows) < case.limit("young_to_compare") or len(set(sheet.slug[rows])) > 1:
                continue
            allowed = case.declared.species[sheet.slug[rows[0]]].number("breeding.age_spread_days")
            if allowed is None or high[number] - low[number] <= allowed + case.limit("spread_margin_days"):
                continue
            odd = self._odd_age(rows, allowed)
            if odd is None or sheet.full_wing[odd] or self._spoken_for(sheet.labels[odd]):
                continue
            if not case.in_doubt(sheet.labels[odd], "box", "date", "age", "net_g"):
                yield self._stranger(self._visit(int(number)), rows, odd)

    def _spoken_for(self, label: str) -> bool:
        return any(blamed == label for blamed, _ in self.blamed)

    def _odd_age(self, rows: Ints, allowed: float) -> int | None:
        ordered = rows[np.argsort(self.sheet.age[rows], kind="stable")]
        ages = self.sheet.age[ordered]
        if ages[-1] - ages[1] <= allowed / 2:
            return int(ordered[0])
        if ages[-2] - ages[0] <= allowed / 2:
            return int(ordered[-1])
        return None

    def _stranger(self, visit: BoxVisit, rows: Ints, odd: int) -> Finding:
        sheet = self.sheet
        rest = sheet.age[[row for row in rows if row != odd]]
        return self._blame(
            "stranger",
            [At(sheet.labels[odd], "box")],
            f"By its wing this bird is {sheet.age[odd]:.0f} days old,"
            f" the others of box {visit.box} on {visit.date} {rest.min():.0f} to {rest.max():.0f}:"
            " is it from another box?",
            [(sheet.labels[row], "wing_mm") for row in rows],
        )

    def _blame(
        self, outcome: str, suspects: list[At], message: str, witnesses: list[tuple[str, str]] | None = None
    ) -> Finding:
        self.blamed.update((at.label, at.field) for at in suspects)
        return self.case.blame(outcome, suspects, message, witnesses or ())


def _whole(number: float) -> int | str:
    return int(number) if np.isfinite(number) else ""


def _birds(number: int) -> str:
    return "1 bird" if number == 1 else f"{number} birds"


def _its(number: int) -> str:
    return "its" if number == 1 else "their"


def _have(number: int) -> str:
    return "has" if number == 1 else "have"


RULE = Rule(
    slug="brood",
    needs={"handlings": ("date", "box", "ring")},
    check=check,
    heeds=together(BOX_VISITS, {"boxes": ("box", "capacity")}),
)
