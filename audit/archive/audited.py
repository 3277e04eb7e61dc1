"""An archive audited from its files to files: sieved, judged piece by piece, written season by season."""

from __future__ import annotations

import hashlib
import shutil
from collections import deque
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.antennas.hands import Hands
from audit.archive.archive_files import changed_since, once_each
from audit.archive.excerpts import gather
from audit.archive.laid import lay_out
from audit.archive.laid import lay_out
from audit.archive.lines import csv_text
from audit.archive.pieces import PieceJudge, keep_piece, kept_piece, packed
from audit.archive.sieve import sieve
from audit.archive.spark import opened
from audit.archive.standing import Standing, declared_digest, with_checksums
from audit.archive.tally import Tally, costs_of
from audit.intake.wording import counted
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from concurrent.futures import Future
    from pathlib import Path

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.duck import DuckEngine
    from audit.archive.excerpts import Gathered
    from audit.archive.lines import Line
    from audit.archive.pieces import Piece
    from audit.declarations import Declarations

    Tell = Callable[[str], None]
    #: Lines, and what could not be asked.
    Said = tuple[list[Line], list[str]]

__all__ = ["Audited", "audit_files"]

#: Where a run keeps what it found so far, in the folder of the results.
WORK = ".nestproof-archive"


@dataclass(slots=True)
class Audited:
    """What was found in an archive.

    Attributes
    ----------
    handlings : int
    files : tuple of ArchiveFile
    whole : bool
        Each team's season with a sieved row was judged as a whole.
    looked, judged : int
        Rows that the sieve found, and rows that were judged with them.
    tally : Tally
        What was found, counted.
    notices : list of str
    written : list of Path
    pieces, kept : int
        Pieces judged one by one, and how many of them stood from a run before.
    """

    handlings: int = 0
    files: tuple[ArchiveFile, ...] = ()
    whole: bool = True
    looked: int = 0
    judged: int = 0
    tally: Tally = field(default_factory=lambda: Tally({}))
    notices: list[str] = field(default_factory=list)
    written: list[Path] = field(default_factory=list)
    pieces: int = 0
    kept: int = 0


def audit_files(
    files: Sequence[ArchiveFile],
    declared: Declarations,
    out: Path,
    *,
    megabytes: int | None = None,
    master: str | None = None,
    parquet: bool = False,
    whole: bool | None = None,
    version: str = "",
    tell: Tell = lambda _: None,
) -> Audited:
    """Audit an archive, and write what was found season by season.

    Parameters
    ----------
    files : sequence of ArchiveFile
        Only read.
    declared : Declarations
    out : Path
        Folder for the results, made when it is not there. What an earlier run found there and still holds is
        not worked out again.
    megabytes : int, optional
        Memory for the engine.
    master : str, optional
        Address of a Spark master, whose workers ask the relations instead of this machine.
    parquet : bool
        Write Parquet instead of CSV.
    whole : bool, optional
        Judge each team's season as a whole, by all rules; by default where the archive is not too large.
    version : str
        Of the program: what another one found is worked out again.
    tell : callable
        Is told, in a sentence, what is done now.

    Raises
    ------
    Refusal
        A file cannot be read, or was changed meanwhile, or the results cannot be written.
    """
    work = out / WORK
    pieces = work / "pieces"
    try:
        pieces.mkdir(parents=True, exist_ok=True)
        standing = Standing(work)
        before = standing.files()
        given, new = with_checksums(files, before)
        known, copies = once_each(given)
        if before and new:
            tell(f"{counted(len(new), 'file is', 'files are')} new or changed since, such as {new[0]}.")
        judged_by = declared_digest(declared, version)
        limit = declared.settings["archive.engine.megabytes"].value if megabytes is None else megabytes
        scratch = work / "scratch"
        shutil.rmtree(scratch, ignore_errors=True)
        scratch.mkdir()
        try:
            with opened(
                known, declared, scratch, megabytes=int(limit), master=master, keep=work / "read"
            ) as engine:
                audited = _audit(
                    engine, known, declared, out, standing, judged_by, parquet=parquet, whole=whole, tell=tell
                )
                audited.notices[:0] = copies
                return audited
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    except OSError as fault:
        raise Refusal(
            f"The results cannot be written: {fault.strerror or fault}.",
            where=str(fault.filename or out),
            cure="Name a folder you may write to, with room on the disk; close results open elsewhere.",
        ) from fault


def _key(files: Sequence[ArchiveFile], engine: DuckEngine, judged_by: str) -> str:
    made = hashlib.blake2b(judged_by.encode(), digest_size=16)
    for file in files:
        made.update(f"\x1e{file.name}\x1f{file.table}\x1f{file.sha256}".encode("utf-8", "surrogatepass"))
    for columns in (columns for _, columns in engine.parts):
        made.update(f"\x1e{columns.file.name}\x1f{sorted(columns.file.groups.items())}".encode())
        made.update(b"" if columns.book is None else columns.book.digest.encode())
    return made.hexdigest()


def _audit(
    engine: DuckEngine,
    files: tuple[ArchiveFile, ...],
    declared: Declarations,
    out: Path,
    standing: Standing,
    judged_by: str,
    *,
    parquet: bool,
    whole: bool | None,
    tell: Tell,
) -> Audited:
    raw = engine.raw
    if raw is None:
        raise ValueError("an engine without an archive")
    audited = Audited(
        handlings=engine.count(),
        files=files,
        notices=list(engine.notices),
        tally=Tally(costs_of(declared)),
    )
    tell(f"{audited.handlings:,} handlings in {counted(len(engine.files), 'file', 'files')}.")
    rows, marks = lay_out(engine, raw, declared)
    key = _key(files, engine, judged_by)
    found = standing.sieved(key)
    if found is None:
        found = sieve(
            engine,
            rows,
            marks,
            declared,
            engine.places,
            lambda what, done, many: tell(f"{done + 1} of {many}: {what}"),
        )
        _refuse_changed(files)
        standing.keep(key, files, found)
    else:
        tell("The sieve stands from a run before.")
    if engine.places is None:
        audited.notices.append(
            "No table of boxes with places was given: nobody was asked how far birds went."
        )
    names = [file.name for file in engine.files]
    gathered = gather(engine, raw, marks, found, declared, names, engine.books, whole=whole)
    audited.looked, audited.judged, audited.whole = len(gathered.looked), gathered.many, gathered.whole
    tell(f"{audited.looked:,} rows are looked at, with {audited.judged:,} around them.")
    judge = PieceJudge(declared, engine.headers)
    hands, few = (
        int(declared.settings[f"archive.engine.{name}"].value) for name in ("hands", "rows_of_a_piece")
    )
    # another process takes longer to start than a piece to be judged
    hands = hands if gathered.many > few else 1
    seasons = gathered.seasons()
    with Hands(hands) as helping, ThreadPoolExecutor(max(len(helping.all), 1)) as pool:
        judging = _Judging(judge, standing.folder / "pieces", helping, pool)
        for number, (season, waiting) in enumerate(
            _ahead(gathered, seasons, declared, judged_by, judging), 1
        ):
            lines = [line for answer in waiting for line in answer.lines(audited)]
            audited.tally.add(season, lines)
            audited.written.append(_write(engine, out, season, lines, parquet=parquet))
            tell(f"Season {season}, {number} of {len(seasons)}: {counted(len(lines), 'line', 'lines')}.")
    audited.pieces, audited.kept = len(judging.used), judging.kept
    _refuse_changed(files)
    _tidy(out, standing.folder / "pieces", judging.used, audited.written)
    return audited


#: Seasons that are asked for before the first of them is waited for, so that no hand is idle.
_AHEAD = 2


def _ahead(
    gathered: Gathered,
    seasons: Sequence[str],
    declared: Declarations,
    judged_by: str,
    judging: _Judging,
) -> Iterator[tuple[str, list[_Answer]]]:
    """Hand out the pieces of each season, some seasons before they are waited for."""
    most = int(declared.settings["archive.engine.rows_of_a_piece"].value)
    waiting: deque[tuple[str, list[_Answer]]] = deque()
    for season in seasons:
        pieces = packed(gathered.of_season(season), most, judged_by)
        waiting.append((season, [judging.begin(piece) for piece in pieces]))
        if len(waiting) > _AHEAD:
            yield waiting.popleft()
    yield from waiting


@dataclass(frozen=True, slots=True)
class _Answer:
    """What is, or is going to be, said of a piece."""

    said: Said | Future[Said]

    def lines(self, audited: Audited) -> list[Line]:
        lines, told = self.said if isinstance(self.said, tuple) else self.said.result()
        audited.notices += told
        return lines


@dataclass(slots=True)
class _Judging:
    """Judges pieces side by side; those that stand from a run before are not judged again."""

    judge: PieceJudge
    folder: Path
    hands: Hands
    pool: ThreadPoolExecutor
    used: set[str] = field(default_factory=set)
    kept: int = 0

    def begin(self, piece: Piece) -> _Answer:
        self.used.add(piece.digest)
        kept = kept_piece(self.folder, piece.digest)
        if kept is not None:
            self.kept += 1
            return _Answer(kept)
        return _Answer(self.pool.submit(self._one, piece))

    def _one(self, piece: Piece) -> Said:
        lines, told = self.hands.ask(self.judge, piece.excerpts)
        keep_piece(self.folder, piece.digest, lines, told)
        return lines, told


def _write(engine: DuckEngine, out: Path, season: str, lines: Sequence[Line], *, parquet: bool) -> Path:
    folder = out / "findings" / f"season={_in_path(season)}"
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / ("findings.parquet" if parquet else "findings.csv")
    half = path.with_name(f"{path.name}.half")
    if parquet:
        engine.write_parquet(lines, half)
    else:
        half.write_text(csv_text(lines), encoding="utf-8", newline="\n")
    half.replace(path)
    return path


def _in_path(season: str) -> str:
    return "".join(sign if sign.isalnum() or sign in "-_." else "-" for sign in season) or "unknown"


def _tidy(out: Path, pieces: Path, used: set[str], written: Sequence[Path]) -> None:
    """Remove what an earlier run found in seasons that are no more, and pieces that nobody asks for."""
    for path in pieces.glob("*"):
        if path.stem not in used:
            path.unlink(missing_ok=True)
    keep = {path.resolve() for path in written}
    for path in (out / "findings").glob("season=*/findings.*"):
        if path.resolve() not in keep:
            path.unlink(missing_ok=True)


def _refuse_changed(files: Sequence[ArchiveFile]) -> None:
    changed = changed_since(files)
    if changed is not None:
        raise Refusal(
            "This file was changed while it was audited.",
            where=str(changed.path),
            cure="Wait until it is whole, and start again: what does not depend on it stands.",
        )
