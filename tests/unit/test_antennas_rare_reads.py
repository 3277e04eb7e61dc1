"""A logger that stores a tag every 20 s at most: a rest in the entrance is one thing, not many crossings."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from audit import passages
from audit.antennas import judging

START = pd.Timestamp("2026-05-20 12:00:00")
HEARD = {"outer": 0.9, "inner": 0.85}


def _log(folder):
    rng = np.random.default_rng(8)
    rows = []
    for night in range(12):
        for bird in range(3):
            at = night * 86_400 + 9 * 3600 + np.cumsum(rng.uniform(300, 2500, 12))
            for nth, moment in enumerate(at):
                for order, antenna in enumerate(("outer", "inner") if nth % 2 == 0 else ("inner", "outer")):
                    if rng.random() < HEARD[antenna]:
                        rows.append((moment + 1.5 * order, antenna, f"99900000010000{bird}"))
        for bird in range(3):
            # before it goes out for the night it rests, nearer now to the one antenna and now to the other
            stored = night * 86_400 + rng.uniform(6, 8) * 3600 + 20.3 * np.arange(60)
            near = rng.random(60) < 0.5
            rows += [
                (at, "outer" if outer else "inner", f"99900000010000{bird}")
                for at, outer in zip(stored, near, strict=True)
            ]
    frame = pd.DataFrame(sorted(rows), columns=["at", "antenna", "tag"])
    frame["detected_at"] = (START + pd.to_timedelta(frame.pop("at"), unit="s")).dt.strftime(
        "%Y-%m-%d %H:%M:%S.%f"
    )
    frame.assign(box="SL-01").to_csv(folder / "log.csv", index=False)
    return folder / "log.csv"


def test_silences_are_told_from_groups_as_far_apart_as_passages(tmp_path, monkeypatch):
    # crossings a second long, rests stored every 20 s, visits hours apart: the valley lies beyond 20 s
    asked = []
    real = judging.logs_of
    monkeypatch.setattr(judging, "logs_of", lambda *a, **k: asked.append(k["gap"]) or real(*a, **k))
    passages(_log(tmp_path))
    assert min(asked) > 21


def test_a_rest_that_is_stored_now_and_then_does_not_make_an_antenna_deaf(tmp_path):
    health = passages(_log(tmp_path)).antenna_health()
    awake = health[health["state"] == "awake"].groupby("antenna")["efficiency"].mean()

    assert awake["outer"] == pytest.approx(HEARD["outer"], abs=0.08)
    assert awake["inner"] == pytest.approx(HEARD["inner"], abs=0.08)
