"""An archive of many seasons and teams: audited from its files to files, within a bounded memory."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING

from audit.archive.archive_files import archive_files
from audit.archive.audited import audit_files
from audit.archive.left_out import passed_by
from audit.archive.season_results import season_folder
from audit.archive.summary import summary_json, summary_text
from audit.archive.summary_page import summary_page
from audit.declarations import declarations_of
from audit.handover.folder import write_whole

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pandas as pd

    from audit.archive.audited import Audited
    from audit.declarations import Declarations

__all__ = ["ArchiveAudit", "audit_archive"]


@dataclass(frozen=True, slots=True)
class ArchiveAudit:
    """An archive that was audited: shown as a summary; the findings lie in files.

    Attributes
    ----------
    audited : Audited
        Counts and notices.
    summary : str
    written : tuple of Path
        One file of findings for each season, ``summary.html``, ``summary.txt`` and ``summary.json``.
    """

    audited: Audited
    summary: str
    written: tuple[Path, ...]

    def __repr__(self) -> str:
        return self.summary

    def _repr_html_(self) -> str:
        return f"<pre style='white-space:pre-wrap'>{escape(self.summary)}</pre>"

    @property
    def found_something(self) -> bool:
        """Whether anything above a note was found."""
        return any(severity != "note" for _, _, severity in self.audited.tally.by_rule)

    def findings(self, season: str | int | None = None) -> pd.DataFrame:
        """Read the findings that were written, all of them or those of one season; texts throughout."""
        import pandas as pd

        from audit.archive.duck import read_lines

        wanted = [
            path
            for path in self.audited.written
            if season is None or path.parent.name == season_folder(str(season))
        ]
        frames = [
            read_lines(path)
            if path.suffix == ".parquet"
            else pd.read_csv(path, dtype="str", keep_default_na=False)
            for path in wanted
        ]
        return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame()


def audit_archive(
    sources: str | Path | Sequence[str | Path],
    out: str | Path,
    *,
    schemas: str | Path | Declarations | None = None,
    memory_mb: int | None = None,
    master: str | None = None,
    parquet: bool = False,
    whole: bool | None = None,
    tell: Callable[[str], None] | None = None,
) -> ArchiveAudit:
    """Audit an archive of many seasons.

    Parameters
    ----------
    sources : path or sequence of path
        Parquet files, CSV files or workbooks of handlings, or folders of them; folders such as
        ``season=2019`` may say what their files hold, and folders with plain names are teams. Columns are
        those of a season's handlings, and ``season``, ``scheme``, ``team``. A file named ``boxes`` holds the
        places of boxes; workbooks, and folders of text files, may bring all tables of their season. Nothing
        is written to them.
    out : path
        Folder for the results. What was found there before and still holds is not worked out again, so a run
        that was stopped goes on, and after a change only what depends on it is judged again.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.
    memory_mb : int, optional
        Memory for the engine, in MB; the rules of a season take some hundreds beside it.
    master : str, optional
        Address of a Spark master, such as ``spark://host:7077``: its workers ask what relates rows, and must
        find the files under the same names; the rules of a season are asked here.
    parquet : bool
        Write the findings as Parquet instead of CSV.
    whole : bool, optional
        Judge each team's season as a whole, by all rules, as `check` does; by default where the archive is
        not too large for it (``engine.rows_whole``). Workbooks are always judged so.
    tell : callable, optional
        Is told, in a sentence, what is done now.

    Returns
    -------
    ArchiveAudit

    Raises
    ------
    audit.refusal.Refusal
        A file or declaration cannot be read, or the results cannot be written: with place and cure.
    """
    declared = declarations_of(schemas)
    given = [sources] if isinstance(sources, str | Path) else list(sources)
    folder = Path(out)
    files = archive_files(given, declared, folder)
    audited = audit_files(
        files,
        declared,
        folder,
        megabytes=memory_mb,
        master=master,
        parquet=parquet,
        whole=whole,
        version=_version(),
        tell=tell or (lambda _: None),
    )
    audited.notices[:0] = passed_by(given, files)
    text = summary_text(audited, declared)
    writers = {
        "summary.txt": lambda path: path.write_text(f"{text}\n", encoding="utf-8", newline="\n"),
        "summary.html": lambda path: path.write_text(
            summary_page(audited, declared), encoding="utf-8", newline="\n"
        ),
        "summary.json": lambda path: path.write_text(
            summary_json(audited, declared), encoding="utf-8", newline="\n"
        ),
    }
    written = write_whole(writers, folder, [file.path for file in files])
    return ArchiveAudit(audited, text, (*audited.written, *written))


def _version() -> str:
    """Version of the program; empty where it was not installed."""
    try:
        return metadata.version("nestproof")
    except metadata.PackageNotFoundError:
        return ""
