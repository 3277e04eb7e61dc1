"""Test tags held to the antennas at known moments: they tell to the second how far a clock was off."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit import passages
from audit.declarations import load_declarations
from audit.refusal import DeclarationRefusal

DAY = 86_400.0
START = pd.Timestamp("2026-05-01")
TEST = "999000000109990"
VISITS = (4.6 * DAY, 12.4 * DAY)


def _log(folder, *, ahead, drift_s_a_day=0.0, held=VISITS, known=None, box="sl-01 "):
    """Two birds, and a test tag held there at some visits; a team's folder that declares these."""
    random, rows = np.random.default_rng(17), []
    for at in held:
        rows += [(at + step, side, TEST) for step, side in ((0.2, "outer"), (1.1, "outer"), (4.0, "inner"))]
    for bird in range(2):
        for night in range(16):
            for nr, at in enumerate(np.sort(random.uniform(0, 8 * 3600, 6)) + night * DAY + 75_600):
                sides = ("outer", "inner") if nr % 2 else ("inner", "outer")
                rows += [(at + 1.5 * k, side, f"99900000010000{bird}") for k, side in enumerate(sides)]
    frame = pd.DataFrame(sorted(rows), columns=["true", "antenna", "tag"])
    shown = START + pd.to_timedelta(frame["true"] + ahead + drift_s_a_day * frame["true"] / DAY, unit="s")
    frame["detected_at"] = shown.dt.strftime("%Y-%m-%dT%H:%M:%S.%f")
    frame.assign(box="SL-01").drop(columns="true").to_csv(folder / "log.csv", index=False)
    (own := folder / "own").mkdir()
    moments = [str(START + pd.Timedelta(one, unit="s")) for one in (held if known is None else known)]
    text = f"reading: {{held_tags: {{value: {{'{TEST}': {{'{box}': {moments}}}}}}}}}"
    (own / "loggers.yaml").write_text(text, encoding="utf-8")
    return folder / "log.csv", own


@pytest.mark.parametrize("ahead", [0.0, 7.0, -240.0, 3600.0, -80_000.0])
@pytest.mark.parametrize("visits", [1, 2])
def test_a_clock_is_right_to_two_seconds_beside_a_tag_that_was_held_there(ahead, visits, tmp_path):
    log, own = _log(tmp_path, ahead=ahead, held=VISITS[:visits])
    found = passages(log, schemas=own)
    (told,) = found.clock().itertuples()
    assert (told.reference, told.moments) == ("visits", "set right" if ahead else "as logged")
    assert told.offset_s == pytest.approx(ahead, abs=2)
    # what is held there by hand is no bird
    assert TEST in [found.record.tags[code] for code in found.record.markers]


def test_two_visits_tell_how_a_clock_drifted(tmp_path):
    log, own = _log(tmp_path, ahead=100, drift_s_a_day=3.0)
    (told,) = passages(log, schemas=own).clock().itertuples()
    assert told.drift_s_per_day == pytest.approx(3, abs=0.2)
    # the memory that tells ends at the second visit
    assert told.offset_to_s == pytest.approx(100 + 3 * 12.4, abs=2)


def test_of_two_reads_near_a_visit_the_one_that_agrees_with_others_is_taken(tmp_path):
    log, own = _log(tmp_path, ahead=50, held=(4.6 * DAY, 5.2 * DAY, 12.4 * DAY), known=VISITS)
    (told,) = passages(log, schemas=own).clock().itertuples()
    assert told.offset_s == pytest.approx(50, abs=2)


def test_without_another_that_is_sure_nothing_is_guessed(tmp_path):
    log, own = _log(tmp_path, ahead=50, held=(4.6 * DAY, 5.2 * DAY), known=(4.6 * DAY,))
    assert passages(log, schemas=own).clock().empty


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("{T: {SL-01: ['2026-05-20 14:05']}}", "'2026-05-20 14:05' is no moment"),
        ("{T: {SL-01: ['2026-05-32 14:05:00']}}", "'2026-05-32 14:05:00' is no moment"),
        ("{T: {SL-01: '2026-05-20 14:05:00'}}", "2026-05-20 14:05:00"),
        ("{T: ['2026-05-20 14:05:00']}", "2026-05-20 14:05:00"),
    ],
)
def test_moments_that_are_none_are_refused_with_their_line(written, says, tmp_path):
    text = f"reading:\n  held_tags:\n    value: {written.replace('T', TEST, 1)}\n"
    (tmp_path / "loggers.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(DeclarationRefusal) as refusal:
        load_declarations(tmp_path)
    assert says in str(refusal.value)
    assert "loggers.yaml, line 3" in refusal.value.where
