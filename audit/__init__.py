"""Nestproof: proof-reading for a season of nest-box ringing.

Front door: `read_season`, `check` and `Report`. Nothing heavy is imported before it is used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.findings import Report
from audit.refusal import Refusal

if TYPE_CHECKING:
    from audit.ageing_practice import mark_ageing, practise_ageing
    from audit.archiving import audit_archive
    from audit.checking import check, read_season
    from audit.comparing import double_entry
    from audit.decided import Decisions, decisions
    from audit.handing_over import gate, hand_over
    from audit.hearing import heard
    from audit.passing import passages
    from audit.practising import mark_practice, practice_overview, practise
    from audit.querying import query_sheet, read_answers
    from audit.reading_practice import mark_reading, read_practice
    from audit.remeasuring import measuring, measuring_sheet
    from audit.showing import conflicts, contents, ledger, pictures, typed_rows, write
    from audit.weighing_practice import mark_weighing, practise_weighing

__all__ = [
    "Decisions",
    "Refusal",
    "Report",
    "__version__",
    "audit_archive",
    "check",
    "conflicts",
    "contents",
    "decisions",
    "double_entry",
    "gate",
    "hand_over",
    "heard",
    "ledger",
    "mark_ageing",
    "mark_practice",
    "mark_reading",
    "mark_weighing",
    "measuring",
    "measuring_sheet",
    "passages",
    "pictures",
    "practice_overview",
    "practise",
    "practise_ageing",
    "practise_weighing",
    "query_sheet",
    "read_answers",
    "read_practice",
    "read_season",
    "typed_rows",
    "write",
]

__version__ = "0.1.0"


#: Where each verb of the front door stands: they are fetched when first used, since they load pandas.
_VERBS = {
    "Decisions": "audit.decided",
    "audit_archive": "audit.archiving",
    "check": "audit.checking",
    "double_entry": "audit.comparing",
    "gate": "audit.handing_over",
    "hand_over": "audit.handing_over",
    "heard": "audit.hearing",
    "read_season": "audit.checking",
    "conflicts": "audit.showing",
    "contents": "audit.showing",
    "decisions": "audit.decided",
    "ledger": "audit.showing",
    "measuring": "audit.remeasuring",
    "measuring_sheet": "audit.remeasuring",
    "passages": "audit.passing",
    "mark_practice": "audit.practising",
    "practice_overview": "audit.practising",
    "mark_ageing": "audit.ageing_practice",
    "practise_ageing": "audit.ageing_practice",
    "mark_reading": "audit.reading_practice",
    "mark_weighing": "audit.weighing_practice",
    "practise": "audit.practising",
    "practise_weighing": "audit.weighing_practice",
    "pictures": "audit.showing",
    "query_sheet": "audit.querying",
    "read_answers": "audit.querying",
    "read_practice": "audit.reading_practice",
    "typed_rows": "audit.showing",
    "write": "audit.showing",
}


def __getattr__(name: str) -> object:
    if name in _VERBS:
        from importlib import import_module

        return getattr(import_module(_VERBS[name]), name)
    raise AttributeError(f"module 'audit' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
