"""Legs: ring and tag on the legs where this season's birds carry them."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.declarations.species import species_index
from audit.rules.case import At
from audit.rules.rule import Rule
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]

_OTHER = {"L": "R", "R": "L"}
_LEGS = {"L": "left", "R": "right"}
_MARKS = {"ring_leg": "ring", "tag_leg": "tag"}
_NOTHING: Counter[str] = Counter()


@dataclass(frozen=True, slots=True)
class _Row:
    """Legs of one handling; empty where missing, in doubt, or the mark itself is missing."""

    label: str
    ring: str
    group: str
    ringer: str
    legs: Mapping[str, str]
    foreign: bool


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare the legs with each other, with the bird's other visits, and with the habit of the season."""
    rows = _rows(case)
    habits = _habits(case, rows)
    own = _own_legs(rows)
    for row in rows:
        habit = {**habits.get(row.group, {}), **habits.get(row.ringer, {})}
        finding = _judge(case, row, habit, own[row.ring] if row.ring else {})
        if finding is not None:
            yield finding


def _judge(
    case: Case, row: _Row, habit: Mapping[str, tuple[str, int, int]], own: Mapping[str, Counter[str]]
) -> Finding | None:
    legs = row.legs
    if not any(legs.values()):
        return None
    against_own = [field for field in legs if _outvoted(legs[field], own.get(field, _NOTHING))]
    against_habit = [
        field for field in legs if legs[field] and field in habit and legs[field] != habit[field][0]
    ]
    if legs["ring_leg"] and legs["ring_leg"] == legs["tag_leg"]:
        against = against_own or against_habit
        if not against:
            # One mark is where it belongs: then the other is not.
            right = [field for field in legs if field in habit]
            against = [field for field in legs if field not in right] if len(right) == 1 else []
        return _same_leg(case, row, against)
    # The leg of the ring alone is a question of its own.
    if "tag_leg" in against_own:
        return _changed(case, row)
    if row.foreign or "tag_leg" not in against_habit:
        return None
    # A bird that carries the mark on the same leg at every visit was not mistyped twice.
    steady = [field for field in against_habit if own.get(field, Counter())[legs[field]] > 1]
    if steady:
        return None
    return _against_habit(case, row, habit, against_habit)


def _outvoted(leg: str, votes: Counter[str]) -> bool:
    """Whether this bird has the mark on the other leg at more visits."""
    return bool(leg) and votes[_OTHER[leg]] > votes[leg]


def _same_leg(case: Case, row: _Row, against: Sequence[str]) -> Finding:
    leg = row.legs["ring_leg"]
    says = f"Ring and tag are both noted on the {_LEGS[leg]} leg"
    if len(against) == 1:
        field = against[0]
        return case.blame(
            "same_leg",
            [At(row.label, field, suggested=_OTHER[leg])],
            f"{says}; the {_MARKS[field]} of the others is on the {_LEGS[_OTHER[leg]]}.",
            [(row.label, other) for other in _MARKS if other != field],
        )
    return case.blame(
        "same_leg_open",
        [At(row.label, field, suggested=_OTHER[leg]) for field in _MARKS],
        f"{says}, and nothing tells which of the two is wrong.",
    )


def _changed(case: Case, row: _Row) -> Finding:
    leg = row.legs["tag_leg"]
    return case.blame(
        "changed_leg",
        [At(row.label, "tag_leg", suggested=_OTHER[leg])],
        f"{row.ring} has its tag on the {_LEGS[leg]} leg here, on the other leg at its other visits.",
    )


def _against_habit(
    case: Case, row: _Row, habit: Mapping[str, tuple[str, int, int]], fields: Sequence[str]
) -> Finding:
    leg, n, of = habit[fields[0]]
    suspects = [At(row.label, field, suggested=_OTHER[row.legs[field]]) for field in fields]
    if len(fields) > 1:
        return case.blame(
            "legs_exchanged",
            suspects,
            f"The ring is noted on the {_LEGS[row.legs['ring_leg']]} leg and the tag on the "
            f"{_LEGS[row.legs['tag_leg']]}; {n} of {of} birds have it the other way round.",
        )
    return case.blame(
        "against_habit",
        suspects,
        f"The tag is noted on the {_LEGS[row.legs['tag_leg']]} leg; {n} of {of} birds have it on the "
        f"{_LEGS[leg]}.",
    )


def _habits(case: Case, rows: Sequence[_Row]) -> dict[str, dict[str, tuple[str, int, int]]]:
    """Leg, birds with it and birds altogether, by species or ringer, and mark."""
    seen = Counter(
        (group, field, row.ring or row.label, leg)
        for row in rows
        for field, leg in row.legs.items()
        if leg and not row.foreign
        for group in (row.group, row.ringer)
    )
    # of a bird with both legs the one seen more often counts, else the first
    usual: dict[tuple[str, str, str], tuple[int, str]] = {}
    for (group, field, bird, leg), times in seen.items():
        if times > usual.get((group, field, bird), (0, ""))[0]:
            usual[group, field, bird] = times, leg
    birds: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    for (group, field, _), (_, leg) in usual.items():
        birds[group, field][leg] += 1
    habits: dict[str, dict[str, tuple[str, int, int]]] = defaultdict(dict)
    for (group, field), votes in birds.items():
        leg, n = votes.most_common(1)[0]
        of = votes.total()
        prescribed = case.declared.rings.leg(_MARKS[field])
        if prescribed:
            habits[group][field] = (prescribed, votes[prescribed], of)
        elif of >= case.limit("habit_least") and n >= case.limit("habit_share") * of:
            habits[group][field] = (leg, n, of)
    return habits


def _own_legs(rows: Sequence[_Row]) -> dict[str, dict[str, Counter[str]]]:
    own: dict[str, dict[str, Counter[str]]] = defaultdict(lambda: defaultdict(Counter))
    for row in rows:
        for field, leg in row.legs.items():
            if leg and row.ring:
                own[row.ring][field][leg] += 1
    return own


def _rows(case: Case) -> list[_Row]:
    handlings = case.frame("handlings")
    labels = handlings.index.tolist()
    columns = {
        name: texts_in(handlings, name)
        for name in ("ring", "tag", "ring_leg", "tag_leg", "species", "event", "ringer")
    }
    index = species_index(case.declared.species)
    names = {text: index.resolve(text) or text for text in set(columns["species"])}
    doubted = case.doubted
    rings = [
        "" if (label, "ring") in doubted else ring
        for label, ring in zip(labels, columns["ring"], strict=True)
    ]
    ringed = {ring for ring, event in zip(rings, columns["event"], strict=True) if event == "ringed"}
    rows = []
    for i, label in enumerate(labels):
        legs = {}
        for field, mark in _MARKS.items():
            leg = columns[field][i]
            there = columns[mark][i] or (label, mark) in doubted
            legs[field] = leg if there and leg in _OTHER and (label, field) not in doubted else ""
        rows.append(
            _Row(
                label,
                rings[i],
                "" if (label, "species") in doubted else names[columns["species"][i]],
                f"ringer {columns['ringer'][i]}" if columns["ringer"][i] else "",
                legs,
                columns["event"][i] == "re-encountered" and rings[i] not in ringed,
            )
        )
    return rows


RULE = Rule(
    slug="tag_leg",
    needs={"handlings": ("ring", "tag", "tag_leg")},
    check=check,
    heeds={"handlings": ("ring", "ring_leg", "tag", "tag_leg", "species", "event", "ringer")},
)
