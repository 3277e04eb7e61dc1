"""The engine's reading of the files of a log: every line becomes a row, whatever can be made of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.antennas.column_kinds import by_header
from audit.antennas.layout import Layout, named_antenna, named_box, refuse_unfound
from audit.antennas.moments import ISO, MILLISECONDS, ZONED, find_formats, moment_sql
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import duckdb

    from audit.antennas.column_kinds import Clues

__all__ = [
    "cell_sql",
    "lay_out_parquet",
    "lines_sql",
    "literal",
    "look_into",
    "moment_of",
    "read_into",
    "unreadable",
]

#: Stands in no file of text.
_NOWHERE = "\x01"
#: Files one behind the other, each of less than a million million rows.
_ROW = ", {nr} * 1099511627776 + file_row_number as row"


def literal(text: str) -> str:
    """Write a text as a literal of the engine.

    Examples
    --------
    >>> literal("Owl's box")
    "'Owl''s box'"
    """
    return "'" + text.replace("'", "''") + "'"


def read_into(engine: duckdb.DuckDBPyConnection, layout: Layout, nr: int) -> None:
    """Add all lines of a file to the table ``raw``: ``file``, ``box``, ``antenna``, ``stamp``, ``tag``.

    Raises
    ------
    Refusal
        The engine cannot read the file.
    """
    import duckdb

    try:
        engine.execute(f"insert into raw {_lines(layout, nr, _source(layout))}")
    except duckdb.Error as fault:
        raise unreadable(fault, layout.path) from fault


def look_into(engine: duckdb.DuckDBPyConnection, layouts: Sequence[Layout]) -> None:
    """Make ``raw`` a view of Parquet files: their texts need not be stored before they become codes.

    The column ``row`` says in which order the lines stand, as `rowid` does of the table.
    """
    parts = [
        _lines(layout, nr, f"read_parquet({literal(str(layout.read_from))}, file_row_number=true)", _ROW)
        for nr, layout in enumerate(layouts)
    ]
    engine.execute("create view raw as " + " union all ".join(parts))


def unreadable(fault: duckdb.Error, path: Path) -> Refusal:
    """Word that the engine gave a file up."""
    return Refusal(
        f"The file cannot be read to its end: {str(fault).splitlines()[0]}",
        where=str(path),
        cure="Copy it from the logger again, or save it as plain text of separated values.",
    )


def _lines(layout: Layout, nr: int, source: str, row: str = "") -> str:
    told = {"box": layout.box, "antenna": layout.antenna, "tag": ""}
    box, antenna, tag = (
        f"cast({layout.names[layout.at[name]]} as varchar)" if name in layout.at else literal(text)
        for name, text in told.items()
    )
    stamp = moment_of(layout, list(layout.names))
    more = row.format(nr=nr)
    return (
        f"select {nr} as file, {box} as box, {antenna} as antenna, {stamp} as stamp, {tag} as tag{more} "  # noqa: S608 - made of literals and positions
        f"from {source}"
    )


def moment_of(layout: Layout, names: list[str]) -> str:
    """Word the expression of the moment of a row, with its milliseconds where they stand apart."""
    parts = [names[place] for place in layout.moment]
    if not layout.separator:
        text = parts[0]
    else:
        plain = layout.formats[0] in (ISO, ZONED)
        trimmed = parts if plain and len(parts) == 1 else [f"trim({part})" for part in parts]
        text = trimmed[0] if len(trimmed) == 1 else "concat_ws(' ', " + ", ".join(trimmed) + ")"
        if layout.comma:
            text = f"replace({text}, ',', '.')"
    made = moment_sql(text, layout.formats, layout.minutes)
    if "milliseconds" in layout.at:
        made = f"({made} + coalesce(try_cast({names[layout.at['milliseconds']]} as bigint), 0))"
    return made


def _source(layout: Layout) -> str:
    path = literal(str(layout.read_from))
    if not layout.separator:
        return f"read_parquet({path})"
    columns = ", ".join(f"{literal(name)}: 'VARCHAR'" for name in layout.names)
    # lines that swallow others between two quotation marks are looked for in one piece
    quote = "quote='\"', escape='\"', parallel=false" if layout.quoted else "quote='', escape=''"
    return (
        f"read_csv({path}, delim={literal(layout.separator)}, {quote}, header=false, skip={layout.skipped}, "
        f"columns={{{columns}}}, auto_detect=false, null_padding=true, strict_mode=false, "
        f"encoding={literal(layout.encoding)})"
    )


def lines_sql(layout: Layout) -> str:
    """Word a table of the lines of a text file: ``nr`` from 1 and ``line``."""
    return (
        # the path is written as a quoted literal
        f"(select row_number() over () as nr, line from read_csv({literal(str(layout.read_from))}, "  # noqa: S608 - texts of ours
        f"delim={literal(_NOWHERE)}, quote='', escape='', header=false, columns={{'line': 'VARCHAR'}}, "
        f"auto_detect=false, strict_mode=false, encoding={literal(layout.encoding)}))"
    )


def cell_sql(layout: Layout, place: int) -> str:
    """Word the expression of one cell of a line."""
    cell = f"string_split(line, {literal(layout.separator)})[{place + 1}]"
    return f"trim(replace({cell}, '\"', ''))"


def lay_out_parquet(path: Path, clues: Clues, engine: duckdb.DuckDBPyConnection) -> Layout:
    """Find the columns of a table kept by columns.

    Raises
    ------
    Refusal
        It cannot be read, or a column is missing.
    """
    import duckdb

    try:
        described = engine.execute(f"describe select * from read_parquet({literal(str(path))})").fetchall()  # noqa: S608 - a literal
    except duckdb.Error as fault:
        raise Refusal(
            "This is no whole Parquet file.", where=str(path), cure="Write it again from where it came."
        ) from fault
    header, kinds = [row[0] for row in described], [str(row[1]) for row in described]
    at = by_header(header, [], clues)
    moment = tuple(at.pop(name) for name in ("detected_at", "date") if name in at)[:1]
    at.pop("time", None)
    box = "" if "box" in at else named_box(path, None, clues)
    antenna = "" if "antenna" in at else named_antenna(path, clues)
    refuse_unfound(path, header, at, moment, box=box, antenna=antenna)
    names = tuple('"' + name.replace('"', '""') + '"' for name in header)
    kind = kinds[moment[0]]
    formats: tuple[str, ...]
    if kind.startswith("TIMESTAMP"):
        formats = (ZONED,) if "TIME ZONE" in kind else (ISO,)
    elif "INT" in kind:
        formats = (MILLISECONDS,)
    else:
        texts = [
            str(row[0])
            for row in engine.execute(
                f"select {names[moment[0]]} from read_parquet({literal(str(path))}) limit 1000"  # noqa: S608 - a literal
            ).fetchall()
        ]
        found = find_formats(engine, texts, clues.time_formats)
        formats = found[0] if found else (ISO,)
    return Layout(path, names, at, moment, formats, box=box, antenna=antenna, antennas=clues.antennas)
