"""Lines of a log that are no reads: all counted, the first ones shown with their numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.antennas.log_codes import antenna_code, is_shortened, tag_codes
from audit.antennas.reading import cell_sql, lines_sql, literal, moment_of

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from audit.antennas.layout import Layout

__all__ = ["SHORTENED", "UnreadLine", "first_unread", "lines_of", "swallowed"]


@dataclass(frozen=True, slots=True)
class UnreadLine:
    """One line that is no read.

    Attributes
    ----------
    path : Path
    line : int
        From 1.
    why, text : str
        What is missing; the line itself, cut.
    """

    path: Path
    line: int
    why: str
    text: str


#: Why a line with such a tag is no read.
SHORTENED = "a spreadsheet shortened its tag number"
_LONGEST = 100
_LISTED = 1000


def first_unread(
    engine: duckdb.DuckDBPyConnection, layout: Layout, nr: int, most: int
) -> tuple[UnreadLine, ...]:
    """Find the first lines of a file that are no reads.

    Parameters
    ----------
    nr : int
        The number under which the file stands in the table ``raw``.
    most : int
        Lines that are named.
    """
    if not layout.separator:
        return ()
    reasons = [(f"{moment_of(layout, _cells(layout))} is null", "it has no moment")]
    if "tag" in layout.at:
        bad = _without_code(engine, nr, "tag", layout)
        if short := [text for text in bad if is_shortened(text)]:
            listed = ", ".join(literal(text.strip()) for text in short[:_LISTED])
            cell = cell_sql(layout, layout.at["tag"])
            reasons.append((f"{cell} in ({listed})", SHORTENED))
        reasons.append((_blank_or(layout, "tag", bad), "it has no tag number"))
    if "antenna" in layout.at:
        bad = _without_code(engine, nr, "antenna", layout)
        reasons.append((_blank_or(layout, "antenna", bad), "it names no known antenna"))
    if "box" in layout.at:
        reasons.append((_blank_or(layout, "box", []), "it names no box"))
    whys = " ".join(f"when {test} then {literal(why)}" for test, why in reasons)
    rows = engine.execute(
        f"select nr, why, line from (select nr, line, case {whys} end as why from {lines_sql(layout)} "  # noqa: S608 - made of literals and positions
        f"where nr > {layout.skipped} and trim(line) <> '') where why is not null order by nr limit {most}"
    ).fetchall()
    return tuple(UnreadLine(layout.path, int(line), why, str(text)[:_LONGEST]) for line, why, text in rows)


def lines_of(path: Path) -> tuple[int, str]:
    """Count the lines of a file that are not blank, and give the first."""
    with path.open("rb") as stream:
        first, count = b"", 0
        for line in stream:
            if line.strip():
                first, count = first or line, count + 1
    return count, first.decode("utf-8", "replace").strip().lstrip("\ufeff")[:_LONGEST]


def swallowed(engine: duckdb.DuckDBPyConnection, layout: Layout, rows: int) -> int:
    """Count the lines that a stray quotation mark made part of others; 0 where no quotation marks stand."""
    if not layout.quoted:
        return 0
    lines = engine.execute(
        f"select count(*) from {lines_sql(layout)} where nr > {layout.skipped} and trim(line) <> ''"  # noqa: S608 - made of literals
    ).fetchall()
    return max(int(lines[0][0]) - rows, 0)


def _cells(layout: Layout) -> list[str]:
    return [cell_sql(layout, place) for place in range(len(layout.names))]


def _without_code(engine: duckdb.DuckDBPyConnection, nr: int, name: str, layout: Layout) -> list[str]:
    found = engine.execute(
        f"select distinct {name} from raw where file = {nr} and {name} is not null"  # noqa: S608 - a column of ours
    ).fetchall()
    texts = [str(row[0]) for row in found]
    if name == "antenna":
        return [text for text in texts if antenna_code(text, layout.antennas) is None]
    known = tag_codes(texts)[1]
    return [text for text in texts if text not in known]


def _blank_or(layout: Layout, name: str, bad: list[str]) -> str:
    cell = cell_sql(layout, layout.at[name])
    listed = ", ".join(literal(text.strip()) for text in bad[:_LISTED])
    return f"coalesce({cell}, '') = ''" + (f" or {cell} in ({listed})" if listed else "")
