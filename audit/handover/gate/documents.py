"""The second engine's own results as one document: for machines, and for whoever wants to see all of it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from audit.handover.gate.expected import expected

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.declarations.validation import Validation
    from audit.handover.gate.gate import Gate
    from audit.season import Season

__all__ = ["FORMAT", "VERSION", "validation_document"]

#: Name and version of the form; the version changes only when a key changes its meaning.
FORMAT = "nestproof-validation"
VERSION = 1


def validation_document(gate: Gate, season: Season, declared: Declarations) -> str:
    """Return the document: JSON, the same text for the same season and version of the engine.

    Parameters
    ----------
    season : Season
        The clean season that the gate was asked about.
    """
    tree = {
        "format": FORMAT,
        "version": VERSION,
        "season": gate.season,
        "engine": gate.validations[0].engine if gate.validations else "",
        "holds": all(one.holds for one in gate.validations),
        "tables": [_table(one, season, declared) for one in gate.validations],
    }
    return f"{json.dumps(tree, ensure_ascii=False, indent=1, allow_nan=False)}\n"


def _table(validation: Validation, season: Season, declared: Declarations) -> dict[str, Any]:
    table = declared.tables[validation.table]
    return {
        "table": validation.table,
        "rows": validation.rows,
        "holds": validation.holds,
        "broken": [
            {
                "cell": _cell(season, one.label, one.field),
                "check": one.check,
                "expected": expected(table, one.field, one.check),
            }
            for one in validation.breaches
        ],
        "results": validation.document,
    }


def _cell(season: Season, label: str, field: str) -> dict[str, Any]:
    if not label:
        return {"field": field}
    cell = season.cell(label, field)
    return {
        "sheet": cell.sheet,
        "row": cell.row,
        "column": cell.column,
        "cell": cell.address,
        "field": field,
        "text": cell.observed,
    }
