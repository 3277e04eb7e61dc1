"""Cells that break what is declared, by the word of the second engine, and cells that no engine can see."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.gate.expected import broken
from audit.handover.gate.item import OpenItem, cell_at

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from audit.declarations import Declarations
    from audit.declarations.breach import Breach
    from audit.declarations.validation import Validation
    from audit.findings import Report
    from audit.handover.gate.said import Place, Said
    from audit.season import Season

__all__ = ["Unseen", "breach_items", "unread_items", "unseen_in"]


@dataclass(frozen=True, slots=True)
class Unseen:
    """Cells with a text and without a value: for an engine they are empty.

    Attributes
    ----------
    told, untold : tuple of (label, field)
        Cells that could not be read and that the rule ``reading`` reports; those that nothing reports.
    nothing : tuple of (str, int)
        Texts that stand for nothing, such as ``-``, and how many cells hold each.
    """

    told: tuple[Place, ...] = ()
    untold: tuple[Place, ...] = ()
    nothing: tuple[tuple[str, int], ...] = ()


def breach_items(
    validations: Sequence[Validation],
    season: Season,
    declared: Declarations,
    report: Report,
    said: Said,
    told: Collection[Place],
    answered: Collection[Place],
) -> Iterator[OpenItem]:
    """Make an item of what the second engine blames, one of all cells of a column that hold the same.

    Parameters
    ----------
    told : collection of (label, field)
        Cells that another item which shuts names as suspect, or waits for: they are not told of twice.
    answered : collection of (label, field)
        Cells of findings that were kept against the audit; likewise.

    Yields
    ------
    OpenItem
        Shuts, but for cells that a person kept or amended, which are ``kept``; of a value that may stand once
        it is enough that one of its cells was. Birds caught away from the boxes, of which the audit makes a
        note, are only listed.
    """
    away = _away(report, season)
    blamed = {(one.cell.label, one.cell.field) for finding in report.above_notes for one in finding.suspects}
    for validation in validations:
        groups: dict[tuple[str, str, str], list[Breach]] = {}
        for one in validation.breaches:
            text = season.cell(one.label, one.field).observed if one.label else ""
            groups.setdefault((one.field, one.check, text), []).append(one)
        for (field, _, text), breaches in groups.items():
            check = breaches[0].check
            vouched = {one for one in breaches if said.vouched((one.label, field))}
            if check == "unique" and vouched:
                vouched = set(breaches)
            for kept in (True, False):
                elsewhere = answered if kept else told
                some = [(one.label, field) for one in breaches if (one in vouched) == kept]
                places = [place for place in some if place not in elsewhere]
                if not places:
                    continue
                cells = tuple(cell_at(season, *place, said=said.by(place)) for place in places if place[0])
                column = cells[0].column if cells else field
                # every other empty cell of such a column is a finding of its own
                noted = check == "required" and (validation.table, field) in away and not blamed & set(places)
                yield OpenItem(
                    sort="kept" if kept else "breach",
                    shuts=not kept and not noted,
                    says=broken(declared.tables[validation.table], field, check, column, text, len(places)),
                    cells=cells,
                    identity=f"{validation.table}.{field}.{check}",
                    who=", ".join(dict.fromkeys(by for place in places if (by := said.by(place)))),
                    why=" ".join(dict.fromkeys(why for place in places if (why := said.why(place)))),
                    remark=_AWAY if noted else "",
                )


_AWAY = "The audit takes these for birds that were caught away from the boxes."


def _away(report: Report, season: Season) -> frozenset[Place]:
    """Columns, as table and field, of which the rule ``declared`` says in one note why cells are empty."""
    return frozenset(
        (season.table_of(suspect.cell.label), suspect.cell.field)
        for finding in report.findings
        if finding.rule == "declared.away"
        for suspect in finding.suspects
    )


def unseen_in(season: Season, declared: Declarations, report: Report) -> Unseen:
    """Find the cells that hold a text and no value.

    Both engines see typed values, so that such a cell is empty to them. Each must therefore have been read as
    standing for nothing, or be told of by the rule ``reading``.
    """
    silent = frozenset(declared.rules["reading"].limits["without_finding"].value)
    kinds = {(one.label, one.field): one.kind for one in season.readings}
    reported = {
        (suspect.cell.label, suspect.cell.field)
        for finding in report.findings
        if finding.rule.startswith("reading.")
        for suspect in finding.suspects
    }
    told: list[Place] = []
    untold: list[Place] = []
    nothing: Counter[str] = Counter()
    for table in season.tables.values():
        for field in table.frame.columns:
            texts = table.typed[field].str.strip()
            for label, text in texts[(texts != "") & table.frame[field].isna()].items():
                place = str(label), str(field)
                kind = kinds.get(place, "")
                if place in reported:
                    told.append(place)
                elif kind and kind not in silent:
                    untold.append(place)
                else:
                    nothing[str(text)] += 1
    return Unseen(
        tuple(told), tuple(untold), tuple(sorted(nothing.items(), key=lambda one: (-one[1], one[0])))
    )


def unread_items(unseen: Unseen, season: Season, said: Said, told: Collection[Place]) -> Iterator[OpenItem]:
    """Make an item of every cell that could not be read and that nothing else tells of."""
    for place in unseen.untold:
        if place in told:
            continue
        cell = cell_at(season, *place, said=said.by(place))
        yield OpenItem(
            sort="unread",
            shuts=True,
            says=f"'{cell.text}' in the column '{cell.column}' could not be read, and no rule tells of it.",
            cells=(cell,),
            identity="reading",
            rule="reading",
        )
