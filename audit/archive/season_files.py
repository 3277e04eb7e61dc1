"""Files of an archive that are read as a season is read: workbooks, and texts in forms of their own."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audit.archive.decided_books import decided_beside, log_digest
from audit.archive.file_columns import FileColumns
from audit.archive.laid_out import GROUPS
from audit.intake import read
from audit.intake.fingerprint import fingerprints
from audit.intake.mapping import mapping_path
from audit.rules.plain import plain_text
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    import pandas as pd

    from audit.archive.archive_files import ArchiveFile
    from audit.declarations import Declarations
    from audit.season import FileRead, Season, Table

    #: Writes a frame by columns.
    Write = Callable[[pd.DataFrame, Path], None]

__all__ = ["OWN_ROW", "Book", "SeasonFile", "digest_of", "season_file", "usual_year"]

#: Column of a kept sheet that tells the row in which each handling stands.
OWN_ROW = "row of the sheet"
#: Changes when sheets are kept in another form.
_FORM = 2
_PLACE = ("latitude", "longitude")


@dataclass(frozen=True, slots=True)
class Book:
    """A file, or a folder of text files, that is a season with all its tables.

    Attributes
    ----------
    path : Path
    name : str
        By which it is told of.
    digest : str
        Checksum of all that is read, and of the decisions beside it.
    tables : tuple of str
        Canonical tables that it holds.
    one_season : bool
        All its handlings belong to one season of one team, so that it can be judged as it stands.
    scheme, team : str
        Whose it is, where all its rows say the same.
    """

    path: Path
    name: str
    digest: str
    tables: tuple[str, ...] = ("handlings",)
    one_season: bool = True
    scheme: str = ""
    team: str = ""

    def place(self, sheet: str) -> str:
        """Name one of its sheets."""
        if self.path.is_dir():
            return f"{self.name}/{sheet}.csv"
        return self.name if sheet == self.path.stem else f"{self.name}, {sheet}"


@dataclass(frozen=True, slots=True)
class SeasonFile:
    """What was read of a book.

    Attributes
    ----------
    book : Book
    sheets : tuple of (Path, FileColumns)
        Where the handlings of each sheet are kept by columns, and what these mean.
    places : tuple of mapping
        ``box``, ``latitude``, ``longitude`` of its boxes.
    notices : tuple of str
        What the reader of a season said.
    """

    book: Book
    sheets: tuple[tuple[Path, FileColumns], ...]
    places: tuple[Mapping[str, Any], ...] = ()
    notices: tuple[str, ...] = ()


def digest_of(files: Iterable[FileRead], path: Path) -> str:
    """Give one checksum of all files that a season was read from, wherever they lie, and of its log."""
    made = hashlib.blake2b(log_digest(path).encode(), digest_size=16)
    for file in files:
        made.update(f"{Path(file.path).name}\x1f{file.sha256}\x1e".encode("utf-8", "surrogatepass"))
    return made.hexdigest()


def usual_year(years: Mapping[str, int], share: float) -> str:
    """Name the year of nearly all rows of a file; empty where there is none.

    Examples
    --------
    >>> usual_year({"2019": 40, "2091": 1}, 0.9), usual_year({"2019": 3, "2020": 2}, 0.9)
    ('2019', '')
    """
    year = max(years, key=lambda one: (years[one], one), default="")
    return year if year and years[year] >= share * sum(years.values()) else ""


def season_file(file: ArchiveFile, declared: Declarations, folder: Path, write: Write) -> SeasonFile:
    """Read a file of an archive as a season is read, or find what was kept of it.

    Parameters
    ----------
    file : ArchiveFile
        Only read; where it is one table of a folder that is a season, the folder is read.
    declared : Declarations
    folder : Path
        Where sheets are kept.
    write : callable
        Writes a frame by columns.

    Raises
    ------
    Refusal
        It cannot be read: with place and cure.
    """
    path = file.path if file.book is None else file.book
    name = file.name if file.book is None else file.name.rpartition("/")[0] or path.name
    digest = digest_of(fingerprints(path, mapping_path(path)), path)
    made = hashlib.blake2b(f"{_FORM} {name} {sorted(file.groups.items())}".encode(), digest_size=12)
    made.update(digest.encode())
    kept = folder / made.hexdigest()
    found = _kept(kept, file, path)
    if found is not None:
        return found
    season = read(path, declared)
    digest = digest_of(season.files, path)
    season, told = decided_beside(season, path, declared)
    season = replace(season, notices=(*told, *season.notices))
    share = float(declared.settings["archive.files.share"].value)
    return _keep(season, Book(path, name, digest, tuple(season.tables)), file, kept, share, write)


def _keep(
    season: Season, book: Book, file: ArchiveFile, kept: Path, share: float, write: Write
) -> SeasonFile:
    handlings = season.tables["handlings"]
    rows, headers, groups = _rows(handlings, file, share)
    scheme, team = (_only(group[place] for group in groups) for place in (1, 2))
    whole = replace(book, one_season=len(groups) == 1 and bool(groups[0][0]), scheme=scheme, team=team)
    kept.mkdir(parents=True, exist_ok=True)
    told: list[dict[str, Any]] = []
    for number, (sheet, of_sheet) in enumerate(rows.groupby("sheet", sort=False)):
        write(of_sheet.drop(columns="sheet"), kept / f"{number}.parquet")
        told.append({"sheet": str(sheet), "names": headers.get(str(sheet), {})})
    places: list[dict[str, Any]] = []
    if season.has("boxes", "box", *_PLACE):
        frame = season.frame("boxes")[["box", *_PLACE]].dropna()
        places = [dict(zip(("box", *_PLACE), row, strict=True)) for row in frame.itertuples(index=False)]
    facts = {"book": asdict(whole) | {"path": ""}, "sheets": told, "places": places}
    facts |= {"notices": list(season.notices), "fields": [str(name) for name in rows.columns]}
    half = kept / "facts.half"
    half.write_text(json.dumps(facts, ensure_ascii=False, default=str), encoding="utf-8", newline="\n")
    half.replace(kept / "facts.json")
    found = _kept(kept, file, book.path)
    if found is None:
        raise OSError(0, "what was written cannot be read again", str(kept))
    return found


def _only(texts: Iterable[str]) -> str:
    """Give the one text that all of them are; empty where they differ."""
    some = set(texts)
    return some.pop() if len(some) == 1 else ""


def _kept(kept: Path, file: ArchiveFile, path: Path) -> SeasonFile | None:
    try:
        facts = json.loads((kept / "facts.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    told = facts["book"]
    book = Book(**told | {"path": path, "tables": tuple(told["tables"])})
    fields = [name for name in facts["fields"] if name not in ("sheet", OWN_ROW)]
    sheets = []
    for number, sheet in enumerate(facts["sheets"]):
        where = kept / f"{number}.parquet"
        if not where.exists():
            return None
        columns = FileColumns(
            file=replace(file, name=book.place(sheet["sheet"]), groups={}),
            names={name: name for name in fields},
            stored=dict.fromkeys(fields, "text"),
            headers=sheet["names"],
            book=book,
        )
        sheets.append((where, columns))
    return SeasonFile(book, tuple(sheets), tuple(facts["places"]), tuple(facts["notices"]))


def _rows(
    table: Table, file: ArchiveFile, share: float
) -> tuple[pd.DataFrame, dict[str, dict[str, str]], list[tuple[str, ...]]]:
    """Write each handling as plain texts; what could not be understood stays as typed."""
    import pandas as pd

    stands = [split_label(str(label)) for label in table.frame.index]
    columns: dict[str, Any] = {"sheet": [sheet for sheet, _ in stands], OWN_ROW: [row for _, row in stands]}
    columns |= _groups(table, file, share)
    for name in table.frame.columns:
        values, typed = table.frame[name].tolist(), table.typed[name].tolist()
        columns[str(name)] = [
            plain_text(value) or str(text).strip() for value, text in zip(values, typed, strict=True)
        ]
    headers: dict[str, dict[str, str]] = {}
    for (sheet, field), column in table.columns.items():
        headers.setdefault(sheet, {})[field] = column.header
    groups = sorted(set(zip(*(columns[name] for name in GROUPS), strict=True)))
    return pd.DataFrame(columns), headers, groups


def _groups(table: Table, file: ArchiveFile, share: float) -> dict[str, Sequence[str]]:
    """Tell season, scheme and team of each row: by a column, by the folder, the season by the dates."""
    there = {str(name).strip().casefold(): name for name in table.typed.columns}
    many = len(table.frame)
    found: dict[str, Sequence[str]] = {}
    for name in GROUPS:
        if name in there:
            found[name] = [str(text).strip() for text in table.typed[there[name]]]
        else:
            found[name] = [file.groups.get(name, "")] * many
    if "season" not in there and "season" not in file.groups:
        years = [plain_text(value)[:4] for value in table.frame["date"].tolist()]
        usual = usual_year(Counter(year for year in years if year), share)
        found["season"] = [usual] * many if usual else years
    return found
