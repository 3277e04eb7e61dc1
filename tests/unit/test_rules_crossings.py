"""Codes in each other's rows: exchanged, slid or drawn down, and the innocent look-alikes."""

from __future__ import annotations

import datetime as dt
from functools import cache

import numpy as np
import pytest
from benchmarks import pairing
from benchmarks.planting import apply
from benchmarks.trials import read_typed
from typed_season import ask, blamed, typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.rules import ring_order, tag_code, tag_twice

DAY = dt.date(2026, 6, 1)
BROODS = (4, 5, 3, 6, 4, 5, 3, 4, 5, 4, 3, 6, 4, 5)

shipped = cache(load_declarations)


def season_rows():
    """Fourteen broods, each ringed on a day of its own; invented tags of the test range, far apart."""
    rows = []
    for brood, size in enumerate(BROODS):
        for _ in range(size):
            number = len(rows)
            rows.append(
                {
                    "date": DAY + dt.timedelta(days=brood),
                    "box": f"SL-{brood + 1:02d}",
                    "ring": f"SV{1001 + number:05d}",
                    "tag": f"{999104000000101 + (number * 7919) % 1000}",
                    "event": "ringed",
                }
            )
    return rows


def reads_of(rows):
    return [
        {"read_at": dt.datetime.combine(row["date"], dt.time(8 + i // 60, i % 60)), "tag": row["tag"]}
        for i, row in enumerate(rows)
    ]


def put(rows, field, codes):
    """Type other codes into some rows; `codes` maps the row to the row whose code stands there."""
    return [{**row, field: rows[codes.get(i, i)][field]} for i, row in enumerate(rows)]


def told(rule, rows, **tables):
    return ask(rule, typed_season(shipped(), handlings=rows, **tables), shipped())


def cell(i, field):
    return (f"handlings!{i + 2}", field)


@pytest.mark.parametrize("rule", [ring_order.RULE, tag_twice.RULE, tag_code.RULE])
def test_a_clean_season_gives_nothing(rule):
    rows = season_rows()
    assert [
        a for a in told(rule, rows, tag_reads=reads_of(rows)) if getattr(a, "severity", "note") != "note"
    ] == []


def test_tags_exchanged_between_siblings_are_told_by_the_order_of_the_reader():
    rows = season_rows()
    answers = told(tag_twice.RULE, put(rows, "tag", {5: 7, 7: 5}), tag_reads=reads_of(rows))
    assert blamed(answers) == {
        cell(5, "tag"): ("tag_twice.exchanged", rows[5]["tag"]),
        cell(7, "tag"): ("tag_twice.exchanged", rows[7]["tag"]),
    }
    assert answers[0].message == (
        "On 2026-06-02 the birds SV01006 and SV01008 have each other's tags, compared with the order in "
        "which the reader stored them: the tags were probably exchanged."
    )


def test_a_column_of_tags_that_slid_is_one_finding():
    rows = season_rows()
    slid = {4: 8, 5: 4, 6: 5, 7: 6, 8: 7}
    answers = told(tag_twice.RULE, put(rows, "tag", slid), tag_reads=reads_of(rows))
    assert len(answers) == 1
    assert blamed(answers) == {cell(i, "tag"): ("tag_twice.slid", rows[i]["tag"]) for i in slid}
    assert min(suspect.p_fix for suspect in answers[0].suspects) > 0.9


def test_a_column_of_rings_that_slid_is_told_by_the_order_of_the_string():
    rows = [{**row, "tag": None} for row in season_rows()]
    slid = {4: 5, 5: 6, 6: 7, 7: 8, 8: 4}
    answers = [a for a in told(ring_order.RULE, put(rows, "ring", slid)) if a.severity != "note"]
    assert len(answers) == 1
    assert blamed(answers) == {cell(i, "ring"): ("ring_order.rings_slid", rows[i]["ring"]) for i in slid}
    assert answers[0].message == (
        "On 2026-06-02 the rings of rows 6 to 10 stand one row too high or too low, compared with the order "
        "of the string: the column has probably slid."
    )


def test_rows_written_in_another_order_are_innocent():
    rows = season_rows()
    # whole rows changed places: order of string and reader are broken alike
    turned = [*rows[:4], rows[6], rows[5], rows[4], *rows[7:]]
    for rule in (ring_order.RULE, tag_twice.RULE):
        answers = told(rule, turned, tag_reads=reads_of(rows))
        assert [a for a in answers if getattr(a, "severity", "note") != "note"] == []


def test_a_team_that_keeps_no_order_is_innocent():
    rows = season_rows()
    codes, start = {}, 0
    for size in BROODS:
        brood = list(range(start, start + size))
        codes |= dict(zip(brood, brood[1::2] + brood[::2], strict=True))
        start += size
    answers = told(ring_order.RULE, put(rows, "ring", codes), tag_reads=reads_of(rows))
    assert [a for a in answers if a.severity != "note"] == []


def test_one_wrong_ring_is_no_slide():
    rows = season_rows()
    # 1005 typed as 1050 stands behind its siblings, but those are in order among themselves
    rows[4] = {**rows[4], "ring": "SV01050"}
    answers = [a for a in told(ring_order.RULE, rows[:40], tag_reads=reads_of(rows)) if a.severity != "note"]
    assert {label for label, _ in blamed(answers)} <= {cell(4, "ring")[0]}


def test_an_old_bird_and_a_nestling_with_each_others_rings():
    rows = season_rows()
    old = {
        "date": rows[8]["date"],
        "box": rows[8]["box"],
        "ring": "SV00123",
        "tag": None,
        "event": "re-encountered",
    }
    rows = [*rows[:9], old, *rows[9:]]
    answers = [a for a in told(ring_order.RULE, put(rows, "ring", {8: 9, 9: 8})) if a.severity != "note"]
    assert blamed(answers) == {
        cell(8, "ring"): ("ring_order.rings_exchanged", rows[8]["ring"]),
        cell(9, "ring"): ("ring_order.rings_exchanged", "SV00123"),
    }
    assert "compared with the events" in answers[0].message


def test_a_tag_drawn_down_is_mended_from_the_reader():
    rows = season_rows()
    first = int(rows[10]["tag"])
    typed = [{**row, "tag": str(first + i - 10)} if i == 11 else row for i, row in enumerate(rows)]
    answers = told(
        tag_code.RULE, typed, tag_reads=reads_of(rows), tag_stock=[{"tag": row["tag"]} for row in rows]
    )
    assert blamed(answers) == {cell(11, "tag"): ("tag_code.counted_on", rows[11]["tag"])}
    assert "counts on by one from the row above" in next(
        a.message for a in answers if hasattr(a, "suspects") and a.severity == "error"
    )


def test_an_old_bird_of_the_same_series_is_no_slide_without_events():
    rows = season_rows()
    old = {"date": rows[8]["date"], "box": rows[8]["box"], "ring": "SV00123", "tag": None}
    other = {"date": rows[11]["date"], "box": rows[11]["box"], "ring": "SV00124", "tag": None}
    rows = [*rows[:9], old, *rows[9:12], other, *rows[12:]]
    bare = [{name: value for name, value in row.items() if name != "event"} for row in rows]
    for rule in (ring_order.RULE, tag_twice.RULE):
        assert [a for a in told(rule, bare, tag_reads=reads_of(bare)) if a.severity != "note"] == []


def twice(rows):
    """Meet every brood again a fortnight later, the last bird first."""
    later, start = [], 0
    for size in BROODS:
        first = start + size - 1
        order = [first, *range(start, start + 2), *range(first - 1, start + 1, -1)]
        later += [
            {**rows[i], "date": rows[i]["date"] + dt.timedelta(days=14), "event": "re-encountered"}
            for i in order
        ]
        start += size
    return [*rows, *later]


@pytest.mark.parametrize("typed", ["SV31006", "SV01906", "SV001006", "SV83921"])
def test_a_ring_that_slipped_at_the_first_visit_is_no_cell_drawn_down_at_the_second(typed):
    rows = twice(season_rows())
    slipped = [{**row, "ring": typed} if i == 5 else row for i, row in enumerate(rows)]
    answers = [a for a in told(ring_order.RULE, slipped) if a.severity != "note"]
    assert not any(a.rule == "ring_order.rings_counted" for a in answers)


def test_among_many_slips_no_ring_is_taken_for_drawn_down_that_was_not():
    # a ring that slipped at the first visit, and the second bird met right after the first at the second
    asked = pairing.Ask(3, "first", 2, "neither")
    made = pairing.season_of(asked)
    slips = pairing.plant(made.tables["handlings"], np.random.default_rng([3, 2, True, 41]))
    wrong = {(f"handlings!{c.row + 2}", c.field) for slip in slips for c in slip.cells}
    report = check(read_typed(made, apply(made.tables["handlings"], slips)), schemas=shipped())
    counted = [f for f in report.findings if f.rule == "ring_order.rings_counted"]
    assert blamed(counted).keys() <= wrong
