"""Tidy tables: checked and read back by programs that know nothing of this one."""

from __future__ import annotations

import csv

import frictionless
import numpy as np
import pandas as pd
import pytest
from clean_round import clean_round
from hypothesis import given, settings
from hypothesis import strategies as st
from mended_demo import amendments

from audit.checking import check, read_season
from audit.declarations import load_declarations
from audit.demo import demo_season
from audit.handover.clean.decided_season import DecidedSeason
from audit.handover.clean.tidy_tables import ROW, tidy_tables_part
from audit.review.replay import replay


def decided_season(season, declared, decisions=()):
    replayed = replay(season, declared, decisions)
    return DecidedSeason(
        season, replayed, tuple(decisions), check(season, schemas=declared, rules=[]), declared
    )


def written(decided, folder):
    part = tidy_tables_part(decided)
    (folder / "tables").mkdir(parents=True, exist_ok=True)
    for name, write in part.files.items():
        write(folder / name)
    return part


@pytest.fixture(scope="module")
def demo():
    path, schemas = demo_season()
    declared = load_declarations(schemas)
    season = read_season(path, schemas=declared)
    return decided_season(season, declared, amendments(season))


def read_back(path, frame):
    """Read a tidy table as pandas would, with codes as text."""
    codes = {name: "str" for name in frame.columns if pd.api.types.is_string_dtype(frame[name])}
    dates = [name for name in frame.columns if pd.api.types.is_datetime64_any_dtype(frame[name])]
    return pd.read_csv(
        path, dtype=codes, parse_dates=dates, index_col=ROW, true_values=["yes"], false_values=["no"]
    )


def test_the_descriptor_is_valid_and_the_tables_keep_to_it(demo, tmp_path):
    # reference library: frictionless (Data Package and Table Schema, version 1)
    written(demo, tmp_path)
    report = frictionless.Package(str(tmp_path / "tables" / "datapackage.json")).validate()
    assert report.valid, report.flatten(["name", "rowNumber", "fieldName", "message"])
    assert {task.name for task in report.tasks} == set(demo.clean.tables)


def test_the_descriptor_finds_what_was_not_decided(demo, tmp_path):
    # box SL-4 is in no table of boxes: a check that cannot fail says nothing
    undecided = decided_season(demo.typed, demo.declared)
    part = written(undecided, tmp_path)
    report = frictionless.Package(str(tmp_path / "tables" / "datapackage.json")).validate()
    assert [line[0] for line in report.flatten(["type"])] == ["foreign-key"]
    assert [
        one for one in part.told if one.startswith("1 cell breaks the description of the tables ('box' of ")
    ]
    assert "1 cell holds text that is no value of the column" in " ".join(part.told)
    unread = pd.read_csv(tmp_path / "tables" / "unread.csv", dtype="str")
    assert unread.loc[0].tolist() == ["Ringing 2026!188", "handlings", "tag", "9.99104E+14"]


def test_pandas_reads_the_clean_season_back(demo, tmp_path):
    written(demo, tmp_path)
    for name, table in demo.clean.tables.items():
        back = read_back(tmp_path / "tables" / f"{name}.csv", table.frame)
        assert back.index.tolist() == table.frame.index.tolist()
        for field in table.frame.columns:
            here, there = table.frame[field], back[field]
            assert here.isna().tolist() == there.isna().tolist(), (name, field)
            if pd.api.types.is_float_dtype(here.dtype):
                np.testing.assert_array_equal(here.dropna(), there.dropna())
            else:
                assert here.dropna().tolist() == there.dropna().tolist(), (name, field)


def test_numbers_are_written_with_no_more_digits_than_they_need(demo, tmp_path):
    written(demo, tmp_path)
    with (tmp_path / "tables" / "handlings.csv").open(encoding="utf-8", newline="") as stream:
        row = next(csv.DictReader(stream))
    assert row == {
        "row_as_typed": "Ringing 2026!5",
        "date": "2026-05-27",
        "time": "09:30",
        "box": "SL-20",
        "species": "Barn owl",
        "ring": "SV03001",
        "ring_leg": "R",
        "tag": "999104190065688",
        "tag_leg": "L",
        "age": "1",
        "event": "ringed",
        "gross_g": "329",
        "bag_g": "24",
        "net_g": "305",
        "wing_mm": "138",
        "brood_size": "3",
        "sex": "U",
        "ringer": "IP",
        "scribe": "MK",
        "remarks": "",
    }


def test_the_same_season_gives_the_same_bytes(demo, tmp_path):
    for folder in ("one", "two"):
        written(demo, tmp_path / folder)
    for path in (tmp_path / "one" / "tables").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / "tables" / path.name).read_bytes()


def test_columns_of_the_team_go_with_it_as_text(declared, tmp_path):
    rows = clean_round(4)
    for number, row in enumerate(rows["handlings"]):
        row["Feather sample"] = f"=F{number}"
    season = read_season({name: pd.DataFrame(lines) for name, lines in rows.items()})
    part = written(decided_season(season, declared), tmp_path)
    with (tmp_path / "tables" / "handlings.csv").open(encoding="utf-8", newline="") as stream:
        assert next(csv.DictReader(stream))["Feather sample"] == "'=F0"
    assert frictionless.Package(str(tmp_path / "tables" / "datapackage.json")).validate().valid
    assert "write 'licence' into sender.yaml" in " ".join(part.told)


def test_moments_keep_their_milliseconds(declared, tmp_path):
    rows = {
        "handlings": [{"date": "2026-06-13", "box": "SL-01", "ring": "SV01001"}],
        "detections": [
            {"box": "SL-01", "antenna": "outer", "detected_at": moment, "tag": "999104190065688"}
            for moment in ("2026-06-13 22:10:07.250", "2026-06-14 00:00:00")
        ],
    }
    season = read_season({name: pd.DataFrame(lines) for name, lines in rows.items()})
    written(decided_season(season, declared), tmp_path)
    back = pd.read_csv(tmp_path / "tables" / "detections.csv", dtype="str")
    assert back["detected_at"].tolist() == ["2026-06-13T22:10:07.250", "2026-06-14T00:00:00"]
    assert frictionless.Package(str(tmp_path / "tables" / "datapackage.json")).validate().valid


HOSTILE = st.text(st.characters(codec="utf-8"), max_size=12) | st.sampled_from(
    [
        "=1+1",
        "+441",
        "-x",
        "@SUM(A1)",
        "'=quoted",
        "a\nb",
        "a\rb",
        'say "no"',
        "a,b",
        "\u202eabc",
        "\ufeff",
        "\0",
    ]
)


@settings(max_examples=25)
@given(remarks=st.lists(HOSTILE, min_size=1, max_size=4))
def test_any_text_makes_one_line_that_nothing_runs(remarks, declared, tmp_path_factory):
    folder = tmp_path_factory.mktemp("tables")
    frame = pd.DataFrame(
        [
            {"date": "2026-06-13", "box": "SL-01", "ring": f"SV0100{number}", "remarks": text}
            for number, text in enumerate(remarks)
        ]
    )
    written(decided_season(read_season({"handlings": frame}), declared), folder)
    text = (folder / "tables" / "handlings.csv").read_bytes().decode("utf-8")
    assert "\0" not in text
    lines = list(csv.reader(text.splitlines()))
    assert len(lines) == len(remarks) + 1
    assert all(len(line) == len(lines[0]) for line in lines)
    for line in lines[1:]:
        assert not line[-1].startswith(("=", "@")), line
