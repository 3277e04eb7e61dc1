"""Visits that contradict each other or the order of things, and what probably happened there."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.rules.crossed.laid_out import lay_out_visits
from audit.rules.crossed.orders import ORDERS, log_other_orders
from audit.rules.crossed.slips import slips_among, slips_of
from audit.rules.crossed.visit_rows import contradictions, put_back
from audit.rules.crossed.ways_back import ways_back

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.rules.case import Case
    from audit.rules.crossed.laid_out import LaidOut
    from audit.rules.crossed.visit_rows import Crossing, VisitRow
    from audit.rules.ring_rows import Ringings
    from audit.rules.tag_book import TagBook

__all__ = ["Verdict", "crossings"]


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
    return list(_verdicts(lay_out_visits(case, rings, book)))


def _verdicts(laid: LaidOut) -> Iterator[Verdict]:
    done: set[int] = set()
    for visit in _doubtful(laid):
        if visit in done:
            continue
        group = laid.pairs.group(visit)
        done |= group
        verdict = _judge(laid, sorted(group))
        if verdict is not None:
            yield verdict


def _doubtful(laid: LaidOut) -> list[int]:
    found = []
    event = [str(one) for one in laid.rings.event.tolist()]
    for visit, rows in laid.visits.items():
        odd = sum(laid.pairs.is_odd(row) for row in rows)
        broken = [name for name, one in laid.orders.seen.get(visit, {}).items() if not one.holds]
        strange = any(
            laid.orders.habits[name][1] >= laid.limit("habit_least")
            and laid.orders.in_order(name, [visit]) >= laid.limit("habit_from")
            for name in broken
        )
        events = {event[row.place] for row in rows}
        if len(events) > 1:
            events = {event[row.place] for row in rows if laid.events.is_odd(row)}
        if odd > 1 or strange or len(events) > 1:
            found.append(visit)
    return found


def _judge(laid: LaidOut, group: list[int]) -> Verdict | None:
    if len(group) > laid.limit("visits_most"):
        return None
    share = {name: laid.orders.in_order(name, group) for name in ORDERS}
    state = {visit: laid.visits[visit] for visit in group}
    outside = laid.pairs.outside(group)
    crossed = math.log(laid.case.share("rates.rows_crossed"))
    broken_pair = math.log(laid.limit("pair_broken"))

    odd_event = math.log(laid.limit("odd_event"))

    def alone(visit: int, rows: Sequence[VisitRow]) -> float:
        """Weigh the orders and events of one visit."""
        order = laid.orders.log_chance(laid.orders.of_rows(visit, rows), share)
        return order + odd_event * sum(laid.events.is_odd(row) for row in rows)

    said = {visit: alone(visit, rows) for visit, rows in state.items()}

    def weight(changed: Mapping[int, tuple[VisitRow, ...]]) -> float:
        told = sum(said[v] if rows is state[v] else alone(v, rows) for v, rows in changed.items())
        return told + broken_pair * contradictions(changed.values(), outside)

    nothing = weight(state)
    accounts: list[tuple[Crossing | None, float]] = [(None, nothing)]
    accounts += [(None, nothing + other) for other in _rows_reordered(laid, group, share)]
    bare_contradictions = contradictions(state.values(), outside)
    accounts += [(None, chance + weight(changed)) for changed, chance in slips_among(laid, state)]
    for visit in group:
        for crossing, prior in ways_back(laid, visit):
            changed = {**state, visit: put_back(laid.visits[visit], crossing)}
            accounts.append((crossing, crossed + math.log(prior) + weight(changed)))
        for crossing, chance in slips_of(laid, visit):
            changed = {**state, visit: put_back(laid.visits[visit], crossing)}
            accounts.append((crossing, chance + weight(changed)))
    likely = _likely(laid, accounts)
    if not likely:
        return None
    first = likely[0][0]
    after = contradictions(
        {**state, first.visit: put_back(laid.visits[first.visit], first)}.values(), outside
    )
    by_order, seen = "", laid.orders.seen.get(first.visit, {})
    if after >= bare_contradictions:
        by_order = next((name for name in ORDERS if name in seen and not seen[name].holds), "events")
    blamed = {place for crossing, _ in likely for place in crossing.rows}
    others = tuple(
        row.place
        for v in group
        for row in laid.visits[v]
        if row.place not in blamed and laid.pairs.is_odd(row)
    )
    return Verdict(likely, others, by_order)


def _likely(
    laid: LaidOut, accounts: Sequence[tuple[Crossing | None, float]]
) -> tuple[tuple[Crossing, float], ...]:
    """Choose the visit that is likeliest wrong, or two, and what is likeliest there, if anything is."""
    top = max(weight for _, weight in accounts)
    total = sum(math.exp(weight - top) for _, weight in accounts)
    shares = [(c, math.exp(weight - top) / total) for c, weight in accounts if c is not None]
    if sum(p for _, p in shares) < laid.limit("cross_from"):
        return ()
    visits: dict[int, float] = defaultdict(float)
    for crossing, p in shares:
        visits[crossing.visit] += p
    as_likely = laid.limit("as_likely")
    leading = sorted(visits, key=lambda visit: (-visits[visit], -visit))
    enough = laid.limit("visit_as_likely") * visits[leading[0]]
    leading = [visit for visit in leading[:2] if visits[visit] >= enough]
    found: list[tuple[Crossing, float]] = []
    for visit in leading:
        here = sorted((one for one in shares if one[0].visit == visit), key=lambda one: -one[1])
        found += [one for one in here[:2] if one[1] >= as_likely * here[0][1]]
    found.sort(key=lambda one: -one[1])
    return tuple(found) if found and found[0][1] >= laid.limit("cross_least") else ()


def _rows_reordered(laid: LaidOut, group: Sequence[int], share: Mapping[str, float]) -> Iterator[float]:
    """Log weights, beside that of nothing, of rows that were written in another order than handled."""
    for visit in group:
        orders = {name: one for name, one in laid.orders.seen.get(visit, {}).items() if not one.holds}
        if len(orders) > 1:
            n = max(one.n for one in orders.values())
            gained = sum(log_other_orders(one.n) - math.log(1 - share[name]) for name, one in orders.items())
            yield math.log(laid.limit("reordered")) - log_other_orders(n) + gained
