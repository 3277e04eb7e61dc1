"""Pieces of an archive judged side by side; those that stand from a run before are not judged again."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.archive.pieces import keep_piece, kept_piece

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from concurrent.futures import Future, ThreadPoolExecutor
    from pathlib import Path

    from audit.antennas.hands import Hands
    from audit.archive.lines import Line
    from audit.archive.pieces import Piece, PieceJudge

    #: Lines, and what could not be asked.
    Said = tuple[list[Line], list[str]]

__all__ = ["Answer", "Judging"]

#: Seasons that are asked for before the first of them is waited for, so that no hand is idle.
_AHEAD = 2


@dataclass(frozen=True, slots=True)
class Answer:
    """What is, or is going to be, said of a piece."""

    _said: Said | Future[Said]

    def get(self) -> Said:
        """Wait for it."""
        return self._said if isinstance(self._said, tuple) else self._said.result()


@dataclass(slots=True)
class Judging:
    """Hands pieces out.

    Attributes
    ----------
    judge : PieceJudge
    folder : Path
        Where what was found is kept.
    hands : Hands
    pool : ThreadPoolExecutor
        A thread for each hand.
    used : set of str
        Checksums of all pieces so far.
    kept : int
        How many of them stood from a run before.
    """

    judge: PieceJudge
    folder: Path
    hands: Hands
    pool: ThreadPoolExecutor
    used: set[str] = field(default_factory=set)
    kept: int = 0

    def seasons(self, pieces: Iterable[tuple[str, Iterable[Piece]]]) -> Iterator[tuple[str, list[Answer]]]:
        """Hand out the pieces of each season, some seasons before they are waited for."""
        waiting: deque[tuple[str, list[Answer]]] = deque()
        for season, some in pieces:
            waiting.append((season, [self._begin(piece) for piece in some]))
            if len(waiting) > _AHEAD:
                yield waiting.popleft()
        yield from waiting

    def _begin(self, piece: Piece) -> Answer:
        self.used.add(piece.digest)
        kept = kept_piece(self.folder, piece.digest)
        if kept is not None:
            self.kept += 1
            return Answer(kept)
        return Answer(self.pool.submit(self._one, piece))

    def _one(self, piece: Piece) -> Said:
        lines, told = self.hands.ask(self.judge, piece.excerpts)
        keep_piece(self.folder, piece.digest, lines, told)
        return lines, told
