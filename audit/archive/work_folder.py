"""The folder in which a run keeps what it found so far: one run at a time, among no files of others."""

from __future__ import annotations

import os
import shutil
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.folder import refuse_file
from audit.refusal import Refusal
from audit.review.log_disk import held

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["RESULTS", "WORK", "WorkFolder", "work_alone"]

#: Where a run keeps what it found so far, in the folder of the results.
WORK = ".nestproof-archive"
#: What a run writes beside it.
RESULTS = ("summary.txt", "summary.html", "summary.json", "findings")
_LOCK = "lock"


@dataclass(frozen=True, slots=True)
class WorkFolder:
    """A folder that one run has for itself.

    Attributes
    ----------
    folder : Path
    """

    folder: Path

    @property
    def pieces(self) -> Path:
        """What was found in each piece."""
        return self.folder / "pieces"

    @property
    def read(self) -> Path:
        """What was read of workbooks."""
        return self.folder / "read"

    @property
    def scratch(self) -> Path:
        """What is of no use when the run has ended."""
        return self.folder / "scratch"


@contextmanager
def work_alone(out: Path) -> Iterator[WorkFolder]:
    """Have the folder of the results for one run; what is of no use afterwards is removed.

    Parameters
    ----------
    out : Path
        Folder of the results, made when it is not there.

    Raises
    ------
    Refusal
        Another run has it, it holds files of others under the names of the results, or it cannot be written
        to.
    """
    refuse_file(out)
    work = WorkFolder(out / WORK)
    made = [folder for folder in (work.folder, out) if not folder.exists()]
    try:
        _refuse_others(out, work)
        work.pieces.mkdir(parents=True, exist_ok=True)
        work.read.mkdir(exist_ok=True)
        lock = os.open(work.folder / _LOCK, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            with _held(lock, out):
                shutil.rmtree(work.scratch, ignore_errors=True)
                work.scratch.mkdir()
                try:
                    yield work
                except Refusal:
                    _leave_nothing(work, made)
                    raise
                finally:
                    shutil.rmtree(work.scratch, ignore_errors=True)
        finally:
            os.close(lock)
    except OSError as fault:
        raise Refusal(
            f"The results cannot be written: {fault.strerror or fault}.",
            where=str(fault.filename or out),
            cure="Name a folder you may write to, with room on the disk; close results open elsewhere.",
        ) from fault


def _leave_nothing(work: WorkFolder, made: list[Path]) -> None:
    """Take away what a run made that was refused before it found anything."""
    if work.folder not in made or any(any(kept.iterdir()) for kept in (work.pieces, work.read)):
        return
    shutil.rmtree(work.folder)
    for folder in made[1:]:
        with suppress(OSError):
            folder.rmdir()


@contextmanager
def _held(lock: int, out: Path) -> Iterator[None]:
    waiting = held(lock, 0.0)
    try:
        waiting.__enter__()
    except TimeoutError as fault:
        raise Refusal(
            "Another audit of an archive is writing to this folder.",
            where=str(out),
            cure="Wait until it has ended, or name another folder for the results.",
        ) from fault
    try:
        yield
    finally:
        waiting.__exit__(None, None, None)


def _refuse_others(out: Path, work: WorkFolder) -> None:
    if work.folder.exists():
        return
    for name in RESULTS:
        if (out / name).exists():
            raise Refusal(
                f"This folder holds '{name}' already, and not from an audit of an archive.",
                where=str(out),
                cure="Name another folder for the results, or take it out of there.",
            )
