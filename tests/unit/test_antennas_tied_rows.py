"""Both antennas in one second: rows that stand as the logger stored them tell which heard the bird first."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit import passages
from audit.antennas.log import open_log
from audit.declarations.load import load_declarations
from audit.models.reads import INNER, OUTER

WORDS = {OUTER: "outer", INNER: "inner"}
FIRST = pd.Timestamp("2026-05-20 21:00:00")


def _crossings(rng: np.random.Generator) -> list[tuple[str, int, bool]]:
    """Four birds in and out by turns, minutes apart: tag, second, and whether it goes in."""
    found = []
    for bird in range(4):
        at = np.cumsum(rng.integers(60, 1500, 60))
        found += [(f"99900000010000{bird}", int(second), nth % 2 == 0) for nth, second in enumerate(at)]
    return sorted(found, key=lambda one: one[1])


def _log(folder, crossings, order):
    """Two rows of one second for each crossing, the first antenna first, and a marker tag that beats."""
    rows = []
    for tag, second, inward in crossings:
        antennas = (OUTER, INNER) if inward else (INNER, OUTER)
        rows += [(second, antenna, tag) for antenna in antennas]
    asked = np.random.default_rng(3).random(200) < 0.5
    for nth, outer_first in enumerate(asked):
        antennas = (OUTER, INNER) if outer_first else (INNER, OUTER)
        rows += [(900 * nth, antenna, "999000000900001") for antenna in antennas]
    rows.sort(key=lambda row: row[0])
    frame = pd.DataFrame(order(rows), columns=["second", "antenna", "tag"])
    frame["box"] = "SL-01"
    frame["detected_at"] = (FIRST + pd.to_timedelta(frame.pop("second"), unit="s")).dt.strftime(
        "%Y-%m-%d %H:%M:%S"
    )
    frame["antenna"] = frame["antenna"].map(WORDS)
    path = folder / "log.csv"
    frame.to_csv(path, index=False)
    return path


def _shuffled(rows):
    order = np.random.default_rng(4).permutation(len(rows))
    return [rows[place] for place in order]


def _parted(path):
    with open_log(path, load_declarations()) as log:
        assert not log.exact
        return log.engine.execute("select count(*) from reads where stamp % 1000 <> 0").fetchall()[0][0]


@pytest.fixture(scope="module")
def crossings():
    return _crossings(np.random.default_rng(7))


def test_rows_as_stored_tell_the_direction(tmp_path, crossings):
    path = _log(tmp_path, crossings, list)
    # one row of each crossing, and none of the marker
    assert _parted(path) == len(crossings)
    found = passages(path).table()
    told = set(zip(found["tag"], pd.to_datetime(found["passage_at"]), found["direction"], strict=True))
    true = {
        (tag, FIRST + pd.Timedelta(seconds=second), "in" if inward else "out")
        for tag, second, inward in crossings
    }
    # moments go out in whole seconds, as they came
    assert len(told & true) >= 0.99 * len(true)


@pytest.mark.parametrize("order", [_shuffled, sorted], ids=["shuffled", "sorted by antenna"])
def test_rows_that_were_moved_tell_nothing(tmp_path, crossings, order):
    assert _parted(_log(tmp_path, crossings, order)) == 0


def test_a_file_read_twice_is_counted_once(tmp_path, crossings):
    once = _log(tmp_path, crossings, list)
    (tmp_path / "again.csv").write_bytes(once.read_bytes())
    with open_log(tmp_path, load_declarations()) as log:
        rows = log.engine.execute(
            "select count(*), count(distinct (tag, stamp, antenna)) from reads"
        ).fetchall()
    assert rows == [(2 * (2 * len(crossings) + 400), 2 * len(crossings) + 400)]
