"""The file of progress: one line for each marked sheet or round of a drill, added and never changed."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from audit.practice.exercise.drill_record import DrillRecord, drill_in, drill_line, is_drill
from audit.practice.exercise.sheet_record import line_of, record_in
from audit.refusal import Refusal
from audit.review.log_disk import add, flush_folder, held, piece
from audit.review.log_lines import LineFault
from audit.review.log_records import Damaged, shown

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.practice.exercise.sheet_record import SheetRecord

__all__ = ["PROGRESS", "Progress", "add_record", "read_progress"]

#: Name of the file in the folder of practice.
PROGRESS = "practice.progress.jsonl"
_ADD = os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0)
_MARK = b'{"form":'


@dataclass(frozen=True, slots=True)
class Progress:
    """All marked sheets of a file.

    Attributes
    ----------
    records : tuple of SheetRecord
        The first marking of each sheet of each trainee, in the order of the file.
    again : tuple of SheetRecord
        Sheets that were marked again with other answers: the key was known by then, so they do not count.
    damaged : tuple of Damaged
        Lines that do not count; they stay in the file as they are.
    drills : tuple of DrillRecord
        The first handing in of each round of a drill of each trainee, in the order of the file.
    """

    records: tuple[SheetRecord, ...] = ()
    again: tuple[SheetRecord, ...] = ()
    damaged: tuple[Damaged, ...] = ()
    drills: tuple[DrillRecord, ...] = ()

    def drills_of(self, trainee: str, drill: str) -> tuple[DrillRecord, ...]:
        """Choose the rounds of one drill of one trainee."""
        return tuple(one for one in self.drills if (one.who, one.drill) == (trainee, drill))

    def of(self, trainee: str) -> tuple[SheetRecord, ...]:
        """Sheets of one trainee."""
        return tuple(record for record in self.records if record.who == trainee)

    @property
    def trainees(self) -> tuple[str, ...]:
        """Initials of all, in alphabetical order."""
        sheets, drills = {one.who for one in self.records}, {one.who for one in self.drills}
        return tuple(sorted(sheets | drills))


def read_progress(path: Path | None) -> Progress:
    """Read a file of progress; one that is not there yet holds nothing.

    Raises
    ------
    audit.refusal.Refusal
        It cannot be read, or is another file.
    """
    if path is None:
        return Progress()
    path = Path(path)
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Progress()
    except OSError as fault:
        _refuse(path, "The file of progress cannot be read", fault)
    return _progress(path, data)


def add_record(path: Path, record: SheetRecord | DrillRecord) -> bool:
    """Add a marked sheet or a round of a drill: it is on the disk when this returns.

    Parameters
    ----------
    path : Path
        The file; it is made when it is not there.

    Returns
    -------
    bool
        Whether it was added: the same sheet with the same answers is kept once.

    Raises
    ------
    audit.refusal.Refusal
        It cannot be written, and is not kept: with place and cure.
    """
    path = Path(path)
    is_new = not path.exists()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = os.open(path, _ADD, 0o666)
    except OSError as fault:
        _refuse(path, "The marked sheet was not kept, since its file cannot be written", fault)
    try:
        with held(file):
            data = piece(file, 0, os.fstat(file).st_size)
            known = _progress(path, data)
            sheets = {one.identity for one in (*known.records, *known.again)}
            if record.identity in sheets | {one.identity for one in known.drills}:
                return False
            # a line that was cut off stays where it is, and the next one begins below it
            start = b"\n" if data and not data.endswith(b"\n") else b""
            add(file, start + _line(record) + b"\n")
            os.fsync(file)
    except OSError as fault:
        _refuse(path, "It is not certain that the marked sheet was kept", fault)
    finally:
        os.close(file)
    if is_new:
        flush_folder(path.parent)
    return True


def _progress(path: Path, data: bytes) -> Progress:
    lines = data.split(b"\n")
    if data.strip() and not any(line.lstrip(b"\xef\xbb\xbf").startswith(_MARK) for line in lines):
        raise Refusal(
            "This file holds no progress of practice.",
            where=str(path),
            cure=f"Name a file that 'nestproof practise' wrote ({PROGRESS}), or move this one away.",
        )
    damaged: list[Damaged] = []
    read: list[SheetRecord] = []
    drills: dict[str, DrillRecord] = {}
    for number, line in enumerate(lines, 1):
        plain = line.removeprefix(b"\xef\xbb\xbf").strip()
        if not plain:
            continue
        try:
            if is_drill(plain):
                drill = drill_in(plain)
                drills.setdefault(drill.sheet, drill)
            else:
                read.append(record_in(plain))
        except LineFault as fault:
            damaged.append(Damaged(path, number, str(fault), shown(plain)))
    return Progress(*_first(read), tuple(damaged), tuple(drills.values()))


def _line(record: SheetRecord | DrillRecord) -> bytes:
    return drill_line(record) if isinstance(record, DrillRecord) else line_of(record)


def _first(read: Iterable[SheetRecord]) -> tuple[tuple[SheetRecord, ...], tuple[SheetRecord, ...]]:
    records: dict[str, SheetRecord] = {}
    again: dict[str, SheetRecord] = {}
    for record in read:
        first = records.setdefault(record.sheet, record)
        if first.identity != record.identity:
            again.setdefault(record.identity, record)
    return tuple(records.values()), tuple(again.values())


def _refuse(path: Path, what: str, fault: OSError) -> NoReturn:
    cure = "See that you may read and write there, with room on the disk, or name another folder."
    if isinstance(fault, TimeoutError):
        cure = "Close the other programs that practise in this folder, then try again."
    raise Refusal(f"{what}: {fault.strerror or fault}.", where=str(path), cure=cure) from fault
