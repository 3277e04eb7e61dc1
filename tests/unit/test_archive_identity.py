"""Ring and tag over the years: each contradiction, and what looks like one and is none; on two engines.

All cases stand in one archive, each under a scheme of its own, so that they are asked together.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
import pytest
from archive_rows import AGAIN, ENGINES, TABLE, frame_of, kept, marks_of, relation, rows_of, worked_out

from audit.archive.repeated_rows import likely_repeated, repeated
from audit.archive.ring_lives import doubtful_rings, met_again, ring_clashes, ringing_habits
from audit.archive.tag_lives import doubtful_tags, tag_clashes
from audit.archive.travels import PLACED, far_clashes, on_the_globe

A, B = "999000000000001", "999000000000002"
FIRST = {**AGAIN, "date": "2020-05-01", "age": "5"}
LATER = {**AGAIN, "date": "2022-05-01", "age": "9"}
DEAD = {**AGAIN, "condition": "Dead"}
#: A team that calls every bird ringed.
ALWAYS = tuple(
    {"ring": f"SV{n:05}", "date": f"{year}-06-01", "age": "" if year > 2019 else "1"}
    for n in range(12)
    for year in (2019, 2020)
)


@dataclass(frozen=True)
class Case:
    """Rows of one scheme, and what contradicts what among them, by rule, row and other row."""

    rows: tuple[dict[str, object], ...]
    told: frozenset[tuple[str, int, int]] = frozenset()


def case(*rows, told=()):
    return Case(rows, frozenset(told))


#: What is wrong, and beside each what only looks like it.
CASES = {
    "a bird met again": case({}, AGAIN, LATER),
    "ringed twice": case({}, {"date": "2019-06-20", "box": "SL-02"}, told=[("ringed_twice", 1, 0)]),
    "written otherwise": case(
        {"ring": "SV-00001"}, {"ring": "sv 00001", "date": "2019-06-20"}, told=[("ringed_twice", 1, 0)]
    ),
    "no ring": case({"ring": "none"}, {"ring": "none", "date": "2020-06-01"}),
    "ringed always": case(*ALWAYS),
    "ringed seldom twice": case(*ALWAYS[:2], told=[("ringed_twice", 1, 0)]),
    "met before": case(
        {**AGAIN, "date": "2018-05-01"}, {"age": "6", "sex": "F"}, told=[("met_before_ringed", 1, 0)]
    ),
    "ringed elsewhere": case(AGAIN, LATER),
    "two species": case({}, {**AGAIN, "species": "common kestrel"}, told=[("two_species", 1, 0)]),
    "two names of one species": case({}, {**AGAIN, "species": "Tyto alba"}, {**LATER, "species": ""}),
    "two sexes": case({}, {**FIRST, "sex": "M"}, AGAIN, told=[("two_sexes", 2, 1)]),
    "sex not told, or of a nestling": case({"sex": "M"}, AGAIN, {**LATER, "sex": "U"}),
    "nestling again": case({}, AGAIN, {**LATER, "age": "1", "sex": "U"}, told=[("nestling_again", 2, 1)]),
    "nestling for a year": case(
        {}, {"date": "2020-06-01", "event": "re-encountered"}, told=[("nestling_again", 1, 0)]
    ),
    "nestling twice": case({}, {"date": "2019-06-20", "event": "re-encountered"}),
    "alive after death": case({}, DEAD, LATER, told=[("alive_after_death", 2, 1)]),
    "alive again and again": case(
        {}, {**FIRST, "condition": "dead"}, AGAIN, LATER, told=[("alive_after_death", 1, 2)]
    ),
    "ringed after death": case(
        DEAD,
        {**LATER, "event": "ringed"},
        told=[("ringed_after_death", 1, 0), ("met_before_ringed", 1, 0)],
    ),
    # another box than before, so that the ring is looked at
    "dead twice": case({"box": "SL-03"}, DEAD, {**DEAD, "date": "2021-06-01"}),
    "died in the hand": case({"box": "SL-03"}, AGAIN, DEAD),
    "two boxes": case({}, AGAIN, {**AGAIN, "box": "SL-03"}, told=[("two_boxes", 2, 1)]),
    "moved": case({}, AGAIN, {**AGAIN, "box": "SL-03", "remarks": "fostered, from SL-01"}),
    "next day": case({}, AGAIN, {**AGAIN, "box": "SL-03", "date": "2021-05-02"}),
    "no day": case({}, {"date": ""}, {"date": "2019-02-30"}),
    # tags: those of a case are its own, see `archive`
    "two tags at once": case({"tag": A}, {**AGAIN, "tag": B}, {**LATER, "tag": A}, told=[("two_tags", 1, 0)]),
    "two tags in a day": case({"tag": A}, {"tag": B, "event": "re-encountered"}, told=[("two_tags", 1, 0)]),
    "tagged again": case({"tag": A}, {**FIRST, "tag": A}, {**AGAIN, "tag": B}, {**LATER, "tag": B}),
    "tagged late": case({"tag": A}, AGAIN, {**LATER, "tag": B}),
    "a tag on two rings": case(
        {"tag": A}, {**AGAIN, "tag": A, "ring": "SV00002"}, told=[("two_rings", 1, 0)]
    ),
    "ringed again": case({"tag": A}, {**AGAIN, "tag": A, "ring": "SV00002", "remarks": "worn ring replaced"}),
    "a tag without a ring": case({"tag": A}, {**AGAIN, "tag": A, "ring": ""}),
    # journeys: SL-02 lies a quarter of the globe away, SL-03 one degree, which is 111 km
    "too far": case({}, AGAIN, {**AGAIN, "box": "SL-02", "date": "2021-05-03"}, told=[("too_far", 2, 1)]),
    "far in a month": case({}, AGAIN, {**AGAIN, "box": "SL-02", "date": "2021-06-03"}),
    "another box next year": case({}, AGAIN, {**LATER, "box": "SL-02"}),
    "too far for any team": case(
        {}, AGAIN, {**AGAIN, "box": "SL-99", "date": "2021-05-03"}, told=[("too_far", 2, 1)]
    ),
    "no place": case({}, AGAIN, {**AGAIN, "box": "SL-09", "date": "2021-05-02"}),
    # rows that stand twice
    "copies": case({}, {}, {"ring": "SV00002"}, {}, told=[("repeated", 1, 0), ("repeated", 3, 0)]),
    "siblings and measures": case({}, {"ring": "SV00002"}, {"wing_mm": 181.0, "event": "re-encountered"}),
    "rows without a ring": case({"ring": ""}, {"ring": ""}),
}


def archive():
    rows, first = [], {}
    for number, (name, one) in enumerate(CASES.items()):
        first[name] = len(rows)
        for row in one.rows:
            tag = str(row.get("tag", ""))
            rows.append({**row, "scheme": name, "tag": tag and f"{tag[:-4]}{number:02}{tag[-2:]}"})
    return frame_of(*rows), first


@pytest.fixture(scope="module", params=ENGINES)
def told(request):
    """What each case is told of, by name."""
    engine = request.param
    frame, first = archive()
    rows, marks = rows_of(frame, engine), marks_of(frame, engine)
    twice = kept(repeated(kept(likely_repeated(rows)), TABLE))
    once = kept(marks.join(twice.select("at"), on="at", how="anti"))
    again = kept(met_again(once))
    few = kept(doubtful_rings(again, nestling_days=120))
    habits = kept(ringing_habits(again, share=0.5, least=10.0))
    places = pd.DataFrame({"box": ["SL-01", "SL-02", "SL-03"], "longitude": [0.0, 90.0, 1.0], "team": ""})
    places = places.merge(pd.DataFrame({"scheme": list(CASES)}), how="cross")
    general = pd.DataFrame({"box": ["SL-99"], "longitude": [90.0], "team": "", "scheme": ""})
    places = pd.concat([places, general], ignore_index=True)
    there = on_the_globe([0.0] * len(places), places["longitude"], 6371.0)
    places = places.assign(**{axis: there[:, number] for number, axis in enumerate("xyz")})
    found = [
        twice,
        ring_clashes(few, habits, nestling_days=120),
        tag_clashes(few, kept(doubtful_tags(once))),
        far_clashes(few, relation(places[list(PLACED)], engine), km_a_day=600),
    ]
    pairs = pd.concat([worked_out(part) for part in found]).astype({"at": "int64", "other": "int64"})
    names = frame["scheme"].to_numpy()
    by_case = {name: set() for name in CASES}
    for rule, at, other in pairs.itertuples(index=False):
        by_case[names[at]].add((rule, at - first[names[at]], other - first[names[at]]))
    return by_case


@pytest.mark.parametrize("name", CASES)
def test_what_contradicts_what(told, name):
    assert told[name] == CASES[name].told


def test_one_number_of_two_schemes_is_two_rings(told):
    # every case uses the same rings, and none is told of another one's
    assert all(min(at, other) >= 0 for found in told.values() for _, at, other in found)
