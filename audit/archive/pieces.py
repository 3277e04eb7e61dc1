"""Pieces of an archive that are judged one by one, and kept, so that work that was stopped goes on."""

from __future__ import annotations

import hashlib
import json
import pickle
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from audit.archive.judged import judge_each
from audit.archive.lines import lines_of
from audit.declarations.once import once_for

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from audit.archive.excerpt import Excerpt
    from audit.archive.lines import Line
    from audit.declarations import Declarations

__all__ = ["Piece", "PieceJudge", "keep_piece", "kept_piece", "packed"]


@dataclass(frozen=True, slots=True)
class Piece:
    """Some excerpts of one season.

    Attributes
    ----------
    season : str
    excerpts : tuple of Excerpt
    digest : str
        Checksum of all that is judged, and of what it is judged by.
    """

    season: str
    excerpts: tuple[Excerpt, ...]
    digest: str


@dataclass(frozen=True, slots=True)
class PieceJudge:
    """Judges pieces, in this process or another one.

    Attributes
    ----------
    declared : Declarations
    headers : mapping of str to mapping of str to str
        File -> canonical column -> its name there.
    """

    declared: Declarations
    headers: Mapping[str, Mapping[str, str]]

    def __call__(self, excerpts: Sequence[Excerpt]) -> tuple[list[Line], list[str]]:
        """Give the lines of some excerpts, and what could not be asked."""
        lines: list[Line] = []
        told: list[str] = []
        for excerpt, (found, why) in zip(excerpts, judge_each(excerpts, self.declared), strict=True):
            lines += lines_of(excerpt, found, self.headers)
            if why:
                named = " ".join(part for part in (excerpt.season, excerpt.scheme, excerpt.team) if part)
                told.append(f"{named}: the rules of a season could not be asked. {why}")
        return lines, told

    def __reduce__(self) -> tuple[object, ...]:
        # sent with every piece: another process unpacks the declarations once, and keeps what it made of them
        return _unpacked, (_packed(self.declared), self.headers)


@once_for
def _packed(declared: Declarations) -> bytes:
    return pickle.dumps(declared, pickle.HIGHEST_PROTOCOL)


@lru_cache(maxsize=1)
def _declared(packed: bytes) -> Declarations:
    found: Declarations = pickle.loads(packed)  # noqa: S301 - from the process that started this one
    return found


def _unpacked(packed: bytes, headers: Mapping[str, Mapping[str, str]]) -> PieceJudge:
    return PieceJudge(_declared(packed), headers)


def packed(excerpts: Iterable[Excerpt], most: int, judged_by: str) -> Iterator[Piece]:
    """Put neighbouring excerpts of a season together until they have many rows.

    Parameters
    ----------
    excerpts : iterable of Excerpt
        Of one season.
    most : int
        Rows.
    judged_by : str
        Checksum of what they are judged by.
    """
    some: list[Excerpt] = []
    rows = 0
    for excerpt in excerpts:
        if some and rows + len(excerpt.rows) > most:
            yield _piece(some, judged_by)
            some, rows = [], 0
        some.append(excerpt)
        rows += len(excerpt.rows)
    if some:
        yield _piece(some, judged_by)


def _piece(excerpts: Sequence[Excerpt], judged_by: str) -> Piece:
    made = hashlib.blake2b(digest_size=12)
    for part in (judged_by, *(excerpt.digest for excerpt in excerpts)):
        made.update(part.encode())
    return Piece(excerpts[0].season, tuple(excerpts), made.hexdigest())


def keep_piece(folder: Path, digest: str, lines: Sequence[Line], told: Sequence[str]) -> None:
    """Keep what was found; the file gets its name when it is whole."""
    text = json.dumps({"lines": list(lines), "told": list(told)}, ensure_ascii=False, sort_keys=True)
    check = hashlib.blake2b(text.encode(), digest_size=12).hexdigest()
    path = folder / f"{digest}.json"
    half = path.with_suffix(".half")
    half.write_text(f"{check}\n{text}\n", encoding="utf-8", newline="\n")
    half.replace(path)


def kept_piece(folder: Path, digest: str) -> tuple[list[Line], list[str]] | None:
    """Give what was kept of a piece; None where nothing was, or it is torn."""
    try:
        check, _, text = (folder / f"{digest}.json").read_text(encoding="utf-8").partition("\n")
    except (OSError, UnicodeDecodeError):
        return None
    text = text.removesuffix("\n")
    if hashlib.blake2b(text.encode(), digest_size=12).hexdigest() != check:
        return None
    kept = json.loads(text)
    return kept["lines"], kept["told"]
