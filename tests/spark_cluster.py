"""A real Spark cluster on loopback: a master and workers, each a process of its own, stopped for sure."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import time
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

__all__ = ["Cluster", "spark_cluster"]

_ADDRESS = re.compile(r"Starting Spark master at (spark://\S+)")
#: A compiler that starts quickly, since these processes live for a minute.
_QUICK = "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC"
#: Small relations are worked out faster than code is written and compiled for them.
_SETTINGS = f"""
spark.driver.extraJavaOptions {_QUICK}
spark.executor.extraJavaOptions {_QUICK}
spark.executor.memory 512m
spark.sql.adaptive.enabled false
spark.sql.codegen.wholeStage false
spark.sql.codegen.factoryMode NO_CODEGEN
spark.sql.shuffle.partitions 2
spark.ui.enabled false
"""
_WITHIN = 120.0


@dataclass(frozen=True)
class Cluster:
    """Where a cluster is, and what a process that speaks to it must have in its environment."""

    master: str
    folder: Path
    environment: dict[str, str]

    def executors(self) -> set[str]:
        """Workers that ran a part of an application."""
        return {
            path.relative_to(self.folder).parts[0] for path in self.folder.glob("worker-*/app-*/*/stdout")
        }


@contextlib.contextmanager
def spark_cluster(folder: Path, workers: int = 2):
    """Start a master and its workers, and stop them whatever happens."""
    home = Path(find_spec("pyspark").origin).parent
    settings = folder / "conf"
    settings.mkdir()
    (settings / "spark-defaults.conf").write_text(_SETTINGS, encoding="utf-8")
    environment = os.environ | {
        "SPARK_HOME": str(home),
        # else it looks for the folders of a build
        "SPARK_SCALA_VERSION": "2.13",
        "SPARK_LOCAL_IP": "127.0.0.1",
        "SPARK_CONF_DIR": str(settings),
        "SPARK_WORKER_DIR": str(folder),
    }
    java = ["java", *_QUICK.split(), "-Xmx256m", "-cp", f"{settings}:{home / 'jars'}/*"]
    running: list[subprocess.Popen] = []

    def start(name, *arguments):
        log = folder / f"{name}.log"
        with log.open("w", encoding="utf-8") as told:
            running.append(
                subprocess.Popen(
                    [*java, f"org.apache.spark.deploy.{arguments[0]}", *arguments[1:]],
                    stdout=told,
                    stderr=told,
                    env=environment,
                    cwd=folder,
                    start_new_session=True,
                )
            )
        return log

    def waits(log, said):
        give_up = time.monotonic() + _WITHIN
        while time.monotonic() < give_up:
            text = log.read_text(encoding="utf-8")
            if found := said(text):
                return found
            assert all(process.poll() is None for process in running), text
            time.sleep(0.1)
        raise AssertionError(log.read_text(encoding="utf-8"))

    try:
        log = start("master", "master.Master", "--host", "127.0.0.1", "--port", "0", "--webui-port", "0")
        master = waits(log, _ADDRESS.search)[1]
        for number in range(workers):
            own = folder / f"worker-{number}"
            own.mkdir()
            start(
                own.name,
                "worker.Worker",
                *("--host", "127.0.0.1", "--port", "0", "--webui-port", "0"),
                *("--cores", "1", "--memory", "600m", "--work-dir", str(own), master),
            )
        waits(log, lambda text: text.count("Registering worker 127.0.0.1") == workers)
        yield Cluster(
            master, folder, {name: environment[name] for name in ("SPARK_LOCAL_IP", "SPARK_CONF_DIR")}
        )
    finally:
        for process in running:
            with contextlib.suppress(ProcessLookupError):
                # a worker with the executors that it started
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()
