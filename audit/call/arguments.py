"""Words that many verbs share, and how single ones are read."""

from __future__ import annotations

import argparse
from pathlib import Path

__all__ = [
    "add_beside",
    "add_inputs",
    "add_log",
    "add_logs",
    "add_outputs",
    "add_schemas",
    "birds",
    "count",
    "names",
    "place",
]


def add_inputs(parser: argparse.ArgumentParser) -> None:
    """Add the season and what stands beside it."""
    parser.add_argument(
        "season", type=place, metavar="SEASON", help="workbook, .csv file or folder of .csv files"
    )
    parser.add_argument("--detections", type=place, metavar="FILE", help="log of the box antennas")
    add_beside(parser)


def add_beside(parser: argparse.ArgumentParser) -> None:
    """Add the files that stand beside a season."""
    parser.add_argument("--reads", type=place, metavar="FILE", help="download of the hand reader")
    parser.add_argument(
        "--earlier",
        type=place,
        action="append",
        default=[],
        metavar="FILE",
        help="an earlier season, for birds met again: workbook, .csv file or folder; may be given repeatedly",
    )
    parser.add_argument("--mapping", type=place, metavar="FILE", help="saved header mapping (YAML)")


def add_outputs(parser: argparse.ArgumentParser) -> None:
    """Add where results go."""
    parser.add_argument("--out", type=place, metavar="DIR", required=True, help="folder for the results")
    add_schemas(parser)


def add_schemas(parser: argparse.ArgumentParser) -> None:
    """Add the declarations of a team."""
    parser.add_argument("--schemas", type=place, metavar="DIR", help="a team's own declarations")


def add_log(parser: argparse.ArgumentParser) -> None:
    """Add a log of decisions."""
    parser.add_argument(
        "--decisions",
        type=place,
        metavar="FILE",
        help="log of decisions; by default the one beside the season",
    )


def add_logs(parser: argparse.ArgumentParser) -> None:
    """Add logs of decisions."""
    parser.add_argument(
        "--decisions",
        type=place,
        action="append",
        metavar="FILE",
        help="log of decisions, by default the one beside the season; may be given repeatedly",
    )


def place(text: str) -> Path:
    """Read the name of a file or folder; an empty one would mean the folder in which the call was made."""
    if not text.strip():
        raise argparse.ArgumentTypeError("this name is empty; name a file or folder")
    return Path(text)


def count(text: str) -> int:
    """Read a whole number above nought."""
    if not text.isdecimal() or not int(text):
        raise argparse.ArgumentTypeError(f"'{text}' is no whole number above 0")
    return int(text)


def names(text: str) -> tuple[str, ...]:
    """Read words with commas between them."""
    return tuple(word.strip() for word in text.split(",") if word.strip())


def birds(text: str) -> int | tuple[str, ...]:
    """Read how many birds, or their rings with commas between them."""
    return int(text) if text.strip().isdecimal() else names(text)
