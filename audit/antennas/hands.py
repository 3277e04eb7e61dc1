"""Processes that judge boxes side by side, for one process cannot use two cores for long."""

from __future__ import annotations

import gc
import os
import pickle
import subprocess
import sys
from queue import SimpleQueue
from typing import IO, TYPE_CHECKING, Any, Self, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from audit.antennas.judging import Judge, Judged
    from audit.models.reads import Reads

__all__ = ["Hands", "serve"]

Answer = TypeVar("Answer")

#: What goes wrong when a process is gone, or was never there.
_GONE = (OSError, EOFError, pickle.UnpicklingError)
#: Memory that was given back is taken anew for each large array, page by page: a process that works on many
#: keeps it. Other allocators than that of the GNU C library heed nothing of this.
_KEEPING = {"MALLOC_MMAP_THRESHOLD_": str(1 << 30), "MALLOC_TRIM_THRESHOLD_": str(1 << 30)}
#: So many new objects before unused ones are looked for, as in a command (`audit/__main__.py`).
_NEW_OBJECTS = 200_000
_SERVE = "from audit.antennas.hands import serve; serve()"


class Hands:
    """Some processes; with none the work is done here.

    Parameters
    ----------
    many : int
        How many; less than two are none, and no more than there are cores.

    Notes
    -----
    What they answer does not depend on how many there are. One that is gone, or fails, is not started again:
    its work is done here, so a fault comes up where it can be told.
    """

    def __init__(self, many: int) -> None:
        many = min(many, os.cpu_count() or 1)
        self.free: SimpleQueue[subprocess.Popen[bytes] | None] = SimpleQueue()
        self.all = [one for one in (_start() for _ in range(many)) if one] if many > 1 else []
        for process in self.all:
            self.free.put(process)
        if not self.all:
            self.free.put(None)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *fault: object) -> None:
        for process in self.all:
            process.kill()
            process.communicate()

    def judge(self, judge: Judge, reads: Reads, markers: Collection[int], ghosts: Collection[int]) -> Judged:
        """Judge some boxes as soon as a process is free; may be called by several threads."""
        return self.ask(judge, reads, markers, ghosts)

    def ask(self, judge: Callable[..., Answer], *given: object) -> Answer:
        """Ask a judge about what is given, as soon as a process is free; may be called by several threads."""
        process = self.free.get()
        try:
            if process is not None:
                found: Answer = _answer(process, (judge, *given))
                return found
        except _GONE:
            process = None
        finally:
            self.free.put(process)
        return judge(*given)


def _start() -> subprocess.Popen[bytes] | None:
    # the same modules are found there as here, wherever they were put
    place = {**_KEEPING, **os.environ, "PYTHONPATH": os.pathsep.join(part or os.curdir for part in sys.path)}
    try:
        return subprocess.Popen(  # noqa: S603 - this program, asked by itself
            [sys.executable, "-P", "-c", _SERVE],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=place,
        )
    except OSError:
        return None


def _answer(process: subprocess.Popen[bytes], question: object) -> Any:  # noqa: ANN401 - whatever was asked
    if process.stdin is None or process.stdout is None:
        raise EOFError
    pickle.dump(question, process.stdin, pickle.HIGHEST_PROTOCOL)
    process.stdin.flush()
    return pickle.load(process.stdout)  # noqa: S301 - from a process of our own


def serve(asked: IO[bytes] | None = None, told: IO[bytes] | None = None) -> None:
    """Judge boxes that are asked about by a process of the same program, until it ends.

    Parameters
    ----------
    asked, told : binary file, optional
        Where questions come from, and answers go to; the standard ones by default.
    """
    if asked is None:
        # a process of its own; one that only plays it is left alone
        gc.set_threshold(_NEW_OBJECTS, 20, 20)
    asked, told = asked or sys.stdin.buffer, told or sys.stdout.buffer
    # nothing else may come between the answers
    sys.stdout = sys.stderr
    while True:
        try:
            judge, *given = pickle.load(asked)  # noqa: S301 - from the process that started this one
        except EOFError:
            return
        pickle.dump(judge(*given), told, pickle.HIGHEST_PROTOCOL)
        told.flush()
