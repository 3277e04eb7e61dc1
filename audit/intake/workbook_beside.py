"""A process that reads a large workbook while this one loads what is going to audit it."""

from __future__ import annotations

import contextlib
import pickle
import zipfile
from pathlib import Path
from typing import IO, TYPE_CHECKING

from audit.intake.fingerprint import fingerprint
from audit.intake.program_beside import start_beside

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Iterator

    from audit.intake.grid import Sheet

__all__ = ["answer", "read_beside", "reading_beside"]

#: What was read: sheets and notices.
Read = tuple[tuple["Sheet", ...], tuple[str, ...]]

#: Nothing that it reads is let go before it ends: to look for unused objects took an eighth of its time.
_READS = """
import gc
gc.disable()
from audit.intake.workbook_beside import answer
answer(sys.argv[2], sys.stdout.buffer)
"""
#: Loads more than half of what a season needs; the library for workbooks does without.
_SPARED = ("numpy", "pandas")
_WORKBOOKS = (".xlsx", ".xlsm")
#: Bytes. A smaller workbook is read sooner than a process begins; what unpacks to more is looked at by this
#: process first, which refuses what is too large.
_SMALLEST, _LARGEST_UNPACKED = 200_000, 100_000_000

#: The workbook that is read beside, and the process that reads it, while there is one.
_running: list[tuple[Path, subprocess.Popen[bytes]]] = []


@contextlib.contextmanager
def reading_beside(source: Path | None) -> Iterator[bool]:
    """Have a workbook read by a process of its own, begun now; `read_beside` gives what it read.

    Parameters
    ----------
    source : Path or None
        Anything but a large workbook is left to this process.

    Yields
    ------
    bool
        Whether another process reads it.
    """
    process = _started(source)
    if source is None or process is None:
        yield False
        return
    _running.append((source, process))
    try:
        yield True
    finally:
        _running.remove((source, process))
        process.kill()
        process.wait()
        if process.stdout is not None:
            process.stdout.close()


def _started(source: Path | None) -> subprocess.Popen[bytes] | None:
    try:
        if source is None or source.suffix.lower() not in _WORKBOOKS or source.stat().st_size < _SMALLEST:
            return None
    except OSError:
        return None
    return start_beside(_READS, str(source), spared=_SPARED)


def read_beside(path: Path) -> Read | None:
    """Return what the other process read of a workbook, and wait for it where it must.

    Parameters
    ----------
    path : Path
        The workbook.

    Returns
    -------
    (tuple of Sheet, tuple of str) or None
        None where nobody reads it, it could not be read, or it is no longer the file that was read: then this
        process reads it, and says what is wrong.
    """
    process = next((process for source, process in _running if source == path), None)
    if process is None or process.stdout is None:
        return None
    try:
        # closed by the first who asks: whoever reads it again reads it here
        told = b"" if process.stdout.closed else process.stdout.read()
        process.stdout.close()
        if process.wait() or not told:
            return None
        checksum, sheets, notices = pickle.loads(told)  # noqa: S301 - written by the process started above
        return (sheets, notices) if checksum == fingerprint(path).sha256 else None
    except (OSError, ValueError, EOFError, pickle.UnpicklingError):
        return None


def answer(source: str, told: IO[bytes]) -> None:
    """Read a workbook and write what was read, in the other process; whatever fails ends it.

    Parameters
    ----------
    source : str
        The workbook.
    told : binary stream
        Where it is written, whole or not at all.
    """
    from audit.intake.workbook import read_workbook

    path = Path(source)
    before = fingerprint(path)
    with zipfile.ZipFile(path) as archive:
        if sum(part.file_size for part in archive.infolist()) > _LARGEST_UNPACKED:
            return
    sheets, notices = read_workbook(path)
    if fingerprint(path) == before:
        told.write(pickle.dumps((before.sha256, sheets, notices), pickle.HIGHEST_PROTOCOL))
        told.flush()
