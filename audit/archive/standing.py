"""What is kept between two runs: what the files held, and what the sieve found in them."""

from __future__ import annotations

import hashlib
import io
import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from audit.archive.sieve import Sieved

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import pandas as pd

    from audit.archive.archive_files import ArchiveFile
    from audit.declarations import Declarations

__all__ = ["Standing", "declared_digest", "with_checksums"]

_NAME = "standing.json"
#: Changes when what is kept has another form, or the program judges in another way.
_FORM = 1
_PARTS = tuple(Sieved.__dataclass_fields__)


def declared_digest(declared: Declarations, version: str) -> str:
    """Give a checksum of all declarations, and of the program."""
    made = hashlib.blake2b(f"{_FORM} {version}".encode(), digest_size=16)
    for folder in declared.sources:
        for path in sorted(folder.rglob("*.y*ml")):
            made.update(path.relative_to(folder).as_posix().encode())
            made.update(path.read_bytes())
    return made.hexdigest()


@dataclass(frozen=True, slots=True)
class Standing:
    """The folder in which a run keeps what it found so far.

    Attributes
    ----------
    folder : Path
    """

    folder: Path

    def files(self) -> dict[str, dict[str, Any]]:
        """Tell of the files of the last run, by path: size, moment of the last change, checksum."""
        told = self._told()
        return {file["path"]: file for file in told.get("files", ())}

    def sieved(self, key: str) -> Sieved | None:
        """Give what the sieve found under this checksum; None where it is not whole, or another one."""
        import pandas as pd

        told = self._told()
        if told.get("key") != key:
            return None
        frames = {}
        for part in _PARTS:
            try:
                text = (self.folder / f"{part}.csv").read_text(encoding="utf-8")
            except (OSError, UnicodeDecodeError):
                return None
            if _check(text) != told["parts"].get(part):
                return None
            frames[part] = pd.read_csv(io.StringIO(text), keep_default_na=False, dtype=_types(text))
        return Sieved(**frames)

    def keep(self, key: str, files: Sequence[ArchiveFile], sieved: Sieved) -> None:
        """Keep what the sieve found; what is told of it is written last, and as a whole."""
        checks = {}
        for part in _PARTS:
            text = _csv(getattr(sieved, part))
            _write(self.folder / f"{part}.csv", text)
            checks[part] = _check(text)
        told = {
            "key": key,
            "parts": checks,
            "files": [
                {
                    "path": str(file.path.resolve()),
                    "size": file.size,
                    "changed": file.changed,
                    "sha256": file.sha256,
                }
                for file in files
            ],
        }
        _write(self.folder / _NAME, json.dumps(told, indent=1, sort_keys=True) + "\n")

    def _told(self) -> dict[str, Any]:
        try:
            told = json.loads((self.folder / _NAME).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return told if isinstance(told, dict) else {}


def with_checksums(
    files: Sequence[ArchiveFile], before: dict[str, dict[str, Any]]
) -> tuple[tuple[ArchiveFile, ...], tuple[str, ...]]:
    """Take the checksums of files; one of the same size and moment as before is not read again.

    Returns
    -------
    tuple of ArchiveFile
    tuple of str
        Names of those that hold something else than before, or were not there.
    """
    found, new = [], []
    for file in files:
        was = before.get(str(file.path.resolve()))
        same = was is not None and (was["size"], was["changed"]) == (file.size, file.changed)
        whole = replace(file, sha256=str(was["sha256"])) if was and same else file.with_checksum()
        found.append(whole)
        if was is None or was["sha256"] != whole.sha256:
            new.append(file.name)
    return tuple(found), tuple(new)


def _types(text: str) -> dict[str, str]:
    names = text.partition("\n")[0].split(",")
    return {name: "int64" if name in ("at", "other", "many") else "str" for name in names}


def _csv(frame: pd.DataFrame) -> str:
    text: str = frame.to_csv(index=False, lineterminator="\n")
    return text


def _check(text: str) -> str:
    return hashlib.blake2b(text.encode(), digest_size=12).hexdigest()


def _write(path: Path, text: str) -> None:
    half = path.with_name(f"{path.name}.half")
    half.write_text(text, encoding="utf-8", newline="\n")
    half.replace(path)
