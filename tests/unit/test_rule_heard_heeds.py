"""What the rules on the antennas heed: the tests of all other rules know no log."""

from __future__ import annotations

import datetime as dt
from functools import cache
from itertools import product

import numpy as np
import pytest
from dirty_seasons import declared, spoilt
from heard_season import BOX, DAY, OTHER, brood, heard, heard_season, tag
from typed_season import ask

from audit.rules import RULES
from audit.rules.heard import LOG

NAMED = {rule.slug: rule for rule in RULES}
SLUGS = ("heard_life", "heard_end", "heard_whose", "logger")
WAYS = ("blank", "mix", "drop")
LATER = DAY + dt.timedelta(days=30)


@cache
def season(*, as_reads=False):
    """A season in which each of the rules has much to say."""
    rows = [*brood(4), *brood(4, box=OTHER, first=30)]
    rows[0]["tag"] = "999104000000910"
    rows[5]["tag"] = None
    rows.append(
        rows[2] | {"date": DAY + dt.timedelta(days=2), "condition": "dead", "event": "re-encountered"}
    )
    rows.append(
        rows[6] | {"date": DAY + dt.timedelta(days=3), "remarks": "found dead", "event": "re-encountered"}
    )
    rows.append(rows[2] | {"ring": "SV09000", "tag": tag(50), "event": "re-encountered", "age": "4"})
    lines = [line for number in (10, 11, 12, 13) for line in heard(tag(number), BOX)]
    lines += [line for number in (30, 31, 32, 33) for line in heard(tag(number), OTHER, nights=14)]
    lines += [*heard("528140000795552", OTHER), *heard(tag(11), OTHER, since=-20), *heard(tag(40), "SL-2")]
    lines += [*heard("528140000795777", OTHER, nights=1, reads=9), *heard(tag(50), BOX, since=-20)]
    if not as_reads:
        lines += [line | {"what": "marker"} for line in heard(tag(41), OTHER)]
        lines += [line | {"what": "noise"} for line in heard("528140000795999", OTHER)]
    return heard_season(
        declared(),
        rows,
        lines,
        as_reads=as_reads,
        boxes=[
            {"box": BOX, "antennas": 0, "until": None},
            {"box": OTHER, "antennas": 2, "until": None},
            {"box": "SL-03", "antennas": 2, "until": None},
            {"box": "SL-04", "antennas": 2, "until": DAY - dt.timedelta(days=90)},
        ],
        visits=[
            *(
                {"date": DAY - dt.timedelta(days=days), "box": box, "logger_downloaded": True, "remarks": ""}
                for days, box in ((40, BOX), (40, OTHER))
            ),
            {"date": DAY, "box": BOX, "logger_downloaded": True, "remarks": "sunny"},
            {"date": LATER, "box": BOX, "logger_downloaded": False, "remarks": "rain"},
            {"date": LATER, "box": OTHER, "logger_downloaded": False, "remarks": ""},
        ],
        earlier=[
            {"date": dt.date(2025, 6, 1), "box": BOX, "ring": "SV00321", "tag": "528140000795552"},
            {"date": dt.date(2025, 6, 2), "box": OTHER, "ring": "SV00322", "tag": "528140000795553"},
        ],
    )


def told(rule, some):
    return [
        (
            answer.rule,
            answer.message,
            [
                (one.cell.label, one.cell.field, one.suggested, one.p_error, one.p_fix)
                for one in answer.suspects
            ],
            [(cell.label, cell.field) for cell in answer.witnesses],
        )
        if hasattr(answer, "suspects")
        else answer
        for answer in ask(rule, some, declared())
    ]


@cache
def told_of_whole(slug, *, as_reads):
    return told(NAMED[slug], season(as_reads=as_reads))


def columns_of(some):
    return {(name, field) for name, table in some.tables.items() for field in table.typed.columns}


def heeded(rule):
    return {(name, field) for name, fields in rule.heeds.items() for field in fields}


@pytest.mark.parametrize("slug", SLUGS)
@pytest.mark.parametrize("as_reads", [False, True])
def test_no_other_column_changes_an_answer(slug, as_reads):
    rule, whole = NAMED[slug], season(as_reads=as_reads)
    answer = told(rule, whole)
    assert answer
    others = columns_of(whole) - heeded(rule)
    assert others
    for how in WAYS:
        assert told(rule, spoilt(whole, others, how, np.random.default_rng(7))) == answer, how


@pytest.mark.parametrize(
    ("table", "field"),
    [
        *((table, field) for table, fields in LOG.items() for field in fields if field != "antenna"),
        *(("boxes", field) for field in ("box", "antennas", "until")),
        *(("visits", field) for field in ("date", "box", "logger_downloaded")),
        *(("earlier", field) for field in ("date", "ring", "tag", "box")),
        *(("handlings", field) for field in ("date", "box", "ring", "tag", "event", "condition", "remarks")),
        ("tag_stock", "tag"),
    ],
)
def test_every_column_matters_to_one_of_them(table, field):
    whole = season(as_reads=table == "detections")
    for rule, how in product((NAMED[slug] for slug in SLUGS), WAYS):
        other = spoilt(whole, {(table, field)}, how, np.random.default_rng(7))
        if rule.missing(other) or told(rule, other) != told_of_whole(
            rule.slug, as_reads=table == "detections"
        ):
            assert (table, field) in heeded(rule)
            return
    raise AssertionError(f"{table}.{field} changes nothing")
