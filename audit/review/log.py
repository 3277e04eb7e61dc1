"""The log of decisions: a file to which lines are added, and in which nothing is ever changed."""

from __future__ import annotations

import errno
import os
import stat
import threading
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from audit.refusal import Refusal
from audit.review.log_disk import add, flush_folder, held, piece
from audit.review.log_lines import MARK, line_of
from audit.review.log_records import Damaged, Records, shown
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.review.decisions import Decision
    from audit.season import Season

__all__ = ["Damaged", "DecisionLog", "log_beside", "log_path"]

_ENDING = ".decisions.jsonl"
#: So much of a file, in bytes, tells whether it is a text at all.
_LOOKED_AT = 65536
#: So much of what was read, in bytes, is compared before reading on.
_COMPARED = 256
_READ = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
_ADD = os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)


def log_path(season: Season) -> Path | None:
    """Name the log of a season: beside its workbook or its folder of csv files; None for data frames."""
    source = Path(season.source)
    return log_beside(source) if season.source and source.exists() else None


def log_beside(source: Path) -> Path:
    """Name the log of a workbook, or of a folder of csv files, whether it is there or not."""
    if source.is_dir():
        source = source.resolve()
        return source.parent / f"{source.name}{_ENDING}"
    return source.with_name(f"{source.stem}{_ENDING}")


class DecisionLog:
    """All decisions about a season, each one line of a file.

    A line is on the disk before `append` returns. Several programs may add to one file at a time. Nothing is
    ever changed or taken out: a line that was cut off stays where it is, and the next one begins below it.

    Attributes
    ----------
    path : Path or None
        The file; None for a log in memory only.
    decisions : tuple of Decision
        In the order of the file.
    damaged : tuple of Damaged
        Lines that do not count.
    notices : tuple of str
        What a person should know, such as that lines had vanished from the file and were written again.
    """

    def __init__(self, path: Path | None) -> None:
        self.path = path
        self.notices: tuple[str, ...] = ()
        self._records = Records()
        self._decisions: tuple[Decision, ...] | None = None
        self._told: list[Damaged] = []
        self._at_once = threading.RLock()
        self._forget_file()

    def _forget_file(self) -> None:
        self._file: tuple[int, int] | None = None
        self._read_to = 0
        self._lines_read = 0
        self._last = b""
        self._rest = b""
        self._stands_in: set[bytes] = set()
        self._damaged: list[Damaged] = []
        self._torn: tuple[Damaged, ...] = ()

    @classmethod
    def open(cls, path: Path | None) -> DecisionLog:
        """Read a log; a file that is not there yet is made by the first decision.

        Raises
        ------
        audit.refusal.Refusal
            Something else stands there, or it may not be read.
        """
        log = cls(None if path is None else Path(path))
        log.news()
        return log

    @property
    def decisions(self) -> tuple[Decision, ...]:
        """All decisions that count, in the order of the file."""
        if self._decisions is None:
            self._decisions = self._records.decisions
        return self._decisions

    @property
    def damaged(self) -> tuple[Damaged, ...]:
        """Lines that do not count, of this log and of those merged into it."""
        return (*self._damaged, *self._torn, *self._told)

    @property
    def lines(self) -> Mapping[str, Sequence[bytes]]:
        """Lines as they stand in the file, by identity: more than one where they say different things."""
        return self._records.lines

    def append(self, decision: Decision) -> None:
        """Take a decision: it is on the disk when this returns.

        To take the same decision twice, as after a doubtful failure, is to take it once.

        Raises
        ------
        audit.refusal.Refusal
            It cannot be written, and is not taken: with place and cure.
        ValueError
            Another decision has its identity.
        """
        with self._at_once:
            line = line_of(decision)
            known = self._records.lines.get(decision.identity)
            if known and not self._records.has(line):
                raise ValueError(f"another decision has the identity {decision.identity}")
            self._add([line])
            if self._records.get(decision.identity) != decision:
                raise Refusal(
                    "The decision was written, but does not stand in the file as it should.",
                    where=str(self.path),
                    cure="Look whether another program changes the file, then decide again.",
                )

    def merge(self, other: Path) -> int:
        """Add all that stands in another log and not in this one; the other is only read.

        Returns
        -------
        int
            How many lines were added.

        Raises
        ------
        audit.refusal.Refusal
            The other is no log or is not there, or this one cannot be written.
        """
        other = Path(other)
        if not other.exists():
            raise Refusal(
                "There is no such log of decisions.", where=str(other), cure="Name the file as it is called."
            )
        theirs = DecisionLog.open(other)
        with self._at_once:
            if self.path is not None and self.path.exists() and self.path.samefile(other):
                return 0
            self.news()
            before = sum(map(len, self._records.lines.values()))
            lines = [line for said in theirs.lines.values() for line in said if not self._records.has(line)]
            self._add(lines)
            known = {str(one) for one in self.damaged}
            self._told += [one for one in theirs.damaged if str(one) not in known]
            return sum(map(len, self._records.lines.values())) - before

    def news(self) -> bool:
        """Read what other programs have added since; say whether that was anything."""
        if self.path is None:
            return False
        with self._at_once:
            before = self.decisions
            try:
                file = os.open(self.path, _READ)
            except FileNotFoundError:
                return False
            except OSError as fault:
                self._refuse("The log of decisions cannot be read", fault)
            try:
                self._read_on(self.path, file)
            except OSError as fault:
                self._refuse("The log of decisions cannot be read", fault)
            finally:
                os.close(file)
            return self.decisions != before

    def _add(self, lines: Sequence[bytes]) -> None:
        """Write lines behind all others, at once, and wait for the disk."""
        if self.path is None:
            for line in lines:
                self._records.take(line)
            self._decisions = None
            return
        is_new = not self.path.exists()
        what = "The decision was not taken, since its log cannot be written"
        try:
            file = os.open(self.path, _ADD, 0o666)
        except OSError as fault:
            self._refuse(what, fault)
        try:
            with held(file):
                self._read_on(self.path, file)
                gone = [line for said in self.lines.values() for line in said if line not in self._stands_in]
                data = b"".join(b"%s\n" % line for line in [*gone, *self._new(lines, gone)])
                add(file, b"\n" + data if data and self._rest else data)
                what = "It is not certain that the decision was kept"
                os.fsync(file)
                self._read_on(self.path, file)
        except OSError as fault:
            self._refuse(what, fault)
        finally:
            os.close(file)
        if is_new:
            flush_folder(self.path.parent)
        if gone:
            were = "was" if len(gone) == 1 else "were"
            vanished = f"{counted(len(gone), 'decision')} had vanished from {self.path.name}"
            self.notices += (f"{vanished} and {were} written into it again.",)

    def _new(self, lines: Sequence[bytes], gone: Sequence[bytes]) -> list[bytes]:
        return [line for line in lines if line not in self._stands_in and line not in gone]

    def _read_on(self, path: Path, file: int) -> None:
        """Read from where reading stopped; from the start where the file is another one."""
        now = os.fstat(file)
        if not stat.S_ISREG(now.st_mode):
            self._refuse("What has the name of the log of decisions is no file", None)
        if not self._goes_on(file, now):
            self._forget_file()
            self._file = now.st_dev, now.st_ino
            _refuse_other(path, piece(file, 0, _LOOKED_AT))
        data = piece(file, self._read_to, now.st_size - self._read_to)
        end = data.rfind(b"\n") + 1
        for line in data[:end].split(b"\n")[:-1]:
            self._lines_read += 1
            why = self._records.take(line)
            if why:
                self._damaged.append(Damaged(path, self._lines_read, why, shown(line)))
            self._stands_in.add(line.removeprefix(b"\xef\xbb\xbf").strip())
        self._read_to += end
        self._last = (self._last + data[:end])[-_COMPARED:]
        self._rest = data[end:]
        why = self._records.take(self._rest)
        self._torn = (Damaged(path, self._lines_read + 1, why, shown(self._rest)),) if why else ()
        if self._rest:
            self._stands_in.add(self._rest.strip())
        self._decisions = None
        if (self._read_to or self._rest.strip()) and not self._records.looks_like_log:
            _refuse_other(path, None)

    def _goes_on(self, file: int, now: os.stat_result) -> bool:
        if self._file != (now.st_dev, now.st_ino) or now.st_size < self._read_to:
            return False
        return piece(file, self._read_to - len(self._last), len(self._last)) == self._last

    def _refuse(self, what: str, fault: OSError | None) -> NoReturn:
        cure = "See that you may read and write there, or move the workbook and its log to another folder."
        if fault is not None and fault.errno in (errno.ENOSPC, errno.EDQUOT):
            cure = "Make room on the disk, then decide again."
        elif fault is None or fault.errno in (errno.EISDIR, errno.ENXIO) or self._is_no_file():
            cure = "Rename what stands there, then decide again."
        elif isinstance(fault, TimeoutError):
            cure = "Close the other notebooks that work on this season, then decide again."
        why = "" if fault is None else f": {fault.strerror or fault}"
        raise Refusal(f"{what}{why}.", where=str(self.path), cure=cure) from fault

    def _is_no_file(self) -> bool:
        return self.path is not None and self.path.exists() and not self.path.is_file()


def _refuse_other(path: Path, head: bytes | None) -> None:
    """Refuse a file that is anything else than a log; all of it was looked at where `head` is None."""
    if head is None or (b"\0" in head and MARK not in head):
        raise Refusal(
            "This file is no log of decisions.",
            where=str(path),
            cure=f"Name a log (it ends in {_ENDING}), or move this file away.",
        )
