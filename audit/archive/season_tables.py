"""Tables beside the handlings of an archive, such as visits and rings in stock: what is of each season."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.archive.duck_files import columns_in, quoted, source_of
from audit.archive.laid_out import GROUPS
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    import pandas as pd

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.duck import DuckEngine
    from audit.archive.file_columns import FileColumns
    from audit.declarations import Declarations

__all__ = ["BESIDE", "SeasonTables", "tables_beside"]

#: Tables that are read, and the column whose year tells the season of a row; rings in stock are used in all
#: seasons since they were issued. Where boxes are is asked over all seasons (`box_places`).
BESIDE: Mapping[str, str] = {
    "visits": "date",
    "ring_stock": "issued",
    "ring_losses": "date",
    "tag_stock": "",
    "tag_reads": "read_at",
}
#: Of these what is older than a season counts in it as well.
_LASTING = ("ring_stock",)
_YEAR = r"((?:18|19|20)\d\d)"


@dataclass(frozen=True, slots=True)
class SeasonTables:
    """Tables beside the handlings.

    Attributes
    ----------
    frames : mapping of str to pandas.DataFrame
        Canonical table -> ``file`` (its name), ``row``, ``season``, ``scheme``, ``team`` (empty where nobody
        tells), and its canonical columns as text.
    notices : tuple of str
        Which files could not be read, and why.
    """

    frames: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    notices: tuple[str, ...] = ()

    def of_season(self, season: str, scheme: str, team: str) -> dict[str, pd.DataFrame]:
        """Take what belongs to a season of a team; what names no season, scheme or team belongs to all."""
        found = {}
        for name, frame in self.frames.items():
            mine = frame["season"].isin(["", season])
            if name in _LASTING:
                mine |= frame["season"] < season
            for group, own in (("scheme", scheme), ("team", team)):
                mine &= frame[group].isin(["", own])
            rows = frame[mine].drop(columns=list(GROUPS)).reset_index(drop=True)
            if len(rows):
                found[name] = rows
        return found


def tables_beside(
    engine: DuckEngine, files: Sequence[ArchiveFile], declared: Declarations, work: Path
) -> SeasonTables:
    """Read the tables of an archive that stand beside its handlings.

    Parameters
    ----------
    engine : DuckEngine
    files : sequence of ArchiveFile
        Of any table; those of handlings, and those of a season with tables of its own, are passed over.
    declared : Declarations
    work : Path
        Folder for text files laid by columns.
    """
    import pandas as pd

    frames: dict[str, list[pd.DataFrame]] = {}
    notices = []
    for file in files:
        if file.table in BESIDE and file.book is None:
            try:
                path, columns = columns_in(engine, file, declared, work)
                frames.setdefault(file.table, []).append(_texts(engine, path, columns))
            except Refusal as refusal:
                notices.append(f"{file.name} was not read. {refusal.what} {refusal.cure}")
    return SeasonTables(
        {name: pd.concat(parts, ignore_index=True).fillna("") for name, parts in sorted(frames.items())},
        tuple(notices),
    )


def _texts(engine: DuckEngine, path: Path, columns: FileColumns) -> pd.DataFrame:
    cells = [
        f"coalesce({_text(columns.names[name], columns.stored[name])}, '') as {quoted(name)}"
        for name in columns.names
    ]
    query = f"select file_row_number + 2 as row, {', '.join(cells)} from {source_of(path)} order by row"  # noqa: S608 - columns of ours
    frame = engine.connection.execute(query).df().astype({"row": "int64"})
    for name in GROUPS:
        if name not in frame.columns:
            frame[name] = columns.file.groups.get(name, "")
    when = BESIDE[columns.file.table]
    if when in frame.columns and not frame["season"].any():
        frame["season"] = frame[when].str.extract(_YEAR, expand=False).fillna("")
    return frame.assign(file=columns.file.name)


def _text(name: str, stored: str) -> str:
    """Write a cell as a text: numbers without the point of floating point, moments without a midnight."""
    cell = f"trim(cast({quoted(name)} as varchar))"
    if stored == "text":
        return cell
    return f"regexp_replace({cell}, '{'[.]0$' if stored == 'number' else ' 00:00:00([.]0+)?$'}', '')"
