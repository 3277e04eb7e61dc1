"""Where the boxes of an archive are: from tables of boxes, and from workbooks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.archive.duck_files import columns_in, quoted, source_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import pandas as pd

    from audit.archive.archive_files import ArchiveFile
    from audit.archive.duck import DuckEngine
    from audit.archive.season_files import SeasonFile
    from audit.declarations import Declarations

__all__ = ["places_of"]


def places_of(
    engine: DuckEngine,
    files: Sequence[ArchiveFile],
    seasons: Sequence[SeasonFile],
    declared: Declarations,
    work: Path,
) -> pd.DataFrame | None:
    """Gather the places of the boxes; the last line of a box counts."""
    import pandas as pd

    found = [
        pd.DataFrame(season.places).assign(
            box=lambda frame: frame["box"].str.strip().str.upper(),
            scheme=season.book.scheme,
            team=season.book.team,
        )
        for season in seasons
        if season.places
    ]
    for file in files:
        path, columns = columns_in(engine, file, declared, work)
        if not {"latitude", "longitude"} <= set(columns.names):
            continue
        cells = [
            f"upper(trim(cast({quoted(columns.names['box'])} as varchar))) as box",
            *(
                f"try_cast(replace(cast({quoted(columns.names[name])} as varchar), ',', '.') as double) "
                f"as {name}"
                for name in ("latitude", "longitude")
            ),
            *(
                f"coalesce(trim(cast({quoted(columns.names[name])} as varchar)), '') as {name}"
                if name in columns.names
                else f"'{columns.file.groups.get(name, '')}' as {name}"
                for name in ("scheme", "team")
            ),
        ]
        query = f"select {', '.join(cells)} from {source_of(path)} order by file_row_number"  # noqa: S608 - columns of ours
        found.append(engine.connection.execute(query).df())
    if not found:
        return None
    places = pd.concat(found, ignore_index=True).dropna()
    places = places[places["latitude"].between(-90, 90) & places["longitude"].between(-180, 180)]
    return places.drop_duplicates(["scheme", "team", "box"], keep="last", ignore_index=True)
