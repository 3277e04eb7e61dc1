"""Which files a log of box antennas is made of."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audit.intake.wording import listed
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["PARQUET", "log_files"]

_TEXT = (".csv", ".txt", ".tsv", ".log", ".dat")
#: Tables kept by columns.
PARQUET = (".parquet", ".pq")
_KINDS = "text files (.csv, .txt, .tsv, .log, .dat) or Parquet files, or a folder of them"


def log_files(source: str | Path) -> tuple[Path, ...]:
    """List the files of a log: the file itself, or those of a folder by name.

    Raises
    ------
    Refusal
        There is no such file, it is empty or of another kind, or the folder holds none.
    """
    path = Path(source)
    if not path.exists():
        raise Refusal(
            "There is no such file or folder.", where=str(path), cure="Check the spelling of the path."
        )
    if path.is_dir():
        return _in_folder(path)
    if path.suffix.lower() not in (*_TEXT, *PARQUET):
        raise Refusal(
            f"Files that end in '{path.suffix}' cannot be read."
            if path.suffix
            else "This file has no ending.",
            where=str(path),
            cure=f"Give {_KINDS}.",
        )
    if path.stat().st_size == 0:
        raise Refusal(
            "This file is empty.", where=str(path), cure="Copy it from the logger again, or name another one."
        )
    return (path,)


def _in_folder(folder: Path) -> tuple[Path, ...]:
    inside = sorted(
        (path for path in folder.rglob("*") if path.is_file() and not path.name.startswith((".", "~$"))),
        key=lambda path: (str(path.relative_to(folder)).casefold(), str(path)),
    )
    files = [path for path in inside if path.suffix.lower() in (*_TEXT, *PARQUET)]
    full = tuple(path for path in files if path.stat().st_size)
    if not full:
        raise Refusal(
            "There is no log in this folder." if not files else "All logs in this folder are empty.",
            where=str(folder),
            cure=f"Put {_KINDS.partition(', or')[0]} into it" + _others(inside) + ".",
        )
    return full


def _others(files: Sequence[Path]) -> str:
    endings = sorted({path.suffix for path in files if path.suffix})
    return f"; it holds files that end in {listed(endings)} only" if endings else ""
