"""Whether somebody has the workbook open: what is on the disk may then not be what is on the screen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.season import FileRead

__all__ = ["refuse_open_elsewhere"]

#: Files that spreadsheet programs keep beside an open workbook: what stands before and after its name.
_LOCKS = (("~$", ""), (".~lock.", "#"))
#: Of long names one program leaves out the first two signs.
_LEFT_OUT = 2


def refuse_open_elsewhere(files: Iterable[FileRead]) -> None:
    """Refuse to hand over a season whose workbook is open in a spreadsheet program.

    Raises
    ------
    audit.refusal.Refusal
        A lock lies beside a file that was read.
    """
    for one in files:
        path = Path(one.path)
        for before, after in _LOCKS:
            for name in (path.name, path.name[_LEFT_OUT:]):
                lock = path.with_name(f"{before}{name}{after}")
                if lock.is_file():
                    raise Refusal(
                        f"'{path.name}' is open in a spreadsheet program and may hold what is not saved yet.",
                        where=str(path),
                        cure="Save and close it, and hand over again. If nobody has it open, a crash left "
                        f"the file '{lock.name}' behind: delete that.",
                    )
