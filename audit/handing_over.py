"""May a season be handed over, and the handing over itself."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import check, declarations_of
from audit.handover.clean.decided_season import DecidedSeason
from audit.handover.new_folder import at_home
from audit.intake.fingerprint import fingerprints
from audit.refusal import Refusal
from audit.review.log import DecisionLog, log_path
from audit.review.replay import replay

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from audit.declarations import Declarations
    from audit.handover.gate.gate import Gate
    from audit.handover.hand_over import Handover
    from audit.handover.part import Part
    from audit.season import FileRead, Season

    #: Logs of decisions: one, several, or None for the one beside the season.
    Logs = str | Path | Sequence[str | Path] | None

__all__ = ["gate", "hand_over", "write_gate"]


def gate(season: Season, log: Logs = None, *, schemas: str | Path | Declarations | None = None) -> Gate:
    """Ask whether a season may be handed over.

    Parameters
    ----------
    season : Season
        As typed, read by `audit.read_season`.
    log : path or several paths, optional
        Logs of decisions; by default the one beside the season, where there is one.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    Gate
        Shown as a page; ``is_open`` is the answer, ``shutting`` what holds the season back.

    Raises
    ------
    audit.refusal.Refusal
        A log that was named is not there or is none; the second engine is not installed.
    """
    from audit.handover.gate.gate import ask_gate

    declared = declarations_of(schemas)
    return ask_gate(_decided(season, _logs(season, log), declared))


def write_gate(
    season: Season, out: str | Path, log: Logs = None, *, schemas: str | Path | Declarations | None = None
) -> tuple[Gate, list[Path]]:
    """Ask whether a season may be handed over, and write the page and the second engine's results.

    Parameters
    ----------
    season, log, schemas
        As in `gate`.
    out : path
        Folder for ``gate.html`` and ``validation.json``, made when it is not there.

    Raises
    ------
    audit.refusal.Refusal
        As in `gate`, or the folder cannot be written to.
    """
    from audit.handover.folder import write_whole
    from audit.handover.gate.gate import ask_gate
    from audit.handover.gate.part import gate_part

    logs = _logs(season, log)
    decided = _decided(season, logs, declarations_of(schemas))
    answer = ask_gate(decided)
    files = {name.rpartition("/")[2]: write for name, write in gate_part(answer, decided).files.items()}
    read = [Path(one.path) for one in season.files]
    return answer, write_whole(files, at_home(out), [*read, *logs])


def hand_over(
    season: Season,
    out: str | Path,
    log: Logs = None,
    *,
    despite: str = "",
    who: str = "",
    schemas: str | Path | Declarations | None = None,
) -> Handover:
    """Write everything that goes out into a new folder: all of it, or nothing.

    Parameters
    ----------
    season : Season
        As typed, read by `audit.read_season`. Its files are not written to.
    out : path
        A folder that is not there yet.
    log : path or several paths, optional
        Logs of decisions; by default the one beside the season, where there is one.
    despite, who : str
        Why a season goes out although the gate is shut, and who takes it on; both are written into the
        handover with all that stays open. Without them a shut gate is a refusal.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    Handover
        Shown as what was written, and what is to be done before it is sent.

    Raises
    ------
    audit.refusal.Refusal
        The gate is shut; the folder is there already or cannot be written; a file was changed since it was
        read, or is open in a spreadsheet program.
    """
    from audit.handover.gate.gate import ask_gate
    from audit.handover.hand_over import refuse_early, refuse_shut, write_handover
    from audit.handover.handover_record import Despite

    declared = declarations_of(schemas)
    out = at_home(out)
    logs = _logs(season, log)
    files = (*season.files, *fingerprints(*logs))
    taken_on = Despite(who.strip(), despite.strip()) if despite or who else None
    refuse_early(season.name, out, files, taken_on)
    decided = _decided(season, logs, declared)
    answer = ask_gate(decided)
    refuse_shut(answer, taken_on)
    now = dt.datetime.now().astimezone().isoformat(timespec="seconds")
    return write_handover(
        answer,
        list(_parts(decided, answer, files)),
        out,
        files=files,
        declared=declared,
        decisions=len(decided.decisions),
        at=now,
        despite=taken_on,
    )


def _logs(season: Season, log: Logs) -> list[Path]:
    if log is None:
        path = log_path(season)
        return [path] if path is not None and path.exists() else []
    named = [Path(log)] if isinstance(log, str | Path) else [Path(one) for one in log]
    for path in named:
        if not path.exists():
            raise Refusal(
                "There is no such log of decisions.", where=str(path), cure="Name the file as it is called."
            )
    return named


def _decided(season: Season, logs: Iterable[Path], declared: Declarations) -> DecidedSeason:
    whole = DecisionLog.open(None)
    for path in logs:
        whole.merge(path)
    replayed = replay(season, declared, whole.decisions)
    report = check(replayed.season, schemas=declared)
    return DecidedSeason(season, replayed, tuple(whole.decisions), report, declared, whole.damaged)


def _parts(decided: DecidedSeason, answer: Gate, files: Sequence[FileRead]) -> Iterator[Part]:
    """Make all that goes out, in the order in which a person looks at it."""
    from audit.handover.clean.change_list import change_list_part
    from audit.handover.clean.clean_workbook import clean_workbook_part
    from audit.handover.clean.tidy_tables import tidy_tables_part
    from audit.handover.darwin_core.part import darwin_core_part
    from audit.handover.declarations_used import declarations_part
    from audit.handover.exchange.part import exchange_part
    from audit.handover.gate.part import gate_part
    from audit.handover.query.part import query_part
    from audit.handover.query.sheet import make_query
    from audit.handover.season_report.part import season_report_part

    before = check(decided.typed, schemas=decided.declared)
    inputs = [(Path(one.path).name, one.sha256) for one in files]
    sheet = make_query(
        decided.typed, decided.declared, decided.decisions, decided.report.findings, unasked=True
    )
    yield season_report_part(decided, before, inputs=inputs)
    yield clean_workbook_part(decided)
    yield change_list_part(decided)
    yield exchange_part(decided)
    yield tidy_tables_part(decided)
    yield darwin_core_part(decided)
    yield query_part(sheet)
    yield gate_part(answer, decided)
    yield declarations_part(decided.declared)
