"""Both engines read the same declarations and blame the same cells; so does plain counting."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from dirty_tables import TABLES, counted, dirty_tables
from hypothesis import HealthCheck, Phase, given, settings
from invented import invented_season
from typed_season import typed_season

import audit
from audit.declarations import load_declarations, to_gx, to_pandera
from audit.declarations.breach import references_in

DECLARED = load_declarations()
DEMO = Path(__file__).parents[2] / "notebooks" / "demo" / "sallow-levels-2026.xlsx"
BOXES = frozenset({"SL-01", "X"})
REFERENCES = {("boxes", "box"): BOXES}


@pytest.fixture(scope="module")
def context():
    return to_gx.quiet_context()


def blamed(breaches):
    return {(breach.label, breach.field, breach.check) for breach in breaches}


def frame_of(name, rows):
    return typed_season(DECLARED, **{name: rows}).frame(name)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(dirty_tables())
def test_pandera_blames_what_plain_counting_blames(table):
    name, rows = table
    frame = frame_of(name, rows)
    found = to_pandera.blame(TABLES[name], frame, REFERENCES)
    assert blamed(found) == counted(TABLES[name], frame, BOXES)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(dirty_tables(), dirty_tables())
def test_several_tables_together_are_blamed_as_each_alone(one, other):
    frames = [frame_of(*table) for table in (one, other, one)]
    for name in dict.fromkeys((one[0], other[0])):
        there = [frame for frame, table in zip(frames, (one, other, one), strict=True) if table[0] == name]
        alone = [to_pandera.blame(TABLES[name], frame) for frame in there]
        assert to_pandera.blame_each(TABLES[name], there) == alone


@settings(
    max_examples=20,
    deadline=None,
    # this engine is too slow to look for the smallest example
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
@given(table=dirty_tables())
def test_both_engines_blame_the_same(context, table):
    name, rows = table
    frame = frame_of(name, rows)
    ours = to_pandera.blame(TABLES[name], frame, REFERENCES)
    assert to_gx.blame(TABLES[name], frame, REFERENCES, context) == ours
    assert blamed(ours) == counted(TABLES[name], frame, BOXES)


def rows_of(seed):
    """An invented season without its empty tables, which have no columns either."""
    return {name: rows for name, rows in invented_season(seed).items() if rows}


def compare(season, context):
    """Breaches of a whole season, by both engines."""
    frames = {name: table.frame for name, table in season.tables.items()}
    references = references_in(frames, DECLARED.tables)
    found = []
    for name, frame in frames.items():
        ours = to_pandera.blame(DECLARED.tables[name], frame, references)
        assert to_gx.blame(DECLARED.tables[name], frame, references, context) == ours
        found += ours
    return found


def test_a_clean_season_breaks_nothing(context):
    assert compare(typed_season(DECLARED, **rows_of(seed=11)), context) == []


def test_a_season_with_cells_broken_by_hand(context):
    tables = rows_of(seed=12)
    handlings, boxes = tables["handlings"], tables["boxes"]
    handlings[3] |= {"sex": "m", "box": "SL-99"}
    handlings[5] |= {"date": None, "gross_g": -1.0}
    handlings[8] |= {"event": "ring", "ring_leg": "l", "brood_size": -2}
    boxes[2] |= {"box": boxes[1]["box"], "latitude": 91.0}
    found = compare(typed_season(DECLARED, **tables), context)
    assert {(breach.label, breach.field, breach.check) for breach in found} >= {
        ("handlings!5", "box", "foreign_key"),
        ("handlings!5", "sex", "enum"),
        ("handlings!7", "date", "required"),
        ("handlings!7", "gross_g", "minimum"),
        ("handlings!10", "event", "enum"),
        ("handlings!10", "ring_leg", "enum"),
        ("handlings!10", "brood_size", "minimum"),
        ("boxes!3", "box", "unique"),
        ("boxes!4", "box", "unique"),
        ("boxes!4", "latitude", "maximum"),
    }


def test_the_demo_season(context):
    season = audit.read_season(DEMO)
    frames = {name: table.frame for name, table in season.tables.items()}
    assert len(frames["handlings"])
    compare(season, context)


def test_breaches_come_in_sheet_order(context):
    rows = [{"date": None, "box": f"SL-{i:02}", "ring": "SV1", "sex": "x"} for i in range(12)]
    frame = frame_of("handlings", rows)
    for engine in (to_pandera.blame, lambda *args: to_gx.blame(*args, context=context)):
        found = engine(DECLARED.tables["handlings"], frame)
        assert [(b.label, b.field) for b in found] == [
            (f"handlings!{i + 2}", field) for i in range(12) for field in ("date", "sex")
        ]


def test_a_column_that_is_not_typed_is_a_fault_of_the_reader(context):
    frame = frame_of("handlings", [{"date": "2026-06-01", "box": "SL-01", "ring": "SV1", "gross_g": 1.0}])
    frame["gross_g"] = frame["gross_g"].astype(object).where(lambda cell: cell != 1, "light")
    for engine in (to_pandera.blame, lambda *args: to_gx.blame(*args, context=context)):
        with pytest.raises(TypeError, match=r"gross_g.*not typed as declared"):
            engine(DECLARED.tables["handlings"], frame)


def test_a_switch_in_the_environment_changes_nothing(monkeypatch):
    from pandera.config import CONFIG

    frame = frame_of("handlings", [{"date": None, "box": "SL-01", "ring": "SV1"}])
    monkeypatch.setattr(CONFIG, "validation_enabled", False)
    assert len(to_pandera.blame(DECLARED.tables["handlings"], frame)) == 1


def test_an_empty_table(context):
    frame = frame_of("handlings", [{"date": "2026-06-01", "box": "SL-01", "ring": "SV1", "sex": "x"}]).iloc[
        :0
    ]
    assert to_pandera.blame(DECLARED.tables["handlings"], frame) == []
    assert to_gx.blame(DECLARED.tables["handlings"], frame, context=context) == []


def test_what_the_second_engine_keeps_adds_up(context):
    rows = [
        {"date": None, "box": "SL-01", "ring": "SV1", "sex": "x", "gross_g": -1.0},
        {"date": "2026-06-01", "box": None, "ring": "SV2", "sex": None, "gross_g": None},
        {"date": "2026-06-01", "box": "SL-99", "ring": "SV3", "sex": "M", "gross_g": 2.0},
    ]
    frame = frame_of("handlings", rows)
    kept = to_gx.validate(TABLES["handlings"], frame, REFERENCES, context)
    assert list(kept.breaches) == to_pandera.blame(TABLES["handlings"], frame, REFERENCES)
    judged = {(one.field, one.check): one for one in kept.judged}
    assert judged["date", "needed"].holds
    for (field, check), one in judged.items():
        broken = [b for b in kept.breaches if (b.field, b.check) == (field, check)]
        assert (one.broken, one.holds) == (len(broken), not broken)
        if check != "needed":
            values = frame[field]
            assert one.cells == len(values)
            assert one.looked_at == (len(values) if check == "required" else values.notna().sum())
    assert not kept.holds
    assert (kept.table, kept.rows) == ("handlings", 3)


def test_results_are_plain_and_the_same_each_time(context):
    rows = [{"date": None, "box": "SL-99", "ring": "SV1", "gross_g": None}]
    for frame in (frame_of("handlings", rows), frame_of("handlings", rows).iloc[:0]):
        first, again = (to_gx.validate(TABLES["handlings"], frame, REFERENCES, context) for _ in range(2))
        text = json.dumps(first.document, allow_nan=False)
        assert text == json.dumps(again.document, allow_nan=False)
        # nothing of the run, the engine's own file names or the clock
        assert not re.search(r"batch|_time|run_id|20\d\d\d\d\d\dT|/|\bdf\.", text)
