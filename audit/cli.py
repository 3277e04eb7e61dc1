"""The command line: a thin shell over the front door."""

from __future__ import annotations

import io
import sys
from typing import TYPE_CHECKING

from audit.call import parser
from audit.commands.decided import (
    ask_gate,
    ask_questions,
    clean_season,
    hand_season_over,
    merge_logs,
    take_answers,
)
from audit.commands.exit_code import FOUND_SOMETHING, REFUSED
from audit.commands.practice import practise_sheets, tell_measuring
from audit.commands.seasons import (
    audit_demo,
    check_season,
    compare_typings,
    list_rules,
    tell_ledger,
    tell_power,
    write_blank,
)
from audit.commands.wider import audit_many, tell_passages
from audit.refusal import GateRefusal, Refusal

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping, Sequence

__all__ = ["main"]

#: What each verb does.
_VERBS: Mapping[str, Callable[[argparse.Namespace], int]] = {
    "check": check_season,
    "blank": write_blank,
    "demo": audit_demo,
    "rules": list_rules,
    "power": tell_power,
    "ledger": tell_ledger,
    "clean": clean_season,
    "merge": merge_logs,
    "questions": ask_questions,
    "answers": take_answers,
    "compare": compare_typings,
    "gate": ask_gate,
    "handover": hand_season_over,
    "passages": tell_passages,
    "archive": audit_many,
    "measuring": tell_measuring,
    "practise": practise_sheets,
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Returns
    -------
    int
        0: nothing above a note; 1: errors or suspects, or the gate is shut; 2: the season or a declaration
        could not be read, or the results not be written.
    """
    for stream in (sys.stdout, sys.stderr):
        # An old terminal may not know every sign that was typed: it gets an escape rather than a fault.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    words = parser()
    if not (sys.argv[1:] if arguments is None else arguments):
        # who asks for nothing wants to know what there is
        words.print_help(sys.stderr)
        return REFUSED
    asked = words.parse_args(arguments)
    try:
        code = _VERBS[asked.verb](asked)
    except Refusal as refusal:
        print(
            f"nestproof: {refusal.what}\n  where: {refusal.where}\n  cure:  {refusal.cure}", file=sys.stderr
        )
        return FOUND_SOMETHING if isinstance(refusal, GateRefusal) else REFUSED
    return code
