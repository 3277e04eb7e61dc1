"""A log read by the engine and by plain pandas gives the same, line by line."""

from __future__ import annotations

import logger_files
import narwhals as nw
import numpy as np
import pandas as pd
import pytest
from simulated_detections import Sky, by_counts

from audit.antennas import relations
from audit.antennas.log import open_log
from audit.antennas.moments import find_formats, moment_sql
from audit.declarations import load_declarations

NOON = pd.Timedelta(hours=12)


@pytest.fixture(scope="module")
def frame():
    """Shuffled, so that the order is that of the engine and not of the file."""
    typed = logger_files.table(by_counts(Sky(seed=3, boxes=3, nights=5)).reads)
    return typed.sample(frac=1, random_state=3, ignore_index=True)


@pytest.fixture(scope="module")
def log(frame, tmp_path_factory):
    path = logger_files.canonical(frame, tmp_path_factory.mktemp("log") / "log.csv")
    with open_log(path, load_declarations()) as opened:
        yield opened


def test_reads_are_those_of_pandas(frame, log):
    typed = frame.assign(outer=frame["antenna"] == "outer", at=frame["detected_at"].astype("datetime64[ms]"))
    typed = typed.sort_values(["box", "tag", "at", "outer"], ascending=[True, True, True, False])
    chunks = list(log.chunks())
    assert np.array(log.boxes)[np.concatenate([c.box for c in chunks])].tolist() == typed["box"].tolist()
    assert np.array(log.tags)[np.concatenate([c.tag for c in chunks])].tolist() == typed["tag"].tolist()
    assert np.concatenate([c.at for c in chunks]).tolist() == typed["at"].astype("int64").tolist()
    assert (np.concatenate([c.antenna for c in chunks]) == 0).tolist() == typed["outer"].tolist()


def test_who_was_heard_is_as_pandas_has_it(frame, log):
    told = pd.DataFrame(log.table(relations.heard(log.relation)))
    grouped = frame.groupby(["box", "tag"])["detected_at"]
    expected = grouped.agg(["size", "min", "max"]).reset_index()
    assert np.array(log.boxes)[told["box"]].tolist() == expected["box"].tolist()
    assert np.array(log.tags)[told["tag"]].tolist() == expected["tag"].tolist()
    assert told["reads"].tolist() == expected["size"].tolist()
    assert pd.to_datetime(told["first"], unit="ms").tolist() == expected["min"].tolist()
    assert pd.to_datetime(told["last"], unit="ms").tolist() == expected["max"].tolist()


def test_nights_go_from_noon_to_noon(frame, log):
    told = pd.DataFrame(log.table(relations.nights(log.relation)))
    evening = (frame["detected_at"] - NOON).dt.floor("D")
    expected = frame.assign(night=evening, inner=frame["antenna"] == "inner")
    expected = expected.groupby(["box", "inner", "night"])["tag"].agg(["size", "nunique"]).reset_index()
    assert (pd.Timestamp(0) + pd.to_timedelta(told["night"], unit="D")).tolist() == expected["night"].tolist()
    assert told["reads"].tolist() == expected["size"].tolist()
    assert told["birds"].tolist() == expected["nunique"].tolist()


def test_one_expression_gives_the_same_on_both_engines(log):
    held = pd.DataFrame(log.table(log.relation))
    for ask in (relations.heard, relations.nights, relations.reads_by_box, relations.span):
        by_engine = pd.DataFrame(log.table(ask(log.relation)))
        by_pandas = nw.to_native(ask(nw.from_native(held)))
        pd.testing.assert_frame_equal(by_engine, by_pandas.reset_index(drop=True), check_dtype=False)


@pytest.mark.parametrize(
    ("form", "text"),
    [
        ("%d.%m.%Y %H:%M:%S", "24.05.2026 21:14:03"),
        ("%Y/%m/%d %H:%M:%S", "2026/05/24 21:14:03"),
        ("%Y%m%d %H%M%S", "20260524 211403"),
        ("%d %b %Y %H:%M:%S", "24 May 2026 21:14:03"),
        ("%m/%d/%Y %I:%M:%S %p", "05/24/2026 09:14:03 PM"),
        ("iso", "2026-05-24T21:14:03"),
        ("iso", "2026-05-24 21:14:03"),
    ],
)
def test_moments_are_those_of_the_standard_library(form, text, log):
    import datetime as dt

    plain = dt.datetime.fromisoformat(text) if form == "iso" else dt.datetime.strptime(text, form)  # noqa: DTZ007 - the zone is added below, where there is one
    known = load_declarations().loggers.limits["reading.time_formats"].value
    (found,) = find_formats(log.engine, [text], known)
    rows = log.engine.execute(f"select {moment_sql('?', found)}", [text]).fetchall()
    assert rows[0][0] == plain.replace(tzinfo=dt.UTC).timestamp() * 1000
