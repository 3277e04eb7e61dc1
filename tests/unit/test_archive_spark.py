"""What is said where there is no Spark, no Java or no cluster: before any work is begun."""

from __future__ import annotations

import socket
import sys

import pytest

from audit.archive import spark
from audit.archive.spark import open_spark
from audit.declarations import load_declarations
from audit.refusal import Refusal


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
    monkeypatch.setattr(spark, "_refuse_without_java", lambda: None)
    assert "no address" in refused(master, tmp_path).what


def test_a_master_that_does_not_answer_is_said(monkeypatch, tmp_path):
    monkeypatch.setattr(spark, "_refuse_without_java", lambda: None)
    with socket.socket() as bound:
        # bound and not listened at: nobody else gets it, and nobody answers
        bound.bind(("127.0.0.1", 0))
        told = refused(f"spark://127.0.0.1:{bound.getsockname()[1]}", tmp_path)
    assert "does not answer" in told.what
