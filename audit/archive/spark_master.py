"""The master of a Spark cluster: its address, whether it answers, and a session with its workers."""

from __future__ import annotations

import os
import shutil
import socket
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from audit.refusal import Refusal

if TYPE_CHECKING:
    from pyspark.sql import SparkSession

__all__ = [
    "WORKS_WITHIN",
    "begin_session",
    "many_executors",
    "refuse_silent_master",
    "refuse_without_java",
    "refuse_without_workers",
]

_LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
#: Seconds to wait for the master to answer, and for a worker to come.
_ANSWERS_WITHIN, WORKS_WITHIN = 5.0, 60.0
#: Parts into which relations are cut, for each core; unless the settings of Spark say how many.
_PARTS_OF_CORE = 2
_PARTS = "spark.sql.shuffle.partitions"


def refuse_without_java() -> None:
    """Refuse where there is no Java."""
    home = os.environ.get("JAVA_HOME")
    if not (home and shutil.which("java", path=str(Path(home) / "bin"))) and not shutil.which("java"):
        raise Refusal(
            "Spark needs Java, and there is none on this machine.",
            where="nestproof archive --master",
            cure="Install a Java runtime, version 17 or newer, or leave out --master.",
        )


def refuse_silent_master(master: str) -> None:
    """Refuse what is no address, and an address at which nobody answers."""
    if master.startswith("local"):
        return
    places = _places(master)
    if not places or not all(host and port for host, port in places):
        raise Refusal(
            "This is no address of a Spark master.",
            where=f"--master {master}",
            cure="Name it such as spark://host:7077, as its own page tells, or local[2] for two cores here.",
        )
    for host, port in places:
        try:
            socket.create_connection((host, port), timeout=_ANSWERS_WITHIN).close()
        except OSError:
            continue
        return
    raise Refusal(
        "The Spark master does not answer.",
        where=f"--master {master}",
        cure="Start it, look at host and port, or leave out --master.",
    )


def _places(master: str) -> list[tuple[str, int]]:
    """Host and port of each master; nothing where it is no such address."""
    if not master.startswith("spark://"):
        return []
    try:
        parts = [urlsplit(f"//{one}") for one in master.removeprefix("spark://").split(",")]
        return [(part.hostname or "", part.port or 0) for part in parts]
    except ValueError:
        return []


def begin_session(master: str) -> SparkSession:
    """Begin to speak to a master: nothing of what Spark logs is for the person who asked."""
    from pyspark.sql import SparkSession

    os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
    asked: dict[str, str] = {
        # days and sums as in the other engines: what cannot be is missing, and no clock of a machine counts
        "spark.sql.ansi.enabled": "false",
        "spark.sql.session.timeZone": "UTC",
        "spark.sql.adaptive.enabled": "true",
        "spark.ui.enabled": "false",
        "spark.ui.showConsoleProgress": "false",
        "spark.log.level": "OFF",
    }
    if _LOOPBACK.issuperset(host for host, _ in _places(master)):
        os.environ.setdefault("SPARK_LOCAL_IP", "127.0.0.1")
        asked |= {"spark.driver.host": "127.0.0.1", "spark.driver.bindAddress": "127.0.0.1"}
    builder = SparkSession.builder.master(master).appName("nestproof archive")
    for name, value in asked.items():
        builder = builder.config(name, value)
    session = builder.getOrCreate()
    if session.sparkContext.getConf().get(_PARTS) is None:
        cores = int(session.sparkContext.defaultParallelism)
        session.conf.set(_PARTS, str(_PARTS_OF_CORE * max(cores, 2)))
    return session


def refuse_without_workers(session: SparkSession, master: str) -> None:
    """Wait for a worker: a master without one takes every question and answers none."""
    if master.startswith("local"):
        return
    give_up = time.monotonic() + WORKS_WITHIN
    while time.monotonic() < give_up:
        if many_executors(session):
            return
        time.sleep(0.1)
    raise Refusal(
        f"The Spark master answers, but within {WORKS_WITHIN:.0f} seconds no worker was free.",
        where=f"--master {master}",
        cure="Start workers, wait for what else is run there, or leave out --master.",
    )


def many_executors(session: SparkSession) -> int:
    """Count the processes that work for a session."""
    # the first of them is this process
    return int(session.sparkContext._jsc.sc().getExecutorMemoryStatus().size()) - 1  # noqa: SLF001 - told nowhere else
