"""Read a season and check it: the two verbs of the front door."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audit import checked as checked_season
from audit.checked import Checked, Stopped, recheck, recheck_all
from audit.declarations import Declarations, declarations_of
from audit.intake import read
from audit.rules import RULES
from audit.season import Season

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from audit.findings import Report
    from audit.review.desk import Desk
    from audit.rules.kept.kept_answers import KeptAnswers
    from audit.rules.round import Progress
    from audit.rules.rule import Rule

__all__ = [
    "Checked",
    "Stopped",
    "check",
    "check_closely",
    "declarations_of",
    "read_season",
    "recheck",
    "recheck_all",
]


def read_season(
    source: str | Path | Mapping[str, pd.DataFrame],
    *,
    schemas: str | Path | Declarations | None = None,
    mapping: str | Path | None = None,
    reads: str | Path | None = None,
    detections: str | Path | None = None,
    earlier: Sequence[str | Path | Mapping[str, pd.DataFrame]] = (),
) -> Season:
    """Read a season as typed.

    Parameters
    ----------
    source : path or mapping of str to pandas.DataFrame
        A workbook (.xlsx, .ods), a .csv file, a folder of .csv files, or data frames by table name.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.
    mapping : path, optional
        A saved header mapping; by default the one beside the workbook, if there is one.
    reads, detections : path, optional
        Download of the hand reader; log of the box antennas.
    earlier : sequence
        Earlier seasons, each as `source`: witnesses only, for birds that are met again.

    Raises
    ------
    audit.refusal.SeasonRefusal
        The file cannot be read: with place and cure.
    audit.refusal.DeclarationRefusal
        A declaration is wrong: with file, line and cure.

    Examples
    --------
    >>> import pandas as pd
    >>> row = {"date": "2026-05-04", "box": "SL-01", "ring": "SV01001"}
    >>> season = read_season({"handlings": pd.DataFrame([row])})
    >>> len(season.frame("handlings"))
    1
    """
    return read(
        source,
        declarations_of(schemas),
        mapping=None if mapping is None else Path(mapping),
        reads=None if reads is None else Path(reads),
        detections=None if detections is None else Path(detections),
        earlier=earlier,
    )


def check(
    season: Season | str | Path | Mapping[str, pd.DataFrame],
    *,
    schemas: str | Path | Declarations | None = None,
    rules: Sequence[Rule] = RULES,
    progress: Progress | None = None,
    kept: KeptAnswers | None = None,
) -> Report:
    """Audit a season.

    Parameters
    ----------
    season : Season, path or mapping of str to pandas.DataFrame
        A season already read, or anything that `read_season` takes.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.
    rules : sequence of Rule
        The rules to ask, in order; pass ``[*RULES, mine]`` to add one.
    progress : callable, optional
        Is told what is asked now, how many questions are answered, and of how many. Where it raises
        `Stopped`, the audit ends there.
    kept : KeptAnswers, optional
        Answers of an earlier audit by the same rules, as `audit.handover.kept_file.read_kept` gives them for
        this very season: taken over where nothing that they depend on has changed.

    Returns
    -------
    Report
        Findings sorted by sheet, row, column and rule; the season is not changed.
    """
    declared = declarations_of(schemas)
    if not isinstance(season, Season):
        season = read_season(season, schemas=declared)
    checked = checked_season.check_closely(season, declared, rules, progress, kept)
    return replace(checked.report, opener=partial(_open_desk, checked))


def _open_desk(checked: Checked, *given: Any, **named: Any) -> Desk:  # noqa: ANN401 - as the desk takes them
    # only a notebook opens one
    from audit.review.opening import open_desk

    return open_desk(checked, *given, **named)


def check_closely(
    season: Season | str | Path | Mapping[str, pd.DataFrame],
    *,
    schemas: str | Path | Declarations | None = None,
    rules: Sequence[Rule] = RULES,
    progress: Progress | None = None,
) -> Checked:
    """Audit a season as `check` does, and keep what is needed to audit it again after edited cells.

    Parameters
    ----------
    season, schemas, rules, progress
        As in `check`.

    Returns
    -------
    Checked
        Its ``report`` is that of `check`. Hand it to `recheck` with the cell and what is typed there.

    Examples
    --------
    >>> import pandas as pd
    >>> row = {"date": "2026-05-04", "box": "SL-01", "ring": "SV01001", "gross_g": 395, "bag_g": 22}
    >>> checked = check_closely({"handlings": pd.DataFrame([{**row, "net_g": 395}])})
    >>> checked.report.count("error"), recheck(checked, "handlings!2", "net_g", "373").report.count("error")
    (1, 0)
    """
    declared = declarations_of(schemas)
    if not isinstance(season, Season):
        season = read_season(season, schemas=declared)
    return checked_season.check_closely(season, declared, rules, progress)
