"""Was every ring in stock? Every ring of the season comes from a string that was issued to the team."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from audit.models.initials import hands_of
from audit.models.ring_number import CLAUSES, bare, join_ring
from audit.models.spelling import one_slip_apart
from audit.rules.case import At
from audit.rules.expected_rings import mend_ring
from audit.rules.heeded import RINGINGS, together
from audit.rules.loss_accounts import losses_of
from audit.rules.ringings import ringings_of
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import pandas as pd

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.loss_accounts import Account, Loss, Losses
    from audit.rules.ring_rows import Key, Ringings
    from audit.rules.stock import IssuedString

__all__ = ["RULE"]

#: Slips that keep the number of digits.
_SAME_LENGTH = ("changed", "exchanged")


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare the rings used with the strings issued and the rings lost."""
    rings = ringings_of(case)
    yield from _strings(case, rings)
    yield from _overlaps(case, rings)
    yield from _lost(case, rings)
    if not rings.stock:
        yield case.not_run("not_issued", "no table 'ring_stock' with first and last ring")
        return
    told = rings.first & (rings.serial >= 0) & (rings.event != "re-encountered")
    rows = np.flatnonzero(told).tolist()
    holder = {i: _string_of(rings, rings.key[i], int(rings.serial[i])) for i in rows}
    explained = _explained(case, rings)
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


def _string_of(rings: Ringings, key: Key, serial: int) -> IssuedString | None:
    return next((string for string in rings.strings.get(key, ()) if string.spans(serial)), None)


def _strings(case: Case, rings: Ringings) -> Iterator[Finding]:
    for string in rings.stock:
        if string.fault:
            yield _fault(case, rings, string)
            continue
        yield from _length(case, rings, string)


def _fault(case: Case, rings: Ringings, string: IssuedString) -> Finding:
    meant = _usual_ends(string, rings.string_length)
    fitting = {name: ring for name, ring in meant.items() if _needed(case, rings, string, name)}
    if len(fitting) == 1:
        ((name, ring),) = fitting.items()
        message = (
            f"This string {string.fault}: with {ring} as its {name} ring it would have the rings put on."
        )
        suspects = [At(string.label, name, _as_written(case, string, name, ring), case.limit("p_end"))]
        return case.blame("string_fault", suspects, message)
    half = [At(string.label, name) for name in ("first", "last")]
    return case.blame("string_fault", half, f"This string {string.fault}.")


def _needed(case: Case, rings: Ringings, string: IssuedString, name: str) -> bool:
    """Whether rings were put on that a faulty string would have if one of its ends were another."""
    low, high = _spans(string, rings.string_length)[name]
    least: int = case.limit("outside_least")
    return len(_without_string(rings, string.key, low, high)) >= least


def _spans(string: IssuedString, usual: int) -> dict[str, tuple[int, int]]:
    """First and last number of a string of the usual length that keeps one of its ends."""
    return {
        "first": (string.last - usual + 1, string.last),
        "last": (string.first, string.first + usual - 1),
    }


def _length(case: Case, rings: Ringings, string: IssuedString) -> Iterator[Finding]:
    """Ask about a string that is longer than usual, or shorter while the rest was put on too."""
    length, usual = string.last - string.first + 1, rings.string_length
    meant = _usual_ends(string, usual)
    if length < usual:
        # a part is innocent as long as nobody puts the other one on
        yield from _rest_in_use(case, rings, string, meant)
        return
    # a multiple may be several strings in one row
    if length == usual or not length % usual:
        return
    # an end that would cut rings off that were put on is right as it stands
    cut = {
        "first": (string.first, string.last - usual),
        "last": (string.first + usual, string.last),
    }
    meant = {name: ring for name, ring in meant.items() if not _used_in(rings, string.key, *cut[name])}
    message = f"The string {string} has {length} rings; strings have {usual}"
    if not meant:
        yield case.blame("string_length", [At(string.label, "last")], f"{message}.")
        return
    share = case.limit("p_end") / len(meant)
    clause = " or ".join(f"the {name} one is one slip away from {ring}" for name, ring in meant.items())
    suspects = [
        At(string.label, name, _as_written(case, string, name, ring), share, share)
        for name, ring in meant.items()
    ]
    yield case.blame("string_end", suspects, f"{message}, and {clause}.")


def _explained(case: Case, rings: Ringings) -> frozenset[int]:
    """Rows whose rings would be in a string but for a slip in one of its ends."""
    found: set[int] = set()
    for string in rings.stock:
        if string.fault:
            for span in _spans(string, rings.string_length).values():
                found.update(_without_string(rings, string.key, *span))
        elif string.last - string.first + 1 < rings.string_length:
            for name in _usual_ends(string, rings.string_length):
                used = _without_string(rings, string.key, *_rest(string, rings.string_length)[name])
                found.update(used if len(used) >= case.limit("outside_least") else ())
    return frozenset(found)


def _rest(string: IssuedString, usual: int) -> dict[str, tuple[int, int]]:
    """First and last number that a short string lacks, below and above it."""
    return {
        "first": (string.last - usual + 1, string.first - 1),
        "last": (string.last + 1, string.first + usual - 1),
    }


def _usual_ends(string: IssuedString, usual: int) -> dict[str, str]:
    """Find ends one slip away with which a string has the usual number of rings."""
    ends = {
        "first": (string.first, string.last - usual + 1),
        "last": (string.last, string.first + usual - 1),
    }
    found = {}
    for name, (typed, serial) in ends.items():
        ring = join_ring(string.stem, max(serial, 0), string.width)
        if serial >= 0 and one_slip_apart(ring, join_ring(string.stem, typed, string.width)) in _SAME_LENGTH:
            found[name] = ring
    return found


def _rest_in_use(
    case: Case, rings: Ringings, string: IssuedString, meant: dict[str, str]
) -> Iterator[Finding]:
    usual = rings.string_length
    rest = _rest(string, usual)
    for name, ring in meant.items():
        used = _without_string(rings, string.key, *rest[name])
        if len(used) < case.limit("outside_least"):
            continue
        message = (
            f"{len(used)} rings from {rings.ring[used[0]]} to {rings.ring[used[-1]]} were put on and are in "
            f"no string: with {ring} as its {name} ring the string {string} would have {usual}."
        )
        p = case.limit("p_end")
        suspects = [At(string.label, name, _as_written(case, string, name, ring), p, p)]
        witnesses = [(str(rings.labels[i]), "ring") for i in dict.fromkeys((used[0], used[-1]))]
        yield case.blame("string_end", suspects, message, witnesses)


def _as_written(case: Case, string: IssuedString, name: str, ring: str) -> str:
    """Write an end as the table does: the prefix may have a column of its own."""
    typed = bare(str(case.frame("ring_stock").loc[string.label, name]))
    return ring if typed.startswith(bare(string.stem)) else ring[-string.width :]


def _used_in(rings: Ringings, key: Key, low: int, high: int) -> list[int]:
    """Rows of rings between two numbers that were put on, by number."""
    rows = rings.of_series.get(key)
    if rows is None:
        return []
    inside = rows[(rings.serial[rows] >= low) & (rings.serial[rows] <= high)]
    return [int(i) for i in inside[np.argsort(rings.serial[inside], kind="stable")]]


def _without_string(rings: Ringings, key: Key, low: int, high: int) -> list[int]:
    """Rows of rings between two numbers that were put on and are in no string, by number."""
    rising = _used_in(rings, key, low, high)
    return [i for i in rising if not rings.issued_at((key, int(rings.serial[i])))]


def _overlaps(case: Case, rings: Ringings) -> Iterator[Finding]:
    """Strings of one series that share rings."""
    by_key: dict[Key, list[IssuedString]] = {}
    for string in rings.stock:
        if not string.fault:
            by_key.setdefault(string.key, []).append(string)
    for key in sorted(by_key):
        reach: IssuedString | None = None
        for string in sorted(by_key[key], key=lambda s: (s.first, -s.last, s.label)):
            if reach is not None and string.first <= reach.last:
                yield _overlap(case, reach, string)
            if reach is None or string.last > reach.last:
                reach = string


def _overlap(case: Case, one: IssuedString, other: IssuedString) -> Finding:
    low, high = other.first, min(one.last, other.last)
    names = [join_ring(one.stem, n, one.width) for n in dict.fromkeys((low, high))]
    rings = f"Ring {names[0]} is" if low == high else f"Rings {names[0]} to {names[-1]} are"
    message = f"{rings} in two strings as issued: {one} and {other}."
    if other.last <= one.last and one.holder.casefold() != other.holder.casefold():
        # the rest of a string may have been handed on to another ringer
        return case.blame("part_twice", [At(other.label, "first")], message, [(one.label, "first")])
    even = case.limit("p_even")
    cells = [(one.label, "last"), (other.label, "first")]
    if one.first == other.first:
        cells = [(one.label, "first"), (other.label, "first")]
    return case.blame("strings_overlap", [At(*cell, "", even) for cell in cells], message)


def _not_issued(case: Case, rings: Ringings, i: int) -> Finding:
    text = str(rings.ring[i])
    mend = mend_ring(rings, i, text, two=True)
    near = [] if mend else _near_in_stock(rings, text, case.setting("ledger.longest"))
    suggested = mend.ring if mend else near[0] if len(near) == 1 else ""
    others = [] if suggested else case.evenly("not_issued", near)
    away = "two slips" if mend and mend.kind == "two" else "one slip"
    clause = f": {suggested} is {away} away, in stock and on no other bird" if suggested else ""
    message = f"Ring {text} is in none of the {len(rings.stock)} strings issued{clause}."
    at = At(str(rings.labels[i]), "ring", suggested, others=others)
    return case.blame("not_issued", [at], message)


def _near_in_stock(rings: Ringings, text: str, longest: int) -> list[str]:
    """Find the unused rings of the stock that are one slip away."""
    near: set[str] = set()
    for string in rings.stock:
        if string.fault or string.last - string.first >= longest:
            continue
        stem = rings.own.get(string.key, string.stem)
        for serial in range(string.first, string.last + 1):
            ring = join_ring(stem, serial, string.width)
            at = (string.key, serial)
            if rings.slip(ring, text) and at not in rings.used and at not in rings.lost:
                near.add(ring)
    return sorted(near)


def _lost(case: Case, rings: Ringings) -> Iterator[Finding]:
    losses = losses_of(case, rings)
    yield from _lost_twice(case, losses)
    for loss, i in losses.used():
        yield _used_after_loss(case, rings, loss, losses.accounts(loss, i), i)
    for loss in losses.all if rings.stock else ():
        string = _string_of(rings, *loss.at)
        if string is None:
            near = _near_in_stock(rings, loss.ring, case.setting("ledger.longest"))
            suggested = near[0] if len(near) == 1 else ""
            others = [] if suggested else case.evenly("loss_not_issued", near)
            message = f"Ring {loss.ring} among the losses is in none of the strings issued."
            yield case.blame("loss_not_issued", [At(loss.label, "ring", suggested, others=others)], message)
        elif string.issued is not None and loss.day is not None and loss.day < _day(string.issued):
            message = (
                f"Ring {loss.ring} was {loss.fate} on {_iso(loss.day)}, before its string was issued "
                f"on {string.issued.date().isoformat()}."
            )
            used = _used_in(rings, string.key, string.first, string.last)
            if any(rings.visit[i] >= 0 and rings.day[i] < _day(string.issued) for i in used):
                # then the day of issue is asked about
                continue
            witnesses = [(string.label, "issued")]
            yield case.blame("loss_before_issue", [At(loss.label, "date")], message, witnesses)


def _lost_twice(case: Case, losses: Losses) -> Iterator[Finding]:
    """Rings that stand more than once among the losses."""
    rows: dict[tuple[Key, int], list[Loss]] = {}
    for loss in losses.all:
        rows.setdefault(loss.at, []).append(loss)
    for same in rows.values():
        if len(same) == 1:
            continue
        fates = sorted({loss.fate for loss in same})
        if len(fates) == 1:
            message = f"Ring {same[0].ring} stands {len(same)} times among the losses, each time {fates[0]}."
            yield case.blame("lost_twice", [At(loss.label, "ring") for loss in same[1:]], message)
            continue
        message = f"Ring {same[0].ring} has more than one fate among the losses: {' and '.join(fates)}."
        share = 1 / len(same)
        yield case.blame("two_fates", [At(loss.label, "ring", "", share) for loss in same], message)


def _used_after_loss(case: Case, rings: Ringings, loss: Loss, accounts: Sequence[Account], i: int) -> Finding:
    used = str(rings.labels[i])
    first = accounts[0]
    said = f"Ring {loss.ring} is on a bird, but the losses say that it was {loss.fate}"
    if first.story == "taken off":
        message = (
            f"Ring {loss.ring} was put on on {_iso(int(rings.day[i]))} and {loss.fate} on "
            f"{_iso(loss.day or 0)}: it was taken off the bird, or one of both is wrong."
        )
        return case.blame("taken_off", [At(loss.label, "ring")], message, [(used, "ring")])
    most = case.limit("p_most")
    in_row = math.fsum(a.p for a in accounts if a.story != "loss")
    in_loss = math.fsum(a.p for a in accounts if a.story == "loss")
    suspects: list[At] = []
    clause = ""
    row = next((a for a in accounts if a.story != "loss"), None)
    line = next((a for a in accounts if a.story == "loss"), None)
    if row and in_row >= case.limit("p_second"):
        clause = _clause(rings, loss, row)
        told = [(j, meant, a.p) for a in accounts if a.story != "loss" for j, meant in a.meant]
        suspects += [
            At(
                str(rings.labels[j]),
                "ring",
                meant,
                min(in_row, most),
                min(row.p, most),
                [(other, p) for k, other, p in told if k == j],
            )
            for j, meant in row.meant
        ]
    if line and in_loss >= case.limit("p_second"):
        others = [(a.instead, a.p) for a in accounts if a.story == "loss"]
        suspects.append(At(loss.label, "ring", line.instead, min(in_loss, most), min(line.p, most), others))
        if len(suspects) > 1:
            meant = line.instead or row.meant[-1][1] if row else line.instead
            clause = f"one of both is wrong{f', and {meant} is on no bird' if meant else ''}"
        elif line.instead:
            clause = f"the line in the losses is one slip away from {line.instead}, which is on no bird"
    suspects.sort(key=lambda at: -(at.p_error or 0))
    blamed = {at.label for at in suspects}
    witnesses = [(label, "ring") for label in (used, loss.label) if label not in blamed]
    return case.blame("used_after_loss", suspects, f"{said}{f': {clause}' if clause else ''}.", witnesses)


def _clause(rings: Ringings, loss: Loss, account: Account) -> str:
    """Say what was probably done to the rows."""
    meant = account.meant[-1][1]
    if account.story == "counted":
        rows = "the ring of this row" if len(account.meant) == 1 else f"{len(account.meant)} rings"
        return f"{rows} probably counted on over it, since {meant} is on no bird"
    return f"{CLAUSES[rings.slip(meant, loss.ring)]} from {meant}" if meant else ""


def _day(when: pd.Timestamp) -> int:
    return int(np.datetime64(when, "D").astype(np.int64))


def _iso(day: int) -> str:
    return str(np.datetime64(day, "D"))


def _before_issue(case: Case, rings: Ringings, holder: dict[int, IssuedString | None]) -> Iterator[Finding]:
    early: dict[str, list[int]] = {}
    for i, string in holder.items():
        if string is None or string.issued is None or rings.visit[i] < 0:
            continue
        if rings.day[i] < _day(string.issued):
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
