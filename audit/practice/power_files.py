"""A self-test as files: a table for further work, and a page to read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.folder import write_whole
from audit.handover.table_file import write_table
from audit.practice.power_page import power_page

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from audit.models.interval import Share
    from audit.practice.power import Power

__all__ = ["COLUMNS", "write_power"]

#: Columns of the table, in order.
COLUMNS = (
    "field",
    "kind",
    "says",
    "planted",
    "found",
    "found_share",
    "found_low",
    "found_high",
    "mended",
    "mended_share",
    "mended_low",
    "mended_high",
)

_DIGITS = 4


def write_power(power: Power, out: Path, *, inputs: Sequence[Path | None] = ()) -> list[Path]:
    """Write ``power.csv`` and ``power.html``.

    Parameters
    ----------
    out : Path
        Folder for the results, made when it is not there.
    inputs : sequence of Path
        Files that were read: no result may replace them.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or a result would replace a file that was read.
    """
    writers = {
        "power.csv": lambda path: write_table(path, _rows(power)),
        "power.html": lambda path: path.write_text(power_page(power), encoding="utf-8", newline="\n"),
    }
    return write_whole(writers, out, inputs)


def _rows(power: Power) -> Iterator[Sequence[object]]:
    yield COLUMNS
    for tally in power.tallies:
        head = (tally.field, tally.kind, tally.says, tally.planted)
        yield (*head, *_cells(tally.found), *_cells(tally.mended))


def _cells(share: Share) -> Iterator[object]:
    yield share.hits
    yield from (round(number, _DIGITS) for number in (share.value, share.low, share.high))
