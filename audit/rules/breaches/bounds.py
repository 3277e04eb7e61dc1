"""Numbers below the least or above the most that is possible."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pandas as pd

from audit.rules.case import At
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations.tables import FieldDeclaration
    from audit.findings import Finding
    from audit.rules.breaches.fault import Fault
    from audit.rules.case import Case

__all__ = ["out_of_range"]


#: Gross less bag is net.
_WEIGHED = ("gross_g", "bag_g", "net_g")


def out_of_range(case: Case, fault: Fault) -> Iterator[Finding]:
    """Say which numbers are below the least or above the most, and what was probably meant."""
    field = fault.field
    low = fault.check == "minimum"
    bound = field.minimum if low else field.maximum
    faulty = case.frame(fault.table.name).loc[list(fault.labels)]
    off_balance = _off_balance(faulty)
    fellows = fault.others(case).astype("float64")
    for label, value in zip(faulty.index, faulty[field.name].astype("float64"), strict=True):
        meant = _among_fellows(case, field, value, fellows)
        weighed = field.name in _WEIGHED and not math.isnan(off_balance[label])
        # a net that was worked out from a wrong gross or bag is wrong too, and agrees with it
        slip = abs(value - (bound or 0 if meant is None else meant))
        carried = weighed and field.name != "net_g" and off_balance[label] < slip / 2
        if weighed and not carried:
            # with all three beside each other, the rule tare can tell which is wrong
            continue
        unit = f" {field.unit}" if field.unit else ""
        text = (
            f"The column '{fault.header(case, label)}' says {plain_text(value)}{unit}, "
            f"{'below the least' if low else 'above the most'} that is possible, {plain_text(bound)}{unit}"
        )
        if meant is not None:
            text += f"; {plain_text(meant)}{unit} was probably meant"
        suspects = [At(label, field.name, "" if meant is None else meant)]
        if carried and meant is not None:
            three = {name: float(faulty[name].loc[label]) for name in _WEIGHED} | {field.name: meant}
            net = three["gross_g"] - three["bag_g"]
            if net > 0:
                text += f", and net {plain_text(net)} g"
                suspects.append(At(label, "net_g", net))
        yield case.blame("range", suspects, f"{text}.")


def _off_balance(rows: pd.DataFrame) -> pd.Series:
    """By how much gross less bag differs from net; missing where one of them is."""
    if not set(_WEIGHED) <= set(rows):
        return pd.Series(math.nan, index=rows.index)
    return (rows["gross_g"] - rows["bag_g"] - rows["net_g"]).abs()


def _among_fellows(case: Case, field: FieldDeclaration, value: float, fellows: pd.Series) -> float | None:
    """Drop a stray minus sign or set a lost decimal point, where one such change puts it among the others."""
    if len(fellows) < case.limit("fewest_fellows"):
        return None
    least = fellows.min() if field.minimum is None else max(fellows.min(), field.minimum)
    most = fellows.max() if field.maximum is None else min(fellows.max(), field.maximum)
    candidates = [-value] if value < 0 else [value / by for by in case.limit("divisors")]
    fit = [
        candidate
        for candidate in candidates
        if least <= candidate <= most and (field.kind != "integer" or candidate.is_integer())
    ]
    return fit[0] if len(fit) == 1 else None
