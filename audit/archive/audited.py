"""An archive audited from its files to files: sieved, judged piece by piece, written season by season."""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.antennas.hands import Hands
from audit.archive.archive_files import changed_since
from audit.archive.blamed_rows import BlamedRows
from audit.archive.excerpts import gather
from audit.archive.laid import lay_out
from audit.archive.left_out import once_each
from audit.archive.pieces import PieceJudge, packed
from audit.archive.season_results import tidy, write_season
from audit.archive.season_tables import BESIDE, tables_beside
from audit.archive.side_by_side import Judging
from audit.archive.sieve import sieve
from audit.archive.spark import SparkEngine, opened
from audit.archive.standing import Standing, declared_digest, with_checksums
from audit.archive.tally import Tally
from audit.archive.work_folder import work_alone
from audit.intake.wording import counted, listed
from audit.refusal import Refusal
from audit.review.worklist import consequences

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.duck import DuckEngine
    from audit.archive.season_tables import SeasonTables
    from audit.declarations import Declarations

    Tell = Callable[[str], None]

__all__ = ["Audited", "audit_files"]


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
    with work_alone(out) as work:
        standing = Standing(work.folder)
        before = standing.files()
        given, new = with_checksums(files, before)
        known, copies = once_each(given)
        if before and new:
            tell(f"{counted(len(new), 'file is', 'files are')} new or changed since, such as {new[0]}.")
        judged_by = declared_digest(declared, version)
        limit = declared.settings["archive.engine.megabytes"].value if megabytes is None else megabytes
        with opened(
            known, declared, work.scratch, megabytes=int(limit), master=master, keep=work.read
        ) as engine:
            audited = _audit(
                engine,
                known,
                declared,
                out,
                standing,
                judged_by,
                tables=lambda: tables_beside(engine, known, declared, work.scratch),
                parquet=parquet,
                whole=whole,
                tell=tell,
            )
        audited.notices[:0] = copies
        return audited


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
    tables: Callable[[], SeasonTables],
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
        tally=Tally(consequences(declared)),
    )
    tell(f"{audited.handlings:,} handlings in {counted(len(engine.files), 'file', 'files')}.")
    rows, marks = lay_out(engine, raw, declared)
    key = _key(files, engine, judged_by)
    found = standing.sieved(key)
    if found is None:
        found = sieve(engine, rows, marks, declared, engine.places, tell)
        _refuse_changed(files)
        standing.keep(key, files, found)
    else:
        tell("The sieve stands from a run before.")
    if engine.places is None:
        audited.notices.append(
            "No table of boxes with places was given: nobody was asked how far birds went."
        )
    names = [file.name for file in engine.files]
    gathered = gather(engine, raw, marks, found, declared, names, engine.books, whole=whole, tables=tables)
    audited.notices += gathered.tables.notices
    audited.looked, audited.judged, audited.whole = len(gathered.looked), gathered.many, gathered.whole
    beside = sorted({file.table for file in files if file.table in BESIDE and file.book is None})
    if beside and not gathered.whole:
        audited.notices.append(
            f"In so large an archive the tables {listed(beside)} are not asked about: give --whole, or check "
            "each season for that."
        )
    if not gathered.near_asked:
        audited.notices.append(
            "So many rings contradict others that it was not asked which other ring may have been meant: "
            "mend some of them, and start again."
        )
    tell(f"{audited.looked:,} rows are looked at, with {audited.judged:,} around them.")
    judge = PieceJudge(declared, engine.headers)
    hands, few = (
        int(declared.settings[f"archive.engine.{name}"].value) for name in ("hands", "rows_of_a_piece")
    )
    # a process takes longer to start than a piece to be judged; Spark and who judges keep apart
    hands = hands if gathered.many > few or isinstance(engine, SparkEngine) else 1
    seasons = gathered.seasons()
    parts = ((season, packed(gathered.of_season(season), few, judged_by)) for season in seasons)
    by_columns = engine.write_parquet if parquet else None
    blamed = BlamedRows()
    with Hands(hands) as helping, ThreadPoolExecutor(max(len(helping.all), 1)) as pool:
        judging = Judging(judge, standing.folder / "pieces", helping, pool)
        for number, (season, waiting) in enumerate(judging.seasons(parts), 1):
            said = [answer.get() for answer in waiting]
            lines = blamed.unexplained([line for some, _ in said for line in some])
            audited.notices += [notice for _, told in said for notice in told]
            audited.tally.add(season, lines)
            audited.written.append(write_season(out, season, lines, by_columns))
            told = f"Season {season}" if season else "Rows that name no season and have no day"
            tell(f"{told}, {number} of {len(seasons)}: {counted(len(lines), 'line', 'lines')}.")
    audited.pieces, audited.kept = len(judging.used), judging.kept
    _refuse_changed(files)
    tidy(out, standing.folder / "pieces", judging.used, audited.written)
    return audited


def _refuse_changed(files: Sequence[ArchiveFile]) -> None:
    changed = changed_since(files)
    if changed is not None:
        raise Refusal(
            "This file was changed while it was audited.",
            where=str(changed.path),
            cure="Wait until it is whole, and start again: what does not depend on it stands.",
        )
