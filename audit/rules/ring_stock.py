"""Was every ring in stock? Every ring of the season comes from a string that was issued to the team."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.initials import hands_of
from audit.rules.case import At
from audit.rules.expected_rings import mend_ring
from audit.rules.heeded import RINGINGS, together
from audit.rules.issued.in_stock import near_in_stock
from audit.rules.issued.losses import ask_of_losses
from audit.rules.issued.overlaps import ask_of_overlaps
from audit.rules.issued.strings import ask_of_strings, explained_rows
from audit.rules.ringings import ringings_of
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.stock import IssuedString

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare the rings used with the strings issued and the rings lost."""
    rings = ringings_of(case)
    yield from ask_of_strings(case, rings)
    yield from ask_of_overlaps(case, rings)
    yield from ask_of_losses(case, rings)
    if not rings.stock:
        yield case.not_run("not_issued", "no table 'ring_stock' with first and last ring")
        return
    told = rings.first & (rings.serial >= 0) & (rings.event != "re-encountered")
    rows = np.flatnonzero(told).tolist()
    holder = {i: rings.string_at((rings.key[i], int(rings.serial[i]))) for i in rows}
    explained = explained_rows(case, rings)
    from_stock = sum(string is not None or i in explained for i, string in holder.items())
    if from_stock < case.limit("share_from_stock") * len(rows):
        yield case.not_run(
            "not_issued",
            f"only {from_stock} of {len(rows)} rings put on are in the stock: the list is not complete",
        )
    else:
        for i in rows:
            if holder[i] is None and rings.event[i] == "ringed" and i not in explained:
                yield _not_issued(case, rings, i)
    yield from _before_issue(case, rings, holder)
    yield from _other_ringer(case, rings, holder)


def _not_issued(case: Case, rings: Ringings, i: int) -> Finding:
    text = str(rings.ring[i])
    mend = mend_ring(rings, i, text, two=True)
    near = [] if mend else near_in_stock(rings, text, case.setting("ledger.longest"))
    suggested = mend.ring if mend else near[0] if len(near) == 1 else ""
    others = [] if suggested else case.evenly("not_issued", near)
    away = "two slips" if mend and mend.kind == "two" else "one slip"
    clause = f": {suggested} is {away} away, in stock and on no other bird" if suggested else ""
    message = f"Ring {text} is in none of the {len(rings.stock)} strings issued{clause}."
    at = At(str(rings.labels[i]), "ring", suggested, others=others)
    return case.blame("not_issued", [at], message)


def _before_issue(case: Case, rings: Ringings, holder: dict[int, IssuedString | None]) -> Iterator[Finding]:
    """Ask about strings of which rings were put on before they were issued."""
    early: dict[str, list[int]] = {}
    for i, string in holder.items():
        since = None if string is None else string.issued_day
        if string is not None and since is not None and rings.visit[i] >= 0 and rings.day[i] < since:
            early.setdefault(string.label, []).append(i)
    strings = {string.label: string for string in rings.stock}
    for label, rows in early.items():
        string = strings[label]
        issued = string.issued.date().isoformat() if string.issued is not None else ""
        names = ", ".join(str(rings.ring[i]) for i in rows)
        message = f"The string {string} was issued on {issued}, but {names} was used before."
        witnesses = [(str(rings.labels[i]), "date") for i in rows]
        users = [j for j, other in holder.items() if other is string]
        if len(rows) * 2 > len(users):
            yield case.blame("before_issue", [At(label, "issued")], message, witnesses)
            continue
        suspects = [At(str(rings.labels[i]), "date") for i in rows]
        yield case.blame("before_issue", suspects, message, [(label, "issued")])


def _held_by(rings: Ringings, ringer: str) -> frozenset[str]:
    """Find the strings of a ringer, by label; a rest handed on is in two strings."""
    hands = {ringer.casefold(), *hands_of(ringer)}
    return frozenset(
        string.label
        for string in rings.stock
        if string.holder.casefold() in hands or not hands.isdisjoint(hands_of(string.holder))
    )


def _other_ringer(case: Case, rings: Ringings, holder: dict[int, IssuedString | None]) -> Iterator[Finding]:
    """Ask who put a ring on that belongs to another ringer, where most rings are put on by their holders."""
    if not case.season.has("handlings", "ringer"):
        return
    ringer = case.frame("handlings")["ringer"].fillna("").to_numpy(dtype=object)
    held = [(i, s) for i, s in holder.items() if s and s.holder and ringer[i]]
    own = {name: _held_by(rings, name) for name in dict.fromkeys(str(ringer[i]) for i, _ in held)}

    def elsewhere(i: int) -> bool:
        """Whether a ring is on no string of who put it on."""
        beside = rings.strings.get(rings.key[i], ())
        return own[str(ringer[i])].isdisjoint(
            string.label for string in beside if string.spans(int(rings.serial[i]))
        )

    odd = [(i, s) for i, s in held if s.label not in own[str(ringer[i])] and elsewhere(i)]
    if len(odd) > (1 - case.limit("holders_share")) * len(held):
        return
    for i, string in odd:
        message = f"Ring {rings.ring[i]} belongs to the string of {string.holder}, but {ringer[i]} put it on."
        yield case.blame("other_ringer", [At(str(rings.labels[i]), "ringer")], message)


RULE = Rule(
    "ring_stock",
    {"handlings": ("ring", "box", "date")},
    check,
    heeds=together(RINGINGS, {"ring_losses": ("fate", "date")}),
)
