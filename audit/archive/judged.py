"""What a season's rules say of an excerpt: findings with explanations, as in a season of its own."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.archive.clash_findings import clash_finding, explained, renumbered
from audit.archive.decided_books import NOTHING_SAID, not_answered
from audit.archive.excerpt import EARLIER, Changed, read_excerpt
from audit.checked import check_closely
from audit.declarations.to_pandera import blame_each
from audit.named_findings import identify, join_groups, sort_findings
from audit.refusal import Refusal
from audit.rules import RULES
from audit.rules.declared import known_breaches
from audit.rules.layouts import Layouts
from audit.season import row_label

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    import pandas as pd

    from audit.archive.excerpt import Excerpt
    from audit.archive.season_files import Book
    from audit.declarations import Declarations
    from audit.findings import Cell, Finding, Report
    from audit.handover.gate.said import Said
    from audit.season import Season

__all__ = ["judge_each"]


@dataclass(frozen=True, slots=True)
class _Read:
    """An excerpt read as a season, with what is laid out of it; or why it could not be read."""

    excerpt: Excerpt
    season: Season | None
    layouts: Layouts
    said: Said = NOTHING_SAID
    why: str = ""


def judge_each(
    excerpts: Iterable[Excerpt], declared: Declarations
) -> Iterator[tuple[tuple[Finding, ...], str]]:
    """Ask the rules of a season about each of some excerpts, and tell what contradicts other seasons.

    Parameters
    ----------
    excerpts : iterable of Excerpt
        None knows of another; only what their cells are declared to be is looked at together.
    declared : Declarations

    Yields
    ------
    tuple of Finding
        Findings about the rows that were looked at, named and grouped; and contradictions that nothing in
        them accounts for.
    str
        Why the rules could not be asked; empty where they were.
    """
    read = [_read(excerpt, declared) for excerpt in excerpts]
    # a rule that fails says so itself, and takes no other season with it
    with suppress(Exception):
        _lay_out_breaches(read, declared)
    while read:
        # what was laid out of it is not needed any more
        yield _judged(read.pop(0), declared)


def _read(excerpt: Excerpt, declared: Declarations) -> _Read:
    try:
        season, said = read_excerpt(excerpt, declared)
        return _Read(excerpt, season, Layouts(), said)
    except Changed:
        raise
    except Refusal as refusal:
        return _Read(excerpt, None, Layouts(), why=f"{refusal.what} {refusal.cure}")


def _lay_out_breaches(read: Sequence[_Read], declared: Declarations) -> None:
    """Ask once which cells of all seasons break their declarations: it takes about as long as for one."""
    for name, table in declared.tables.items():
        there = [(one, one.season.frame(name)) for one in read if one.season and one.season.has(name)]
        found = blame_each(table, [frame for _, frame in there])
        for (one, _), breaches in zip(there, found, strict=True):
            known_breaches(one.layouts, table, breaches)


def _judged(read: _Read, declared: Declarations) -> tuple[tuple[Finding, ...], str]:
    excerpt, why = read.excerpt, read.why
    found: list[Finding] = []
    if read.season is not None:
        asked = declared.settings["archive.rules.asked"].value
        rules = RULES if excerpt.whole else [rule for rule in RULES if rule.slug in asked]
        report = check_closely(read.season, declared, rules, layouts=read.layouts).report
        found = _about(excerpt, report, asked, read.said)
    # the rows of an excerpt are many, and its contradictions few
    known = _records_of_clashes(excerpt) if excerpt.clashes else []
    rows = {int(row["at"]): row for row in known}
    kin = _by_mark(rows.values())
    blamed, noted = _blamed(found), _noted(found)
    for rule, at, other in excerpt.clashes:
        labels = [row_label(rows[place]["file"], int(rows[place]["row"])) for place in (at, other)]
        if not explained(rule, labels, blamed, noted):
            marks = [(name, rows[at].get(name, "")) for name in _MARKS]
            same = tuple({row["at"]: row for mark in marks for row in kin.get(mark, ())}.values())
            if not renumbered(rule, rows[at], rows[other], same):
                there = _visits_of(excerpt, (at, other)) if rule == _TWO_SPECIES else []
                found.append(clash_finding(rule, rows[at], rows[other], same, declared, there))
    return join_groups(identify(sort_findings(found))), why


def _about(excerpt: Excerpt, report: Report, asked: list[str], said: Said) -> list[Finding]:
    """Take the findings of the rules asked that blame a row which was looked at; of a whole season all.

    Of a book those that were answered by a decision are left out.
    """
    if excerpt.book is not None:
        return [_placed(finding, excerpt.book) for finding in not_answered(report.findings, said)]
    if excerpt.whole:
        return list(report.findings)
    looked = set(excerpt.looked)
    places = zip(*(excerpt.rows[name].tolist() for name in ("at", "file", "row")), strict=True)
    labels = {row_label(file, int(row)) for at, file, row in places if at in looked}
    return [
        finding
        for finding in report.findings
        if finding.rule.partition(".")[0] in asked
        and any(suspect.cell.label in labels for suspect in finding.suspects)
    ]


def _placed(finding: Finding, book: Book) -> Finding:
    """Say of each cell in which book its sheet is."""

    def placed(cell: Cell) -> Cell:
        if cell.sheet.endswith(EARLIER):
            return cell
        sheet = book.place(cell.sheet)
        return replace(cell, sheet=sheet, label=row_label(sheet, cell.row))

    return replace(
        finding,
        suspects=tuple(replace(one, cell=placed(one.cell)) for one in finding.suspects),
        witnesses=tuple(placed(cell) for cell in finding.witnesses),
    )


def _blamed(found: list[Finding]) -> dict[str, frozenset[str]]:
    blamed: dict[str, frozenset[str]] = {}
    for finding in found:
        if finding.severity != "note":
            for suspect in finding.suspects:
                cell = suspect.cell
                blamed[cell.label] = blamed.get(cell.label, frozenset()) | {cell.field}
    return blamed


def _noted(found: list[Finding]) -> dict[str, frozenset[str]]:
    noted: dict[str, frozenset[str]] = {}
    for finding in found:
        for suspect in finding.suspects if finding.severity == "note" else ():
            label = suspect.cell.label
            noted[label] = noted.get(label, frozenset()) | {finding.rule}
    return noted


#: A contradiction of which the birds beside a row can tell.
_TWO_SPECIES = "two_species"
#: What rows of one bird share.
_MARKS = ("ring", "tag")


def _by_mark(rows: Iterable[Mapping[str, str]]) -> dict[tuple[str, str], list[Mapping[str, str]]]:
    found: dict[tuple[str, str], list[Mapping[str, str]]] = {}
    for row in rows:
        for name in _MARKS:
            if row.get(name):
                found.setdefault((name, row[name]), []).append(row)
    return found


def _records_of_clashes(excerpt: Excerpt) -> list[Mapping[str, str]]:
    """Take the rows that contradict each other, and all that share a mark with one of them."""
    told = {at for _, one, other in excerpt.clashes for at in (one, other)}
    frames = (excerpt.rows, excerpt.kin)
    marks = [name for name in _MARKS if name in excerpt.rows.columns]
    # plain tuples: each of many small frames is asked about a few rows
    keys = [list(zip(*(frame[name].tolist() for name in ("at", *marks)), strict=True)) for frame in frames]
    borne = {
        mark
        for of_frame in keys
        for at, *some in of_frame
        if at in told
        for mark in enumerate(some)
        if mark[1]
    }
    return [
        row
        for frame, of_frame in zip(frames, keys, strict=True)
        for row in _records(
            frame,
            [
                place
                for place, (at, *some) in enumerate(of_frame)
                if at in told or not borne.isdisjoint(enumerate(some))
            ],
        )
    ]


def _visits_of(excerpt: Excerpt, places: Sequence[int]) -> list[Mapping[str, str]]:
    """Take the rows of the excerpt in the boxes of some of its rows."""
    rows, of_row = excerpt.rows["at"].tolist(), excerpt.rows["box"].tolist()
    boxes = {box for at, box in zip(rows, of_row, strict=True) if at in places}
    return _records(excerpt.rows, [place for place, box in enumerate(of_row) if box in boxes])


def _records(frame: pd.DataFrame, places: Sequence[int]) -> list[Mapping[str, str]]:
    """Write out some rows, given by their places; numbers as text."""
    if not places:
        return []
    # all of their cells are texts already, but for two columns
    columns = {str(name): frame[name].tolist() for name in frame.columns}
    return [{name: _as_text(cells[place]) for name, cells in columns.items()} for place in places]


def _as_text(cell: object) -> str:
    return cell if isinstance(cell, str) else str(cell)
