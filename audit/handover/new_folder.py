"""A folder that is not there before it is whole."""

from __future__ import annotations

import os
import shutil
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["at_home", "new_folder", "refuse_place"]

#: How a folder is named while it is made, beside the place where it will stand.
_UNFINISHED = ".nestproof-unfinished-"


def at_home(out: str | Path) -> Path:
    """Read ``~`` at the beginning of a place as the folder of a person, as a command line does."""
    try:
        return Path(out).expanduser()
    except RuntimeError:  # nobody of that name
        return Path(out)


def refuse_place(out: Path) -> None:
    """Refuse a place at which no new folder can be made, before any work is done for it.

    Raises
    ------
    audit.refusal.Refusal
        Something stands there already, or the folder around it is not there or may not be written to.
    """
    try:
        out.lstat()
    except (FileNotFoundError, NotADirectoryError):
        pass
    except (OSError, ValueError) as fault:  # a name that no folder can have, a place that is closed
        raise Refusal(
            f"No folder can be made under this name: {getattr(fault, 'strerror', None) or fault}.",
            where=repr(str(out))[1:-1],
            cure="Name another new folder that you may write to.",
        ) from fault
    if out.is_dir() and any(out.iterdir()):
        raise Refusal(
            "There is a folder of this name already, and it is not empty.",
            where=str(out),
            cure="Name a new folder: what was handed over once is never written over.",
        )
    if (out.exists() or out.is_symlink()) and not out.is_dir():
        raise Refusal(
            "There is a file of this name.", where=str(out), cure="Name a new folder for the handover."
        )
    above = out.absolute().parent
    while not above.exists():
        above = above.parent
    if not above.is_dir() or not os.access(above, os.W_OK):
        raise Refusal(
            "No folder can be made here.",
            where=str(above),
            cure="Name a folder that you may write to.",
        )


@contextmanager
def new_folder(out: Path) -> Iterator[Path]:
    """Fill a folder that appears under its name when it is whole, and never else.

    Parameters
    ----------
    out : Path
        The folder to be; nothing may stand there, but for an empty folder.

    Yields
    ------
    Path
        An empty folder beside it, to be filled. When the block ends, what was written is on the disk and the
        folder gets its name; when the block fails, it is taken away. A program that is killed leaves it
        behind under a name that begins with ``.nestproof-unfinished-``, and `out` is not there.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be made or filled: disk full, no right to write, something stands there.
    """
    refuse_place(out)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=_UNFINISHED, dir=out.parent))
        try:
            # as any other folder, not for the eyes of one person only
            work.chmod(0o777 & ~_mask())
            yield work
            _flush(work)
            if out.is_dir():
                out.rmdir()
            work.rename(out)
        except BaseException:
            shutil.rmtree(work, ignore_errors=True)
            raise
    except OSError as fault:
        raise Refusal(
            f"The handover cannot be written: {fault.strerror or fault}. Nothing was left behind.",
            where=str(out),
            cure="Make room on the disk, or name another new folder that you may write to.",
        ) from fault


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _flush(folder: Path) -> None:
    """See to it that all files are on the disk before the folder gets its name."""
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            # for writing, since some systems flush nothing else
            with path.open("rb+") as stream:
                os.fsync(stream.fileno())
