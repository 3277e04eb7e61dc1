"""Words of the verbs of training: practise and measuring, and the drills that there are."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.call.arguments import add_outputs, birds, count, names, place

if TYPE_CHECKING:
    import argparse

__all__ = ["DRILLS", "MARKED_DRILLS", "add_measuring_verb", "add_practice_verb"]

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


def add_measuring_verb(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verb on repeated measures."""
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
        type=place,
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
        "--blank", type=names, metavar="INITIALS", help="make a blank sheet for these people, as in AB,MK"
    )
    measuring.add_argument(
        "--birds", type=birds, metavar="N", help="of --blank: how many birds, or their rings, as in SV1,SV2"
    )
    measuring.add_argument(
        "--repeats", type=count, default=1, metavar="N", help="of --blank: how often each measures each bird"
    )
    measuring.add_argument(
        "--measures",
        type=names,
        default=(),
        metavar="COLUMNS",
        help="of --blank: what is measured, as in wing_mm,net_g; by default wing and weighing",
    )
    measuring.add_argument("--seed", type=count, default=1, metavar="N", help="of --blank: other orders")
    measuring.add_argument("--paper", choices=("a4", "letter"), default="a4", help="of --blank: its paper")
    add_outputs(measuring)


def add_practice_verb(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verb on practice sheets and drills."""
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
    what.add_argument("--marked", type=place, metavar="WORKBOOK", help="mark what was filled in")
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
    practise.add_argument("--seed", type=count, metavar="N", help="another number, another sheet")
    practise.add_argument("--paper", choices=("a4", "letter"), default="a4", help="paper of the PDF")
    practise.add_argument(
        "--progress",
        type=place,
        metavar="FILE",
        help="file of progress; by default that in the folder --out",
    )
    add_outputs(practise)
