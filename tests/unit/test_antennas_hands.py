"""Boxes judged by other processes, by none, and by such as are gone."""

from __future__ import annotations

import io
import pickle

import logger_files
import numpy as np
import pytest
from simulated_detections import Sky, by_events, f1

import audit
from audit.antennas.box_models import Models
from audit.antennas.hands import Hands, serve
from audit.antennas.judging import Judge
from audit.declarations import load_declarations
from audit.models.reads import Passages

_BOXES = 8


@pytest.fixture(scope="module")
def log():
    return by_events(Sky(seed=310, boxes=_BOXES, nights=8, nestlings=1))


@pytest.fixture(scope="module")
def path(log, tmp_path_factory):
    return logger_files.canonical(logger_files.table(log.reads), tmp_path_factory.mktemp("log") / "log.csv")


@pytest.fixture(scope="module")
def judged(log):
    """Ask the judge here; give also what it was asked."""
    models = Models(load_declarations(), tuple(str(code) for code in range(log.tags)))
    asked = models.judge, log.reads, {1}, {2}
    return asked, models.judge(*asked[1:])


def _passed(path, folder, **engine):
    (folder / "schemas").mkdir(parents=True)
    told = ", ".join(f"{name}: {{value: {value}}}" for name, value in engine.items())
    (folder / "schemas" / "loggers.yaml").write_text(f"engine: {{{told}}}", encoding="utf-8")
    return audit.passages(path, schemas=folder / "schemas")


def _files(passed, folder):
    return {one.name: one.read_bytes() for one in passed.write(folder / "out")}


def _same(one, other):
    for name in ("passages", "spells"):
        ours, theirs = getattr(one, name), getattr(other, name)
        for column in type(ours).__slots__:
            np.testing.assert_array_equal(getattr(ours, column), getattr(theirs, column))
    assert one.exchanged == other.exchanged


_FEW = {"reads_at_once": 4000, "learn_reads": 9000}


@pytest.fixture(scope="module")
def plain(path, tmp_path_factory):
    """Files that a single process writes."""
    folder = tmp_path_factory.mktemp("plain")
    return _files(_passed(path, folder, **_FEW, hands=1), folder)


@pytest.mark.parametrize("hands", [2, 3])
def test_files_do_not_depend_on_how_many_work(path, plain, tmp_path, monkeypatch, hands):
    monkeypatch.setattr("os.cpu_count", lambda: 4)
    assert _files(_passed(path, tmp_path, **_FEW, hands=hands), tmp_path) == plain


def test_habits_learnt_once_tell_passages_as_well(log, path, tmp_path):
    # as in a large log, half of the boxes go together, and four show the habits of all
    found = {}
    parted = {"reads_at_once": len(log.reads.at) // 2, "learn_reads": len(log.reads.at) // 2}
    for name, engine in (("whole", {}), ("parted", parted)):
        record = _passed(path, tmp_path / name, **engine).record
        # the log as a file has its own codes
        tag = np.array([int(text) for text in record.tags])[record.passages.tag]
        codes = {int(code): nr for nr, code in enumerate(np.unique([int(text) for text in record.tags]))}
        mine = np.array([codes[int(one)] for one in tag], dtype=np.int32)
        parts = record.passages
        found[name] = Passages(parts.box, mine, parts.at, parts.direction, parts.p, parts.how)
    assert len(found["whole"].at) > 0.9 * len(log.truth.at)
    assert f1(found["parted"], log.truth) == pytest.approx(f1(found["whole"], log.truth), abs=0.001)


def test_an_answer_is_the_one_given_here(judged):
    asked, answer = judged
    told = io.BytesIO()
    serve(io.BytesIO(pickle.dumps(asked) * 2), told)
    told.seek(0)
    for _ in range(2):
        _same(pickle.load(told), answer)  # noqa: S301 - written above
    assert not told.read()


def test_a_process_answers_and_the_work_of_one_that_is_gone_is_done_here(judged, monkeypatch):
    asked, answer = judged
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    monkeypatch.setattr(Judge, "__call__", lambda *_: "done here")
    with Hands(2) as hands:
        assert len(hands.all) == 2
        _same(hands.judge(*asked), answer)
        for process in hands.all:
            process.kill()
            process.wait()
        assert [hands.judge(*asked) for _ in range(3)] == ["done here"] * 3
    assert all(process.returncode is not None for process in hands.all)


@pytest.mark.parametrize("many", [0, 1])
def test_a_single_hand_starts_no_process(many):
    with Hands(many) as hands:
        assert hands.all == []
