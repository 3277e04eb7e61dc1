"""All files of an audit, written into one folder: whole or not at all."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from audit.handover.findings_files import write_csv, write_json
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.season import Season

__all__ = ["refuse_file", "write_outputs", "write_whole"]


def write_outputs(
    season: Season,
    report: Report,
    declared: Declarations,
    source: Path | None,
    out: Path,
    *,
    also_read: Sequence[Path | None] = (),
) -> list[Path]:
    """Write the findings, the marked copy and the page.

    Parameters
    ----------
    source : Path or None
        The file or folder as typed, never written to; None for a season made from data frames.
    out : Path
        Folder for the results, made when it is not there.
    also_read : sequence of Path
        Other files that were read, such as a reader's download: no result may replace them either.

    Returns
    -------
    list of Path
        ``findings.csv``, ``findings.json``, ``<name>.marked.xlsx`` (``.xlsm`` where the source has macros)
        and ``<name>.report.html``. Files of an earlier audit are replaced, once all new ones are complete.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or a result would replace the file as typed.
    """
    # others who write a folder need no workbook, nor what it is put together with
    from audit.handover.page import begin_pictures, write_page
    from audit.handover.workbook import KEEPS_PARTS, write_marked

    source = None if source is None else Path(source)
    out = Path(out)
    macros = source is not None and source.is_file() and source.suffix.lower() == KEEPS_PARTS[-1]
    pictures = begin_pictures(report, season, declared)
    writers: dict[str, Callable[[Path], None]] = {
        "findings.csv": lambda path: write_csv(report, path),
        "findings.json": lambda path: write_json(report, path),
        f"{season.name}.marked{KEEPS_PARTS[-1] if macros else KEEPS_PARTS[0]}": lambda path: write_marked(
            source, report, path, season, declared
        ),
        f"{season.name}.report.html": lambda path: write_page(report, season, declared, path, pictures),
    }
    return write_whole(writers, out, (source, *also_read))


def write_whole(
    writers: Mapping[str, Callable[[Path], object]], out: Path, inputs: Sequence[Path | None]
) -> list[Path]:
    """Write all files of a result, or none.

    Parameters
    ----------
    writers : mapping of str to callable
        Name of each file -> what writes it to a path.
    out : Path
        Folder for the results, made when it is not there.
    inputs : sequence of Path or None
        Files and folders that were read: no result may replace them.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or a result would replace what was read.
    """
    for given in inputs:
        _refuse_input(None if given is None else Path(given), out, list(writers))
    refuse_file(out)
    try:
        out.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".nestproof-", dir=out) as work:
            for name, write in writers.items():
                write(Path(work) / name)
            for name in writers:
                (Path(work) / name).replace(out / name)
    except OSError as fault:
        raise Refusal(
            f"The results cannot be written: {fault.strerror or fault}.",
            where=str(fault.filename2 or fault.filename or out),
            cure="Name a folder you may write to, with room on the disk; close results open elsewhere.",
        ) from fault
    return [out / name for name in writers]


def refuse_file(out: Path) -> None:
    """Refuse a file, or a place within one, where the folder of the results should be.

    Raises
    ------
    audit.refusal.Refusal
        With the file.
    """
    try:
        there = next((place for place in (out, *out.parents) if place.exists()), None)
    except OSError:
        # whoever may not look there is told so when the folder is made
        return
    if there is not None and not there.is_dir():
        raise Refusal(
            "The results need a folder, and this is a file.",
            where=str(there),
            cure="Name a folder for the results; it is made when it is not there.",
        )


def _refuse_input(source: Path | None, out: Path, names: list[str]) -> None:
    if source is None or not source.exists():
        return
    if source.is_dir() and out.exists() and out.samefile(source):
        raise Refusal(
            "The results would lie among the files as typed, and the next audit would read them.",
            where=str(out),
            cure="Name another folder for the results.",
        )
    for name in names:
        target = out / name
        if target.is_dir():
            raise Refusal(
                f"A folder has the name of the result '{name}'.",
                where=str(target),
                cure="Rename that folder, or name another one for the results.",
            )
        if target.exists() and target.samefile(source):
            raise Refusal(
                f"The result '{name}' would replace the file as typed.",
                where=str(target),
                cure="Name another folder for the results.",
            )
