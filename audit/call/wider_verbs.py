"""Words of the verbs on more than one season"s sheets: passages of a log, an archive of many seasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.call.arguments import add_beside, add_outputs, count, place

if TYPE_CHECKING:
    import argparse

__all__ = ["add_archive_verb", "add_passages_verb"]


def add_passages_verb(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verb that reads a log of antennas."""
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
        type=place,
        metavar="DETECTIONS",
        help="log of the box antennas: .csv, .txt, Parquet, or a folder",
    )
    passages.add_argument(
        "--season",
        type=place,
        metavar="SEASON",
        help="the season: workbook, .csv file or folder of .csv files",
    )
    add_beside(passages)
    passages.add_argument(
        "--clock-as-logged",
        action="store_true",
        help="give moments as logged, also where a clock is known to have been off",
    )
    add_outputs(passages)
    passages.set_defaults(detections=None)


def add_archive_verb(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verb that audits many seasons."""
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
        type=place,
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
        "--memory", type=count, metavar="MB", help="memory for the engine, by default 4000 MB"
    )
    archive.add_argument(
        "--master",
        metavar="ADDRESS",
        help="let the workers of this Spark master ask what relates rows, such as spark://host:7077",
    )
    archive.add_argument("--parquet", action="store_true", help="write the findings as Parquet, not as CSV")
    add_outputs(archive)
