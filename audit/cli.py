"""The command line: a thin shell over the front door."""

from __future__ import annotations

import argparse
import io
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["main"]

FOUND_NOTHING, FOUND_SOMETHING, REFUSED = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Returns
    -------
    int
        0: nothing above a note; 1: errors or suspects; 2: the season or a declaration could not be read.
    """
    for stream in (sys.stdout, sys.stderr):
        # An old terminal may not know every sign that was typed: it gets an escape rather than a fault.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    asked = _parser().parse_args(arguments)
    try:
        code: int = asked.run(asked)
    except Refusal as refusal:
        print(
            f"nestproof: {refusal.what}\n  where: {refusal.where}\n  cure:  {refusal.cure}", file=sys.stderr
        )
        return REFUSED
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="nestproof",
        description="Proof-read a season of nest-box ringing before it leaves the house.",
        epilog="Example: nestproof check season.xlsx --out checked",
    )
    verbs = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    check = verbs.add_parser(
        "check",
        help="audit a season and write what was found",
        description="Audit a season: a workbook (.xlsx, .ods), a .csv file or a folder of .csv files. "
        "The file itself is never changed.",
        epilog="Example: nestproof check season.xlsx --out checked --reads reader.csv. "
        "Exit code: 0 nothing above a note, 1 errors or suspects, 2 could not be read.",
    )
    _add_inputs(check)
    _add_outputs(check)
    check.set_defaults(run=_check)

    demo = verbs.add_parser(
        "demo",
        help="audit the invented demo season",
        description="Audit the invented demo season, to see what a result looks like.",
        epilog="Example: nestproof demo --out first-audit. Exit code: 0.",
    )
    _add_outputs(demo)
    demo.set_defaults(run=_demo)

    rules = verbs.add_parser(
        "rules",
        help="list what the audit asks",
        description="List every rule with its question and what it can say.",
        epilog="Example: nestproof rules",
    )
    rules.add_argument("--schemas", type=Path, metavar="DIR", help="a team's own declarations")
    rules.set_defaults(run=_rules)

    power = verbs.add_parser(
        "power",
        help="test what the audit would find in a season",
        description="Plant known slips of every kind in copies of a season, in memory, audit them and tell "
        "which share would be found and mended. The file itself is never changed.",
        epilog="Example: nestproof power season.xlsx --reads reader.csv --out power. "
        "Exit code: 0 measured, 2 could not be read.",
    )
    _add_inputs(power)
    power.add_argument("--schemas", type=Path, metavar="DIR", help="a team's own declarations")
    power.add_argument("--seed", type=_count, default=1, metavar="N", help="another number, other slips")
    power.add_argument("--each", type=_count, metavar="N", help="slips of each kind in each column")
    power.add_argument("--out", type=Path, metavar="DIR", help="folder for power.csv and power.html")
    power.set_defaults(run=_power)

    ledger = verbs.add_parser(
        "ledger",
        help="tell what became of every ring and tag",
        description="Tell what became of every ring of the strings issued and of every tag: on a bird, lost, "
        "destroyed, returned, passed on, in hand, or unaccounted for. The file itself is never changed.",
        epilog="Example: nestproof ledger season.xlsx --out ledger --reads reader.csv. "
        "Exit code: 0 written, 2 could not be read.",
    )
    _add_inputs(ledger)
    _add_outputs(ledger)
    ledger.set_defaults(run=_ledger)
    _add_compare(verbs)
    _add_query(verbs)
    _add_decided(verbs)
    return parser


def _add_decided(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
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
        "season", type=Path, metavar="SEASON", help="workbook, .csv file or folder of .csv files"
    )
    clean.add_argument("--mapping", type=Path, metavar="FILE", help="saved header mapping (YAML)")
    clean.add_argument(
        "--decisions",
        type=Path,
        action="append",
        metavar="FILE",
        help="log of decisions, by default the one beside the season; may be given repeatedly",
    )
    _add_outputs(clean)
    clean.set_defaults(run=_clean)

    merge = verbs.add_parser(
        "merge",
        help="add another person's decisions to a log",
        description="Add to a log of decisions all that stands in another one. The other is only read.",
        epilog="Example: nestproof merge season.decisions.jsonl from-mk.decisions.jsonl. Exit code: 0 "
        "merged, 1 merged, and people differ on a cell or a line does not count, 2 could not be read or "
        "written.",
    )
    merge.add_argument("log", type=Path, metavar="LOG", help="the log that is added to")
    merge.add_argument("other", type=Path, metavar="OTHER", help="the log that is read")
    merge.set_defaults(run=_merge)


def _add_query(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    questions = verbs.add_parser(
        "questions",
        help="list what must be looked up in the field notebook",
        description="List the questions of a season in the order of the pages of the field notebook: as a "
        "page and a PDF to write on, and as a workbook to fill in. The file itself is never changed.",
        epilog="Example: nestproof questions season.xlsx --out questions. Exit code: 0 written, 2 could not "
        "be read.",
    )
    _add_inputs(questions)
    _add_outputs(questions)
    _add_log(questions)
    questions.add_argument(
        "--all", action="store_true", help="also the errors and suspects that nobody has asked about"
    )
    questions.add_argument(
        "--suggestions", action="store_true", help="say on a last page what was probably meant"
    )
    questions.add_argument("--paper", choices=("a4", "letter"), default="a4", help="paper of the PDF")
    questions.set_defaults(run=_questions)

    answers = verbs.add_parser(
        "answers",
        help="take over what was found in the field notebook",
        description="Read a filled query sheet (.xlsx, .ods or .csv) and add its answers to the decisions. "
        "A sheet may be read twice: nothing is doubled.",
        epilog="Example: nestproof answers season.xlsx season.questions.xlsx --who AB. Exit code: 0 all "
        "taken over, 1 some lines were not, 2 could not be read.",
    )
    _add_inputs(answers)
    answers.add_argument("workbook", type=Path, metavar="WORKBOOK", help="the query sheet, filled in")
    answers.add_argument("--schemas", type=Path, metavar="DIR", help="a team's own declarations")
    answers.add_argument("--who", default="", metavar="INITIALS", help="who looked up lines that name nobody")
    _add_log(answers)
    answers.set_defaults(run=_answers)


def _add_log(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--decisions",
        type=Path,
        metavar="FILE",
        help="log of decisions; by default the one beside the season",
    )


def _add_compare(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    compare = verbs.add_parser(
        "compare",
        help="compare two typings of the same field sheets",
        description="Compare what two people typed from the same field sheets, cell by cell, by what the "
        "cells mean. The files themselves are never changed.",
        epilog="Example: nestproof compare typed-by-ab.xlsx typed-by-mk.csv --out compared. "
        "Exit code: 0 no difference, 1 differences, 2 could not be read or compared.",
    )
    compare.add_argument("first", type=Path, metavar="FIRST", help="the typing whose differences are decided")
    compare.add_argument("second", type=Path, metavar="SECOND", help="the other typing")
    compare.add_argument("--reads", type=Path, metavar="FILE", help="download of the hand reader")
    compare.add_argument(
        "--decisions",
        type=Path,
        metavar="FILE",
        help="log of decisions about the first typing; by default the one beside it",
    )
    _add_outputs(compare)
    compare.set_defaults(run=_compare)


def _add_inputs(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "season", type=Path, metavar="SEASON", help="workbook, .csv file or folder of .csv files"
    )
    parser.add_argument("--reads", type=Path, metavar="FILE", help="download of the hand reader")
    parser.add_argument("--detections", type=Path, metavar="FILE", help="log of the box antennas")
    parser.add_argument(
        "--earlier",
        type=Path,
        action="append",
        default=[],
        metavar="FILE",
        help="an earlier season, for birds met again: workbook, .csv file or folder; may be given repeatedly",
    )
    parser.add_argument("--mapping", type=Path, metavar="FILE", help="saved header mapping (YAML)")


def _count(text: str) -> int:
    """Read a whole number above nought."""
    if not text.isdecimal() or not int(text):
        raise argparse.ArgumentTypeError(f"'{text}' is no whole number above 0")
    return int(text)


def _add_outputs(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", type=Path, metavar="DIR", required=True, help="folder for the results")
    parser.add_argument("--schemas", type=Path, metavar="DIR", help="a team's own declarations")


def _check(asked: argparse.Namespace) -> int:
    from audit.checking import check
    from audit.declarations import load_declarations
    from audit.handover.folder import write_outputs
    from audit.handover.summary import summary_text

    declared = load_declarations(asked.schemas)
    season = _season(asked, declared)
    report = check(season, schemas=declared)
    also_read = _inputs(asked)[1:]
    written = write_outputs(season, report, declared, asked.season, asked.out, also_read=also_read)
    _say("\n".join([summary_text(report), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_SOMETHING if report.above_notes else FOUND_NOTHING


def _demo(asked: argparse.Namespace) -> int:
    from audit.demo import demo_season

    asked.season, schemas = demo_season()
    asked.schemas = asked.schemas or schemas
    asked.mapping = asked.reads = asked.detections = None
    asked.earlier = []
    _check(asked)
    return FOUND_NOTHING


def _rules(asked: argparse.Namespace) -> int:
    from audit.declarations import load_declarations
    from audit.rules import RULES

    declared = load_declarations(asked.schemas)
    lines: list[str] = []
    for rule in RULES:
        body = declared.rules[rule.slug]
        lines.append(f"{rule.slug}: {body.question}")
        lines += [
            f"    {outcome.slug:<32} {outcome.severity:<8} {outcome.says}"
            for outcome in body.outcomes.values()
        ]
    _say("\n".join(lines))
    return FOUND_NOTHING


def _power(asked: argparse.Namespace) -> int:
    import numpy as np

    from audit.checking import check
    from audit.declarations import load_declarations
    from audit.practice.power import measure_power
    from audit.practice.power_files import write_power
    from audit.practice.power_text import power_text

    declared = load_declarations(asked.schemas)
    season = _season(asked, declared)
    rng = np.random.default_rng(asked.seed)
    power = measure_power(
        season, declared, lambda planted: check(planted, schemas=declared), rng, each=asked.each
    )
    lines = [power_text(power)]
    if asked.out is not None:
        lines += [
            "\nWritten:",
            *(f"  {path}" for path in write_power(power, asked.out, inputs=_inputs(asked))),
        ]
    _say("\n".join(lines))
    return FOUND_NOTHING


def _ledger(asked: argparse.Namespace) -> int:
    from audit.checking import check
    from audit.declarations import load_declarations
    from audit.handover.ledger_files import write_ledger
    from audit.handover.ledger_text import ledger_text
    from audit.showing import ledger

    declared = load_declarations(asked.schemas)
    season = _season(asked, declared)
    told = ledger(season, check(season, schemas=declared), schemas=declared)
    ledgers = told.season, told.ring_ledger, told.tag_ledger
    written = write_ledger(*ledgers, asked.out, inputs=_inputs(asked))
    _say("\n".join([ledger_text(*ledgers), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def _questions(asked: argparse.Namespace) -> int:
    from audit.declarations import load_declarations
    from audit.handover.query.sheet import write_query
    from audit.querying import query_sheet
    from audit.review.log import DecisionLog, log_path

    declared = load_declarations(asked.schemas)
    season = _season(asked, declared)
    path = asked.decisions or log_path(season)
    sheet = query_sheet(
        season,
        DecisionLog.open(path).decisions,
        unasked=asked.all,
        suggestions=asked.suggestions,
        schemas=declared,
    )
    written = write_query(sheet, asked.out, (*_inputs(asked), path), paper=asked.paper)
    _say("\n".join([repr(sheet), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def _answers(asked: argparse.Namespace) -> int:
    from audit.declarations import load_declarations
    from audit.handover.query.taken import answers_text
    from audit.querying import read_answers
    from audit.review.log import DecisionLog, log_path

    declared = load_declarations(asked.schemas)
    season = _season(asked, declared)
    log = DecisionLog.open(asked.decisions or log_path(season))
    taken = read_answers(season, asked.workbook, log, who=asked.who, schemas=declared)
    _say(answers_text(taken))
    return FOUND_SOMETHING if taken.not_taken or taken.orphans else FOUND_NOTHING


def _compare(asked: argparse.Namespace) -> int:
    from audit.checking import read_season
    from audit.comparing import double_entry
    from audit.declarations import load_declarations
    from audit.handover.differences_files import write_differences
    from audit.handover.differences_text import differences_text
    from audit.review.log import DecisionLog, log_path

    declared = load_declarations(asked.schemas)
    first, second = (
        read_season(path, schemas=declared, reads=asked.reads) for path in (asked.first, asked.second)
    )
    double = double_entry(first, second, schemas=declared)
    log = asked.decisions or log_path(first)
    decisions = DecisionLog.open(log).decisions
    inputs = (asked.first, asked.second, asked.reads, log)
    written = write_differences(double, asked.out, decisions=decisions, inputs=inputs)
    _say("\n".join([differences_text(double, decisions), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_SOMETHING if double.report.above_notes else FOUND_NOTHING


def _clean(asked: argparse.Namespace) -> int:
    from audit.checking import read_season
    from audit.decided import clean_text, decisions
    from audit.declarations import load_declarations
    from audit.review.log import log_path

    declared = load_declarations(asked.schemas)
    season = read_season(asked.season, schemas=declared, mapping=asked.mapping)
    log = log_path(season)
    if not asked.decisions and not (log and log.exists()):
        raise Refusal(
            "Nothing was decided about this season yet.",
            where=str(log),
            cure="Decide at the desk of a notebook, or name the log with --decisions.",
        )
    done = decisions(season, asked.decisions, schemas=declared)
    written = done.write(asked.out)
    _say(clean_text(done, written))
    return FOUND_NOTHING if done.is_settled else FOUND_SOMETHING


def _merge(asked: argparse.Namespace) -> int:
    from audit.decided import merge_text

    text, differs = merge_text(asked.log, asked.other)
    _say(text)
    return FOUND_SOMETHING if differs else FOUND_NOTHING


def _season(asked: argparse.Namespace, declared: Declarations) -> Season:
    """Read the season with all that was named beside it."""
    from audit.checking import read_season

    return read_season(
        asked.season,
        schemas=declared,
        mapping=asked.mapping,
        reads=asked.reads,
        detections=asked.detections,
        earlier=asked.earlier,
    )


def _inputs(asked: argparse.Namespace) -> tuple[Path | None, ...]:
    """Name the files that no result may replace."""
    return (asked.season, asked.reads, asked.detections, asked.mapping, *asked.earlier)


def _say(text: str) -> None:
    """Print, also to a program that stops listening or onto a disk that is full."""
    try:
        print(text, flush=True)
    except OSError as fault:
        # Else the interpreter would try once more when it ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if not isinstance(fault, BrokenPipeError):
            raise Refusal(
                f"What was found cannot be printed: {fault.strerror}.",
                where="standard output",
                cure="Look into the folder of the results, or print to another place.",
            ) from fault


if __name__ == "__main__":
    sys.exit(main())
