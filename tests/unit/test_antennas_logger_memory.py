"""Reads of a logger as they stood in its file."""

from __future__ import annotations

import pandas as pd
import pytest

from audit.antennas.log import open_log
from audit.antennas.logger_memory import stored_reads
from audit.declarations.load import load_declarations

MARKER, BIRD = "999000000109999", "999000000100001"


@pytest.mark.parametrize(("downloads", "beats"), [(1, 104), (2, 100)])
def test_an_hour_shown_again_is_kept_beside_birds_read_twice_a_second(downloads, beats, tmp_path):
    # a beat every quarter of an hour, and an hour of them once more: a clock in whole seconds was put back
    start = pd.Timestamp("2026-10-24T12:00:00")
    marks = [start + pd.Timedelta(minutes=15 * k) for k in (*range(100), 52, 53, 54, 55)]
    birds = [start + pd.Timedelta(minutes=7 * k) for k in range(200)]
    rows = pd.DataFrame(
        [(one, "outer", MARKER) for one in marks] + [(one, "outer", BIRD) for one in birds for _ in range(2)],
        columns=["detected_at", "antenna", "tag"],
    ).sort_values("detected_at", kind="stable")
    rows.insert(0, "box", "SL-01")
    pd.concat([rows] * downloads).to_csv(tmp_path / "log.csv", index=False)
    with open_log(tmp_path / "log.csv", load_declarations()) as log:
        code = {label: nr for nr, label in enumerate(log.tags)}
        told = stored_reads(log.engine, (0, 0), 0.05)[0]
    assert (told.tag == code[MARKER]).sum() == beats
    assert (told.tag == code[BIRD]).sum() == len(birds)
