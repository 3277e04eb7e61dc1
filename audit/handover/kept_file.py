"""Answers of an audit in a hidden file among its results, where that is wished: for the next audit only.

Whoever has no such file, or one that was torn or made otherwise, is audited as if there had never been one.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import platform
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audit.rules.kept.kept_answers import KeptAnswers

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["kept_path", "read_kept", "write_kept"]


def kept_path(out: Path) -> Path:
    """Name the file in a folder of results."""
    return Path(out) / ".answers.json"


def read_kept(out: Path, season: Season, declared: Declarations) -> KeptAnswers:
    """Read what the last audit into this folder answered.

    Parameters
    ----------
    out : Path
        Folder for the results; it need not be there.
    season : Season
        The season that is audited now.
    declared : Declarations
        By which it is audited; of other declarations, or of another version of the program or its libraries,
        nothing is taken over.
    """
    return KeptAnswers(season, _made_of(declared), _read(kept_path(out)))


def write_kept(out: Path, kept: KeptAnswers, declared: Declarations) -> None:
    """Keep what was answered for the next audit, whole or not at all; that it cannot be kept is no fault.

    Parameters
    ----------
    out : Path
        Folder of the results, which is there.
    kept : KeptAnswers
        As `read_kept` gave it, after the audit.
    declared : Declarations
        As for `read_kept`: where a file of theirs has changed meanwhile, nothing is kept.
    """
    if kept.made_of != _made_of(declared):
        return
    told = json.dumps(kept.fresh, sort_keys=True, separators=(",", ":"))
    path = kept_path(out)
    with contextlib.suppress(OSError), tempfile.TemporaryDirectory(prefix=".nestproof-", dir=out) as work:
        made = Path(work) / path.name
        made.write_text(f"{_checksum(told)}\n{told}", encoding="utf-8")
        made.replace(path)


def _read(path: Path) -> dict[str, Any]:
    try:
        checksum, _, told = (
            path.read_text(encoding="utf-8").partition("\n") if path.is_file() else ("", "", "")
        )
        known = json.loads(told) if checksum == _checksum(told) else {}
    except (OSError, ValueError, RecursionError):
        return {}
    return known if isinstance(known, dict) else {}


def _made_of(declared: Declarations) -> str:
    """Checksum of all that answers are made of but the season: program, libraries, declarations."""
    parts: list[object] = [sys.version, platform.machine()]
    # a library that is put in its place or taken away changes the folder that it stands in
    folders = {Path(str(module.__file__)).parents[1] for name in _BESIDE if (module := sys.modules.get(name))}
    parts += [(str(folder), folder.stat().st_mtime_ns) for folder in sorted(folders)]
    program = Path(__file__).parents[1]
    parts += [
        (path.relative_to(program).as_posix(), stat.st_size, stat.st_mtime_ns)
        for path in sorted(program.rglob("*.py"))
        for stat in (path.stat(),)
    ]
    parts += [
        (str(path), hashlib.blake2b(path.read_bytes()).hexdigest())
        for folder in declared.sources
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    ]
    return _checksum(repr(parts))


#: Libraries that are loaded whenever a season is read.
_BESIDE = ("numpy", "pandas")


def _checksum(text: str) -> str:
    return hashlib.blake2b(text.encode()).hexdigest()
