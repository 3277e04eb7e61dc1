"""Small decided seasons, and public archives read back by a library from outside."""

from __future__ import annotations

import csv
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
from dwca.read import DwCAReader

import audit
from audit.declarations import load_declarations
from audit.demo import demo_season
from audit.findings import Report
from audit.handover.clean.decided_season import DecidedSeason
from audit.handover.darwin_core.part import darwin_core_part
from audit.review.decisions import decide
from audit.review.places import decided_cell
from audit.review.replay import replay

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.review.decisions import Decision

PLANTED = Path(__file__).parent / "demo" / "planted-slips.csv"
CORE = "event.csv"
BIRDS = "occurrence.csv"
FACTS = "extendedmeasurementorfact.csv"
RELATIONS = "resourcerelationship.csv"


@cache
def shipped() -> Declarations:
    return load_declarations()


def decided_season(
    tables: Mapping[str, Sequence[Mapping[str, Any]]],
    declared: Declarations | None = None,
    decisions: Sequence[Decision] = (),
    report: Report | None = None,
    earlier: Sequence[Mapping[str, pd.DataFrame]] = (),
) -> DecidedSeason:
    """A season of rows by table; without a report nothing is found in it."""
    known = declared or shipped()
    frames = {name: pd.DataFrame(list(rows), dtype="str") for name, rows in tables.items()}
    season = audit.read_season(frames, schemas=known, earlier=earlier)
    replayed = replay(season, known, decisions)
    return DecidedSeason(season, replayed, tuple(decisions), report or Report(season.name, ()), known)


def sent_by(declared: Declarations, **facts: Any) -> Declarations:
    """Declarations with other facts about the sender; ``step`` and ``uncertainty`` are numbers."""
    limits = dict(declared.sender.limits)
    for name, key in (("step", "public_step_deg"), ("uncertainty", "uncertainty_m")):
        if name in facts:
            limits[key] = replace(limits[key], value=facts.pop(name))
    return replace(declared, sender=replace(declared.sender, limits=limits, **facts))


def packed(decided: DecidedSeason, folder: Path) -> Path:
    """Write the archive of a season and return where it is."""
    part = darwin_core_part(decided)
    ((_, write),) = part.files.items()
    path = folder / "archive.zip"
    write(path)
    return path


def settled_demo() -> DecidedSeason:
    """The demo season with every planted slip amended, and all that the audit still asks about kept."""
    path, schemas = demo_season()
    declared = load_declarations(schemas)
    season = audit.read_season(path, schemas=declared)
    with PLANTED.open(encoding="utf-8", newline="") as stream:
        slips = list(csv.DictReader(stream))
    amended = [
        decide(
            "AB",
            "amend",
            [decided_cell(season, f"{slip['sheet']}!{slip['row']}", slip["field"], slip["true"])],
        )
        for slip in slips
    ]
    report = audit.check(replay(season, declared, amended).season, schemas=declared)
    kept = [
        decide(
            "IP",
            "keep",
            [decided_cell(season, one.cell.label, one.cell.field, None) for one in finding.suspects],
        )
        for finding in report.above_notes
    ]
    decisions = (*amended, *kept)
    return DecidedSeason(season, replay(season, declared, decisions), decisions, report, declared)


@contextmanager
def opened(path: Path) -> Iterator[DwCAReader]:
    """Open an archive with the outside library."""
    with DwCAReader(str(path)) as reader:
        yield reader


def table(reader: DwCAReader, name: str) -> pd.DataFrame:
    """One file of an archive as texts; the outside library calls the identity of the core ``id``."""
    read = reader.pd_read(name, dtype=str, keep_default_na=False)
    return read.rename(columns={"id": "eventID"})
