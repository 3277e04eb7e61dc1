"""Was every ring in stock? Every ring of the season comes from a string that was issued to the team."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models.ring_number import bare, join_ring, split_ring
from audit.rules.case import At
from audit.rules.heeded import RINGINGS, together
from audit.rules.ringings import Ringings, ringings_of
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.ringings import Key
    from audit.rules.stock import IssuedString

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare the rings used with the strings issued and the rings lost."""
    rings = ringings_of(case)
    yield from _strings(case, rings)
    yield from _lost(case, rings)
    if not rings.stock:
        yield case.not_run("not_issued", "no table 'ring_stock' with first and last ring")
        return
    told = rings.first & (rings.serial >= 0) & (rings.event != "re-encountered")
    rows = np.flatnonzero(told).tolist()
    holder = {i: _string_of(rings, rings.key[i], int(rings.serial[i])) for i in rows}
    from_stock = sum(string is not None for string in holder.values())
    if from_stock < case.limit("share_from_stock") * len(rows):
        yield case.not_run(
            "not_issued",
            f"only {from_stock} of {len(rows)} rings put on are in the stock: the list is not complete",
        )
    else:
        for i in rows:
            if holder[i] is None and rings.event[i] == "ringed":
                yield _not_issued(case, rings, i)
    yield from _before_issue(case, rings, holder)
    yield from _other_ringer(case, rings, holder)


def _string_of(rings: Ringings, key: Key, serial: int) -> IssuedString | None:
    return next((string for string in rings.stock if string.holds(key, serial)), None)


def _strings(case: Case, rings: Ringings) -> Iterator[Finding]:
    for string in rings.stock:
        if string.fault:
            half = [At(string.label, name) for name in ("first", "last")]
            yield case.blame("string_fault", half, f"This string {string.fault}.")
            continue
        length = string.last - string.first + 1
        usual = rings.string_length
        if length > usual and length % usual:
            # a shorter one may be what is left of a string, a multiple may be several strings in one row
            message = f"The string {string} has {length} rings; strings have {usual}."
            yield case.blame("string_length", [At(string.label, "last")], message)


def _not_issued(case: Case, rings: Ringings, i: int) -> Finding:
    text = str(rings.ring[i])
    mend = rings.mend(i, text, two=True)
    suggested = mend.ring if mend else _near_in_stock(rings, text)
    away = "two slips" if mend and mend.kind == "two" else "one slip"
    clause = f": {suggested} is {away} away, in stock and on no other bird" if suggested else ""
    message = f"Ring {text} is in none of the {len(rings.stock)} strings issued{clause}."
    return case.blame("not_issued", [At(str(rings.labels[i]), "ring", suggested)], message)


def _near_in_stock(rings: Ringings, text: str) -> str:
    """Find the only unused ring of the stock that is one slip away."""
    near: set[str] = set()
    for string in rings.stock:
        stem = rings.own.get(string.key, string.stem)
        for serial in () if string.fault else range(string.first, string.last + 1):
            ring = join_ring(stem, serial, string.width)
            at = (string.key, serial)
            if rings.slip(ring, text) and at not in rings.used and at not in rings.lost:
                near.add(ring)
    return near.pop() if len(near) == 1 else ""


def _lost(case: Case, rings: Ringings) -> Iterator[Finding]:
    if not case.season.has("ring_losses", "ring"):
        return
    losses = case.sure("ring_losses")
    fates = losses["fate"].fillna("lost") if "fate" in losses.columns else ["lost"] * len(losses)
    for label, ring, fate in zip(losses.index, losses["ring"], fates, strict=True):
        if pd.isna(ring):
            continue
        stem, digits = split_ring(str(ring))
        if not digits:
            continue
        at = ((bare(stem), len(digits)), int(digits))
        for i in rings.used.get(at, ())[:1]:
            mend = rings.mend(i, str(rings.ring[i]))
            message = f"Ring {ring} is on a bird, but the losses say that it was {fate}"
            message += f": {mend.clause} from {mend.ring}." if mend and not rings.at_home[i] else "."
            used = str(rings.labels[i])
            if mend and not rings.at_home[i]:
                suspects = [At(used, "ring", mend.ring, case.limit("p_mended"))]
                yield case.blame("used_after_loss", suspects, message, [(str(label), "ring")])
            elif rings.at_home[i]:
                meant = _near_gap(rings, str(ring))
                suspects = [At(str(label), "ring", meant)]
                yield case.blame("used_after_loss", suspects, message, [(used, "ring")])
            else:
                half = case.limit("p_even")
                suspects = [At(used, "ring", "", half), At(str(label), "ring", "", half)]
                yield case.blame("used_after_loss", suspects, message)
        if rings.stock and _string_of(rings, *at) is None:
            suggested = _near_in_stock(rings, str(ring))
            message = f"Ring {ring} among the losses is in none of the strings issued."
            yield case.blame("loss_not_issued", [At(str(label), "ring", suggested)], message)


def _near_gap(rings: Ringings, text: str) -> str:
    """Find the only missing number between two used ones that is one slip away."""
    near = {
        join_ring(rings.own[key], serial + 1, key[1])
        for key, serial in rings.used
        if key in rings.own
        and (key, serial + 1) not in rings.used
        and (key, serial + 2) in rings.used
        and rings.slip(join_ring(rings.own[key], serial + 1, key[1]), text)
    }
    return near.pop() if len(near) == 1 else ""


def _before_issue(case: Case, rings: Ringings, holder: dict[int, IssuedString | None]) -> Iterator[Finding]:
    early: dict[str, list[int]] = {}
    for i, string in holder.items():
        if string is None or string.issued is None or rings.visit[i] < 0:
            continue
        if rings.day[i] < np.datetime64(string.issued, "D").astype(np.int64):
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


def _other_ringer(case: Case, rings: Ringings, holder: dict[int, IssuedString | None]) -> Iterator[Finding]:
    if not case.season.has("handlings", "ringer"):
        return
    ringer = case.frame("handlings")["ringer"].fillna("").to_numpy(dtype=object)
    held = [(i, s) for i, s in holder.items() if s and s.holder and ringer[i]]
    odd = [(i, s) for i, s in held if str(ringer[i]).casefold() != s.holder.casefold()]
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
