"""What is said where there is no Spark, no Java or no cluster: before any work is begun."""

from __future__ import annotations

import socket
import sys
import time
from threading import Event

import pytest

from audit.archive import spark
from audit.archive.spark import open_spark
from audit.archive.spark_faults import Watch, stopped
from audit.declarations import load_declarations
from audit.refusal import Refusal

#: How a fault of Java begins.
CALLED = "An error occurred while calling o68.collectToPython.\n"


def refused(master, tmp_path):
    with (
        pytest.raises(Refusal) as told,
        open_spark((), load_declarations(), tmp_path, megabytes=100, master=master),
    ):
        pass
    return told.value


def test_without_pyspark_the_cure_is_said(monkeypatch, tmp_path):
    monkeypatch.setitem(sys.modules, "pyspark.errors", None)
    told = refused("local[1]", tmp_path)
    assert "PySpark" in told.what
    assert "nestproof[spark]" in told.cure


def test_without_java_the_cure_is_said(monkeypatch, tmp_path):
    monkeypatch.delenv("JAVA_HOME", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    told = refused("local[1]", tmp_path)
    assert "Java" in told.what
    assert "--master" in told.cure


@pytest.mark.parametrize(
    "master",
    [
        "somewhere",
        "spark://",
        "spark://host",
        "spark://host:port",
        "spark://[2:7077",
        "yarn",
        "spark://a:1,b",
    ],
)
def test_what_is_no_address_is_said(monkeypatch, master, tmp_path):
    monkeypatch.setattr(spark, "refuse_without_java", lambda: None)
    assert "no address" in refused(master, tmp_path).what


def test_a_master_that_does_not_answer_is_said(monkeypatch, tmp_path):
    monkeypatch.setattr(spark, "refuse_without_java", lambda: None)
    with socket.socket() as bound:
        # bound and not listened at: nobody else gets it, and nobody answers
        bound.bind(("127.0.0.1", 0))
        told = refused(f"spark://127.0.0.1:{bound.getsockname()[1]}", tmp_path)
    assert "does not answer" in told.what


@pytest.mark.parametrize(
    ("said", "what"),
    [
        (
            f"{CALLED}: org.apache.spark.SparkException: Checkpoint block rdd_7_0 not found!\n\tat x",
            "A worker of Spark was lost, and with it what it kept.",
        ),
        ("[PATH_NOT_FOUND] Path does not exist: file:/a.parquet.", "A worker of Spark does not find a file"),
        ("An error occurred.\n: java.lang.OutOfMemoryError: Java heap space", "has not enough memory"),
        (f"{CALLED}: java.lang.IllegalStateException: odd thing\n\tat a.b(C)", "Spark stopped: odd thing"),
        ("", "Spark stopped: RuntimeError"),
    ],
)
def test_why_spark_stopped_is_one_sentence(said, what):
    told = stopped(RuntimeError(said), "spark://a:1")
    assert what in told.what
    assert "\n" not in told.what
    assert told.cure


def test_workers_that_are_gone_are_not_waited_for():
    counts, gone = iter([1, 0, 2]), Event()
    with Watch(lambda: next(counts, 0), gone.set, within=0.02, every=0.01) as watch:
        assert gone.wait(20)
    assert watch.deserted
    assert (
        stopped(RuntimeError("cancelled"), "spark://a:1", deserted=True).what
        == "All workers of Spark are gone."
    )


def test_a_watch_ends_with_spark():
    with Watch(lambda: 1 // 0, pytest.fail, within=0.0, every=0.001) as watch:
        time.sleep(0.01)
    assert not watch.deserted
