"""Words of the verbs on what was decided: questions, answers, clean, merge, gate, handover."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.call.arguments import add_inputs, add_log, add_logs, add_outputs, add_schemas, place

if TYPE_CHECKING:
    import argparse

__all__ = ["add_decision_verbs", "add_handover_verbs", "add_question_verbs"]


def add_question_verbs(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verbs that print questions and read answers."""
    questions = verbs.add_parser(
        "questions",
        help="list what must be looked up in the field notebook",
        description="List the questions of a season in the order of the pages of the field notebook: as a "
        "page and a PDF to write on, and as a workbook to fill in. The file itself is never changed.",
        epilog="Example: nestproof questions season.xlsx --out questions. Exit code: 0 written, 2 could not "
        "be read.",
    )
    add_inputs(questions)
    add_outputs(questions)
    add_log(questions)
    questions.add_argument(
        "--all", action="store_true", help="also the errors and suspects that nobody has asked about"
    )
    questions.add_argument(
        "--suggestions", action="store_true", help="say on a last page what was probably meant"
    )
    questions.add_argument("--paper", choices=("a4", "letter"), default="a4", help="paper of the PDF")

    answers = verbs.add_parser(
        "answers",
        help="take over what was found in the field notebook",
        description="Read a filled query sheet (.xlsx, .ods or .csv) and add its answers to the decisions. "
        "A sheet may be read twice: nothing is doubled.",
        epilog="Example: nestproof answers season.xlsx season.questions.xlsx --who AB. Exit code: 0 all "
        "taken over, 1 some lines were not, 2 could not be read.",
    )
    add_inputs(answers)
    answers.add_argument("workbook", type=place, metavar="WORKBOOK", help="the query sheet, filled in")
    add_schemas(answers)
    answers.add_argument("--who", default="", metavar="INITIALS", help="who looked up lines that name nobody")
    add_log(answers)


def add_decision_verbs(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verbs that apply decisions and merge logs of them."""
    clean = verbs.add_parser(
        "clean",
        help="write the season with all that was decided",
        description="Apply the decisions to a season: its tables as .csv files, and a page that says what "
        "was changed, kept and asked, and what is left to settle. The file itself is never changed.",
        epilog="Example: nestproof clean season.xlsx --decisions season.decisions.jsonl --out clean. Exit "
        "code: 0 all is settled, 1 conflicts, decisions without a place or open questions, 2 could not be "
        "read.",
    )
    clean.add_argument(
        "season", type=place, metavar="SEASON", help="workbook, .csv file or folder of .csv files"
    )
    clean.add_argument("--mapping", type=place, metavar="FILE", help="saved header mapping (YAML)")
    add_logs(clean)
    add_outputs(clean)

    merge = verbs.add_parser(
        "merge",
        help="add another person's decisions to a log",
        description="Add to a log of decisions all that stands in another one. The other is only read.",
        epilog="Example: nestproof merge season.decisions.jsonl from-mk.decisions.jsonl. Exit code: 0 "
        "merged, 1 merged, and people differ on a cell or a line does not count, 2 could not be read or "
        "written.",
    )
    merge.add_argument("log", type=place, metavar="LOG", help="the log that is added to")
    merge.add_argument("other", type=place, metavar="OTHER", help="the log that is read")


def add_handover_verbs(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verbs that ask the gate and hand over."""
    gate = verbs.add_parser(
        "gate",
        help="ask whether the season may be handed over",
        description="Ask whether a season, with all that was decided, may be handed over: a second engine "
        "checks the declared columns, the audit all else, and what is still open is listed. The file itself "
        "is never changed.",
        epilog="Example: nestproof gate season.xlsx --decisions season.decisions.jsonl. Exit code: 0 the "
        "gate is open, 1 it is shut, 2 could not be read.",
    )
    add_inputs(gate)
    add_logs(gate)
    add_schemas(gate)
    gate.add_argument("--out", type=place, metavar="DIR", help="folder for the page and the results")

    handover = verbs.add_parser(
        "handover",
        help="write all that goes out, once the gate is open",
        description="Write all that goes out into a new folder, or nothing: clean workbook, tidy tables, "
        "exchange records, Darwin Core Archive, report, list of changes, checksums. Refuses while the gate "
        "is shut. The file itself is never changed.",
        epilog="Example: nestproof handover season.xlsx --out handover-2026. Exit code: 0 written, 1 the "
        "gate is shut and nothing was written, 2 could not be read or written.",
    )
    add_inputs(handover)
    add_logs(handover)
    add_outputs(handover)
    handover.add_argument(
        "--despite",
        default="",
        metavar="REASON",
        help="hand over although the gate is shut, and write down why and what stays open",
    )
    handover.add_argument("--who", default="", metavar="INITIALS", help="who takes that on")
