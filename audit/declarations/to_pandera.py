"""Declared tables for pandera, the engine of the audit. It sees typed frames only."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from audit.declarations.breach import CHECKS, Breach, Check, in_sheet_order
from audit.declarations.once import once_for
from audit.declarations.tables import DTYPES
from audit.declarations.without_spark import without_spark

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping, Sequence

    import pandas as pd
    from pandera.pandas import Column, DataFrameSchema

    from audit.declarations.tables import FieldDeclaration, TableDeclaration

__all__ = ["blame", "blame_each", "compile_table", "load_engine"]

#: What pandera calls a failure -> what we call it. Our own checks carry our own names.
_NAMES: dict[str, Check] = {"not_nullable": "required", "column_in_dataframe": "needed"}


def load_engine() -> None:
    """Load pandera before it is needed, while this process would stand still."""
    with without_spark():
        import pandera.pandas  # noqa: F401 - loaded, not used


def compile_table(
    declaration: TableDeclaration,
    references: Mapping[tuple[str, str], Collection[object]] | None = None,
) -> DataFrameSchema:
    """Write a declared table as a pandera schema.

    Parameters
    ----------
    declaration : TableDeclaration
        The table.
    references : mapping of (table, column) to collection, optional
        Values that foreign keys may point to; a foreign key without an entry is not checked.

    Returns
    -------
    pandera.DataFrameSchema
        For typed frames. Columns that are not needed may be absent, others may stand beside the declared
        ones, nothing is coerced.
    """
    with without_spark():
        import pandera.pandas as pa

    may_point_to = {
        key.field: references[key.table, key.column]
        for key in declaration.foreign_keys
        if references is not None and (key.table, key.column) in references
    }
    return pa.DataFrameSchema(
        {field.name: _column(field, may_point_to.get(field.name)) for field in declaration.fields},
        name=declaration.name,
        title=declaration.title,
        strict=False,
        coerce=False,
    )


def _column(field: FieldDeclaration, may_point_to: Collection[object] | None) -> Column:
    import pandera.pandas as pa

    # pandera shows `error` in place of the name of a built-in check, so both carry ours
    def named(check: Check) -> dict[str, Any]:
        return {"name": check, "error": check}

    checks = []
    if field.unique:
        # its own `unique` takes several empty cells for repeats
        checks.append(pa.Check(_has_no_twin, **named("unique")))
    if field.minimum is not None:
        checks.append(pa.Check.ge(field.minimum, **named("minimum")))
    if field.maximum is not None:
        checks.append(pa.Check.le(field.maximum, **named("maximum")))
    if field.pattern is not None:
        checks.append(pa.Check(_fits(field.pattern), **named("pattern")))
    if field.allowed is not None:
        checks.append(pa.Check.isin(field.allowed_values, **named("enum")))
    if may_point_to is not None:
        checks.append(pa.Check.isin(list(may_point_to), **named("foreign_key")))
    return pa.Column(
        DTYPES[field.kind],
        checks=checks,
        nullable=not field.required,
        required=field.needed,
        title=field.title,
        description=field.unit or None,
    )


def _has_no_twin(values: pd.Series) -> pd.Series:
    return ~values.duplicated(keep=False)


def _fits(pattern: str) -> Callable[[pd.Series], pd.Series]:
    whole = re.compile(pattern)

    def check(values: pd.Series) -> pd.Series:
        return values.isin([value for value in values.unique() if whole.fullmatch(value)])

    return check


def blame(
    declaration: TableDeclaration,
    frame: pd.DataFrame,
    references: Mapping[tuple[str, str], Collection[object]] | None = None,
) -> list[Breach]:
    """Find every cell of a typed table that breaks its declaration.

    Parameters
    ----------
    declaration : TableDeclaration
        The table.
    frame : pandas.DataFrame
        Typed values, index = row labels.
    references : mapping of (table, column) to collection, optional
        Values that foreign keys may point to.

    Returns
    -------
    list of Breach
        In sheet order.

    Raises
    ------
    TypeError
        A column is not typed as declared: a fault of the reader, not of the sheet.
    """
    with without_spark():
        return _blame(declaration, frame, references)


def blame_each(declaration: TableDeclaration, frames: Sequence[pd.DataFrame]) -> list[list[Breach]]:
    """Find the cells of several typed tables that break one declaration, as `blame` finds those of each.

    Parameters
    ----------
    declaration : TableDeclaration
    frames : sequence of pandas.DataFrame
        As for `blame`. Those with the same columns are looked at together, which takes about as long as one.

    Returns
    -------
    list of list of Breach
        One for each frame, in sheet order.
    """
    import pandas as pd

    found: list[list[Breach]] = [[] for _ in frames]
    alike: dict[object, list[int]] = {}
    for place, frame in enumerate(frames):
        # what is to be unique, is so in one table
        apart = place if any(field.unique for field in declaration.fields) else ""
        alike.setdefault((apart, tuple(frame.columns), tuple(frame.dtypes)), []).append(place)
    for places in alike.values():
        whole = pd.concat([frames[place] for place in places], ignore_index=True)
        whole.index = whole.index.astype("str")
        rows = [(place, str(label)) for place in places for label in frames[place].index]
        for breach in blame(declaration, whole):
            for place in places if not breach.label else ():
                found[place].append(breach)
            if breach.label:
                place, label = rows[int(breach.label)]
                found[place].append(replace(breach, label=label))
    return found


def _blame(
    declaration: TableDeclaration,
    frame: pd.DataFrame,
    references: Mapping[tuple[str, str], Collection[object]] | None,
) -> list[Breach]:
    from pandera.config import ValidationDepth, config_context
    from pandera.errors import SchemaErrors

    schema = _compiled(declaration) if references is None else compile_table(declaration, references)
    try:
        # an environment variable could switch pandera off
        with config_context(validation_enabled=True, validation_depth=ValidationDepth.SCHEMA_AND_DATA):
            schema.validate(frame, lazy=True)
    except SchemaErrors as failures:
        cases = failures.failure_cases
        found = [
            _breach(context, column, check, case, label)
            for context, column, check, case, label in zip(
                cases["schema_context"],
                cases["column"],
                cases["check"],
                cases["failure_case"],
                cases["index"],
                strict=True,
            )
        ]
        return in_sheet_order(found, declaration, frame)
    return []


@once_for
def _compiled(declaration: TableDeclaration) -> DataFrameSchema:
    return compile_table(declaration)


def _breach(context: str, column: str, check: str, case: object, label: object) -> Breach:
    if check == "column_in_dataframe":
        # a record about the whole frame names the column in the failure, and no row
        return Breach("", str(case), "needed")
    name = _NAMES.get(check, check)
    if context != "Column" or name not in CHECKS or label is None:
        raise TypeError(f"{column}: {check} failed with {case!r}; the column is not typed as declared")
    return Breach(str(label), column, name)
