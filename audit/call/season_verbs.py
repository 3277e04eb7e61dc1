"""Words of the verbs that audit one season: check, blank, demo, rules, power, ledger, compare."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.call.arguments import add_inputs, add_outputs, add_schemas, count, place

if TYPE_CHECKING:
    import argparse

__all__ = ["add_season_verbs"]


def add_season_verbs(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verbs that read one season, or a round of their own."""
    check = verbs.add_parser(
        "check",
        help="audit a season and write what was found",
        description="Audit a season: a workbook (.xlsx, .ods), a .csv file or a folder of .csv files. "
        "The file itself is never changed.",
        epilog="Example: nestproof check season.xlsx --out checked --reads reader.csv. "
        "Exit code: 0 nothing above a note, 1 errors or suspects, 2 could not be read.",
    )
    add_inputs(check)
    add_outputs(check)
    check.add_argument(
        "--keep-answers",
        action="store_true",
        help="keep all answers in a hidden file in DIR, so that the next audit with this word asks only what "
        "depends on cells that have changed since; it finds the same as any other",
    )

    blank = verbs.add_parser(
        "blank",
        help="write an empty workbook to type a season into",
        description="Write an empty workbook to type a season into: a sheet for each table, with the columns "
        "that are understood, the values they take, and rings and tags kept as text. You may as well use a "
        "workbook of your own.",
        epilog="Example: nestproof blank --out mine. Exit code: 0 written, 2 could not be written.",
    )
    add_outputs(blank)

    demo = verbs.add_parser(
        "demo",
        help="audit the invented demo season",
        description="Audit the invented demo season, to see what a result looks like.",
        epilog="Example: nestproof demo --out first-audit. Exit code: 0.",
    )
    add_outputs(demo)

    rules = verbs.add_parser(
        "rules",
        help="list what the audit asks",
        description="List every rule with its question and what it can say.",
        epilog="Example: nestproof rules",
    )
    add_schemas(rules)

    power = verbs.add_parser(
        "power",
        help="test what the audit would find in a season",
        description="Plant known slips of every kind in copies of a season, in memory, audit them and tell "
        "which share would be found and mended. The file itself is never changed.",
        epilog="Example: nestproof power season.xlsx --reads reader.csv --out power. "
        "Exit code: 0 measured, 2 could not be read.",
    )
    add_inputs(power)
    add_schemas(power)
    power.add_argument("--seed", type=count, default=1, metavar="N", help="another number, other slips")
    power.add_argument("--each", type=count, metavar="N", help="slips of each kind in each column")
    power.add_argument("--out", type=place, metavar="DIR", help="folder for power.csv and power.html")

    ledger = verbs.add_parser(
        "ledger",
        help="tell what became of every ring and tag",
        description="Tell what became of every ring of the strings issued and of every tag: on a bird, lost, "
        "destroyed, returned, passed on, in hand, or unaccounted for. The file itself is never changed.",
        epilog="Example: nestproof ledger season.xlsx --out ledger --reads reader.csv. "
        "Exit code: 0 written, 2 could not be read.",
    )
    add_inputs(ledger)
    add_outputs(ledger)

    compare = verbs.add_parser(
        "compare",
        help="compare two typings of the same field sheets",
        description="Compare what two people typed from the same field sheets, cell by cell, by what the "
        "cells mean. The files themselves are never changed.",
        epilog="Example: nestproof compare typed-by-ab.xlsx typed-by-mk.csv --out compared. "
        "Exit code: 0 no difference, 1 differences, 2 could not be read or compared.",
    )
    compare.add_argument(
        "first", type=place, metavar="FIRST", help="the typing whose differences are decided"
    )
    compare.add_argument("second", type=place, metavar="SECOND", help="the other typing")
    compare.add_argument("--reads", type=place, metavar="FILE", help="download of the hand reader")
    compare.add_argument(
        "--decisions",
        type=place,
        metavar="FILE",
        help="log of decisions about the first typing; by default the one beside it",
    )
    add_outputs(compare)
