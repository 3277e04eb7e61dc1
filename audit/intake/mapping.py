"""A header mapping: what each sheet and each header means, as proposed, as saved, as shown."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import yaml

from audit.declarations.document import read_document
from audit.declarations.form import check_form
from audit.declarations.locate import schemas_folder
from audit.intake.headers import fold
from audit.refusal import DeclarationRefusal, SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from audit.declarations import Declarations
    from audit.declarations.document import Document

__all__ = [
    "IGNORE",
    "NO_MAPPING",
    "HeaderMapping",
    "HeaderMatch",
    "SavedMapping",
    "mapping_beside",
    "mapping_block",
    "mapping_lines",
    "mapping_path",
    "write",
]

#: Stands for a sheet or a header that is not to be read.
IGNORE = "ignore"


@dataclass(frozen=True, slots=True)
class HeaderMatch:
    """What one header was taken for.

    Attributes
    ----------
    sheet, table : str
        Sheet name, and the table it is read as; empty where it is none.
    header, letter : str
        Header as typed, column letter.
    field : str
        Canonical column; empty where the header means none.
    how : str
        How it was matched: ``own name``, ``known header``, ``known header and unit``, ``typing slip``,
        ``by its cells``, ``saved mapping``, ``not known``.
    """

    sheet: str
    table: str
    header: str
    letter: str
    field: str
    how: str


@dataclass(frozen=True, slots=True)
class HeaderMapping:
    """What every header of a file means.

    Attributes
    ----------
    matches : tuple of HeaderMatch
        In sheet and column order.
    sheets : mapping of sheet name to table
        Empty text for a sheet that matches no table.
    notices : tuple of str
        What a person should look at.
    """

    matches: tuple[HeaderMatch, ...]
    sheets: Mapping[str, str]
    notices: tuple[str, ...] = ()

    def table(self) -> pd.DataFrame:
        """Show it, one line per header: sheet, table, column letter, header, field, how it was matched."""
        import pandas as pd

        columns = ["sheet", "table", "column", "header", "field", "how"]
        return pd.DataFrame(
            [(m.sheet, m.table, m.letter, m.header, m.field, m.how) for m in self.matches],
            columns=columns,
            dtype="str",
        )

    def unknown(self) -> tuple[HeaderMatch, ...]:
        """Headers that mean no column."""
        return tuple(match for match in self.matches if not match.field)


@dataclass(frozen=True, slots=True)
class SavedMapping:
    """A mapping that a person wrote or saved: it goes before everything that the program would guess."""

    sheets: Mapping[str, str] = field(default_factory=dict)
    columns: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    document: Document | None = None

    def table_of(self, sheet: str) -> str | None:
        """Table of a sheet, ``ignore``, or None where nothing is said."""
        return self.sheets.get(sheet)

    def fields_of(self, sheet: str) -> Mapping[str, str]:
        """Header -> column, or ``ignore``, of one sheet."""
        return self.columns.get(sheet, {})

    def check_sheets(self, names: Sequence[str], declared: Declarations) -> None:
        """Refuse names of sheets and tables that there are none of.

        Raises
        ------
        DeclarationRefusal
            With file, line and cure.
        """
        for part, sheets in (("sheets", self.sheets), ("columns", self.columns)):
            for sheet in sheets:
                if sheet not in names:
                    self._refuse(f"There is no sheet '{sheet}'.", (part, sheet), sheet, names)
        for sheet, table in self.sheets.items():
            if table != IGNORE and table not in declared.tables:
                self._refuse(f"'{table}' is no table.", ("sheets", sheet), table, [*declared.tables, IGNORE])

    def check_columns(self, sheet: str, table: str, headers: Sequence[str], declared: Declarations) -> None:
        """Refuse headers and columns that there are none of, and two headers for one column.

        Raises
        ------
        DeclarationRefusal
            With file, line and cure.
        """
        taken: dict[str, str] = {}
        for header, name in self.fields_of(sheet).items():
            trail = ("columns", sheet, header)
            if header not in headers:
                self._refuse(f"Sheet '{sheet}' has no header '{header}'.", trail, header, headers)
            if name == IGNORE:
                continue
            if name not in declared.tables[table].names:
                known = [*declared.tables[table].names, IGNORE]
                self._refuse(f"'{name}' is no column of {table}.", trail, name, known)
            if name in taken:
                raise DeclarationRefusal(
                    f"'{header}' and '{taken[name]}' are both given as {name}.",
                    where=self._where(trail),
                    cure=f"Write {IGNORE} for one of them.",
                )
            taken[name] = header

    def _refuse(self, what: str, trail: tuple[str, ...], typed: str, known: Sequence[str]) -> None:
        folds = {fold(name): name for name in known}
        near = difflib.get_close_matches(fold(typed), folds, n=1)
        cure = (f"Did you mean '{folds[near[0]]}'? " if near else "") + f"Known: {', '.join(known)}."
        raise DeclarationRefusal(what, where=self._where(trail), cure=cure)

    def _where(self, trail: tuple[str, ...]) -> str:
        return "mapping" if self.document is None else self.document.where(*trail)


NO_MAPPING = SavedMapping()


def mapping_path(source: object) -> Path | None:
    """Name the mapping that lies beside a source, ``<stem>.mapping.yaml``; None for what is no path."""
    if not isinstance(source, str | Path):
        return None
    source = Path(source)
    if source.name in ("", ".."):
        # the folder that one is in, or the one above it, bears its name elsewhere
        source = source.resolve()
    return source.with_name(f"{source.stem}.mapping.yaml") if source.name else None


def mapping_beside(source: Path | None, given: Path | None) -> SavedMapping:
    """Read the mapping that was given, or the one that lies beside the file, ``<stem>.mapping.yaml``.

    Raises
    ------
    DeclarationRefusal
        The mapping is not YAML or not of its form: with file, line and cure.
    """
    if given is None:
        beside = mapping_path(source)
        if beside is None or not beside.is_file():
            return NO_MAPPING
        given = beside
    if not given.is_file():
        raise SeasonRefusal(
            "This mapping file does not exist.",
            where=str(given),
            cure="Leave the mapping out to let the headers be matched, and save the proposal.",
        )
    document = read_document(given)
    check_form(document, read_document(schemas_folder() / "forms" / "mapping.yaml").tree)
    tree = document.tree
    return SavedMapping(
        sheets=tree.get("sheets") or {},
        columns={sheet: columns or {} for sheet, columns in (tree.get("columns") or {}).items()},
        document=document,
    )


def write(mapping: HeaderMapping, path: Path) -> None:
    """Save a mapping where `read` finds it again, ``<stem>.mapping.yaml`` beside the workbook.

    Headers that are not known are written as ``ignore``, for a person to see and to name their column.
    """
    columns: dict[str, dict[str, str]] = {}
    for match in mapping.matches:
        if match.table:
            columns.setdefault(match.sheet, {})[match.header] = match.field or IGNORE
    content = {
        "sheets": {sheet: table or IGNORE for sheet, table in mapping.sheets.items()},
        "columns": columns,
    }
    path.write_text(
        "# What each sheet and each header means; write 'ignore' for what is not to be read.\n"
        + yaml.safe_dump(content, allow_unicode=True, sort_keys=False),
        encoding="utf-8",
    )


def mapping_lines(sheet: str, table: str, columns_of: Mapping[str, str]) -> str:
    """Write the lines of a mapping file that would settle some headers of a sheet, for a cure."""
    columns = ", ".join(f"{_quoted(header)}: {field}" for header, field in columns_of.items())
    return f"sheets: {{{_quoted(sheet)}: {table}}}, columns: {{{_quoted(sheet)}: {{{columns}}}}}"


def mapping_block(sheet: str, table: str, columns_of: Mapping[str, str]) -> str:
    """Write a whole mapping file for some headers of a sheet, line by line, to be copied and filled in."""
    lines = [f"    {_quoted(header)}: {field}" for header, field in columns_of.items()]
    name = _quoted(sheet)
    return "\n".join(["sheets:", f"  {name}: {table}", "columns:", f"  {name}:", *lines])


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
