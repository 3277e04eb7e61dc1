"""One archive on pandas, DuckDB and a real Spark cluster of two workers: the same findings, line by line."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import pytest
from archive_rows import FrameEngine
from spark_cluster import spark_cluster

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from archives import Plan, make_archive

import audit.archive.audited
from audit.archive.duck import DuckEngine, open_duck
from audit.archive.engine import Raw
from audit.archive.work_folder import WORK
from audit.archiving import audit_archive

#: Thousands of handlings with slips of every kind in some of a hundred rows.
PLAN = Plan(handlings=2400, seasons=2, teams=2, slips=0.02, seed=41)


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    return make_archive(tmp_path_factory.mktemp("archive"), PLAN)


@pytest.fixture(scope="module")
def by_duckdb(archive, tmp_path_factory):
    out = tmp_path_factory.mktemp("duckdb")
    audit_archive(archive.folder, out)
    return out


def lines(out):
    return {
        path.relative_to(out).as_posix(): path.read_text(encoding="utf-8").splitlines()
        for path in sorted(out.glob("findings/*/findings.csv"))
    }


def with_pieces(done, out):
    """Begin with what was judged: a piece is known by all that it holds, and one that differs is judged."""
    shutil.copytree(done / WORK / "pieces", out / WORK / "pieces")


class _InMemory(DuckEngine):
    """Only the files are read by DuckDB."""

    table = FrameEngine.table
    keep = FrameEngine.keep
    frame = FrameEngine.frame


@contextlib.contextmanager
def _opened(files, declared, work, *, megabytes, master, keep):
    import narwhals as nw

    assert master is None
    with open_duck(files, declared, work, megabytes=megabytes, keep=keep) as engine:
        told = {field.name: getattr(engine, field.name) for field in fields(engine)}
        rows = nw.from_native(engine.frame(engine.raw.rows)).lazy()
        yield _InMemory(**told | {"raw": Raw(rows, engine.raw.stored)})


def test_there_is_something_to_be_found(archive, by_duckdb):
    found = [line for season in lines(by_duckdb).values() for line in season[1:]]
    rules = {line.split(",")[0] for line in found}
    assert len(found) > len(archive.key) / 2
    assert len(lines(by_duckdb)) == PLAN.seasons
    assert any("archive." in line for line in found), rules


def test_pandas_finds_the_same(archive, by_duckdb, tmp_path, monkeypatch):
    monkeypatch.setattr(audit.archive.audited, "opened", _opened)
    with_pieces(by_duckdb, tmp_path)
    audit_archive(archive.folder, tmp_path)
    assert lines(tmp_path) == lines(by_duckdb)


@pytest.mark.skipif(shutil.which("java") is None, reason="Spark is a Java program, and there is no Java here")
def test_a_spark_cluster_finds_the_same(archive, by_duckdb, tmp_path):
    (tmp_path / "cluster").mkdir()
    out = tmp_path / "out"
    with_pieces(by_duckdb, out)
    with spark_cluster(tmp_path / "cluster") as cluster:
        told = subprocess.run(
            [
                *(sys.executable, "-m", "audit", "archive", str(archive.folder), "--out", str(out)),
                *("--master", cluster.master),
            ],
            env=os.environ | cluster.environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert told.returncode == 1, told.stderr
        assert cluster.executors() == {"worker-0", "worker-1"}
    assert lines(out) == lines(by_duckdb)
    assert "Warning" not in told.stderr
