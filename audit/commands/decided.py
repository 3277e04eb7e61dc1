"""What is done with what was decided about a season, up to the handover."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.commands.exit_code import FOUND_NOTHING, FOUND_SOMETHING
from audit.commands.printed import say
from audit.commands.season_named import inputs_asked, season_asked
from audit.refusal import Refusal

if TYPE_CHECKING:
    import argparse

__all__ = ["ask_gate", "ask_questions", "clean_season", "hand_season_over", "merge_logs", "take_answers"]

_NOBODY_ASKED = (
    "Listed is what was asked about at the desk. To list all errors and suspects that nobody has decided, "
    "too, say --all."
)


def ask_questions(asked: argparse.Namespace) -> int:
    """List what must be looked up in the field notebook."""
    from audit.declarations import load_declarations
    from audit.handover.query.sheet import write_query
    from audit.querying import query_sheet
    from audit.review.log import DecisionLog, log_path

    declared = load_declarations(asked.schemas)
    season = season_asked(asked, declared)
    path = asked.decisions or log_path(season)
    sheet = query_sheet(
        season,
        DecisionLog.open(path).decisions,
        unasked=asked.all,
        suggestions=asked.suggestions,
        schemas=declared,
    )
    written = write_query(sheet, asked.out, (*inputs_asked(asked), path), paper=asked.paper)
    told = [repr(sheet)]
    if not sheet.questions and not asked.all:
        told.append(_NOBODY_ASKED)
    say("\n".join([*told, "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def take_answers(asked: argparse.Namespace) -> int:
    """Take over what was found in the field notebook."""
    from audit.declarations import load_declarations
    from audit.handover.query.taken import answers_text
    from audit.querying import read_answers
    from audit.review.log import DecisionLog, log_path

    declared = load_declarations(asked.schemas)
    season = season_asked(asked, declared)
    log = DecisionLog.open(asked.decisions or log_path(season))
    taken = read_answers(season, asked.workbook, log, who=asked.who, schemas=declared)
    say(answers_text(taken))
    return FOUND_SOMETHING if taken.not_taken or taken.orphans else FOUND_NOTHING


def clean_season(asked: argparse.Namespace) -> int:
    """Write a season with all that was decided."""
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
    say(clean_text(done, written))
    return FOUND_NOTHING if done.is_settled else FOUND_SOMETHING


def merge_logs(asked: argparse.Namespace) -> int:
    """Add another person's decisions to a log."""
    from audit.decided import merge_text

    text, differs = merge_text(asked.log, asked.other)
    say(text)
    return FOUND_SOMETHING if differs else FOUND_NOTHING


def ask_gate(asked: argparse.Namespace) -> int:
    """Ask whether a season may be handed over."""
    from audit.declarations import load_declarations
    from audit.handing_over import gate, write_gate
    from audit.handover.gate.text import gate_text

    declared = load_declarations(asked.schemas)
    season = season_asked(asked, declared)
    if asked.out is None:
        answer = gate(season, asked.decisions, schemas=declared)
        # there is no page that could hold the rest
        lines = [gate_text(answer, shown=len(answer.shutting))]
    else:
        answer, written = write_gate(season, asked.out, asked.decisions, schemas=declared)
        lines = [repr(answer), "\nWritten:", *(f"  {path}" for path in written)]
    say("\n".join(lines))
    return FOUND_NOTHING if answer.is_open else FOUND_SOMETHING


def hand_season_over(asked: argparse.Namespace) -> int:
    """Write all that goes out."""
    from audit.declarations import load_declarations
    from audit.handing_over import hand_over

    declared = load_declarations(asked.schemas)
    season = season_asked(asked, declared)
    handed = hand_over(
        season, asked.out, asked.decisions, despite=asked.despite, who=asked.who, schemas=declared
    )
    say(repr(handed))
    return FOUND_NOTHING
