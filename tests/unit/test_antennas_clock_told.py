"""What is told of a clock holds for the moments it is told of: the first of a piece, and the last."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit import passages
from audit.handover.passages.clock_record import LeftOpen
from audit.handover.passages.clock_words import clock_sentences

START = pd.Timestamp("2026-05-20 12:00:00")
DAY = 86_400.0


def test_a_clock_that_drifts_is_told_as_of_its_first_moment_and_its_last(tmp_path):
    # 40 s ahead at first, 3 s more each day; most reads are of the first days, where birds were many
    true = np.arange(1, 96 * 20) * 900.0
    birds = np.sort(np.random.default_rng(6).uniform(0, 4 * DAY, 600))
    rows = [(at, "999000000900001", "outer") for at in true]
    rows += [
        (at + 2 * (nth % 2), "999000000100001", ("outer", "inner")[nth % 2]) for nth, at in enumerate(birds)
    ]
    at = np.array([row[0] for row in rows])
    shown = START + pd.to_timedelta(at + 40 + 3 * at / DAY, unit="s")
    frame = pd.DataFrame(
        {
            "box": "SL-01",
            "antenna": [row[2] for row in rows],
            "detected_at": shown.strftime("%Y-%m-%d %H:%M:%S.%f"),
            "tag": [row[1] for row in rows],
        }
    ).sort_values("detected_at")
    frame.to_csv(tmp_path / "log.csv", index=False)

    passed = passages(tmp_path / "log.csv")
    (told,) = passed.clock().itertuples()

    assert told.reference == "marker on the round"
    assert told.offset_s == pytest.approx(40, abs=2)
    assert told.offset_to_s == pytest.approx(40 + 3 * true[-1] / DAY, abs=2)
    assert told.drift_s_per_day == pytest.approx(3, abs=0.05)


@pytest.mark.parametrize("rare", [True, False])
def test_a_clock_that_is_left_open_says_what_would_tell_it(rare):
    one = LeftOpen(131.0, 3600.0 if rare else 300.0, 0.49, taken=False, rare=rare)
    (said,) = clock_sentences([], {}, change=True, unsure={"SL-01": one})
    assert said.startswith("SL-01: ")
    assert "the clock is taken to be right at" in said
    assert all(word in said for word in ("reading.marker_moments", "reading.held_tags", "planned visit"))
