"""The words of the command line: every verb with what it takes."""

from __future__ import annotations

import argparse
from pathlib import Path

from audit import __version__

__all__ = ["DRILLS", "MARKED_DRILLS", "parser"]

#: Drill -> module and function of the front door that begin it, and the wishes that they take.
DRILLS = {
    "reading": ("audit.reading_practice", "read_practice", ("level", "seed")),
    "weighing": ("audit.weighing_practice", "practise_weighing", ("species", "level", "seed")),
    "ageing": ("audit.ageing_practice", "practise_ageing", ("species", "level", "seed")),
}
#: Drill -> module and function that mark its sheet of answers.
MARKED_DRILLS = {
    "reading": ("audit.reading_practice", "mark_reading"),
    "weighing": ("audit.weighing_practice", "mark_weighing"),
    "ageing": ("audit.ageing_practice", "mark_ageing"),
}


def parser() -> argparse.ArgumentParser:
    """Make what reads the words of a call; `verb` names what is to be done."""
    words = argparse.ArgumentParser(
        prog="nestproof",
        description="Proof-read a season of nest-box ringing before it leaves the house.",
        epilog="Example: nestproof check season.xlsx --out checked",
    )
    words.add_argument(
        "--version",
        action="version",
        version=f"nestproof {__version__}",
        help="say which version this is, and end",
    )
    verbs = words.add_subparsers(title="commands", metavar="COMMAND", required=True)

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
    check.add_argument(
        "--keep-answers",
        action="store_true",
        help="keep all answers in a hidden file in DIR, so that the next audit with this word asks only what "
        "depends on cells that have changed since; it finds the same as any other",
    )
    check.set_defaults(verb="check")

    blank = verbs.add_parser(
        "blank",
        help="write an empty workbook to type a season into",
        description="Write an empty workbook to type a season into: a sheet for each table, with the columns "
        "that are understood, the values they take, and rings and tags kept as text. You may as well use a "
        "workbook of your own.",
        epilog="Example: nestproof blank --out mine. Exit code: 0 written, 2 could not be written.",
    )
    _add_outputs(blank)
    blank.set_defaults(verb="blank")

    demo = verbs.add_parser(
        "demo",
        help="audit the invented demo season",
        description="Audit the invented demo season, to see what a result looks like.",
        epilog="Example: nestproof demo --out first-audit. Exit code: 0.",
    )
    _add_outputs(demo)
    demo.set_defaults(verb="demo")

    rules = verbs.add_parser(
        "rules",
        help="list what the audit asks",
        description="List every rule with its question and what it can say.",
        epilog="Example: nestproof rules",
    )
    rules.add_argument("--schemas", type=_place, metavar="DIR", help="a team's own declarations")
    rules.set_defaults(verb="rules")

    power = verbs.add_parser(
        "power",
        help="test what the audit would find in a season",
        description="Plant known slips of every kind in copies of a season, in memory, audit them and tell "
        "which share would be found and mended. The file itself is never changed.",
        epilog="Example: nestproof power season.xlsx --reads reader.csv --out power. "
        "Exit code: 0 measured, 2 could not be read.",
    )
    _add_inputs(power)
    power.add_argument("--schemas", type=_place, metavar="DIR", help="a team's own declarations")
    power.add_argument("--seed", type=_count, default=1, metavar="N", help="another number, other slips")
    power.add_argument("--each", type=_count, metavar="N", help="slips of each kind in each column")
    power.add_argument("--out", type=_place, metavar="DIR", help="folder for power.csv and power.html")
    power.set_defaults(verb="power")

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
    ledger.set_defaults(verb="ledger")
    _add_compare(verbs)
    _add_query(verbs)
    _add_decided(verbs)
    _add_handover(verbs)
    _add_passages(verbs)
    _add_archive(verbs)
    _add_measuring(verbs)
    _add_practise(verbs)
    return words


def _place(text: str) -> Path:
    """Read the name of a file or folder; an empty one would mean the folder in which the call was made."""
    if not text.strip():
        raise argparse.ArgumentTypeError("this name is empty; name a file or folder")
    return Path(text)


def _add_practise(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    practise = verbs.add_parser(
        "practise",
        help="practise on an invented sheet with slips in it",
        description="Make an invented sheet with slips in it for a trainee: a workbook to fill in and a page "
        "to print, with the key in a folder 'keys'. Or mark a filled workbook. What came of it is kept in "
        "practice.progress.jsonl, and the next sheet is made of what was missed and what is due.",
        epilog="Example: nestproof practise --out practice --trainee AB. When the workbook is filled in, "
        "mark it with --marked and its name; --overview is for the trainer. A drill, such as --drill "
        "weighing, writes a sheet of answers, which is marked with --marked in the same way. Exit code: 0 "
        "written, 2 could not be read or written.",
    )
    what = practise.add_mutually_exclusive_group(required=True)
    what.add_argument("--trainee", metavar="INITIALS", help="make the next sheet of this trainee")
    what.add_argument("--marked", type=_place, metavar="WORKBOOK", help="mark what was filled in")
    what.add_argument("--overview", action="store_true", help="tell how each trainee gets on")
    practise.add_argument(
        "--drill", choices=tuple(DRILLS), help="make a round of this drill instead of a sheet with slips"
    )
    practise.add_argument(
        "--species", metavar="NAME", help="species of the sheet or of the drill, by default barn_owl"
    )
    practise.add_argument(
        "--level",
        metavar="LEVEL",
        help="its number or name; by default the first that is not settled",
    )
    practise.add_argument("--seed", type=_count, metavar="N", help="another number, another sheet")
    practise.add_argument("--paper", choices=("a4", "letter"), default="a4", help="paper of the PDF")
    practise.add_argument(
        "--progress",
        type=_place,
        metavar="FILE",
        help="file of progress; by default that in the folder --out",
    )
    _add_outputs(practise)
    practise.set_defaults(verb="practise")


def _add_measuring(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    measuring = verbs.add_parser(
        "measuring",
        help="tell how well repeated measures agree, and what to practise",
        description="Tell from birds measured again, by one person or by several, how far repeats lie apart, "
        "who measures more than others, which birds stand out, and what to practise. The sheet is never "
        "changed. With --blank, make a sheet to print and a workbook to type into, in which nobody sees what "
        "the others measured.",
        epilog="Example: nestproof measuring --blank AB,MK --birds 12 --out again; when its workbook is "
        "filled in, nestproof measuring again/measure-again-....xlsx --trainer MK --out measured. Exit code: "
        "0 written, 2 could not be read or made.",
    )
    measuring.add_argument(
        "sheet",
        type=_place,
        nargs="?",
        metavar="SHEET",
        help="workbook or .csv file: a row for each bird, observer and repeat, or a column for each person",
    )
    measuring.add_argument(
        "--trainer", default="", metavar="INITIALS", help="whom all others are held against"
    )
    measuring.add_argument(
        "--across-days",
        action="store_true",
        help="a bird measured on two days counts as measured twice: of specimens and full-grown birds only",
    )
    measuring.add_argument(
        "--blank", type=_names, metavar="INITIALS", help="make a blank sheet for these people, as in AB,MK"
    )
    measuring.add_argument(
        "--birds", type=_birds, metavar="N", help="of --blank: how many birds, or their rings, as in SV1,SV2"
    )
    measuring.add_argument(
        "--repeats", type=_count, default=1, metavar="N", help="of --blank: how often each measures each bird"
    )
    measuring.add_argument(
        "--measures",
        type=_names,
        default=(),
        metavar="COLUMNS",
        help="of --blank: what is measured, as in wing_mm,net_g; by default wing and weighing",
    )
    measuring.add_argument("--seed", type=_count, default=1, metavar="N", help="of --blank: other orders")
    measuring.add_argument("--paper", choices=("a4", "letter"), default="a4", help="of --blank: its paper")
    _add_outputs(measuring)
    measuring.set_defaults(verb="measuring")


def _add_passages(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    passages = verbs.add_parser(
        "passages",
        help="tell from box antennas who went in and out",
        description="Tell from the log of the two antennas in the entrance of each box which bird went in or "
        "out when, how sure that is, and when each antenna could be trusted. The log is never changed. With "
        "--season also when each tagged bird was heard and what does not agree with the sheets.",
        epilog="Example: nestproof passages detections.csv --out passages --season season.xlsx. Exit code: 0 "
        "written, whatever was found, 2 could not be read.",
    )
    passages.add_argument(
        "log",
        type=_place,
        metavar="DETECTIONS",
        help="log of the box antennas: .csv, .txt, Parquet, or a folder",
    )
    passages.add_argument(
        "--season",
        type=_place,
        metavar="SEASON",
        help="the season: workbook, .csv file or folder of .csv files",
    )
    _add_beside(passages)
    passages.add_argument(
        "--clock-as-logged",
        action="store_true",
        help="give moments as logged, also where a clock is known to have been off",
    )
    _add_outputs(passages)
    passages.set_defaults(verb="passages", detections=None)


def _add_archive(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    archive = verbs.add_parser(
        "archive",
        help="audit many seasons and teams at once",
        description="Audit an archive of many seasons and teams: every row is held against the declarations, "
        "every sum, and every ring and tag against all years; what stands out is judged by the rules of a "
        "season. One file of findings for each season. The archive is never changed. A run that was stopped "
        "goes on where it was when it is started again.",
        epilog="Example: nestproof archive archive --out audited. Columns are those of a season's handlings, "
        "and season, scheme, team; folders may name seasons and teams, a file named boxes holds the places "
        "of boxes, and workbooks may bring all tables of a season. Exit code: 0 nothing above a note, "
        "1 errors or suspects, 2 could not be read or written.",
    )
    archive.add_argument(
        "sources",
        type=_place,
        nargs="+",
        metavar="DIR_OR_FILE",
        help="workbooks, CSV or Parquet files of handlings, or folders of them",
    )
    archive.add_argument(
        "--whole",
        action="store_true",
        default=None,
        help="judge every season as a whole, by all rules, however large the archive is",
    )
    archive.add_argument(
        "--memory", type=_count, metavar="MB", help="memory for the engine, by default 4000 MB"
    )
    archive.add_argument(
        "--master",
        metavar="ADDRESS",
        help="let the workers of this Spark master ask what relates rows, such as spark://host:7077",
    )
    archive.add_argument("--parquet", action="store_true", help="write the findings as Parquet, not as CSV")
    _add_outputs(archive)
    archive.set_defaults(verb="archive")


def _add_handover(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    gate = verbs.add_parser(
        "gate",
        help="ask whether the season may be handed over",
        description="Ask whether a season, with all that was decided, may be handed over: a second engine "
        "checks the declared columns, the audit all else, and what is still open is listed. The file itself "
        "is never changed.",
        epilog="Example: nestproof gate season.xlsx --decisions season.decisions.jsonl. Exit code: 0 the "
        "gate is open, 1 it is shut, 2 could not be read.",
    )
    _add_inputs(gate)
    _add_logs(gate)
    gate.add_argument("--schemas", type=_place, metavar="DIR", help="a team's own declarations")
    gate.add_argument("--out", type=_place, metavar="DIR", help="folder for the page and the results")
    gate.set_defaults(verb="gate")

    handover = verbs.add_parser(
        "handover",
        help="write all that goes out, once the gate is open",
        description="Write all that goes out into a new folder, or nothing: clean workbook, tidy tables, "
        "exchange records, Darwin Core Archive, report, list of changes, checksums. Refuses while the gate "
        "is shut. The file itself is never changed.",
        epilog="Example: nestproof handover season.xlsx --out handover-2026. Exit code: 0 written, 1 the "
        "gate is shut and nothing was written, 2 could not be read or written.",
    )
    _add_inputs(handover)
    _add_logs(handover)
    _add_outputs(handover)
    handover.add_argument(
        "--despite",
        default="",
        metavar="REASON",
        help="hand over although the gate is shut, and write down why and what stays open",
    )
    handover.add_argument("--who", default="", metavar="INITIALS", help="who takes that on")
    handover.set_defaults(verb="handover")


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
        "season", type=_place, metavar="SEASON", help="workbook, .csv file or folder of .csv files"
    )
    clean.add_argument("--mapping", type=_place, metavar="FILE", help="saved header mapping (YAML)")
    _add_logs(clean)
    _add_outputs(clean)
    clean.set_defaults(verb="clean")

    merge = verbs.add_parser(
        "merge",
        help="add another person's decisions to a log",
        description="Add to a log of decisions all that stands in another one. The other is only read.",
        epilog="Example: nestproof merge season.decisions.jsonl from-mk.decisions.jsonl. Exit code: 0 "
        "merged, 1 merged, and people differ on a cell or a line does not count, 2 could not be read or "
        "written.",
    )
    merge.add_argument("log", type=_place, metavar="LOG", help="the log that is added to")
    merge.add_argument("other", type=_place, metavar="OTHER", help="the log that is read")
    merge.set_defaults(verb="merge")


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
    questions.set_defaults(verb="questions")

    answers = verbs.add_parser(
        "answers",
        help="take over what was found in the field notebook",
        description="Read a filled query sheet (.xlsx, .ods or .csv) and add its answers to the decisions. "
        "A sheet may be read twice: nothing is doubled.",
        epilog="Example: nestproof answers season.xlsx season.questions.xlsx --who AB. Exit code: 0 all "
        "taken over, 1 some lines were not, 2 could not be read.",
    )
    _add_inputs(answers)
    answers.add_argument("workbook", type=_place, metavar="WORKBOOK", help="the query sheet, filled in")
    answers.add_argument("--schemas", type=_place, metavar="DIR", help="a team's own declarations")
    answers.add_argument("--who", default="", metavar="INITIALS", help="who looked up lines that name nobody")
    _add_log(answers)
    answers.set_defaults(verb="answers")


def _add_logs(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--decisions",
        type=_place,
        action="append",
        metavar="FILE",
        help="log of decisions, by default the one beside the season; may be given repeatedly",
    )


def _add_log(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--decisions",
        type=_place,
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
    compare.add_argument(
        "first", type=_place, metavar="FIRST", help="the typing whose differences are decided"
    )
    compare.add_argument("second", type=_place, metavar="SECOND", help="the other typing")
    compare.add_argument("--reads", type=_place, metavar="FILE", help="download of the hand reader")
    compare.add_argument(
        "--decisions",
        type=_place,
        metavar="FILE",
        help="log of decisions about the first typing; by default the one beside it",
    )
    _add_outputs(compare)
    compare.set_defaults(verb="compare")


def _add_inputs(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "season", type=_place, metavar="SEASON", help="workbook, .csv file or folder of .csv files"
    )
    parser.add_argument("--detections", type=_place, metavar="FILE", help="log of the box antennas")
    _add_beside(parser)


def _add_beside(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--reads", type=_place, metavar="FILE", help="download of the hand reader")
    parser.add_argument(
        "--earlier",
        type=_place,
        action="append",
        default=[],
        metavar="FILE",
        help="an earlier season, for birds met again: workbook, .csv file or folder; may be given repeatedly",
    )
    parser.add_argument("--mapping", type=_place, metavar="FILE", help="saved header mapping (YAML)")


def _count(text: str) -> int:
    """Read a whole number above nought."""
    if not text.isdecimal() or not int(text):
        raise argparse.ArgumentTypeError(f"'{text}' is no whole number above 0")
    return int(text)


def _names(text: str) -> tuple[str, ...]:
    """Read words with commas between them."""
    return tuple(word.strip() for word in text.split(",") if word.strip())


def _birds(text: str) -> int | tuple[str, ...]:
    """Read how many birds, or their rings with commas between them."""
    return int(text) if text.strip().isdecimal() else _names(text)


def _add_outputs(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", type=_place, metavar="DIR", required=True, help="folder for the results")
    parser.add_argument("--schemas", type=_place, metavar="DIR", help="a team's own declarations")
