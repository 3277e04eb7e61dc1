"""The files of an archive, opened: parts with handlings, seasons with all their tables, and strangers."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.archive.decided_books import has_log
from audit.archive.plain_files import is_stranger, plain_file
from audit.archive.season_files import season_file
from audit.intake.mapping import mapping_path
from audit.intake.sources import MEGABYTE
from audit.intake.wording import counted, listed
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.file_columns import FileColumns
    from audit.archive.plain_files import Plain
    from audit.archive.season_files import SeasonFile, Write
    from audit.declarations import Declarations

    #: Where a part lies by columns, and what these mean.
    Part = tuple[Path, FileColumns]
    #: Lays a file by columns, as it is written where it is text, and tells what they mean.
    Describe = Callable[[ArchiveFile, Plain | None], Part]

__all__ = ["OpenedFiles", "open_files"]

#: Faulty files; files, and notices of one file: told of before the rest is counted.
_FEW, _SOME = 5, 3
_TOO_LARGE = (
    "It is too large to be read as a season is read, so that ways of its own, such as days and boxes in the "
    "first row of each visit, and decisions beside it were not heeded. Part it by seasons for that."
)


@dataclass(frozen=True, slots=True)
class OpenedFiles:
    """What the files of an archive hold.

    Attributes
    ----------
    handlings : tuple of (Path, FileColumns)
        Parts with handlings: a file, or a sheet of it.
    seasons : tuple of SeasonFile
        Files that were read as a season is read.
    strangers : tuple of str
        Names of files without the columns of handlings.
    large : tuple of str
        Names of files that ought to be read as a season is read, and are too large for it.
    """

    handlings: tuple[Part, ...]
    seasons: tuple[SeasonFile, ...]
    strangers: tuple[str, ...]
    large: tuple[str, ...] = ()

    @property
    def notices(self) -> list[str]:
        """What a person should know of how they were read."""
        said = [(season.book.name, what) for season in self.seasons for what in season.notices]
        apart = [
            season.book.name
            for season in self.seasons
            if not season.book.one_season and {*season.book.tables} - {"handlings", "boxes"}
        ]
        what = "It holds more than one season or team, so that only its handlings and boxes were asked about."
        said += [(name, what) for name in apart]
        said += [(name, "It has no columns of handlings, and was not read.") for name in self.strangers]
        said += [(name, _TOO_LARGE) for name in self.large]
        return _told_together(said)


def open_files(
    files: Sequence[ArchiveFile], declared: Declarations, keep: Path, write: Write, describe: Describe
) -> OpenedFiles:
    """Open all files with handlings.

    Parameters
    ----------
    files : sequence of ArchiveFile
        Only read.
    declared : Declarations
    keep : Path
        Folder for what was read of workbooks.
    write : callable
        Writes a frame by columns.
    describe : callable
        Opens a file that an engine may read as it is.

    Raises
    ------
    Refusal
        Of all files that cannot be read, so that nobody mends one and is then told of the next.
    """
    parts: list[Part] = []
    seasons: dict[Path, SeasonFile] = {}
    strangers: list[ArchiveFile] = []
    large: list[str] = []
    wrong: list[Refusal] = []
    for file in files:
        if file.table != "handlings" or file.book in seasons:
            continue
        try:
            plain = None if file.is_season or file.by_columns else _plain(file, declared)
            if plain is None and not file.by_columns and _small(file, declared):
                if not file.is_season and is_stranger(file.path, declared):
                    strangers.append(file)
                    continue
                season = season_file(file, declared, keep, write)
                seasons[season.book.path] = season
                parts += season.sheets
            else:
                parts.append(describe(file, plain))
                large += [] if plain or file.by_columns else [file.name]
        except Refusal as refusal:
            wrong.append(refusal)
    if wrong:
        raise wrong[0] if len(wrong) == 1 else _of_all(wrong)
    if not parts:
        raise Refusal(
            "No file here has the columns of handlings.",
            where=str(strangers[0].path.parent if len(strangers) > 1 else strangers[0].path),
            cure="Name the columns date, box and ring in the first line of each file.",
        )
    return OpenedFiles(
        tuple(parts), tuple(seasons.values()), tuple(file.name for file in strangers), tuple(large)
    )


def _plain(file: ArchiveFile, declared: Declarations) -> Plain | None:
    beside = mapping_path(file.path)
    if (beside is not None and beside.exists()) or has_log(file.path):
        return None
    try:
        return plain_file(file.path, declared, file.table)
    except OSError as fault:
        raise Refusal(
            f"The file cannot be read ({fault.strerror or fault}).",
            where=str(file.path),
            cure="See that it is whole and may be read.",
        ) from fault


def _small(file: ArchiveFile, declared: Declarations) -> bool:
    """Whether it can be read as a season; a larger one is left to the engine, whatever it makes of it."""
    most = float(declared.settings["reading.files.megabytes"].value) * MEGABYTE
    return file.is_season or file.size <= most


def _of_all(wrong: Sequence[Refusal]) -> Refusal:
    told = [f"{refusal.where}: {refusal.what} {refusal.cure}" for refusal in wrong[:_FEW]]
    more = len(wrong) - _FEW
    return Refusal(
        f"{counted(len(wrong), 'file', 'files')} of the archive cannot be read.",
        where="\n         ".join([*told, *([f"and {more:,} more"] if more > 0 else [])]),
        cure="Mend them, or take them out of the archive, and start again: what was read so far stands.",
    )


def _told_together(said: Sequence[tuple[str, str]]) -> list[str]:
    """Say once what is said of many files.

    Parameters
    ----------
    said : sequence of (str, str)
        Name of the file, and the sentence.
    """
    files: dict[str, list[str]] = {}
    told = Counter[str]()
    for name, what in said:
        told[name] += 1
        if told[name] <= _SOME:
            files.setdefault(what, []).append(name)
    together = [
        f"{listed(names)}: {what}"
        if len(names) <= _SOME
        else f"{names[0]} and {len(names) - 1:,} others: {what}"
        for what, names in files.items()
    ]
    more = [
        f"{name}: {many - _SOME:,} more notices; nestproof check tells all of them."
        for name, many in told.items()
        if many > _SOME
    ]
    return together + more
