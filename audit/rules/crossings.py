"""Rings or tags of one visit that stand in each other's rows: exchanged, or slid by one row."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass
from dataclasses import field as kept
from functools import cached_property
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from audit.models.ring_number import bare, join_ring, split_ring
from audit.rules.case import At
from audit.rules.ringings import Fit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from audit.findings import Finding
    from audit.models.keying import Channel
    from audit.rules.case import Case
    from audit.rules.ringings import Key, Ringings
    from audit.rules.tag_book import TagBook

__all__ = ["Crossing", "Verdict", "blame_crossing", "crossings", "next_code"]

Field = Literal["ring", "tag"]
How = Literal["exchanged", "slid", "counted", "slipped"]

_ORDERS = ("first", "again", "read")

_ORDERS_SAID = {
    "first": "the order of the string",
    "again": "the order of the other birds",
    "events": "the events",
}


@dataclass(frozen=True, slots=True)
class _Row:
    """One handling of a visit: its place in the sheet, its ring and its tag, empty where not there."""

    place: int
    ring: str
    tag: str


@dataclass(frozen=True, slots=True)
class _Order:
    """Whether the rows of a visit follow an order, how many they are, and whether one crossing mends it."""

    holds: bool
    n: int
    near: bool

    @property
    def weight(self) -> float:
        """How far it tells of the team's habit: a crossing is no habit, but chance may look like one."""
        if self.holds or not self.near:
            return 1.0
        # all pairs, and two slides
        ways = math.comb(self.n, 2) + 2
        return min(ways / (math.factorial(self.n) - 1), 1.0)


@dataclass(frozen=True, slots=True)
class Crossing:
    """Codes of one visit put back into their rows.

    Attributes
    ----------
    visit : int
        As in `Ringings`.
    field : {'ring', 'tag'}
        Which codes.
    meant : tuple of (int, str)
        Row by its place in the sheet, and the bare ring or the key of the tag that belongs there.
    how : {'exchanged', 'slid', 'counted', 'slipped'}
        Some were exchanged; a run of cells has slid by one row; a cell was drawn down and counted on; or the
        hand slipped in one.
    """

    visit: int
    field: Field
    meant: tuple[tuple[int, str], ...]
    how: How

    @property
    def rows(self) -> frozenset[int]:
        """Places of the rows."""
        return frozenset(place for place, _ in self.meant)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is thought of visits that contradict each other or the order of things.

    Attributes
    ----------
    likely : tuple of (Crossing, float)
        The likeliest crossing and those as likely, with their probabilities.
    others : tuple of int
        Rows of other visits that led there.
    by_order : str
        ``first``, ``again`` or ``read`` where an order speaks for it, ``events`` where they do; empty where
        other visits do.
    """

    likely: tuple[tuple[Crossing, float], ...]
    others: tuple[int, ...]
    by_order: str


def crossings(case: Case, rings: Ringings, book: TagBook | None) -> list[Verdict]:
    """Find the visits whose rings or tags stand in each other's rows.

    References
    ----------
    Bayes' theorem over what may have happened: nothing; the rows were written in another order; the rings,
    or the tags, of one visit were exchanged or slid. It is judged by the tags of the same rings at other
    visits, by the order in which the reader stored the tags, and by the order of the string.
    """
    return list(_Sheet(case, rings, book).verdicts())


@dataclass(frozen=True)
class _Sheet:
    case: Case
    rings: Ringings
    book: TagBook | None
    _beside: dict[str, tuple[tuple[Key, int], ...]] = kept(default_factory=dict, compare=False)

    def limit(self, name: str) -> float:
        """Return a limit: they stand with the rule on tags, whichever rule asks."""
        return float(self.case.declared.rules["tag_twice"].limits[name].value)

    @cached_property
    def visits(self) -> Mapping[int, tuple[_Row, ...]]:
        """Rows by visit, in sheet order."""
        place_of = {str(label): i for i, label in enumerate(self.rings.labels)}
        tags = {} if self.book is None else {place_of[row.label]: row.key for row in self.book.rows}
        return {
            visit: tuple(_Row(i, bare(str(self.rings.ring[i])), tags.get(i, "")) for i in sorted(rows))
            for visit, rows in self.rings.rows_of_visit.items()
        }

    @cached_property
    def pairs(self) -> tuple[Mapping[str, Mapping[str, set[int]]], Mapping[str, Mapping[str, set[int]]]]:
        """Visits in which each ring has each tag, by ring and by tag."""
        by_ring: defaultdict[str, dict[str, set[int]]] = defaultdict(dict)
        by_tag: defaultdict[str, dict[str, set[int]]] = defaultdict(dict)
        for visit, rows in self.visits.items():
            for row in rows:
                if row.ring and row.tag:
                    by_ring[row.ring].setdefault(row.tag, set()).add(visit)
                    by_tag[row.tag].setdefault(row.ring, set()).add(visit)
        return by_ring, by_tag

    # orders

    def _orders(self, visit: int, rows: Sequence[_Row]) -> dict[str, _Order]:
        """Look at each order that can be seen in a visit."""
        found: dict[str, _Order] = {}
        for name in ("first", "again"):
            runs: dict[object, list[int]] = defaultdict(list)
            for row in rows:
                known = self.serial.get(row.ring)
                if known and self.rings.first[row.place] == (name == "first"):
                    runs[known[0]].append(known[1])
            whole = [
                part for run in runs.values() for part in _clusters(run, self.rings.reach) if len(part) > 1
            ]
            if whole:
                # of several strings the longest run counts
                found[name] = min((_order_of(run) for run in whole), key=lambda one: (one.holds, -one.n))
        if self.book is not None and self.book.read_place:
            day = self.day_of(visit)
            places = [
                place
                for row in rows
                if row.tag and (place := self.book.read_place.get((day, row.tag))) is not None
            ]
            if len(places) > 1:
                found["read"] = _order_of(places)
        return found

    @cached_property
    def serial(self) -> Mapping[str, tuple[object, int]]:
        """Series and number of each ring."""
        running = self.rings.running
        return {
            bare(str(self.rings.ring[i])): (self.rings.key[i], int(self.rings.serial[i]))
            for i in range(len(self.rings.labels))
            if self.rings.ring[i] and self.rings.serial[i] >= 0 and self.rings.key[i] in running
            # a ring out of line has a slip of its own
            if self.rings.at_home[i] or not self.rings.first[i]
        }

    def day_of(self, visit: int) -> str:
        """Day of a visit as ISO 8601."""
        return str(np.datetime64(int(self.rings.day[self.visits[visit][0].place]), "D"))

    @cached_property
    def seen(self) -> Mapping[int, Mapping[str, _Order]]:
        """Orders as of `_orders`, by visit."""
        return {visit: self._orders(visit, rows) for visit, rows in self.visits.items() if len(rows) > 1}

    @cached_property
    def habits(self) -> Mapping[str, tuple[float, float]]:
        """In how many visits each order holds, of how many."""
        found = {}
        for name in _ORDERS:
            seen = [orders[name] for orders in self.seen.values() if name in orders]
            found[name] = (float(sum(one.holds for one in seen)), sum(one.weight for one in seen))
        return found

    def in_order(self, name: str, visits: Iterable[int]) -> float:
        """Share of visits in which an order holds, but for some."""
        held, of = self.habits[name]
        own = [self.seen[v][name] for v in visits if name in self.seen.get(v, {})]
        share, weight = self.limit(f"in_order_{name}"), self.limit("in_order_weight")
        held -= sum(one.holds for one in own)
        of -= sum(one.weight for one in own)
        return float((held + share * weight) / (of + weight))

    def _log_order(self, orders: Mapping[str, _Order], share: Mapping[str, float]) -> float:
        return sum(
            math.log(share[name]) if one.holds else math.log(1 - share[name]) - _log_other_orders(one.n)
            for name, one in orders.items()
        )

    # what may have happened

    def verdicts(self) -> Iterator[Verdict]:
        done: set[int] = set()
        for visit in self._doubtful():
            if visit in done:
                continue
            group = self._group(visit)
            done |= group
            verdict = self._judge(sorted(group))
            if verdict is not None:
                yield verdict

    def _doubtful(self) -> list[int]:
        found = []
        for visit, rows in self.visits.items():
            odd = sum(self._odd(row) for row in rows)
            broken = [name for name, one in self.seen.get(visit, {}).items() if not one.holds]
            strange = any(
                self.habits[name][1] >= self.limit("habit_least")
                and self.in_order(name, [visit]) >= self.limit("habit_from")
                for name in broken
            )
            events = {str(self.rings.event[row.place]) for row in rows}
            if len(events) > 1:
                events = {str(self.rings.event[row.place]) for row in rows if self._odd_event(row)}
            if odd > 1 or strange or len(events) > 1:
                found.append(visit)
        return found

    def _odd_event(self, row: _Row) -> bool:
        """Whether a ringed bird has no ring of the string in use, or one seen again has a new one."""
        event = self.rings.event[row.place]
        return bool(event and row.ring) and (event == "ringed") != self._is_new(row.place, row.ring)

    def _is_new(self, place: int, ring: str) -> bool:
        """Whether a ring stands on the string beside one that was put on that day, and on no bird before."""
        day = int(self.rings.day[place])
        return self.first_seen.get(ring, day) >= day and any(
            day in self.days_used.get(near, ()) for near in self.neighbours(ring)
        )

    @cached_property
    def first_seen(self) -> Mapping[str, int]:
        """First day of each ring."""
        return {
            ring: min(int(self.rings.day[i]) for i in rows) for ring, rows in self.rings.rows_of_ring.items()
        }

    @cached_property
    def days_used(self) -> Mapping[tuple[Key, int], frozenset[int]]:
        """Days on which each number was put on a bird."""
        return {at: frozenset(int(self.rings.day[i]) for i in rows) for at, rows in self.rings.used.items()}

    def neighbours(self, ring: str) -> tuple[tuple[Key, int], ...]:
        """Numbers beside a ring on its string."""
        found = self._beside.get(ring)
        if found is None:
            stem, digits = split_ring(ring)
            key, number = (bare(stem), len(digits)), int(digits or 0)
            reach = self.rings.reach
            found = tuple((key, near) for near in range(number - reach, number + reach + 1) if near != number)
            self._beside[ring] = found
        return found

    def _odd(self, row: _Row) -> bool:
        """Whether ring and tag of a row are at another visit on another bird."""
        by_ring, by_tag = self.pairs
        return bool(row.ring and row.tag) and (len(by_ring[row.ring]) > 1 or len(by_tag[row.tag]) > 1)

    def _group(self, visit: int) -> set[int]:
        """Visits that contradict each other."""
        by_ring, by_tag = self.pairs
        group, waiting = {visit}, [visit]
        while waiting:
            for row in self.visits[waiting.pop()]:
                if not self._odd(row):
                    continue
                for where in (*by_ring[row.ring].values(), *by_tag[row.tag].values()):
                    fresh = where - group
                    group |= fresh
                    waiting += fresh
        return group

    def _judge(self, group: list[int]) -> Verdict | None:
        if len(group) > self.limit("visits_most"):
            return None
        share = {name: self.in_order(name, group) for name in _ORDERS}
        state = {visit: self.visits[visit] for visit in group}
        outside = self._outside(group)
        crossed = math.log(self.case.share("rates.rows_crossed"))
        broken_pair = math.log(self.limit("pair_broken"))

        odd_event = math.log(self.limit("odd_event"))

        def alone(visit: int, rows: Sequence[_Row]) -> float:
            """Weigh the orders and events of one visit."""
            order = self._log_order(self._orders(visit, rows), share)
            return order + odd_event * sum(self._odd_event(row) for row in rows)

        said = {visit: alone(visit, rows) for visit, rows in state.items()}

        def weight(changed: Mapping[int, tuple[_Row, ...]]) -> float:
            told = sum(said[v] if rows is state[v] else alone(v, rows) for v, rows in changed.items())
            return told + broken_pair * _contradictions(changed.values(), outside)

        nothing = weight(state)
        accounts: list[tuple[Crossing | None, float]] = [(None, nothing)]
        accounts += [(None, nothing + other) for other in self._rows_reordered(group, share)]
        bare_contradictions = _contradictions(state.values(), outside)
        accounts += [(None, chance + weight(changed)) for changed, chance in self._slips_among(state)]
        for visit in group:
            for crossing, prior in self._crossings_of(visit):
                changed = {**state, visit: _put_back(self.visits[visit], crossing)}
                accounts.append((crossing, crossed + math.log(prior) + weight(changed)))
            for crossing, chance in self._slips_of(visit):
                changed = {**state, visit: _put_back(self.visits[visit], crossing)}
                accounts.append((crossing, chance + weight(changed)))
        likely = self._likely(accounts)
        if not likely:
            return None
        first = likely[0][0]
        after = _contradictions(
            {**state, first.visit: _put_back(self.visits[first.visit], first)}.values(), outside
        )
        by_order, seen = "", self.seen.get(first.visit, {})
        if after >= bare_contradictions:
            by_order = next((name for name in _ORDERS if name in seen and not seen[name].holds), "events")
        blamed = {place for crossing, _ in likely for place in crossing.rows}
        others = tuple(
            row.place for v in group for row in self.visits[v] if row.place not in blamed and self._odd(row)
        )
        return Verdict(likely, others, by_order)

    def _likely(
        self, accounts: Sequence[tuple[Crossing | None, float]]
    ) -> tuple[tuple[Crossing, float], ...]:
        """Choose the visit that is likeliest wrong, or two, and what is likeliest there, if anything is."""
        top = max(weight for _, weight in accounts)
        total = sum(math.exp(weight - top) for _, weight in accounts)
        shares = [(c, math.exp(weight - top) / total) for c, weight in accounts if c is not None]
        if sum(p for _, p in shares) < self.limit("cross_from"):
            return ()
        visits: dict[int, float] = defaultdict(float)
        for crossing, p in shares:
            visits[crossing.visit] += p
        as_likely = self.limit("as_likely")
        leading = sorted(visits, key=lambda visit: (-visits[visit], -visit))
        enough = self.limit("visit_as_likely") * visits[leading[0]]
        leading = [visit for visit in leading[:2] if visits[visit] >= enough]
        found: list[tuple[Crossing, float]] = []
        for visit in leading:
            here = sorted((one for one in shares if one[0].visit == visit), key=lambda one: -one[1])
            found += [one for one in here[:2] if one[1] >= as_likely * here[0][1]]
        found.sort(key=lambda one: -one[1])
        return tuple(found) if found and found[0][1] >= self.limit("cross_least") else ()

    def _slips_of(self, visit: int) -> Iterator[tuple[Crossing, float]]:
        """Single slips that leave the other rings of the visit in order, with their log chances."""
        order = self.seen.get(visit, {}).get("first")
        if order is None or order.holds:
            return
        held = [r for r in self.visits[visit] if r.ring in self.serial and self.rings.first[r.place]]
        rate = math.log(self.case.share("rates.ring") / len(self.visits[visit]))
        for row in held:
            numbers = [self.serial[other.ring] for other in held if other is not row]
            if len(numbers) < 2 or numbers != sorted(numbers, key=lambda one: one[1]):  # noqa: PLR2004 - an order
                continue
            typed = str(self.rings.ring[row.place])
            gaps = self._gaps(held)
            for expected in self.rings.expected(row.place):
                chance = self.channel.log_chance(typed, expected.ring)
                if expected.fit < Fit.BESIDE or not math.isfinite(chance):
                    continue
                meant = bare(expected.ring)
                fewer = gaps - self._gaps([_Row(r.place, meant if r is row else r.ring, r.tag) for r in held])
                fit = math.log(self.limit("fit_beside")) if expected.fit == Fit.BESIDE else 0.0
                bonus = -fewer * math.log(self.limit("ring_skipped"))
                yield Crossing(visit, "ring", ((row.place, meant),), "slipped"), rate + chance + fit + bonus

    def _slips_among(
        self, state: Mapping[int, tuple[_Row, ...]]
    ) -> Iterator[tuple[dict[int, tuple[_Row, ...]], float]]:
        """Visits after one slip, or two in different rows, is put right, with their log chances.

        Such slips are for other rules to name; here they stand beside the crossings that may look like them.
        """
        fields: tuple[Field, ...] = ("ring", "tag")
        by_ring, by_tag = self.pairs
        single: list[tuple[int, Crossing, float]] = []
        for visit, rows in state.items():
            for above, row in zip((None, *rows[:-1]), rows, strict=True):
                if not self._odd(row):
                    continue
                for field in fields:
                    typed, copied = _code(row, field), _code(above, field) if above else None
                    known = by_ring[row.ring] if field == "tag" else by_tag[row.tag]
                    for meant in sorted(known):
                        chance = self.channel.log_chance(typed, meant, above=copied)
                        if known[meant] - {visit} and math.isfinite(chance):
                            mended = Crossing(visit, field, ((row.place, meant),), "slipped")
                            rate = math.log(self.case.share(f"rates.{field}"))
                            single.append((row.place, mended, rate + chance))
        for _, one, chance in single:
            yield {**state, one.visit: _put_back(state[one.visit], one)}, chance
        single.sort(key=lambda slip: -slip[2])
        for (at, one, first), (other_at, other, second) in combinations(
            single[: int(self.limit("slips_most"))], 2
        ):
            if at != other_at:
                changed = {**state, one.visit: _put_back(state[one.visit], one)}
                yield {**changed, other.visit: _put_back(changed[other.visit], other)}, first + second

    def _gaps(self, rows: Sequence[_Row]) -> int:
        """Count the unused numbers between the rings of a visit."""
        numbers: dict[Key, list[int]] = defaultdict(list)
        for row in rows:
            stem, digits = split_ring(row.ring)
            numbers[bare(stem), len(digits)].append(int(digits))
        most = int(self.limit("gaps_most"))
        return sum(
            (key, number) not in self.rings.used and (key, number) not in self.rings.lost
            for key, found in numbers.items()
            for number in range(min(found), min(max(found), min(found) + most))
            if number not in found
        )

    @cached_property
    def channel(self) -> Channel:
        """What becomes of a code in which the hand slips."""
        return self.case.declared.slips.channel()

    def _outside(self, group: Sequence[int]) -> tuple[dict[str, set[str]], dict[str, set[str]]]:
        """Tags of each ring and rings of each tag at visits outside a group."""
        by_ring, by_tag = self.pairs
        inside = set(group)
        rows = [row for visit in group for row in self.visits[visit]]
        return (
            {
                r.ring: {tag for tag, where in by_ring[r.ring].items() if where - inside}
                for r in rows
                if r.ring
            },
            {r.tag: {ring for ring, where in by_tag[r.tag].items() if where - inside} for r in rows if r.tag},
        )

    def _rows_reordered(self, group: Sequence[int], share: Mapping[str, float]) -> Iterator[float]:
        """Log weights, beside that of nothing, of rows that were written in another order than handled."""
        for visit in group:
            orders = {name: one for name, one in self.seen.get(visit, {}).items() if not one.holds}
            if len(orders) > 1:
                n = max(one.n for one in orders.values())
                gained = sum(
                    _log_other_orders(one.n) - math.log(1 - share[name]) for name, one in orders.items()
                )
                yield math.log(self.limit("reordered")) - _log_other_orders(n) + gained

    def _crossings_of(self, visit: int) -> Iterator[tuple[Crossing, float]]:
        """Ways to put the codes of a visit back, with the share of each among all crossings of a visit."""
        rows = self.visits[visit]
        fields: tuple[Field, ...] = ("ring", "tag")
        rates = sum(self.case.share(f"rates.{field}") for field in fields)
        for field in fields:
            of = self.case.share(f"rates.{field}") / rates
            held = [row for row in rows if _code(row, field)]
            codes = tuple(_code(row, field) for row in held)
            if len(held) < 2 or len(set(codes)) < len(codes):  # noqa: PLR2004 - it takes two to change places
                continue
            ways = {self._by_pairs(visit, held, field), *self._by_orders(visit, held, field)}
            ways |= {(*codes[1:], codes[0]), (codes[-1], *codes[:-1])}
            odd = [k for k, row in enumerate(held) if self._odd(row) or self._odd_event(row)]
            for one, two in combinations(odd, 2):
                turned = list(codes)
                turned[one], turned[two] = codes[two], codes[one]
                ways.add(tuple(turned))
            for way in self._counted(visit, held, field):
                meant = _changed(held, codes, way)
                yield Crossing(visit, field, meant, "counted"), of * self.limit("counted_on") / len(held)
            for way in sorted(ways):
                if way and way != codes and sorted(way) == sorted(codes):
                    prior, how = self._share_of(codes, way)
                    yield Crossing(visit, field, _changed(held, codes, way), how), of * prior

    def _counted(self, visit: int, held: Sequence[_Row], field: Field) -> Iterator[tuple[str, ...]]:
        """Codes as the other visits have them, where those typed count on by one from the row above."""
        by_ring, by_tag = self.pairs
        codes = [_code(row, field) for row in held]
        for start in range(len(held) - 1):
            end = start + 1
            while (
                end < len(held)
                and held[end].place == held[end - 1].place + 1
                and codes[end] == next_code(codes[end - 1])
            ):
                end += 1
            way = list(codes)
            for k in range(start + 1, end):
                known = by_ring[held[k].ring] if field == "tag" else by_tag[held[k].tag]
                elsewhere = [code for code, where in known.items() if where - {visit}]
                if len(elsewhere) == 1 and (field == "tag" or self._of_a_string(elsewhere[0])):
                    way[k] = elsewhere[0]
            if way != codes and len(set(way)) == len(way):
                yield tuple(way)

    def _of_a_string(self, ring: str) -> bool:
        """Whether a ring stands beside another on its string: one that came from nowhere was not meant."""
        return any(near in self.rings.used for near in self.neighbours(ring))

    def _by_pairs(self, visit: int, held: Sequence[_Row], field: Field) -> tuple[str, ...]:
        """Codes as the other visits have them; what is left over goes where there is room, in order."""
        by_ring, by_tag = self.pairs
        codes = [_code(row, field) for row in held]
        wanted: list[str] = []
        for row in held:
            known = by_ring[row.ring] if field == "tag" else by_tag[row.tag]
            elsewhere = [code for code, where in known.items() if where - {visit} and code in codes]
            wanted.append(elsewhere[0] if len(elsewhere) == 1 else "")
        if len(set(filter(None, wanted))) < sum(map(bool, wanted)):
            return ()
        for k, row in enumerate(held):
            if not wanted[k] and _code(row, field) not in wanted:
                wanted[k] = _code(row, field)
        left = [code for code in codes if code not in wanted]
        return tuple(code or left.pop(0) for code in wanted)

    def _by_orders(self, visit: int, held: Sequence[_Row], field: Field) -> Iterator[tuple[str, ...]]:
        """Codes sorted as the reader stored them, or as the string runs."""
        codes = [_code(row, field) for row in held]
        if field == "tag" and self.book is not None:
            day = self.day_of(visit)
            place = {code: self.book.read_place.get((day, code)) for code in codes}
            yield _sorted_known(codes, place)
        if field == "ring":
            for first in (True, False):
                place = {
                    _code(row, field): self.serial[row.ring][1]
                    for row in held
                    if row.ring in self.serial and bool(self.rings.first[row.place]) == first
                }
                yield _sorted_known(codes, place)

    def _share_of(self, codes: tuple[str, ...], way: tuple[str, ...]) -> tuple[float, How]:
        """Share of one way of crossing among all in a visit of this size, and what it is."""
        n = len(codes)
        moved = [k for k in range(n) if codes[k] != way[k]]
        if len(moved) == 2:  # noqa: PLR2004 - a pair
            return self.limit("crossed_pair") / math.comb(n, 2), "exchanged"
        run = moved[-1] - moved[0] + 1 == len(moved)
        part, turned = codes[moved[0] : moved[-1] + 1], way[moved[0] : moved[-1] + 1]
        if run and turned in ((*part[1:], part[0]), (part[-1], *part[:-1])):
            if len(moved) == n:
                return self.limit("slid_whole") / 2, "slid"
            return self.limit("slid_part") / (math.comb(n, 2) * 2), "slid"
        return self.limit("crossed_otherwise") / math.factorial(n), "exchanged"


def _clusters(run: Sequence[int], reach: int) -> list[list[int]]:
    """Part numbers where their string has a gap, as before an old ring; each part in the order given."""
    ordered = sorted(run)
    starts = [ordered[0]] + [after for number, after in pairwise(ordered) if after - number > reach]
    parts: list[list[int]] = [[] for _ in starts]
    for number in run:
        parts[bisect_right(starts, number) - 1].append(number)
    return parts


def _order_of(run: Sequence[int]) -> _Order:
    ordered = sorted(run)
    moved = [k for k, number in enumerate(run) if number != ordered[k]]
    part = list(run[moved[0] : moved[-1] + 1]) if moved else []
    turned = sorted(part)
    pair = len(moved) == 2  # noqa: PLR2004 - two that changed places
    near = pair or part in ([*turned[1:], *turned[:1]], [*turned[-1:], *turned[:-1]])
    return _Order(not moved, len(run), near)


def _changed(held: Sequence[_Row], codes: Sequence[str], way: Sequence[str]) -> tuple[tuple[int, str], ...]:
    return tuple(
        (row.place, code) for row, code, typed in zip(held, way, codes, strict=True) if code != typed
    )


def next_code(code: str) -> str:
    """Count a code on by one, as a spreadsheet does where a cell is drawn down; empty without digits."""
    stem, digits = split_ring(code)
    return join_ring(stem, int(digits) + 1, len(digits)) if digits else ""


def _code(row: _Row, field: Field) -> str:
    return row.ring if field == "ring" else row.tag


def _sorted_known(codes: Sequence[str], place: Mapping[str, int | None]) -> tuple[str, ...]:
    """Sort those codes whose place is known among their own cells."""
    known = sorted((code for code in codes if place.get(code) is not None), key=lambda code: place[code] or 0)
    return tuple(code if place.get(code) is None else known.pop(0) for code in codes)


def _put_back(rows: Sequence[_Row], crossing: Crossing) -> tuple[_Row, ...]:
    meant = dict(crossing.meant)
    return tuple(
        row
        if row.place not in meant
        else _Row(row.place, meant[row.place], row.tag)
        if crossing.field == "ring"
        else _Row(row.place, row.ring, meant[row.place])
        for row in rows
    )


def _contradictions(
    visits: Iterable[Sequence[_Row]], outside: tuple[Mapping[str, set[str]], Mapping[str, set[str]]]
) -> int:
    """Count the tags too many of all rings, and the rings too many of all tags."""
    tags = {ring: set(found) for ring, found in outside[0].items()}
    rings = {tag: set(found) for tag, found in outside[1].items()}
    for rows in visits:
        for row in rows:
            if row.ring and row.tag:
                tags.setdefault(row.ring, set()).add(row.tag)
                rings.setdefault(row.tag, set()).add(row.ring)
    return sum(max(len(found) - 1, 0) for side in (tags, rings) for found in side.values())


def _log_other_orders(n: int) -> float:
    """Log of the number of orders of n things but for one."""
    return math.log(math.factorial(n) - 1)


# --- saying it


def blame_crossing(case: Case, rings: Ringings, book: TagBook | None, verdict: Verdict) -> Finding:
    """Blame the cells of one crossing together, and those of another that is as likely."""
    first = verdict.likely[0][0]
    written = rings.written

    def shown(field: Field, code: str) -> str:
        return written.get(code, code) if field == "ring" else book.printed(code) if book else code

    suspects: dict[tuple[int, Field], At] = {}
    others: dict[tuple[int, Field], list[tuple[object, float]]] = defaultdict(list)
    for crossing, p in verdict.likely:
        for place, code in crossing.meant:
            meant = shown(crossing.field, code)
            others[place, crossing.field].append((meant, p))
            suspects.setdefault(
                (place, crossing.field), At(str(rings.labels[place]), crossing.field, meant, p, p)
            )
    p_of = {
        cell: sum(
            p for crossing, p in verdict.likely if cell[1] == crossing.field and cell[0] in crossing.rows
        )
        for cell in suspects
    }
    witnesses = [(str(rings.labels[place]), "tag" if book else "ring") for place in verdict.others]
    outcome = first.how if first.field == "tag" else f"rings_{first.how}"
    return case.blame(
        outcome,
        [
            At(at.label, at.field, at.suggested, min(p_of[cell], 1.0), at.p_fix, others[cell])
            for cell, at in suspects.items()
        ],
        _says(rings, verdict),
        witnesses,
    )


def _says(rings: Ringings, verdict: Verdict) -> str:
    first = verdict.likely[0][0]
    rows = sorted(first.rows)
    day = _day(rings, rows[0])
    fields = {crossing.field for crossing, _ in verdict.likely}
    both = " or ".join(f"the {field}s" for field in ("tag", "ring") if field in fields)
    against = _against(rings, verdict)
    if first.how != "exchanged":
        low, high = rings.labels[rows[0]].rpartition("!")[2], rings.labels[rows[-1]].rpartition("!")[2]
        rows_named = f"rows {low} to {high}" if low != high else f"row {low}"
        if first.how == "counted":
            return (
                f"On {day} {both} of {rows_named} count on by one from the row above, against {against}: "
                "a cell was probably drawn down."
            )
        return (
            f"On {day} {both} of {rows_named} stand one row too high or too low, "
            f"compared with {against}: the column has probably slid."
        )
    names = " and ".join(sorted(str(rings.ring[place]) for place in rows))
    if not all(rings.ring[place] for place in rows):
        names = f"of rows {' and '.join(rings.labels[place].rpartition('!')[2] for place in rows)}"
    if first.field == "tag":
        says = f"On {day} the birds {names} have each other's tags"
    else:
        says = f"On {day} the rings {names} stand in each other's rows"
    return f"{says}, compared with {against}: {both} were probably exchanged."


def _against(rings: Ringings, verdict: Verdict) -> str:
    first = verdict.likely[0][0]
    if verdict.by_order == "read":
        return "the order in which the reader stored them"
    if verdict.by_order:
        return _ORDERS_SAID[verdict.by_order]
    day = _day(rings, min(first.rows))
    other = next((_day(rings, place) for place in verdict.others if _day(rings, place) != day), "")
    what = "those" if first.field == "tag" else "their tags"
    return f"{what} on {other}" if other else f"{what} at another visit"


def _day(rings: Ringings, place: int) -> str:
    return str(np.datetime64(int(rings.day[place]), "D"))
