"""The rows as typed around a finding: the suspect cells marked, their neighbours beside them."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from audit.findings import SEVERITIES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from audit.findings import Finding, Severity
    from audit.season import Season, Table

__all__ = ["TypedRows", "safe"]


def safe(text: str) -> str:
    """Escape typed text for a page; signs that cannot be shown become a replacement sign."""
    shown = "".join(sign if sign.isprintable() or sign == "\n" else "\ufffd" for sign in text)
    return escape(shown)


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One sheet as typed: ``columns[i][j]`` is the text of column i in row j."""

    name: str
    labels: Sequence[str]
    rows: Sequence[int]
    fields: Sequence[str]
    heads: Sequence[str]
    columns: Sequence[Sequence[object]]
    place: Mapping[str, int]


class TypedRows:
    """All sheets of a season as typed, ready to be shown in part."""

    def __init__(self, season: Season) -> None:
        self._sheets = {sheet.name: sheet for table in season.tables.values() for sheet in _sheets(table)}

    def around(self, findings: Iterable[Finding]) -> Iterator[str]:
        """Make one table per sheet: each row with a suspect cell, and the rows before and after it."""
        blamed: dict[tuple[str, str], Severity] = {}
        seen_by: set[tuple[str, str]] = set()
        wanted: dict[str, set[int]] = {}
        for finding in findings:
            for suspect in finding.suspects:
                cell = suspect.cell
                sheet = self._sheets.get(cell.sheet)
                if sheet is None or cell.label not in sheet.place:
                    continue
                wanted.setdefault(cell.sheet, set()).add(sheet.place[cell.label])
                key = (cell.label, cell.field)
                blamed[key] = min(blamed.get(key, finding.severity), finding.severity, key=SEVERITIES.index)
            seen_by.update((cell.label, cell.field) for cell in finding.witnesses)
        for name, places in wanted.items():
            yield _table(self._sheets[name], places, blamed, seen_by)


def _sheets(table: Table) -> Iterator[_Sheet]:
    names = dict.fromkeys(sheet for sheet, _ in table.columns)
    split = [str(label).rpartition("!") for label in table.typed.index]
    fields = [str(field) for field in table.typed.columns]
    for name in names:
        inside = [i for i, (sheet, _, _) in enumerate(split) if sheet == name]
        labels = [str(table.typed.index[i]) for i in inside]
        part = table.typed.iloc[inside]
        yield _Sheet(
            name=name,
            labels=labels,
            rows=[int(split[i][2]) for i in inside],
            fields=fields,
            heads=[
                table.columns[name, field].header if (name, field) in table.columns else field
                for field in fields
            ],
            columns=[part.iloc[:, number].tolist() for number in range(len(fields))],
            place={label: i for i, label in enumerate(labels)},
        )


# The closing tags of cells and rows are left out, as HTML allows: they would be a third of a large page.
def _table(
    sheet: _Sheet,
    places: set[int],
    blamed: Mapping[tuple[str, str], Severity],
    seen_by: set[tuple[str, str]],
) -> str:
    last = len(sheet.labels) - 1
    shown = sorted({near for at in places for near in (at - 1, at, at + 1) if 0 <= near <= last})
    blamed_fields = {field for at in places for field in sheet.fields if (sheet.labels[at], field) in blamed}
    used = [
        number
        for number, field in enumerate(sheet.fields)
        if field in blamed_fields or any(_typed(sheet.columns[number][at]) for at in shown)
    ]
    parts = [
        f'<div class="typed"><table><caption>As typed in {safe(sheet.name)}</caption>',
        '<thead><tr><th scope="col" class="n">row',
        *(f'<th scope="col">{safe(sheet.heads[number])}' for number in used),
        "</thead><tbody>\n",
    ]
    before = None
    for at in shown:
        if before is not None and sheet.rows[at] != sheet.rows[before] + 1:
            parts.append(f'<tr class="gap"><td colspan="{len(used) + 1}">⋮')
        before = at
        here = ' class="at"' if at in places else ""
        parts.append(f'<tr{here}><th scope="row" class="n">{sheet.rows[at]}')
        parts.extend(
            _cell(
                _typed(sheet.columns[number][at]), (sheet.labels[at], sheet.fields[number]), blamed, seen_by
            )
            for number in used
        )
        parts.append("\n")
    parts.append("</tbody></table></div>")
    return "".join(parts)


def _cell(
    text: str,
    key: tuple[str, str],
    blamed: Mapping[tuple[str, str], Severity],
    seen_by: set[tuple[str, str]],
) -> str:
    severity = blamed.get(key)
    if severity is not None:
        return f'<td class="{severity}">{safe(text) or "(empty)"}'
    return f'<td class="w">{safe(text)}' if key in seen_by else f"<td>{safe(text)}"


def _typed(value: object) -> str:
    return value if isinstance(value, str) else ""
