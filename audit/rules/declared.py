"""Does every cell keep to its declaration? The declared checks, run by pandera.

Foreign keys are left to the rule ``boxes`` and cells that could not be read to the rule ``reading``, so that
one slip is blamed once.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from audit.declarations.to_pandera import blame
from audit.models.spelling import SlipIndex
from audit.rules.case import At
from audit.rules.plain import plain_text
from audit.rules.rule import EVERYTHING, Rule
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from audit.declarations.breach import Breach
    from audit.declarations.tables import FieldDeclaration, TableDeclaration
    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.layouts import Layouts

__all__ = ["RULE", "check", "known_breaches"]


@dataclass(frozen=True, slots=True)
class _Fault:
    """The cells of one column that break one declared check, in sheet order."""

    table: TableDeclaration
    field: FieldDeclaration
    check: str
    labels: tuple[str, ...]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Run the declared checks of every table and say what was probably meant.

    Parameters
    ----------
    case : Case
        The season, typed; every table that is declared is checked.

    Yields
    ------
    Finding
        ``missing``, ``range``, ``set``, ``pattern``, ``unique``, ``repeated`` or ``left_out``.
    """
    for name, table in case.declared.tables.items():
        if case.season.has(name):
            for fault in _faults(case, table):
                yield from _ANSWERS[fault.check](case, fault)
    if case.season.has("handlings"):
        yield from _left_out(case)


RULE = Rule(
    slug="declared",
    needs={},
    check=check,
    heeds=EVERYTHING,
)


def known_breaches(layouts: Layouts, table: TableDeclaration, breaches: Sequence[Breach]) -> None:
    """Lay out the cells that break the declaration of a table, where they were found with those of others.

    Parameters
    ----------
    layouts : Layouts
        Of a season that no rule was asked about yet.
    table : TableDeclaration
    breaches : sequence of Breach
        From `declarations.to_pandera.blame_each`.
    """
    _breaches(layouts, table, lambda: breaches)


def _breaches(
    layouts: Layouts, table: TableDeclaration, find: Callable[[], Sequence[Breach]]
) -> Sequence[Breach]:
    found: Sequence[Breach] = layouts.get(("breaches", table.name), find, {table.name: table.names})
    return found


def _faults(case: Case, table: TableDeclaration) -> list[_Fault]:
    found: dict[tuple[str, str], list[str]] = {}
    frame = case.frame(table.name)
    breaches = _breaches(case.layouts, table, lambda: blame(table, frame))
    for breach in breaches:
        # an absent column is refused by the reader
        if breach.label and not case.in_doubt(breach.label, breach.field):
            found.setdefault((breach.field, breach.check), []).append(breach.label)
    return [
        _Fault(table, table.field(field), check, tuple(labels)) for (field, check), labels in found.items()
    ]


def _column(case: Case, fault: _Fault) -> pd.Series:
    return case.frame(fault.table.name)[fault.field.name]


def _others(case: Case, fault: _Fault) -> pd.Series:
    """Values of the same column that keep to this check."""
    return _column(case, fault).drop(list(fault.labels)).dropna()


def _header(case: Case, fault: _Fault, label: str) -> str:
    """Header as typed, which may differ from sheet to sheet."""
    place = case.season.tables[fault.table.name].columns.get((split_label(label)[0], fault.field.name))
    return place.header if place and place.header else fault.field.name


# missing


def _missing(case: Case, fault: _Fault) -> Iterator[Finding]:
    name = fault.field.name
    guesses = _from_neighbours(case, fault)
    away = _away(case, fault)
    yield from _say_away(case, fault, away)
    for label in fault.labels:
        if label in away:
            continue
        meant, p_fix, why = guesses.get(label, ("", None, ""))
        text = f"The column '{_header(case, fault, label)}' may not be empty{why}."
        yield case.blame("missing", [At(label, name, meant, p_fix=p_fix)], text)


def _away(case: Case, fault: _Fault) -> set[str]:
    """Rows of full-grown birds without a box, on days without any nest: caught away from the boxes."""
    frame = case.frame(fault.table.name)
    if (fault.table.name, fault.field.name) != ("handlings", "box") or not {"age", "date"} <= set(frame):
        return set()
    codes = frame["age"].str.strip()
    nest = frame["box"].notna() | codes.isna() | codes.isin(case.limit("pullus_codes"))
    if "brood_size" in frame:
        nest |= frame["brood_size"].notna()
    # a date that could not be read is mostly that of the row above
    day = frame["date"].ffill()
    return set(frame.index[day.notna() & ~day.isin(day[nest])])


def _say_away(case: Case, fault: _Fault, away: set[str]) -> Iterator[Finding]:
    first = next((label for label in fault.labels if label in away), None)
    if first is None:
        return
    birds = "1 full-grown bird has" if len(away) == 1 else f"{len(away)} full-grown birds have"
    text = f"{birds} no box, on days on which nothing was done at a nest: caught away from the boxes?"
    yield case.blame("away", [At(first, fault.field.name)], text)


def _from_neighbours(case: Case, fault: _Fault) -> dict[str, tuple[str, float, str]]:
    """Take the value typed above or below where both agree, or where date or box tells which.

    Several empty cells under each other look to the same two rows.
    """
    frame = case.frame(fault.table.name)
    values = _column(case, fault)
    sheets = pd.Series([split_label(label)[0] for label in frame.index], index=frame.index)
    rows = (
        pd.Series(range(len(frame)), index=frame.index, dtype="Int64").where(values.notna()).groupby(sheets)
    )
    texts = _Texts(values.tolist())
    companions = {
        other: _Texts(frame[other].tolist())
        for other in ("date", "box")
        if other != fault.field.name and other in frame
    }
    around = pd.DataFrame(
        {"here": range(len(frame)), "above": rows.ffill(), "below": rows.bfill()}, index=frame.index
    )
    guesses = {}
    for label, here, above, below in around.loc[list(fault.labels)].dropna().itertuples():
        if texts[above] == texts[below]:
            why = f"; the rows above and below both say {texts[above]}"
            guesses[label] = (texts[above], case.limit("neighbours_fix"), why)
            continue
        for other, said in companions.items():
            agree = [row for row in (above, below) if said[here] and said[row] == said[here]]
            if len(agree) == 1:
                (row,) = agree
                side = "above" if row == above else "below"
                why = f"; the row {side}, with the same {other}, says {texts[row]}"
                guesses[label] = (texts[row], case.limit("neighbour_fix"), why)
                break
    return guesses


class _Texts:
    """Values of a column as a person would type them: few rows are asked about."""

    def __init__(self, values: Sequence[object]) -> None:
        self.values = values

    def __getitem__(self, row: int) -> str:
        return plain_text(self.values[row])


# left out


def _left_out(case: Case) -> Iterator[Finding]:
    """Find single empty cells in columns that are filled for all other birds of their kind."""
    frame = case.sure("handlings")
    table = case.declared.tables["handlings"]
    needed = dict(pair.split() for pair in case.limit("left_out_beside"))
    usual: pd.Series | None = None
    for name in case.limit("left_out_fields"):
        field = table.field(name)
        if name not in frame.columns or field.required:
            continue
        beside = needed.get(name)
        asked = frame[beside].notna() if beside in frame.columns else pd.Series(data=True, index=frame.index)
        empty = frame[name].isna() & asked & case.frame("handlings")[name].isna()
        if not empty.any():
            continue
        kinds = usual = _kinds(case, frame) if usual is None else usual
        if name in _KINDS:
            kinds = _kinds(case, frame.drop(columns=name))
        all_of = asked.groupby(kinds).transform("sum")
        empty_of = empty.groupby(kinds).transform("sum")
        rare = empty_of - 1 <= case.limit("left_out_share") * all_of
        for label in frame.index[empty & rare & (all_of >= case.limit("left_out_rows"))]:
            if case.in_doubt(str(label), name, "date", "box"):
                continue
            fault = _Fault(table, field, "required", (str(label),))
            filled = int(all_of[label] - empty_of[label])
            text = f"The column '{_header(case, fault, str(label))}' is empty here, but filled for"
            yield case.blame("left_out", [At(str(label), name)], f"{text} {filled} birds of this kind.")


#: Columns that tell what a bird is.
_KINDS = ("species", "age")


def _kinds(case: Case, frame: pd.DataFrame) -> pd.Series:
    """Name of what is alike in birds: species, and whether it is a nestling."""
    kinds = pd.Series("", index=frame.index)
    if "species" in frame.columns:
        kinds = kinds + frame["species"].fillna("")
    if "age" in frame.columns:
        kinds = kinds + frame["age"].str.strip().isin(case.limit("pullus_codes")).astype("str")
    return kinds


# range


def _range(case: Case, fault: _Fault) -> Iterator[Finding]:
    field = fault.field
    low = fault.check == "minimum"
    bound = field.minimum if low else field.maximum
    faulty = case.frame(fault.table.name).loc[list(fault.labels)]
    off_balance = _off_balance(faulty)
    fellows = _others(case, fault).astype("float64")
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
            f"The column '{_header(case, fault, label)}' says {plain_text(value)}{unit}, "
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


#: Gross less bag is net.
_WEIGHED = ("gross_g", "bag_g", "net_g")


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


# set


def _set(case: Case, fault: _Fault) -> Iterator[Finding]:
    allowed = [plain_text(word) for word in fault.field.allowed_values]
    column = _column(case, fault)
    words = [plain_text(word) for word in column[list(fault.labels)]]
    nearest = {word: _nearest(case, word, allowed) for word in set(words)}
    for label, word in zip(fault.labels, words, strict=True):
        meant, p_fix = nearest[word]
        text = (
            f"The column '{_header(case, fault, label)}' takes {', '.join(allowed)}; '{word}' is none of them"
        )
        if meant:
            text += f", {meant} was probably meant"
        yield case.blame("set", [At(label, fault.field.name, meant, p_fix=p_fix)], f"{text}.")


def _nearest(case: Case, word: str, allowed: Sequence[str]) -> tuple[str, float | None]:
    """Find the one allowed word that is the same but for capitals, begins alike, or is spelt nearly so."""
    bare = re.sub(r"[^\w]", "", word).casefold()
    folded = {re.sub(r"[^\w]", "", other).casefold(): other for other in allowed}
    if not bare or len(folded) < len(allowed):
        return "", None
    if bare in folded:
        return folded[bare], case.limit("case_fix")
    if len(set(bare)) > 1 and set(bare) <= set(folded):
        # such as LR, where L and R are both allowed
        return "", None
    alike = [other for key, other in folded.items() if key.startswith(bare) or bare.startswith(key)]
    if len(alike) == 1 and bare.isalpha():
        return alike[0], case.limit("initial_fix")
    near = difflib.get_close_matches(bare, folded, n=2, cutoff=case.limit("likeness"))
    return (folded[near[0]], None) if len(near) == 1 else ("", None)


# pattern


def _pattern(case: Case, fault: _Fault) -> Iterator[Finding]:
    column = _column(case, fault)
    others = SlipIndex(_others(case, fault).unique())
    for label in fault.labels:
        near = others.near(column[label])
        text = (
            f"The column '{_header(case, fault, label)}' says '{column[label]}', "
            f"which does not have the declared form {fault.field.pattern}"
        )
        meant = near[0] if len(near) == 1 else ""
        if meant:
            text += f"; {meant} was probably meant"
        even = [] if meant else case.evenly("pattern", near)
        yield case.blame("pattern", [At(label, fault.field.name, meant, others=even)], f"{text}.")


# unique


def _unique(case: Case, fault: _Fault) -> Iterator[Finding]:
    column = _column(case, fault)
    for value, twins in column[list(fault.labels)].groupby(column, sort=False):
        yield from _twins(case, fault, plain_text(value), list(twins.index))


def _twins(case: Case, fault: _Fault, value: str, labels: list[str]) -> Iterator[Finding]:
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
    header = _header(case, fault, fresh[0])
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
    rows = [str(split_label(label)[1]) for label in labels]
    return " and ".join([", ".join(rows[:-1]), rows[-1]] if len(rows) > 1 else rows)


_NUMBERED = re.compile(r"(.*?)([0-9]+)")


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


_ANSWERS = {
    "required": _missing,
    "minimum": _range,
    "maximum": _range,
    "enum": _set,
    "pattern": _pattern,
    "unique": _unique,
}
