"""Declared tables as Table Schema, read by frictionless (PyPI), the reference reader of the standard."""

from __future__ import annotations

import csv
import dataclasses
import json

import pandas as pd
import pytest
from frictionless import Package, Resource, Schema, system
from typed_season import typed_season

from audit.declarations import load_declarations, to_pandera
from audit.declarations.breach import references_in
from audit.declarations.to_tableschema import compile_table
from audit.rules.plain import plain_text

DECLARED = load_declarations()

SEASON = {
    "boxes": [
        {"box": "SL-01", "latitude": 52.25, "longitude": 1.5, "camera": True, "since": "2019-03-01"},
        {"box": "SL-02", "latitude": 52.5, "longitude": 1.25, "camera": False},
    ],
    "handlings": [
        {
            "date": "2026-06-01",
            "time": "10:05",
            "box": "SL-01",
            "ring": "SV01001",
            "sex": "M",
            "gross_g": 395.0,
        },
        {
            "date": "2026-06-01",
            "time": "10:15",
            "box": "SL-02",
            "ring": "SV01002",
            "sex": "U",
            "brood_size": 4,
        },
    ],
    "detections": [
        {
            "box": "SL-01",
            "antenna": "inner",
            "detected_at": pd.Timestamp("2026-06-01 21:04:05.125"),
            "tag": "999000000000001",
        },
        {
            "box": "SL-01",
            "antenna": "outer",
            "detected_at": pd.Timestamp("2026-06-01 21:05"),
            "tag": "999000000000001",
        },
    ],
}


def write(folder, season):
    """Clean tables and their descriptors, as they go out; returns the package."""
    resources = []
    for name, table in season.tables.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(table.frame.columns)
            writer.writerows(
                [plain_text(cell) for cell in row] for row in table.frame.itertuples(index=False)
            )
        schema = compile_table(
            DECLARED.tables[name], columns=list(table.frame.columns), tables=list(season.tables)
        )
        resources.append({"name": name, "path": f"{name}.csv", "schema": schema})
    path = folder / "datapackage.json"
    path.write_text(json.dumps({"name": "season", "resources": resources}), encoding="utf-8")
    with system.use_context(trusted=True):
        return Package(str(path))


@pytest.mark.parametrize("name", DECLARED.tables)
def test_the_descriptor_is_valid_metadata(name):
    descriptor = compile_table(DECLARED.tables[name])
    assert json.loads(json.dumps(descriptor)) == descriptor
    schema = Schema.from_descriptor(descriptor)  # raises on invalid metadata
    assert schema.field_names == list(DECLARED.tables[name].names)
    resource = Resource.from_descriptor({"name": "table", "path": "table.csv", "schema": descriptor})
    assert resource.schema.to_descriptor()["missingValues"] == [""]


def test_what_the_boxes_say():
    descriptor = compile_table(DECLARED.tables["boxes"])
    fields = {field["name"]: field for field in descriptor["fields"]}
    assert descriptor["primaryKey"] == "box"
    assert fields["box"]["constraints"] == {"required": True, "unique": True}
    assert fields["latitude"]["unit"] == "degree"
    assert fields["latitude"]["constraints"] == {"minimum": -90, "maximum": 90}
    assert fields["camera"]["trueValues"][0] == "yes"


def test_foreign_keys_go_with_their_tables():
    handlings = DECLARED.tables["handlings"]
    assert compile_table(handlings)["foreignKeys"] == [
        {"fields": "box", "reference": {"resource": "boxes", "fields": "box"}}
    ]
    assert "foreignKeys" not in compile_table(handlings, tables=["handlings"])
    assert "foreignKeys" not in compile_table(handlings, columns=["date", "ring"])


def test_columns_keep_the_order_of_the_file():
    descriptor = compile_table(DECLARED.tables["handlings"], columns=["ring", "date"])
    assert [field["name"] for field in descriptor["fields"]] == ["ring", "date"]


def test_a_clean_season_is_valid(tmp_path):
    report = write(tmp_path, typed_season(DECLARED, **SEASON)).validate()
    assert report.valid, report.flatten(["fieldName", "rowNumber", "note"])
    assert [task.stats["rows"] for task in report.tasks] == [2, 2, 2]


def test_a_third_reader_blames_the_same_cells(tmp_path):
    rows = {
        "boxes": [
            {"box": "SL-01", "latitude": 520.0},
            {"box": "SL-02", "latitude": -91.0, "antennas": -1},
        ],
        "handlings": [
            {"date": None, "box": "SL-01", "ring": "SV01001", "sex": "x", "gross_g": -3.0},
            {"date": "2026-06-01", "box": "SL-77", "ring": "SV01002", "event": "dead", "brood_size": -2},
        ],
    }
    season = typed_season(DECLARED, **rows)
    frames = {name: table.frame for name, table in season.tables.items()}
    references = references_in(frames, DECLARED.tables)
    ours = {
        (breach.label, breach.field, breach.check)
        for name, frame in frames.items()
        for breach in to_pandera.blame(DECLARED.tables[name], frame, references)
    }
    theirs = set()
    for task in write(tmp_path, season).validate().tasks:
        for error in task.errors:
            if error.type == "foreign-key":
                theirs.add((f"{task.name}!{error.row_number}", "box", "foreign_key"))
            else:
                # the note reads: constraint "minimum" is "0"
                check = error.note.split('"')[1]
                theirs.add((f"{task.name}!{error.row_number}", error.field_name, check))
    assert ours == theirs
    assert len(ours) == 9


def test_whole_numbers_of_a_set():
    boxes = DECLARED.tables["boxes"]
    fields = tuple(
        dataclasses.replace(field, allowed=("0", "1", "2")) if field.name == "antennas" else field
        for field in boxes.fields
    )
    descriptor = compile_table(dataclasses.replace(boxes, fields=fields), columns=["antennas"])
    assert descriptor["fields"][0]["constraints"]["enum"] == [0, 1, 2]
    Schema.from_descriptor(descriptor)
