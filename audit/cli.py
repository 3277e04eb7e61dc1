"""The command line: a thin shell over the front door."""

from __future__ import annotations

import io
import os
import sys
from importlib import import_module
from typing import TYPE_CHECKING, Any

from audit.call import DRILLS, MARKED_DRILLS, parser
from audit.refusal import GateRefusal, Refusal

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.remeasuring import Measuring, MeasuringSheet
    from audit.season import Season

__all__ = ["main"]

FOUND_NOTHING, FOUND_SOMETHING, REFUSED = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Returns
    -------
    int
        0: nothing above a note; 1: errors or suspects, or the gate is shut; 2: the season or a declaration
        could not be read, or the results not be written.
    """
    for stream in (sys.stdout, sys.stderr):
        # An old terminal may not know every sign that was typed: it gets an escape rather than a fault.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    asked = parser().parse_args(arguments)
    try:
        code = _VERBS[asked.verb](asked)
    except Refusal as refusal:
        print(
            f"nestproof: {refusal.what}\n  where: {refusal.where}\n  cure:  {refusal.cure}", file=sys.stderr
        )
        return FOUND_SOMETHING if isinstance(refusal, GateRefusal) else REFUSED
    return code


def _check(asked: argparse.Namespace) -> int:
    from audit.charts.beside import drawing_beside

    # the drawing program starts while the season is read and audited
    with drawing_beside():
        return _checked(asked)


def _checked(asked: argparse.Namespace) -> int:
    from audit.checking import check
    from audit.declarations import load_declarations
    from audit.handover.folder import write_outputs
    from audit.handover.kept_file import read_kept, write_kept
    from audit.handover.summary import summary_text

    declared = load_declarations(asked.schemas)
    season = _season(asked, declared)
    kept = read_kept(asked.out, season, declared) if asked.keep_answers else None
    report = check(season, schemas=declared, kept=kept)
    also_read = _inputs(asked)[1:]
    written = write_outputs(season, report, declared, asked.season, asked.out, also_read=also_read)
    if kept is not None:
        write_kept(asked.out, kept, declared)
    _say("\n".join([summary_text(report), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_SOMETHING if report.above_notes else FOUND_NOTHING


def _blank(asked: argparse.Namespace) -> int:
    from audit.declarations import load_declarations
    from audit.handover.blank_season.workbook import write_blank_season

    written = write_blank_season(load_declarations(asked.schemas), asked.out)
    _say("\n".join(["Written:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def _demo(asked: argparse.Namespace) -> int:
    from audit.demo import demo_season

    asked.season, schemas = demo_season()
    asked.schemas = asked.schemas or schemas
    asked.mapping = asked.reads = asked.detections = None
    asked.earlier = []
    asked.keep_answers = False
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
    from audit.handover.ledger.ledger_files import write_ledger
    from audit.handover.ledger.ledger_text import ledger_text
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


def _gate(asked: argparse.Namespace) -> int:
    from audit.declarations import load_declarations
    from audit.handing_over import gate, write_gate
    from audit.handover.gate.text import gate_text

    declared = load_declarations(asked.schemas)
    season = _season(asked, declared)
    if asked.out is None:
        answer = gate(season, asked.decisions, schemas=declared)
        # there is no page that could hold the rest
        lines = [gate_text(answer, shown=len(answer.shutting))]
    else:
        answer, written = write_gate(season, asked.out, asked.decisions, schemas=declared)
        lines = [repr(answer), "\nWritten:", *(f"  {path}" for path in written)]
    _say("\n".join(lines))
    return FOUND_NOTHING if answer.is_open else FOUND_SOMETHING


def _handover(asked: argparse.Namespace) -> int:
    from audit.declarations import load_declarations
    from audit.handing_over import hand_over

    declared = load_declarations(asked.schemas)
    season = _season(asked, declared)
    handed = hand_over(
        season, asked.out, asked.decisions, despite=asked.despite, who=asked.who, schemas=declared
    )
    _say(repr(handed))
    return FOUND_NOTHING


def _passages(asked: argparse.Namespace) -> int:
    from audit.passing import passages

    if asked.season is None:
        beside = (asked.reads, asked.mapping, *asked.earlier)
        if any(beside):
            raise Refusal(
                "Files that stand beside a season were named, but no season.",
                where="nestproof passages",
                cure="Name the season with --season.",
            )
        passed = passages(asked.log, schemas=asked.schemas, set_clock=not asked.clock_as_logged)
        written = passed.write(asked.out)
        _say("\n".join([repr(passed), "\nWritten:", *(f"  {path}" for path in written)]))
        return FOUND_NOTHING
    from audit.declarations import load_declarations
    from audit.hearing import heard

    declared = load_declarations(asked.schemas)
    # read first, since a log may take long
    season = _season(asked, declared)
    both = heard(asked.log, season, schemas=declared, set_clock=not asked.clock_as_logged)
    written = both.write(asked.out, inputs=_inputs(asked))
    _say("\n".join([repr(both.passed), "", repr(both), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def _archive(asked: argparse.Namespace) -> int:
    from audit.archiving import audit_archive

    audited = audit_archive(
        asked.sources,
        asked.out,
        schemas=asked.schemas,
        memory_mb=asked.memory,
        master=asked.master,
        parquet=asked.parquet,
        whole=asked.whole,
        tell=lambda what: print(what, file=sys.stderr, flush=True),
    )
    _say(
        "\n".join(
            [
                repr(audited),
                "\nWritten:",
                f"  {asked.out / 'summary.html'}, the same as text, and the findings by season",
            ]
        )
    )
    return FOUND_SOMETHING if audited.found_something else FOUND_NOTHING


def _practise(asked: argparse.Namespace) -> int:
    from audit.drilling import drill_of_answers
    from audit.practice.exercise.progress import PROGRESS
    from audit.practising import mark_practice, practice_overview, practise

    progress = asked.progress or asked.out / PROGRESS
    if asked.overview:
        view = practice_overview(progress, schemas=asked.schemas)
        told, written = repr(view), view.write(asked.out)
    elif asked.marked is not None:
        drill = asked.drill or drill_of_answers(asked.marked, schemas=asked.schemas)
        mark = mark_practice
        if drill in MARKED_DRILLS:
            module, verb = MARKED_DRILLS[drill]
            mark = getattr(import_module(module), verb)
        marked = mark(asked.marked, progress, schemas=asked.schemas)
        told, written = repr(marked), marked.write(asked.out, [asked.marked])
    elif asked.drill is not None:
        begun = _begin_drill(asked, progress)
        told, written = repr(begun), begun.write(asked.out, paper=asked.paper)
    else:
        practice = practise(
            asked.trainee,
            species=asked.species or "barn_owl",
            level=asked.level,
            seed=asked.seed,
            progress=progress,
            schemas=asked.schemas,
        )
        told, written = repr(practice), practice.write(asked.out, paper=asked.paper)
    _say("\n".join([told, "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def _begin_drill(asked: argparse.Namespace, progress: Path) -> Any:  # noqa: ANN401 - a round of any drill
    """Begin a drill with what was wished for; what it does not take is refused, not dropped."""
    module, verb, takes = DRILLS[asked.drill]
    wishes = {name: getattr(asked, name) for name in ("species", "level", "seed")}
    wishes = {name: wish for name, wish in wishes.items() if wish is not None}
    odd = [name for name in wishes if name not in takes]
    if odd:
        raise Refusal(
            f"The {asked.drill} drill has no {odd[0]}.",
            where=f"--{odd[0]}",
            cure=f"Leave it out; the drill takes {', '.join(f'--{name}' for name in takes)}.",
        )
    return getattr(import_module(module), verb)(
        asked.trainee, progress=progress, schemas=asked.schemas, **wishes
    )


def _measuring(asked: argparse.Namespace) -> int:
    from audit.remeasuring import measuring, measuring_sheet

    if (asked.sheet is None) == (asked.blank is None):
        raise Refusal(
            "No sheet is named." if asked.sheet is None else "A sheet is named, and a blank one asked for.",
            where="nestproof measuring",
            cure="Name the sheet to be read, or ask for a blank one with --blank AB,MK; one of both.",
        )
    told: Measuring | MeasuringSheet
    if asked.blank is not None:
        told = measuring_sheet(
            asked.blank,
            asked.birds,
            repeats=asked.repeats,
            measures=asked.measures,
            seed=asked.seed,
            schemas=asked.schemas,
        )
        written = told.write(asked.out, paper=asked.paper)
    else:
        told = measuring(
            asked.sheet, trainer=asked.trainer, across_days=asked.across_days, schemas=asked.schemas
        )
        written = told.write(asked.out)
    _say("\n".join([repr(told), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


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


#: What each verb does.
_VERBS: Mapping[str, Callable[[argparse.Namespace], int]] = {
    "check": _check,
    "blank": _blank,
    "demo": _demo,
    "rules": _rules,
    "power": _power,
    "ledger": _ledger,
    "clean": _clean,
    "merge": _merge,
    "questions": _questions,
    "answers": _answers,
    "compare": _compare,
    "gate": _gate,
    "handover": _handover,
    "passages": _passages,
    "archive": _archive,
    "measuring": _measuring,
    "practise": _practise,
}


if __name__ == "__main__":
    sys.exit(main())
