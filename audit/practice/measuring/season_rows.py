"""Birds of a season that were measured twice on one day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.measuring.taken import NOBODY, Measure, MeasuredSheet, Taken
from audit.practice.measuring.weighings import weighed_in
from audit.refusal import Refusal
from audit.review.wording import counted
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import pandas as pd

    from audit.declarations import Declarations
    from audit.season import Season, Table

__all__ = ["season_measures"]

_MEASURES = ("wing_mm", "gross_g", "net_g")
_NEEDED = ("ring", "date")
_ONE_BIRD = (
    "Rows of one ring on one day were taken as one bird measured again; where one of the two rings is a "
    "slip, the pair says nothing of measuring, and the audit should be asked first."
)
#: What a row typed twice has in common with the first one.
_TYPED = ("box", "ringer", "tag", "gross_g", "bag_g", "net_g", "wing_mm", "time", "age_days")


def season_measures(season: Season, declared: Declarations) -> MeasuredSheet:
    """Take the measures of birds that stand in two or more rows of one day.

    A row that repeats another one in all it says counts as typed twice, and is left out with a notice.

    Raises
    ------
    audit.refusal.Refusal
        The season has no dates or measures, or nobody was measured twice on one day.
    """
    frame = season.frame("handlings")
    fields = [name for name in _MEASURES if name in frame.columns and frame[name].notna().any()]
    if not fields or any(name not in frame.columns for name in _NEEDED):
        raise Refusal(
            "This season holds no measures with a ring and a date.",
            where=season.source or season.name,
            cure="Give a sheet of repeated measures: one row for each bird, observer and repeat.",
        )
    known = frame[frame["ring"].notna() & frame["date"].notna()]
    known = known[known[fields].notna().any(axis=1)]
    same = [name for name in (*_NEEDED, *_TYPED) if name in known.columns]
    typed_twice = known.duplicated(same, keep="first")
    rows = known[~typed_twice]
    again = rows[rows.duplicated(list(_NEEDED), keep=False)]
    if again.empty:
        raise Refusal(
            "No bird of this season was measured twice on one day.",
            where=season.source or season.name,
            cure="Measure a few birds again at the next planned visit, where licence and calm birds allow, "
            "or specimens at home; write each measure as a row of its own in a sheet, and give that sheet.",
        )
    titles = {field.name: field for field in declared.measured.fields}
    notices = [_ONE_BIRD]
    if typed_twice.any():
        notices.append(
            f"{counted(int(typed_twice.sum()), 'row repeats', 'rows repeat')} another one in every column "
            "and counted as typed twice, not as measured twice."
        )
    return MeasuredSheet(
        season.name,
        tuple(Measure(name, titles[name].title, titles[name].unit) for name in fields),
        tuple(_taken(again, season.tables["handlings"], fields)),
        tuple(notices),
        None,
    )


def _taken(rows: pd.DataFrame, table: Table, fields: Sequence[str]) -> Iterator[Taken]:
    for label, row in rows.iterrows():
        sheet, number = split_label(str(label))
        who, day = row.get("ringer"), row["date"].date().isoformat()
        name = who if isinstance(who, str) and who else NOBODY
        for field in fields:
            if row.notna()[field]:
                place = f"{sheet} {table.columns[sheet, field].letter}{number}"
                weighed = weighed_in(row.get("gross_g"), row.get("bag_g")) if field != "wing_mm" else None
                yield Taken(field, str(row["ring"]), name, day, float(row[field]), place, weighed)
