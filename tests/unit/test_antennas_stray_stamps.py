"""Moments years away from the rest of a box: left out, told of, and nothing else touched."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import audit
from audit.antennas.stray_stamps import Stray, stray_limits, without_strays
from audit.declarations import load_declarations
from audit.models.reads import Reads

DAY = 86_400_000
#: Noon of the first of May 2026, and the start of 2000 (946,684,800 s since 1970, as POSIX counts).
SEASON, RESET = 1_777_636_800_000, 946_684_800_000


@pytest.fixture(scope="module")
def limits():
    return stray_limits(load_declarations())


def _reads(*boxes):
    at = [np.sort(np.asarray(one, dtype=np.int64)) for one in boxes]
    n = sum(map(len, at))
    box = np.repeat(np.arange(len(at), dtype=np.int32), [len(one) for one in at])
    return Reads(box, np.zeros(n, np.int32), np.concatenate(at), np.zeros(n, np.int8))


def _nights(begin, days, n):
    return begin + np.linspace(0, days * DAY, n).astype(np.int64)


def test_a_clock_that_began_anew_is_left_out_however_much_it_logged(limits):
    right, lost = _nights(SEASON, 20, 300), _nights(RESET, 9, 500)
    reads = _reads(right, np.concatenate([right, lost]))
    kept, strays = without_strays(reads, limits)
    assert list(strays) == [1]
    (stray,) = strays[1]
    assert (stray.reads, stray.first, stray.last) == (500, RESET, RESET + 9 * DAY)
    # from 2000-01-10 to 2026-05-01
    assert stray.apart_y == pytest.approx(-26.3, abs=0.05)
    assert stray.sentence.startswith(
        "500 reads bear moments of the year 2000, 26 years before the rest: its clock"
    )
    assert np.array_equal(kept.at, np.concatenate([right, right]))
    assert kept.box.tolist() == [0] * 300 + [1] * 300


def test_one_read_in_the_future(limits):
    right = _nights(SEASON, 20, 300)
    kept, strays = without_strays(_reads(np.append(right, SEASON + 139 * 365 * DAY)), limits)
    assert np.array_equal(kept.at, right)
    assert "1 read bears a moment of the year 2165, 139 years after the rest" in strays[0][0].sentence


def test_strays_of_several_years_are_told_one_by_one(limits):
    at = np.concatenate([_nights(5000, 3, 40), _nights(RESET, 400, 60), _nights(SEASON, 20, 300)])
    kept, strays = without_strays(_reads(at), limits)
    assert [one.reads for one in strays[0]] == [40, 60]
    assert "years 2000 to 2001" in strays[0][1].sentence
    assert len(kept.at) == 300


@pytest.mark.parametrize(
    "at",
    [
        # six years with reads in each; two seasons four years apart; all of it by a clock that began anew
        np.concatenate([_nights(SEASON + year * 365 * DAY, 60, 100) for year in range(6)]),
        np.concatenate([_nights(SEASON, 60, 100), _nights(SEASON + 4 * 365 * DAY, 60, 500)]),
        _nights(RESET, 60, 100),
        # a pause of less than two years
        np.append(_nights(SEASON, 60, 300), SEASON + 780 * DAY),
    ],
)
def test_what_may_be_right_stays_whole(at, limits):
    reads = _reads(at, _nights(SEASON, 20, 10))
    kept, strays = without_strays(reads, limits)
    assert kept is reads
    assert strays == {}


def test_no_reads_are_no_strays(limits):
    reads = _reads([])
    assert without_strays(reads, limits) == (reads, {})


def test_thousands_are_parted_by_commas():
    assert Stray(1214, RESET, RESET, -26.0).sentence.startswith(
        "1,214 reads bear moments of the year 2000, 26 y"
    )


@pytest.mark.parametrize("boxes", [1, 2])
def test_stray_moments_make_no_passages_and_no_rows_of_decades(boxes, tmp_path):
    random = np.random.default_rng(5)
    rows = []
    for box in range(boxes):
        for night in range(12):
            for trip in range(8):
                at = SEASON + night * DAY + (9 + trip) * 3_600_000 + int(random.integers(2_400_000))
                sides = ("outer", "inner") if trip % 2 else ("inner", "outer")
                rows += [(box + 1, side, at + 800 * k, 1 + box) for k, side in enumerate(sides)]
    frame = pd.DataFrame(rows, columns=["box", "antenna", "at", "tag"])
    lost = frame["box"].eq(1) & frame["at"].between(SEASON + 4 * DAY, SEASON + 7 * DAY)
    frame.loc[lost, "at"] += RESET - SEASON - 4 * DAY
    # a tag of its own that was read by the lost clock alone
    frame.loc[frame.index[lost][:2], "tag"] = 9
    frame["box"] = "SL-0" + frame["box"].astype(str)
    frame["tag"] = 999_000_000_100_000 + frame["tag"]
    frame["detected_at"] = pd.to_datetime(frame.pop("at"), unit="ms").dt.strftime("%Y-%m-%dT%H:%M:%S.%f")
    frame.to_csv(tmp_path / "log.csv", index=False)
    found = audit.passages(tmp_path / "log.csv")
    (told,) = [one for one in found.record.told if "lost the time" in one]
    assert told.startswith(
        f"SL-01: {lost.sum()} reads bear moments of the year 2000, 26 years before the rest"
    )
    assert set(found.table()["passage_at"].dt.year) == {2026}
    health = found.antenna_health()
    assert set(health["from"].dt.year) | set(health["to"].dt.year) == {2026}
    for moments in (found.record.heard.first, found.record.nights.first, found.record.heard.last):
        assert set(pd.to_datetime(moments, unit="ms").year) == {2026}
    assert found.write(tmp_path / "out")
