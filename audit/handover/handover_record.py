"""The record of a handover: what went out, made from what, by whom, with what, and what stayed open."""

from __future__ import annotations

import json
import platform
from dataclasses import asdict, dataclass
from importlib import metadata
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.declarations import Declarations
    from audit.season import FileRead

__all__ = ["Despite", "FileSum", "HandoverRecord", "PartTold", "record_text", "sums_of_inputs", "versions"]

#: Name and version of the JSON form; the version changes only when a key changes its meaning.
FORMAT = "nestproof-handover"
VERSION = 1

#: Distributions whose version may change what goes out.
_LIBRARIES = ("nestproof", "numpy", "pandas", "scipy", "pandera", "great-expectations", "openpyxl", "typst")


@dataclass(frozen=True, slots=True)
class FileSum:
    """A file by name, with its checksum (SHA-256, hexadecimal) and bytes."""

    name: str
    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class PartTold:
    """One part of the handover: its title, the names of its files, and what to know before sending them."""

    title: str
    files: tuple[str, ...]
    told: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Despite:
    """Why a season was handed over although its gate was shut, and by whom."""

    who: str
    why: str


@dataclass(frozen=True, slots=True)
class HandoverRecord:
    """What went out.

    Attributes
    ----------
    season : str
        Its name.
    made_at : str
        ISO 8601 with offset.
    gate_open : bool
        Whether nothing held it back.
    despite : Despite or None
        Why it went out all the same.
    left_open : tuple of str
        What held it back, one sentence each.
    parts : tuple of PartTold
        What went out.
    inputs, outputs : tuple of FileSum
        Files that were read, by name only, and files that were written.
    versions : tuple of (str, str)
        Of this program, of Python and of the libraries it stands on.
    declarations : tuple of str
        Names of the folders of declarations, the later over the earlier.
    decisions : int
        How many decisions the log held.
    """

    season: str
    made_at: str
    gate_open: bool
    despite: Despite | None
    left_open: tuple[str, ...]
    parts: tuple[PartTold, ...]
    inputs: tuple[FileSum, ...]
    outputs: tuple[FileSum, ...]
    versions: tuple[tuple[str, str], ...]
    declarations: tuple[str, ...]
    decisions: int


def record_text(record: HandoverRecord) -> str:
    """Write the record as JSON."""
    tree: dict[str, Any] = {"format": FORMAT, "version": VERSION, **asdict(record)}
    tree["versions"] = dict(record.versions)
    return json.dumps(tree, ensure_ascii=False, indent=1) + "\n"


def sums_of_inputs(files: Iterable[FileRead]) -> tuple[FileSum, ...]:
    """Name the files that were read without the folders they lay in, which are nobody's business."""
    return tuple(FileSum(PurePath(one.path).name, one.sha256, one.size) for one in files)


def versions() -> tuple[tuple[str, str], ...]:
    """Return the versions of all that had a hand in a handover; of what is not installed none."""
    found = [("Python", platform.python_version())]
    for library in _LIBRARIES:
        try:
            found.append((library, metadata.version(library)))
        except metadata.PackageNotFoundError:
            continue
    return tuple(found)


def declaration_names(declared: Declarations) -> tuple[str, ...]:
    """Name the folders of declarations, the shipped one first."""
    own: Sequence[PurePath] = declared.sources[1:]
    return ("shipped with the program", *(folder.name for folder in own))
