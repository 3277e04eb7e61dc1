"""The words of the command line: every verb with what it takes."""

from __future__ import annotations

import argparse

from audit import __version__
from audit.call.decision_verbs import add_decision_verbs, add_handover_verbs, add_question_verbs
from audit.call.practice_verbs import add_measuring_verb, add_practice_verb
from audit.call.season_verbs import add_season_verbs
from audit.call.wider_verbs import add_archive_verb, add_passages_verb

__all__ = ["parser"]


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
    verbs = words.add_subparsers(title="commands", dest="verb", metavar="COMMAND", required=True)
    add_season_verbs(verbs)
    add_question_verbs(verbs)
    add_decision_verbs(verbs)
    add_handover_verbs(verbs)
    add_passages_verb(verbs)
    add_archive_verb(verbs)
    add_measuring_verb(verbs)
    add_practice_verb(verbs)
    return words
