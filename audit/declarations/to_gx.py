"""Declared tables for great-expectations, the engine of the gate. It sees typed frames only."""

from __future__ import annotations

import math
import warnings
from typing import TYPE_CHECKING, Any, cast

from audit.declarations.breach import CHECKS, Breach, Check, in_sheet_order
from audit.declarations.validation import Judged, Validation
from audit.declarations.without_spark import without_spark
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    import pandas as pd
    from great_expectations.core.expectation_suite import ExpectationSuite
    from great_expectations.core.expectation_validation_result import (
        ExpectationSuiteValidationResult,
        ExpectationValidationResult,
    )
    from great_expectations.data_context.data_context.ephemeral_data_context import EphemeralDataContext
    from great_expectations.expectations.expectation import Expectation
    from great_expectations.expectations.expectation_configuration import ExpectationConfiguration

    from audit.declarations.tables import FieldDeclaration, TableDeclaration

__all__ = ["blame", "compile_table", "quiet_context", "validate"]

#: Column that carries the row label through the engine, which drops the index.
_LABEL = "row label"
#: Excerpts in the engine's results of what stands whole beside them.
_PASSING = frozenset(
    {
        "partial_unexpected_counts",
        "partial_unexpected_index_list",
        "partial_unexpected_list",
        "unexpected_index_query",
    }
)


def _engine() -> Any:  # noqa: ANN401 - a module that may not be installed
    try:
        with without_spark(), warnings.catch_warnings():
            # its import warns of deprecations that are no business of a ringer's
            warnings.simplefilter("ignore", DeprecationWarning)
            import great_expectations
            import great_expectations.expectations
    except ModuleNotFoundError as fault:
        if (fault.name or "").partition(".")[0] != "great_expectations":
            raise
        raise Refusal(
            "The second engine, great-expectations, is not installed.",
            where="the gate",
            cure="Install it with: pip install 'nestproof[gate]'",
        ) from fault
    return great_expectations


def quiet_context() -> EphemeralDataContext:
    """Open a context in memory: no files, no progress bars, no reports to anyone.

    Raises
    ------
    audit.refusal.Refusal
        great-expectations is not installed.
    """
    engine = _engine()
    from great_expectations.data_context.types.base import ProgressBarsConfig

    context = engine.get_context(mode="ephemeral")
    context.enable_analytics(enable=False)
    context.variables.progress_bars = ProgressBarsConfig(globally=False)
    return cast("EphemeralDataContext", context)


def compile_table(
    declaration: TableDeclaration,
    references: Mapping[tuple[str, str], Collection[object]] | None = None,
    present: Collection[str] | None = None,
) -> ExpectationSuite:
    """Write a declared table as a suite of expectations.

    Parameters
    ----------
    declaration : TableDeclaration
        The table.
    references : mapping of (table, column) to collection, optional
        Values that foreign keys may point to; a foreign key without an entry is not checked.
    present : collection of str, optional
        Columns that are there; by default all. Of an absent column only its presence is expected,
        where the table needs it.

    Returns
    -------
    great_expectations.ExpectationSuite
        Each expectation names its declared check under ``meta``.

    Raises
    ------
    audit.refusal.Refusal
        great-expectations is not installed.
    """
    engine = _engine()
    there = set(declaration.names if present is None else present)
    may_point_to = {
        key.field: references[key.table, key.column]
        for key in declaration.foreign_keys
        if references is not None and (key.table, key.column) in references
    }
    expectations: list[Expectation] = []
    for field in declaration.fields:
        if field.needed:
            expectations.append(
                engine.expectations.ExpectColumnToExist(column=field.name, meta={"check": "needed"})
            )
        if field.name in there:
            expectations += [
                getattr(engine.expectations, kind)(column=field.name, meta={"check": check}, **arguments)
                for check, kind, arguments in _expected(field, may_point_to.get(field.name))
            ]
    return cast("ExpectationSuite", engine.ExpectationSuite(name=declaration.name, expectations=expectations))


def _expected(
    field: FieldDeclaration, may_point_to: Collection[object] | None
) -> Iterator[tuple[Check, str, dict[str, object]]]:
    if field.required:
        yield "required", "ExpectColumnValuesToNotBeNull", {}
    if field.unique:
        yield "unique", "ExpectColumnValuesToBeUnique", {}
    # one expectation per bound, so that a breach says which
    if field.minimum is not None:
        yield "minimum", "ExpectColumnValuesToBeBetween", {"min_value": field.minimum}
    if field.maximum is not None:
        yield "maximum", "ExpectColumnValuesToBeBetween", {"max_value": field.maximum}
    if field.pattern is not None:
        # the engine searches; typed text ends with no line break, which is all that $ would overlook
        yield "pattern", "ExpectColumnValuesToMatchRegex", {"regex": f"^(?:{field.pattern})$"}
    if field.allowed is not None:
        yield "enum", "ExpectColumnValuesToBeInSet", {"value_set": field.allowed_values}
    if may_point_to is not None:
        yield "foreign_key", "ExpectColumnValuesToBeInSet", {"value_set": sorted(may_point_to, key=str)}


def blame(
    declaration: TableDeclaration,
    frame: pd.DataFrame,
    references: Mapping[tuple[str, str], Collection[object]] | None = None,
    context: EphemeralDataContext | None = None,
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
    context : great_expectations.data_context.EphemeralDataContext, optional
        From `quiet_context`, to use one for several tables.

    Returns
    -------
    list of Breach
        In sheet order; the same as that of ``to_pandera.blame``.

    Raises
    ------
    audit.refusal.Refusal
        great-expectations is not installed.
    TypeError
        A column is not typed as declared: a fault of the reader, not of the sheet.
    """
    return list(validate(declaration, frame, references, context).breaches)


def validate(
    declaration: TableDeclaration,
    frame: pd.DataFrame,
    references: Mapping[tuple[str, str], Collection[object]] | None = None,
    context: EphemeralDataContext | None = None,
) -> Validation:
    """Hold a typed table against its declaration, and keep the engine's own results.

    Parameters and errors are those of `blame`.

    Returns
    -------
    Validation
        The same for the same table, whenever and wherever it is asked for.
    """
    context = context or quiet_context()
    suite = compile_table(declaration, references, list(frame.columns))
    whole = (
        context.data_sources.add_or_update_pandas(name="season")
        .add_dataframe_asset(name=declaration.name)
        .add_batch_definition_whole_dataframe(name="whole")
        .get_batch({"dataframe": frame.assign(**{_LABEL: frame.index})})
    )
    answer = whole.validate(
        suite,
        result_format={"result_format": "COMPLETE", "unexpected_index_column_names": [_LABEL]},
    )
    column = {name: position for position, name in enumerate(declaration.names)}
    results = sorted(
        answer.results, key=lambda result: (column[_asked(result)[1]], CHECKS.index(_asked(result)[0]))
    )
    return Validation(
        table=declaration.name,
        rows=len(frame),
        judged=tuple(_judged(result) for result in results),
        breaches=tuple(
            in_sheet_order((one for result in results for one in _breaches(result)), declaration, frame)
        ),
        document=_document(answer, results),
        engine=f"great-expectations {_engine().__version__}",
    )


def _asked(result: ExpectationValidationResult) -> tuple[Check, str]:
    """Name declared check and column that an expectation was made from."""
    expectation = cast("ExpectationConfiguration", result.expectation_config)
    return expectation.meta["check"], expectation.kwargs["column"]


def _judged(result: ExpectationValidationResult) -> Judged:
    check, field = _asked(result)
    if check == "needed":
        return Judged(field, check, bool(result.success))
    counts = result.result
    cells, broken = counts.get("element_count", 0), counts.get("unexpected_count", 0)
    empty = broken if check == "required" else counts.get("missing_count", 0)
    return Judged(field, check, bool(result.success), int(cells), int(empty), int(broken))


def _breaches(result: ExpectationValidationResult) -> Iterator[Breach]:
    if result.success:
        return
    check, field = _asked(result)
    if check == "needed":
        yield Breach("", field, check)
        return
    rows = result.result.get("unexpected_index_list")
    if not rows:
        # an exception inside the engine ends as a failure without rows
        raise TypeError(f"{field}: {check} could not be checked; the column is not typed as declared")
    yield from (Breach(str(row[_LABEL]), field, check) for row in rows)


def _document(
    answer: ExpectationSuiteValidationResult, results: list[ExpectationValidationResult]
) -> dict[str, Any]:
    return {
        "suite_name": answer.suite_name,
        "success": bool(answer.success),
        "statistics": dict(answer.statistics),
        "results": [_lasting(result.to_json_dict()) for result in results],
    }


def _lasting(tree: dict[str, Any]) -> dict[str, Any]:
    """Leave out what changes from run to run, and excerpts of lists that stand there whole."""
    config = tree["expectation_config"]
    kwargs = {name: value for name, value in config["kwargs"].items() if name != "batch_id"}
    counts = {
        # of a column without values a share is no number, and JSON has no such
        name: None if isinstance(value, float) and not math.isfinite(value) else value
        for name, value in tree["result"].items()
        if name not in _PASSING
    }
    return {
        "expectation_config": {**config, "kwargs": kwargs},
        "success": tree["success"],
        "result": counts,
        "exception_info": tree["exception_info"],
    }
