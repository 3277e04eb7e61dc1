"""Read a sheet of repeated measures: headers in five languages, numbers and dates as a season's are read."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pandas as pd

from audit.declarations.tables import FieldDeclaration
from audit.intake.ambiguity import Claim
from audit.intake.assembly import build_table
from audit.intake.assignment import plan_as
from audit.intake.knowledge import knowledge_of
from audit.intake.sources import open_source
from audit.practice.measuring.taken import NOBODY, Measure, MeasuredSheet, Taken
from audit.practice.measuring.unread import unread
from audit.practice.measuring.weighings import bags_told, in_other_bags, sums_told, weighed_in
from audit.practice.measuring.wide import parts_of
from audit.refusal import Refusal
from audit.review.wording import listed
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.declarations.tables import TableDeclaration
    from audit.intake.knowledge import Knowledge
    from audit.intake.sheet_plan import SheetPlan
    from audit.practice.measuring.wide import Part
    from audit.season import Table

__all__ = ["NO_MEASURE", "measured_table", "read_measured"]

_TABLE = "measured"
#: Columns of a season that mean the same here.
_SAME = {"bird": "ring", "observer": "ringer"}
#: Not measured again with the bird.
NO_MEASURE = ("bag_g",)
_MASSES = ("gross_g", "net_g")


def read_measured(
    source: str | Path | Mapping[str, pd.DataFrame] | pd.DataFrame, declared: Declarations
) -> MeasuredSheet:
    """Read repeated measures.

    Parameters
    ----------
    source : path, data frame, or mapping of str to pandas.DataFrame
        A workbook (.xlsx, .ods), a text file (.csv) or data frames. Each row is one bird measured once by one
        person; or one column stands for each person or repeat: ``wing AB`` beside ``wing MK``, ``wing 1``
        beside ``wing 2``. Where no column names the observer and there are several sheets, each is one
        person's, and its name is theirs.

    Raises
    ------
    audit.refusal.Refusal
        Nothing can be read there: with file, line and cure.
    """
    opened = open_source({_TABLE: source} if isinstance(source, pd.DataFrame) else source, declared)
    own = replace(declared, tables={_TABLE: measured_table(declared)})
    known = knowledge_of(own, opened.where, "the sheet")
    planned = [
        (part, plan_as(part.sheet, _TABLE, known))
        for sheet in opened.sheets
        if sheet.rows
        for part in parts_of(sheet, _TABLE, known)
    ]
    planned = [(part, _with_own_columns(plan, known, declared)) for part, plan in planned]
    used = [(part, plan) for part, plan in planned if plan.readable and _measured(plan, own)]
    if not used:
        raise _nothing(planned, opened.where)
    sheets = list(dict.fromkeys(part.sheet.name for part, _ in used))
    by_sheet = len(sheets) > 1 and not any(_names_observer(part, plan) for part, plan in used)
    taken, measures, notices = _gathered(used, own, opened.name, by_sheet=by_sheet)
    notices = [*opened.notices, *notices]
    if by_sheet:
        notices.append(
            f"No column names the observer: each sheet was taken as one person's: {listed(sheets)}."
        )
    notices += sums_told(taken)
    found = {one.field for one in taken}
    usual = float(declared.settings["practice.measuring.goals.gross_g.error"].value)
    if in_other_bags(taken, usual):
        nets = "net_g" in found
        notices.append(bags_told(usual, nets=nets))
        found -= {"gross_g"} if nets else set()
    return MeasuredSheet(
        opened.name if opened.path is not None else _TABLE,
        tuple(measure for measure in measures if measure.field in found),
        tuple(one for one in taken if one.field in found),
        tuple(dict.fromkeys(notices)),
        opened.path,
    )


def _gathered(
    used: Sequence[tuple[Part, SheetPlan]], own: Declarations, name: str, *, by_sheet: bool
) -> tuple[list[Taken], list[Measure], list[str]]:
    """Read all parts of a sheet: the measures as taken, what was measured, what should be known of it."""
    taken: list[Taken] = []
    notices: list[str] = []
    measures: dict[str, Measure] = {}
    for part, plan in used:
        table = _declared_with(plan, own)
        built = build_table(_TABLE, [plan], replace(own, tables={_TABLE: table}), name)
        for field in table.fields:
            if field.name in built.table.frame.columns and _is_measure(field):
                measures.setdefault(field.name, Measure(field.name, field.title, field.unit))
        taken += _taken(
            built.table, list(measures), who=part.who or (part.sheet.name if by_sheet else NOBODY)
        )
        notices += [said for said in (*plan.notices, *built.notices) if "not known" not in said]
        notices += unread(built.table, list(measures))
    # a column that names nobody stands in the part of each person: it counts once
    once = {(one.field, one.place): one for one in reversed(_same_people(taken))}
    return list(once.values())[::-1], list(measures.values()), notices


def measured_table(declared: Declarations) -> TableDeclaration:
    """Return the declared sheet, with the headers that a season's own columns go by."""
    handlings = {field.name: field for field in declared.tables["handlings"].fields}
    fields = []
    for field in declared.measured.fields:
        same = handlings.get(_SAME.get(field.name, field.name))
        words = () if same is None else ((same.name,) if field.name in _SAME else ()) + same.headers
        fields.append(replace(field, headers=tuple(dict.fromkeys((*field.headers, *words)))))
    return replace(declared.measured, fields=tuple(fields))


def _is_measure(field: FieldDeclaration) -> bool:
    return field.kind == "number" and field.name not in NO_MEASURE


def _measured(plan: SheetPlan, own: Declarations) -> bool:
    table = _declared_with(plan, own)
    return any(_is_measure(table.field(claim.field)) for claim in plan.claims)


def _names_observer(part: Part, plan: SheetPlan) -> bool:
    return bool(part.who) or any(claim.field == "observer" for claim in plan.claims)


def _with_own_columns(plan: SheetPlan, known: Knowledge, declared: Declarations) -> SheetPlan:
    """Take a column of the team's own as a measure where its header names a unit and a season has no such."""
    if not plan.readable:
        return plan
    season = knowledge_of(declared, known.where, "the sheet").vocabulary
    claims = list(plan.claims)
    others = []
    for head in plan.others:
        unit = head.unit or known.vocabulary.unit_in(head.text)
        taken = unit is not None and season.recognise(head.text, "handlings") is None
        if taken and head.readings:
            claims.append(Claim(head, known.vocabulary.bare(head.text), "known header and unit", unit))
        else:
            others.append(head)
    claims.sort(key=lambda claim: claim.head.index)
    return replace(plan, claims=tuple(claims), others=tuple(others))


def _declared_with(plan: SheetPlan, own: Declarations) -> TableDeclaration:
    table = own.tables[_TABLE]
    more = [
        FieldDeclaration(claim.field, "number", claim.field, claim.unit.of if claim.unit else "", minimum=0)
        for claim in plan.claims
        if claim.field not in table.names
    ]
    return replace(table, fields=(*table.fields, *more))


def _nothing(planned: Sequence[tuple[Part, SheetPlan]], where: str) -> Refusal:
    for _, plan in sorted(planned, key=lambda one: -len(one[1].claims)):
        if plan.refusal is not None:
            return plan.refusal
    return Refusal(
        "No column holds a measure.",
        where=where,
        cure="Give a column such as 'wing_mm' or 'net_g' beside 'bird' and 'observer'; a measure of your own "
        "needs its unit in the header, as in 'bill (mm)'.",
    )


def _taken(table: Table, fields: Sequence[str], who: str) -> Iterator[Taken]:
    frame = table.frame
    if "repeat" in frame.columns:
        frame = frame.sort_values("repeat", kind="stable", na_position="last")
    for label, row in frame.iterrows():
        bird = row.get("bird")
        if not isinstance(bird, str) or not bird:
            continue
        sheet, number = split_label(str(label))
        observer = row.get("observer")
        day = row.get("date")
        for field in fields:
            value = row.get(field)
            # neither a missing number nor one that no measure can be
            if not isinstance(value, int | float) or not value > 0:
                continue
            letter = table.columns[sheet, field].letter
            yield Taken(
                field,
                bird,
                observer if isinstance(observer, str) and observer else who,
                "" if day is None or day != day else day.date().isoformat(),  # noqa: PLR0124 - as above
                float(value),
                f"{sheet} {letter}{number}",
                weighed_in(row.get("gross_g"), row.get("bag_g")) if field in _MASSES else None,
            )


def _same_people(taken: Sequence[Taken]) -> list[Taken]:
    """Take initials that differ in capitals alone for one person, as first spelled."""
    spelled: dict[str, str] = {}
    for one in taken:
        spelled.setdefault(one.observer.casefold(), one.observer)
    return [replace(one, observer=spelled[one.observer.casefold()]) for one in taken]
