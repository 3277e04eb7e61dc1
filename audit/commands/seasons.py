"""What is done with one season as typed, or with two typings of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.commands.exit_code import FOUND_NOTHING, FOUND_SOMETHING
from audit.commands.printed import say
from audit.commands.season_named import inputs_asked, season_asked

if TYPE_CHECKING:
    import argparse

__all__ = [
    "audit_demo",
    "check_season",
    "compare_typings",
    "list_rules",
    "tell_ledger",
    "tell_power",
    "write_blank",
]

#: Loaded while another process reads the workbook.
_NEEDED = ("audit.checking", "audit.handover.page", "audit.handover.workbook")


def check_season(asked: argparse.Namespace) -> int:
    """Audit a season and write what was found."""
    from audit.charts.beside import drawing_beside
    from audit.intake.workbook_beside import reading_beside

    with reading_beside(asked.season) as begun:
        if begun:
            # the workbook is read while what is going to be needed loads; the drawing program starts after
            # that, since a third process would hold up both, and has the time while the season is audited
            _load()
        with drawing_beside():
            return _checked(asked)


def _load() -> None:
    from importlib import import_module

    from audit.declarations.to_pandera import load_engine

    load_engine()
    for name in _NEEDED:
        import_module(name)


def _checked(asked: argparse.Namespace) -> int:
    from audit.checking import check
    from audit.declarations import load_declarations
    from audit.handover.folder import write_outputs
    from audit.handover.kept_file import read_kept, write_kept
    from audit.handover.summary import summary_text

    declared = load_declarations(asked.schemas)
    season = season_asked(asked, declared)
    kept = read_kept(asked.out, season, declared) if asked.keep_answers else None
    report = check(season, schemas=declared, kept=kept)
    also_read = inputs_asked(asked)[1:]
    written = write_outputs(season, report, declared, asked.season, asked.out, also_read=also_read)
    if kept is not None:
        write_kept(asked.out, kept, declared)
    say(summary_text(report, files=written))
    return FOUND_SOMETHING if report.above_notes else FOUND_NOTHING


def write_blank(asked: argparse.Namespace) -> int:
    """Write an empty workbook to type a season into."""
    from audit.declarations import load_declarations
    from audit.handover.blank_season.workbook import write_blank_season

    written = write_blank_season(load_declarations(asked.schemas), asked.out)
    say("\n".join(["Written:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def audit_demo(asked: argparse.Namespace) -> int:
    """Audit the invented demo season."""
    from audit.demo import demo_season

    asked.season, schemas = demo_season()
    asked.schemas = asked.schemas or schemas
    asked.mapping = asked.reads = asked.detections = None
    asked.earlier = []
    asked.keep_answers = False
    check_season(asked)
    return FOUND_NOTHING


def list_rules(asked: argparse.Namespace) -> int:
    """List what the audit asks."""
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
    say("\n".join(lines))
    return FOUND_NOTHING


def tell_power(asked: argparse.Namespace) -> int:
    """Test what the audit would find in a season."""
    import numpy as np

    from audit.checking import check
    from audit.declarations import load_declarations
    from audit.practice.power import measure_power
    from audit.practice.power_files import write_power
    from audit.practice.power_text import power_text

    declared = load_declarations(asked.schemas)
    season = season_asked(asked, declared)
    rng = np.random.default_rng(asked.seed)
    power = measure_power(
        season, declared, lambda planted: check(planted, schemas=declared), rng, each=asked.each
    )
    lines = [power_text(power)]
    if asked.out is not None:
        lines += [
            "\nWritten:",
            *(f"  {path}" for path in write_power(power, asked.out, inputs=inputs_asked(asked))),
        ]
    say("\n".join(lines))
    return FOUND_NOTHING


def tell_ledger(asked: argparse.Namespace) -> int:
    """Tell what became of every ring and tag."""
    from audit.checking import check
    from audit.declarations import load_declarations
    from audit.handover.ledger.ledger_files import write_ledger
    from audit.handover.ledger.ledger_text import ledger_text
    from audit.showing import ledger

    declared = load_declarations(asked.schemas)
    season = season_asked(asked, declared)
    told = ledger(season, check(season, schemas=declared), schemas=declared)
    ledgers = told.season, told.ring_ledger, told.tag_ledger
    written = write_ledger(*ledgers, asked.out, inputs=inputs_asked(asked))
    say("\n".join([ledger_text(*ledgers), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def compare_typings(asked: argparse.Namespace) -> int:
    """Compare two typings of the same sheets."""
    from audit.checking import read_season
    from audit.comparing import double_entry
    from audit.declarations import load_declarations
    from audit.handover.differences.differences_files import write_differences
    from audit.handover.differences.differences_text import differences_text
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
    say("\n".join([differences_text(double, decisions), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_SOMETHING if double.report.above_notes else FOUND_NOTHING
