"""Passages and the state of the antennas as files."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

import numpy as np

from audit.handover.folder import write_whole
from audit.handover.passages.clock_record import CLOCK_COLUMNS, clock_rows
from audit.handover.passages.efficiency_rows import EFFICIENCY_COLUMNS, efficiency_rows
from audit.handover.passages.passages_lines import passage_lines
from audit.handover.passages.passages_record import ANTENNAS, DIRECTIONS, HOW, STATES, moments
from audit.handover.table_file import guard

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from audit.handover.passages.passages_record import PassagesRecord

__all__ = [
    "HEALTH_COLUMNS",
    "PASSAGE_COLUMNS",
    "health_rows",
    "passage_rows",
    "passages_writers",
    "write_passages",
]

#: Columns of ``passages.csv``, in order. Only ever extended at the end.
PASSAGE_COLUMNS = ("box", "tag", "passage_at", "direction", "p", "how")
#: Columns of ``antenna_health.csv``, in order. Only ever extended at the end.
HEALTH_COLUMNS = ("box", "antenna", "from", "to", "state", "efficiency")
_AT_ONCE = 200_000


def write_passages(record: PassagesRecord, out: Path, *, inputs: Sequence[Path | None] = ()) -> list[Path]:
    """Write ``passages.csv``, ``antenna_health.csv``, ``antenna_efficiency.csv`` and clocks: all, or none.

    Parameters
    ----------
    out : Path
        Folder for the results, made when it is not there.
    inputs : sequence of Path
        Files and folders that were read: no result may replace them.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or a result would replace or join what was read.
    """
    return write_whole(passages_writers(record), out, inputs)


def passages_writers(record: PassagesRecord) -> dict[str, Callable[[Path], None]]:
    """Give the names of the files, and what writes each to a path; of clocks only where any are known."""
    writers: dict[str, Callable[[Path], None]] = {
        "passages.csv": lambda path: _write_lines(path, record),
        "antenna_health.csv": lambda path: _write(path, HEALTH_COLUMNS, health_rows(record)),
        "antenna_efficiency.csv": lambda path: _write(path, EFFICIENCY_COLUMNS, efficiency_rows(record)),
    }
    if record.clocks:
        writers["logger_clock.csv"] = lambda path: _write(path, CLOCK_COLUMNS, clock_rows(record.clocks))
    return writers


def _write(path: Path, columns: Sequence[str], rows: Iterator[tuple[str, ...]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)


def _write_lines(path: Path, record: PassagesRecord) -> None:
    with path.open("wb") as stream:
        stream.write((",".join(PASSAGE_COLUMNS) + "\n").encode())
        stream.writelines(passage_lines(record))


def passage_rows(record: PassagesRecord) -> Iterator[tuple[str, ...]]:
    """Give the lines of ``passages.csv``: by box, moment, tag and direction."""
    found = record.passages
    boxes, tags = [guard(box) for box in record.boxes], [guard(tag) for tag in record.tags]
    for start in range(0, len(found.at), _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        yield from zip(
            [boxes[code] for code in found.box[part].tolist()],
            [tags[code] for code in found.tag[part].tolist()],
            moments(found.at[part], exact=record.exact, zoned=record.zoned),
            [DIRECTIONS[code] for code in found.direction[part].tolist()],
            [f"{p:.4f}" for p in found.p[part].tolist()],
            [HOW[code] for code in found.how[part].tolist()],
            strict=True,
        )


def health_rows(record: PassagesRecord) -> Iterator[tuple[str, ...]]:
    """Give the lines of ``antenna_health.csv``: by box, antenna and moment."""
    spells = record.spells
    known = np.isfinite(spells.efficiency).tolist()
    yield from zip(
        [guard(record.boxes[code]) for code in spells.box.tolist()],
        [ANTENNAS[code] for code in spells.antenna.tolist()],
        moments(spells.start, exact=record.exact, zoned=record.zoned),
        moments(spells.end, exact=record.exact, zoned=record.zoned),
        [STATES[code] for code in spells.state.tolist()],
        [
            f"{value:.4f}" if told else ""
            for value, told in zip(spells.efficiency.tolist(), known, strict=True)
        ],
        strict=True,
    )
