"""Values that may stand once and stand more often, and rows that repeat each other."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from audit.intake.wording import listed
from audit.rules.case import At
from audit.rules.plain import plain_text
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import pandas as pd

    from audit.findings import Finding
    from audit.rules.breaches.fault import Fault
    from audit.rules.case import Case

__all__ = ["stands_again"]


_NUMBERED = re.compile(r"(.*?)([0-9]+)")


def stands_again(case: Case, fault: Fault) -> Iterator[Finding]:
    """Say which values stand more than once, and which rows repeat each other."""
    column = fault.column(case)
    for value, twins in column[list(fault.labels)].groupby(column, sort=False):
        yield from _twins(case, fault, plain_text(value), list(twins.index))


def _twins(case: Case, fault: Fault, value: str, labels: list[str]) -> Iterator[Finding]:
    name = fault.field.name
    frame = case.frame(fault.table.name)
    again = frame.loc[labels].duplicated()
    fresh = [label for label in labels if not again[label]]
    for label in again[again].index:
        first = fresh[0]
        text = f"This row repeats row {_rows([first])} in every column; {name} {value} may stand once."
        yield case.blame("repeated", [At(label, name)], text, witnesses=[(first, name)])
    if len(fresh) <= 1:
        return
    header = fault.header(case, fresh[0])
    text = f"The column '{header}' may say {value} once, but it stands in rows {_rows(fresh)}"
    out_of_order = [(label, meant) for label in fresh if (meant := _missing_in_order(frame[name], label))]
    if len(out_of_order) == 1:
        (label, meant) = out_of_order[0]
        at = At(label, name, meant, p_error=case.limit("sequence_error"))
        text += f"; by the order of the rows, row {_rows([label])} should say {meant}"
        witnesses = [(other, name) for other in fresh if other != label]
        yield case.blame("unique", [at], f"{text}.", witnesses=witnesses)
        return
    even = 1 - 1 / len(fresh)
    yield case.blame("unique", [At(label, name, p_error=even) for label in fresh], f"{text}.")


def _rows(labels: Sequence[str]) -> str:
    return listed([str(split_label(label)[1]) for label in labels])


def _missing_in_order(column: pd.Series, label: str) -> str:
    """Name the label that the list lacks between the rows above and below; empty if it lacks none."""
    row = list(column.index).index(label)
    if row == 0 or row == len(column) - 1:
        return ""
    above, below = (_NUMBERED.fullmatch(str(column.iloc[row + step])) for step in (-1, 1))
    if above is None or below is None or above[1] != below[1] or int(above[2]) + 1 != int(below[2]) - 1:
        return ""
    meant = f"{above[1]}{int(above[2]) + 1:0{len(above[2])}d}"
    return "" if (column == meant).any() else meant
