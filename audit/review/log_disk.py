"""What a log asks of the disk: that one program at a time adds to it, and that nothing of it is lost."""

from __future__ import annotations

import errno
import os
import sys
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["add", "flush_folder", "held", "piece"]

#: A line is written in some milliseconds: who holds the lock for longer hangs.
_SECONDS = 10.0
_PAUSE = 0.005
_BUSY = {errno.EACCES, errno.EAGAIN, errno.EDEADLK}
#: Windows keeps others from reading what is locked: a byte far behind the end of the file is.
_FAR = 2**31 - 2


@contextmanager
def held(file: int, seconds: float = _SECONDS) -> Iterator[None]:
    """Hold the lock of an open file; go on without one where the file system knows none.

    Raises
    ------
    TimeoutError
        Another program held it all the time.
    """
    end = time.monotonic() + seconds
    locked = False
    while True:
        try:
            _lock(file)
        except OSError as fault:
            if fault.errno not in _BUSY:
                break
            if time.monotonic() > end:
                raise TimeoutError(errno.ETIMEDOUT, "another program holds it and does not let go") from fault
            time.sleep(_PAUSE)
            continue
        locked = True
        break
    try:
        yield
    finally:
        if locked:
            _unlock(file)


def add(file: int, data: bytes) -> None:
    """Write at the end of a file opened for appending, by one call.

    Raises
    ------
    OSError
        It did not fit; a part of it may stand there now.
    """
    if data and os.write(file, data) < len(data):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def piece(file: int, start: int, length: int) -> bytes:
    """Read a piece of a file, as much of it as there is."""
    os.lseek(file, start, os.SEEK_SET)
    parts: list[bytes] = []
    while length > 0 and (part := os.read(file, length)):
        parts.append(part)
        length -= len(part)
    return b"".join(parts)


def flush_folder(folder: Path) -> None:
    """Wait until the name of a new file is on the disk, where the system can do so."""
    try:
        file = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(file)
    except OSError:
        pass
    finally:
        os.close(file)


if sys.platform == "win32":

    def _lock(file: int) -> None:
        os.lseek(file, _FAR, os.SEEK_SET)
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)

    def _unlock(file: int) -> None:
        os.lseek(file, _FAR, os.SEEK_SET)
        msvcrt.locking(file, msvcrt.LK_UNLCK, 1)

else:

    def _lock(file: int) -> None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _unlock(file: int) -> None:
        fcntl.flock(file, fcntl.LOCK_UN)
