"""Hand a decided season over: all parts in one new folder, or nothing at all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.handover.checksums import LIST_NAME, checksum_list, checksums_in, refuse_changed
from audit.handover.cover_page import cover_page, cover_piece, cover_text
from audit.handover.gate.wording import headline
from audit.handover.handover_record import (
    FileSum,
    HandoverRecord,
    PartTold,
    declaration_names,
    record_text,
    sums_of_inputs,
    versions,
)
from audit.handover.new_folder import new_folder, refuse_place
from audit.handover.open_elsewhere import refuse_open_elsewhere
from audit.refusal import GateRefusal, Refusal

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.handover.gate.gate import Gate
    from audit.handover.handover_record import Despite
    from audit.handover.part import Part
    from audit.season import FileRead

__all__ = ["Handover", "refuse_early", "refuse_shut", "write_handover"]

_COVER = "index.html"
_RECORD = "handover.json"


@dataclass(frozen=True, slots=True)
class Handover:
    """A season that was handed over.

    Attributes
    ----------
    folder : Path
        Where it lies.
    record : HandoverRecord
        What went out, made from what, and what stayed open.
    """

    folder: Path
    record: HandoverRecord

    def __repr__(self) -> str:
        return cover_text(self.record, str(self.folder))

    def _repr_html_(self) -> str:
        return cover_piece(self.record, str(self.folder))


def refuse_early(season: str, out: Path, files: Iterable[FileRead], despite: Despite | None) -> None:
    """Refuse what can be refused before anything is asked or made.

    Raises
    ------
    audit.refusal.Refusal
        The place is taken; a file that was read is open elsewhere or was changed since; the reason or the
        initials of who takes a shut gate on are missing.
    """
    refuse_place(out)
    files = list(files)
    refuse_open_elsewhere(files)
    refuse_changed(files)
    if despite is not None and not (despite.who.strip() and despite.why.strip()):
        raise Refusal(
            "A season that is not right yet goes out only under somebody's name, with a reason.",
            where=season,
            cure="Give both the initials and the reason.",
        )


def refuse_shut(gate: Gate, despite: Despite | None) -> None:
    """Refuse to make anything while the gate is shut and nobody takes it on.

    Raises
    ------
    audit.refusal.GateRefusal
        What is open, and how it is settled.
    """
    if not gate.is_open and despite is None:
        raise GateRefusal(
            f"Nothing was written. {headline(gate)}",
            where=gate.season,
            cure="Decide what is open (at the desk, or by the query sheet), or name who takes it on and why: "
            "what stays open is then written into the handover.",
        )


def write_handover(
    gate: Gate,
    parts: Sequence[Part],
    out: Path,
    *,
    files: Sequence[FileRead],
    declared: Declarations,
    decisions: int,
    at: str,
    despite: Despite | None = None,
) -> Handover:
    """Write all parts, their record, cover and checksums into a new folder.

    Parameters
    ----------
    gate : Gate
        What it said of the season.
    parts : sequence of Part
        What goes out.
    out : Path
        The folder to be.
    files : sequence of FileRead
        What was read: season, log of decisions, and whatever lay beside them.
    decisions : int
        How many decisions the log held.
    at : str
        Now, as ISO 8601 with offset.
    despite : Despite, optional
        Why it goes out although the gate is shut.

    Raises
    ------
    audit.refusal.Refusal
        As `refuse_early` and `refuse_shut`, or the disk is full; there is no folder then.
    """
    refuse_early(gate.season, out, files, despite)
    refuse_shut(gate, despite)
    record = HandoverRecord(
        season=gate.season,
        made_at=at,
        gate_open=gate.is_open,
        despite=None if gate.is_open else despite,
        left_open=tuple(": ".join(filter(None, (item.where, item.says))) for item in gate.shutting),
        parts=tuple(PartTold(part.title, tuple(part.files), part.told) for part in parts),
        inputs=sums_of_inputs(files),
        outputs=(),
        versions=versions(),
        declarations=declaration_names(declared),
        decisions=decisions,
    )
    with new_folder(out) as folder:
        for part in parts:
            for name, write in part.files.items():
                path = folder / name
                path.parent.mkdir(parents=True, exist_ok=True)
                write(path)
        record = replace(record, outputs=tuple(FileSum(*one) for one in checksums_in(folder)))
        for name, text in ((_RECORD, record_text(record)), (_COVER, cover_page(record))):
            (folder / name).write_text(text, encoding="utf-8", newline="\n")
        sums = checksum_list(checksums_in(folder))
        (folder / LIST_NAME).write_text(sums, encoding="utf-8", newline="\n")
        # what was changed while it was being written is not what lies in the folder
        refuse_changed(files)
    return Handover(out, record)
