"""What a trainee has done: in a file of progress, or for as long as the program runs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Generic, TypeVar

from audit.practice.exercise.progress import add_record, read_progress

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from audit.practice.exercise.drill_record import DrillRecord
    from audit.practice.exercise.progress import Progress
    from audit.practice.exercise.sheet_record import SheetRecord

__all__ = ["Kept"]

Record = TypeVar("Record", bound="SheetRecord | DrillRecord")


class Kept(Generic[Record]):
    """Records of one trainee.

    Parameters
    ----------
    path : Path or None
        The file of progress; None for practice of which nothing is kept.
    choose : callable
        From all that a file holds to the records of this trainee.
    """

    def __init__(self, path: Path | None, choose: Callable[[Progress], tuple[Record, ...]]) -> None:
        self.path = path
        self._choose = choose
        self._own: list[Record] = []

    @property
    def records(self) -> tuple[Record, ...]:
        """In the order in which they were handed in; of each sheet or round the first."""
        if self.path is not None:
            return self._choose(read_progress(self.path))
        return tuple({record.sheet: record for record in reversed(self._own)}.values())[::-1]

    def add(self, record: Record) -> None:
        """Keep a record.

        Raises
        ------
        audit.refusal.Refusal
            The file cannot be written.
        """
        if self.path is not None:
            add_record(self.path, record)
        else:
            self._own.append(record)
