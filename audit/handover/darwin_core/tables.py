"""All tables of the public archive of a season, and what its sender must know."""

from __future__ import annotations

import csv
import hashlib
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.darwin_core.dataset import coverage_of, dataset_title, licence_of, metadata_file
from audit.handover.darwin_core.events import EVENT_COLUMNS, events_of, season_name
from audit.handover.darwin_core.measurements import measurements_of
from audit.handover.darwin_core.metafile import FILES, metafile
from audit.handover.darwin_core.nights import nights_of
from audit.handover.darwin_core.occurrences import OCCURRENCE_COLUMNS, handled, occurrences_of
from audit.handover.darwin_core.organisms import organisms
from audit.handover.darwin_core.relationships import RELATIONSHIP_COLUMNS, relationships_of
from audit.handover.darwin_core.season_rows import season_rows
from audit.handover.darwin_core.told import told_of
from audit.review.page_look import piece
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    import pandas as pd

    from audit.handover.clean.decided_season import DecidedSeason

__all__ = ["DarwinCoreTables", "darwin_core_tables"]


@dataclass(frozen=True, slots=True)
class DarwinCoreTables:
    """What goes into the archive. All columns are texts, rows in the order of their names.

    Attributes
    ----------
    title : str
    events, occurrences, measurements, relationships : pandas.DataFrame
        ``events`` is the core; the others are tied to it by ``eventID``.
    files : mapping of str to bytes
        All files of the archive, ready to be packed.
    told : tuple of str
        What the sender must know.
    """

    title: str
    events: pd.DataFrame
    occurrences: pd.DataFrame
    measurements: pd.DataFrame
    relationships: pd.DataFrame
    files: dict[str, bytes]
    told: tuple[str, ...]

    def _repr_html_(self) -> str:
        kinds = self.events["eventType"].value_counts(sort=False)
        bases = self.occurrences["basisOfRecord"].value_counts(sort=False)
        types = self.measurements["measurementType"].value_counts(sort=False)
        lines = [
            ("Events", len(self.events), kinds),
            ("Occurrences", len(self.occurrences), bases),
            ("Measurements and facts", len(self.measurements), types),
        ]
        rows = "".join(
            f'<tr><th style="text-align:left">{name}</th><td>{count:,}</td><td style="text-align:left">'
            f"{safe(', '.join(f'{word} {number:,}' for word, number in sorted(inside.items())))}</td></tr>"
            for name, count, inside in lines
        )
        told = "".join(f"<li>{safe(sentence)}</li>" for sentence in self.told)
        return piece(
            f'<p class="lead">Public archive: {safe(self.title)}</p><table>{rows}</table><ul>{told}</ul>'
        )


def darwin_core_tables(decided: DecidedSeason) -> DarwinCoreTables:
    """Lay out the public archive of a decided season."""
    declared = decided.declared
    terms = declared.darwin_core
    rows = season_rows(decided)
    birds = organisms(decided, rows)
    season = season_name(rows)
    nights = nights_of(season, rows, birds, terms)
    named = handled(season, rows, birds)
    events = events_of(season, rows, nights, declared)
    tables = {
        "event": events[list(EVENT_COLUMNS)],
        "occurrence": occurrences_of(named, rows, birds, nights, declared)[list(OCCURRENCE_COLUMNS)],
        "measurement": measurements_of(season, named, rows, birds, nights, declared),
        "relationship": relationships_of(named, rows, birds, terms)[list(RELATIONSHIP_COLUMNS)],
    }
    title = dataset_title(decided.clean.name, declared)
    constants = {
        "datasetName": title,
        "license": licence_of(declared),
        "rightsHolder": declared.sender.team,
    }
    written = {kind: table for kind, table in tables.items() if len(table) or kind == "event"}
    files = {FILES[kind]: _written(table) for kind, table in written.items()}
    digest = hashlib.sha256(b"\x00".join(files.values())).hexdigest()
    files["meta.xml"] = metafile(
        {kind: list(table.columns) for kind, table in written.items()},
        {name: value for name, value in constants.items() if value},
        terms,
    )
    files["eml.xml"] = metadata_file(
        decided.clean.name,
        declared,
        coverage_of(tables["event"], tables["occurrence"]),
        fingerprint=digest,
        decisions=len(decided.replayed.applied) + len(decided.replayed.kept),
    )
    told = told_of(season, rows, nights, tables["event"], tables["occurrence"], declared)
    return DarwinCoreTables(
        title=title,
        events=tables["event"],
        occurrences=tables["occurrence"],
        measurements=tables["measurement"],
        relationships=tables["relationship"],
        files=files,
        told=told,
    )


def _written(table: pd.DataFrame) -> bytes:
    """Write a table as the metafile says: UTF-8, commas, quotes doubled within quotes."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(table.columns)
    writer.writerows(zip(*(table[name].tolist() for name in table.columns), strict=True))
    return stream.getvalue().encode("utf-8")
