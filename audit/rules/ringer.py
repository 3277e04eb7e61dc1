"""Did the ringer of a row do the others of its visit? Two may share a visit: the season tells how often."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.initials import hands_of
from audit.models.sequence import slot_of
from audit.models.spelling import one_slip_apart
from audit.rules.case import At
from audit.rules.heeded import RINGINGS
from audit.rules.ringings import ringings_of
from audit.rules.rule import Rule
from audit.rules.sheet_order import NO_DAY

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

    Hands = NDArray[np.object_]

__all__ = ["RULE"]


@dataclass(frozen=True, slots=True)
class _Team:
    """Who handled which rows, and how often two shared a visit or a day.

    Attributes
    ----------
    hand : ndarray of str
        Initials of each row without case and points; empty where missing, or where two share the row.
    written : mapping of str to str
        How each initials are usually written.
    rows : Counter of str
        Rows with these initials.
    visits, days : mapping to lists of int
        Rows with initials, by visit (day and box) and by day.
    sharing, parting : float
        Share of the visits at which, and of the days on which, two ringers were certainly at work.
    handed_on : bool
        Whether strings go from hand to hand: then the rings beside a ring tell less.
    """

    hand: Hands
    written: Mapping[str, str]
    rows: Counter[str]
    visits: Mapping[tuple[int, str], list[int]]
    days: Mapping[int, list[int]]
    sharing: float
    parting: float
    handed_on: bool


@dataclass(frozen=True, slots=True)
class _Doubt:
    """A row alone with its initials.

    Attributes
    ----------
    row : int
    mates : list of int
        Other rows of the visit.
    others : list of int
        Rows of the day with other initials.
    elsewhere : bool
        Whether the one named here handled other birds that day.
    usual : str
        Initials of the mates, or of the day where there are none.
    """

    row: int
    mates: list[int]
    others: list[int]
    elsewhere: bool
    usual: str


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find rows with the initials of somebody who was probably not there."""
    rings = ringings_of(case)
    team = _team(case, rings)
    if len(team.rows) <= 1:
        yield case.not_run("other_hand", "all rows bear the same initials, or none")
        return
    for (day, box), rows in team.visits.items():
        for doubt in _alone(team, rows, team.days[day]):
            finding = _judge(case, rings, team, doubt, box)
            if finding is not None:
                yield finding


def _team(case: Case, rings: Ringings) -> _Team:
    texts = [str(text) for text in case.sure("handlings")["ringer"].fillna("")]
    hand = _hands(texts)
    spellings: dict[str, Counter[str]] = defaultdict(Counter)
    visits: dict[tuple[int, str], list[int]] = defaultdict(list)
    days: dict[int, list[int]] = defaultdict(list)
    for i, (name, day, box) in enumerate(
        zip(hand.tolist(), rings.day.tolist(), rings.box.tolist(), strict=True)
    ):
        if name:
            spellings[name][texts[i]] += 1
            if day != NO_DAY:
                visits[day, box].append(i)
                days[day].append(i)
    large = [rows for rows in visits.values() if len(rows) > case.limit("others_least")]
    shared = sum(_two_at_work(hand, rows) for rows in large)
    parties: dict[int, set[str]] = defaultdict(set)
    for (day, _), rows in visits.items():
        if len(rows) > 1 and len(set(hand[rows])) == 1:
            parties[day].add(str(hand[rows[0]]))
    parted = sum(len(names) > 1 for names in parties.values())
    return _Team(
        hand=hand,
        written={name: spelled.most_common(1)[0][0] for name, spelled in spellings.items()},
        rows=Counter({name: spelled.total() for name, spelled in spellings.items()}),
        visits=visits,
        days=days,
        sharing=(shared + 1 / 2) / (len(large) + 1),
        parting=(parted + 1 / 2) / (len(days) + 1),
        handed_on=_handed_on(hand, rings),
    )


def _hands(texts: list[str]) -> Hands:
    """Give initials row by row; empty where a cell names several, one of whom is named alone elsewhere."""
    named = {text: hands_of(text) for text in dict.fromkeys(texts)}
    alone = {names[0] for names in named.values() if len(names) == 1}
    hand = {
        text: "" if len(names) > 1 and alone.intersection(names) else "".join(names)
        for text, names in named.items()
    }
    return np.array([hand[text] for text in texts], dtype=object)


def _handed_on(hand: Hands, rings: Ringings) -> bool:
    """Whether several rings of one hundred were put on by one ringer, and the next ones by another."""
    for rows in rings.of_series.values():
        strings: dict[int, list[tuple[int, str]]] = defaultdict(list)
        for i in rows.tolist():
            if hand[i]:
                serial = int(rings.serial[i])
                strings[slot_of(serial, rings.string_length)].append((serial, str(hand[i])))
        for used in strings.values():
            runs = [len(list(run)) for _, run in groupby(name for _, name in sorted(used))]
            if any(min(pair) > 1 for pair in pairwise(runs)):
                return True
    return False


def _two_at_work(hand: Hands, rows: list[int]) -> bool:
    """Whether two ringers have more than one row each."""
    counts = Counter(hand[rows].tolist()).most_common()
    return len(counts) > 1 and counts[1][1] > 1


def _alone(team: _Team, visit: list[int], day: list[int]) -> Iterator[_Doubt]:
    """Rows that alone in their visit, or alone in a box on a day of one other ringer, bear their initials."""
    here = Counter(str(team.hand[i]) for i in visit)
    usual, most = here.most_common(1)[0]
    if len(visit) - most == 1 < most:
        (row,) = [i for i in visit if team.hand[i] != usual]
    elif len(visit) == 1:
        (row,) = visit
    elif len(visit) == 2 and most == 1:  # noqa: PLR2004 - two rows, two ringers
        alone = [i for i in visit if sum(team.hand[j] == team.hand[i] for j in day) == 1]
        if len(alone) != 1:
            return
        (row,) = alone
        usual = str(next(team.hand[j] for j in visit if j != row))
    else:
        return
    name = team.hand[row]
    others = [j for j in day if team.hand[j] != name]
    elsewhere = sum(team.hand[j] == name for j in day) > 1
    mates = [j for j in visit if j != row]
    if not mates:
        names = {str(team.hand[j]) for j in others}
        if len(names) > 1 or not names or elsewhere:
            return
        (usual,) = names
    yield _Doubt(row, mates, others, elsewhere, usual)


def _judge(case: Case, rings: Ringings, team: _Team, doubt: _Doubt, box: str) -> Finding | None:
    """Weigh one slip in the initials against two ringers at work."""
    name = str(team.hand[doubt.row])
    odds = case.share("rates.field") / case.limit("share_of_one")
    if doubt.mates:
        odds *= (len(doubt.mates) + 1) / team.sharing
        absent = case.limit("absent_if_shared")
        there = max(team.parting, case.limit("present_by_slip"))
        odds *= there / (1 - absent) if doubt.elsewhere else 1 / absent
    else:
        odds /= team.parting
    told = _told_by_ring(case, rings, team, doubt)
    once = team.rows[name] == 1 < team.rows[doubt.usual] and bool(one_slip_apart(doubt.usual, name))
    odds *= told * (case.limit("times_near") if once else 1)
    p = odds / (1 + odds)
    many = len(doubt.mates) >= case.limit("others_least")
    if p < case.limit("p_least" if many else "p_least_few") or not (many or told > 1 or once):
        return None
    p = min(p, case.limit("p_most"))
    meant = team.written[doubt.usual]
    return case.blame(
        "initials" if once else "other_hand",
        [At(str(rings.labels[doubt.row]), "ringer", meant, p, p)],
        _sentence(team, doubt, box, by_ring=told > 1),
        [(str(rings.labels[j]), "ringer") for j in doubt.mates or doubt.others],
    )


def _sentence(team: _Team, doubt: _Doubt, box: str, *, by_ring: bool) -> str:
    name = str(team.hand[doubt.row])
    typed, meant = team.written[name], team.written[doubt.usual]
    others = doubt.mates or doubt.others
    where = f"this visit to box {box}" if box and doubt.mates else "this day"
    rows = "the other row" if len(others) == 1 else f"the other {len(others)} rows"
    message = f"{typed} is the ringer of this row alone, {meant} that of {rows} of {where}"
    if by_ring:
        message += f", and the rings next to this one were put on by {meant}"
    elif not doubt.elsewhere:
        message += f", and {typed} handled no other bird that day"
    if team.rows[name] == 1:
        message += f"; {typed} occurs nowhere else"
    return f"{message}."


def _told_by_ring(case: Case, rings: Ringings, team: _Team, doubt: _Doubt) -> float:
    """Say how much likelier the ring is if the others' ringer put it on than if the one named here did.

    Each ringer works through a string of rings, so those just below and above tell whose it is.
    """
    i = doubt.row
    if not rings.first[i] or rings.serial[i] < 0:
        return 1.0
    users = [_next_user(rings, team, i, step) for step in (-1, 1)]
    if str(team.hand[i]) in users:
        return float(case.limit("times_own_string"))
    if users.count(doubt.usual) == len(users) and not team.handed_on:
        return float(case.limit("times_between"))
    return float(case.limit("times_beside")) if doubt.usual in users else 1.0


def _next_user(rings: Ringings, team: _Team, i: int, step: int) -> str:
    """Return the initials with the nearest ring below or above; empty when none is near."""
    for distance in range(1, rings.reach + 1):
        number = int(rings.serial[i]) + step * distance
        for j in rings.used.get((rings.key[i], number), ()):
            if j != i and team.hand[j]:
                return str(team.hand[j])
    return ""


RULE = Rule("ringer", {"handlings": ("date", "box", "ring", "ringer")}, check, heeds=RINGINGS)
