"""From a log and a season to ``birds.csv``, ``heard.csv`` and ``findings.csv``, on the command line."""

from __future__ import annotations

import csv
import datetime as dt

import logger_files
import pandas as pd
import pytest
from simulated_detections import Sky, by_events

from audit.cli import main

FITTED = dt.date(2026, 5, 2)
TAGS = [f"{999_000_000_100_000 + code:015d}" for code in range(5)]


@pytest.fixture(scope="module")
def out(tmp_path_factory):
    folder = tmp_path_factory.mktemp("season")
    reads = by_events(Sky(seed=5, boxes=1, nights=10, nestlings=3)).reads
    log = logger_files.canonical(
        logger_files.table(reads).drop_duplicates(ignore_index=True), folder / "log.csv"
    )
    # two old birds that had their tags before, three nestlings, one of them with a mistyped tag
    tags = [*TAGS[:4], "999000000180004"]
    rows = [
        {
            "date": FITTED,
            "box": "SL-01",
            "ring": f"SV{1001 + i:05d}",
            "tag": tag,
            "age": "4" if i < 2 else "1",
            "event": "re-encountered" if i < 2 else "ringed",
        }
        for i, tag in enumerate(tags)
    ]
    season = folder / "season"
    season.mkdir()
    pd.DataFrame(rows).to_csv(season / "handlings.csv", index=False)
    pd.DataFrame({"tag": TAGS}).to_csv(season / "tag_stock.csv", index=False)
    assert main(["passages", str(log), "--season", str(season), "--out", str(folder / "out")]) == 0
    return folder / "out"


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_all_files_are_written(out):
    assert sorted(path.name for path in out.iterdir()) == [
        "antenna_efficiency.csv",
        "antenna_health.csv",
        "birds.csv",
        "findings.csv",
        "heard.csv",
        "passages.csv",
    ]


def test_the_mistyped_tag_is_found_and_its_bird_followed(out):
    (finding,) = [row for row in rows_of(out / "findings.csv") if row["severity"] != "note"]
    assert (finding["rule"], finding["observed"], finding["suggested"]) == (
        "heard_life.another_heard",
        "999000000180004",
        TAGS[4],
    )
    bird = next(row for row in rows_of(out / "birds.csv") if row["ring"] == "SV01005")
    assert (bird["heard_as"], bird["young"]) == (TAGS[4], "yes")
    assert int(bird["nights"]) > 5


def test_nestlings_have_a_first_flight_and_old_birds_none(out):
    birds = {row["ring"]: row for row in rows_of(out / "birds.csv")}
    assert len(birds) == 5
    assert not birds["SV01001"]["first_flight"]
    assert birds["SV01001"]["last_passage"]
    for ring in ("SV01003", "SV01004"):
        assert 0.5 <= float(birds[ring]["p"]) <= 1
        assert birds[ring]["first_heard"] < birds[ring]["first_flight"] <= birds[ring]["last_passage"]


def test_files_beside_a_season_need_a_season(out, capsys):
    assert main(["passages", "log.csv", "--reads", "reads.csv", "--out", str(out)]) == 2
    assert "Name the season with --season" in capsys.readouterr().err
