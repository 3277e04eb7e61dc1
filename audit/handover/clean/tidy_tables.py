"""The clean season as tidy tables, described by a Data Package: any program can read and check them."""

from __future__ import annotations

import csv
import json
from functools import partial
from typing import TYPE_CHECKING, Any

import pandas as pd

from audit.declarations.to_tableschema import compile_table
from audit.handover.clean.broken_description import broken_description
from audit.handover.part import Part
from audit.handover.table_file import guard
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.declarations.sender import Sender
    from audit.declarations.tables import TableDeclaration
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.season import Season, Table

__all__ = ["ROW", "data_package", "tidy_lines", "tidy_tables_part"]

#: Column that says where a row stands in the sheet as typed; the key of each table.
ROW = "row_as_typed"
#: Witnesses from other seasons do not go out with this one.
_NOT_OURS = ("earlier",)
_UNREAD = "unread"
_UNREAD_COLUMNS = (ROW, "table", "column", "typed")
_FOLDER = "tables"


def tidy_tables_part(decided: DecidedSeason) -> Part:
    """Make the tables and their description.

    Returns
    -------
    Part
        ``tables/<table>.csv`` for each table of the season: canonical columns with typed values, then the
        team's own columns as text; ``tables/unread.csv`` where a cell holds text that is no value of its
        column, which is empty in the table; ``tables/datapackage.json``.
    """
    season, declared = decided.clean, decided.declared
    files: dict[str, Callable[[Path], object]] = {
        f"{_FOLDER}/{name}.csv": partial(_write, lines=list(tidy_lines(table, declared.tables[name])))
        for name, table in _own_tables(season)
    }
    about = (
        f"The tables are text (UTF-8, comma, decimal point). Column {ROW} says where each row stands in the "
        "sheet as typed; a text that a spreadsheet would run as a formula has an apostrophe in front."
    )
    told = [about]
    unread = list(_unread(season))
    if unread:
        files[f"{_FOLDER}/{_UNREAD}.csv"] = partial(_write, lines=[_UNREAD_COLUMNS, *unread])
        told.append(
            f"{counted(len(unread), 'cell holds', 'cells hold')} text that is no value of the column: empty "
            f"in the tables, and listed in {_FOLDER}/{_UNREAD}.csv."
        )
    broken = broken_description(dict(_own_tables(season)), declared)
    if broken:
        told.append(broken)
    if not declared.sender.licence:
        told.append(
            "Nothing says under which terms the tables may be used: write 'licence' into sender.yaml of your "
            "own folder of declarations."
        )
    package = data_package(season, declared)
    files[f"{_FOLDER}/datapackage.json"] = lambda path: path.write_text(
        json.dumps(package, ensure_ascii=False, indent=1) + "\n", encoding="utf-8", newline="\n"
    )
    return Part("Tidy tables with their description (Data Package)", files, tuple(told))


def _own_tables(season: Season) -> Iterator[tuple[str, Table]]:
    yield from ((name, table) for name, table in season.tables.items() if name not in _NOT_OURS)


def _own_columns(table: Table) -> list[str]:
    """Columns that only the team knows."""
    return [name for name in map(str, table.typed.columns) if name not in table.frame.columns]


def tidy_lines(table: Table, declaration: TableDeclaration) -> Iterator[Sequence[str]]:
    """Yield the header and each row of a table as texts.

    Parameters
    ----------
    table : Table
        Of the clean season.
    declaration : TableDeclaration
        What its columns hold.

    Yields
    ------
    sequence of str
        Row as typed, canonical columns, the team's own columns. Numbers with a decimal point and no more
        digits than they need, days as ISO 8601, moments to the millisecond where they have any.
    """
    own = _own_columns(table)
    yield [ROW, *table.frame.columns, *_headers(table, own)]
    columns = [_texts(table.frame[name], declaration.field(name).kind) for name in table.frame.columns]
    columns += [[guard(_one_line(str(text))) for text in table.typed[name]] for name in own]
    yield from zip([guard(str(label)) for label in table.frame.index], *columns, strict=True)


def _headers(table: Table, own: Sequence[str]) -> list[str]:
    """Name the team's own columns as they are headed; those of a name that is taken are numbered."""
    taken = {ROW, *map(str, table.frame.columns)}
    named = []
    for header in own:
        plain = guard(_one_line(header)) or "column"
        name, number = plain, 1
        while name in taken:
            number += 1
            name = f"{plain} {number}"
        taken.add(name)
        named.append(name)
    return named


def _one_line(text: str) -> str:
    """Leave out what no text file of one line for each row can hold."""
    return " ".join(text.replace("\0", "").splitlines())


def _texts(column: pd.Series[Any], kind: str) -> list[str]:
    write = _WRITERS.get(kind, _text)
    return ["" if pd.isna(value) else write(value) for value in column]


def _text(value: object) -> str:
    return guard(_one_line(str(value)))


def _moment(moment: pd.Timestamp) -> str:
    return moment.isoformat(timespec="milliseconds" if moment.microsecond else "seconds")


def _number(value: float) -> str:
    return str(int(value)) if value == int(value) else repr(float(value))


#: Kind of a declared column -> how its values are written; all others are text.
_WRITERS: Mapping[str, Callable[[Any], str]] = {
    "number": _number,
    "integer": _number,
    "date": lambda day: day.date().isoformat(),
    "datetime": _moment,
    "boolean": lambda value: "yes" if value else "no",
}


def _unread(season: Season) -> Iterator[tuple[str, ...]]:
    for name, table in _own_tables(season):
        for field in table.frame.columns:
            texts = table.typed[field].astype(str).str.strip()
            for label in table.frame.index[table.frame[field].isna() & (texts != "")]:
                yield guard(str(label)), name, field, guard(_one_line(str(texts[label])))


def data_package(season: Season, declared: Declarations) -> dict[str, Any]:
    """Describe the tidy tables of a season.

    Returns
    -------
    dict
        A Data Package descriptor, ready for JSON.

    References
    ----------
    Frictionless Data, Data Package and Table Schema, version 1: https://specs.frictionlessdata.io/
    """
    tables = list(_own_tables(season))
    names = [name for name, _ in tables]
    resources = [_resource(name, table, declared, names) for name, table in tables]
    if any(True for _ in _unread(season)):
        resources.append(_unread_resource())
    return {
        "profile": "tabular-data-package",
        "name": _slug(season.name),
        "title": declared.sender.title or season.name,
        **_rights(declared.sender),
        "resources": resources,
    }


def _rights(sender: Sender) -> dict[str, Any]:
    told: dict[str, Any] = {}
    if sender.licence:
        kind = "path" if "://" in sender.licence else "name"
        told["licenses"] = [{kind: sender.licence}]
    if sender.contact or sender.team:
        person = {"title": sender.contact or sender.team, "organization": sender.team, "email": sender.email}
        told["contributors"] = [{key: text for key, text in person.items() if text}]
    return told


def _resource(name: str, table: Table, declared: Declarations, names: Sequence[str]) -> dict[str, Any]:
    declaration = declared.tables[name]
    schema = compile_table(declaration, columns=list(map(str, table.frame.columns)), tables=names)
    row = {
        "name": ROW,
        "type": "string",
        "title": "Sheet and row in which it was typed.",
    }
    own = [
        {"name": header, "type": "string", "title": "A column of the team, as typed."}
        for header in _headers(table, _own_columns(table))
    ]
    schema["fields"] = [{**row, "constraints": {"required": True, "unique": True}}, *schema["fields"], *own]
    schema["primaryKey"] = ROW
    return {
        "profile": "tabular-data-resource",
        "name": name,
        "title": declaration.title,
        "path": f"{name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "lineTerminator": "\n", "doubleQuote": True},
        "schema": schema,
    }


def _unread_resource() -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": _UNREAD,
        "title": "Cells whose text is no value of their column; empty in the tables.",
        "path": f"{_UNREAD}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": {
            "fields": [{"name": column, "type": "string"} for column in _UNREAD_COLUMNS],
            "missingValues": [""],
        },
    }


def _slug(text: str) -> str:
    """Write a name as the standard wants it: small letters, digits, hyphen."""
    slug = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in text.lower())
    return "-".join(piece for piece in slug.split("-") if piece) or "season"


def _write(path: Path, lines: Sequence[Sequence[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows(lines)
