"""From repeated measures of the same birds to what to practise: a verb of the front door."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.checking import declarations_of
from audit.practice.measuring.record import Measuring, measure_again
from audit.practice.measuring.season_rows import season_measures
from audit.practice.measuring.sheet import read_measured
from audit.season import Season

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

    from audit.declarations import Declarations

__all__ = ["Measuring", "measuring"]


def measuring(
    source: Season | str | Path | pd.DataFrame | Mapping[str, pd.DataFrame],
    *,
    trainer: str = "",
    across_days: bool = False,
    schemas: str | Path | Declarations | None = None,
) -> Measuring:
    """Tell how well repeated measures of the same birds agree, and what to practise.

    Parameters
    ----------
    source : Season, path, pandas.DataFrame, or mapping of str to pandas.DataFrame
        A sheet (.xlsx, .ods, .csv) with one row for each bird, observer and repeat, in columns such as
        ``bird`` or ``ring``, ``observer``, ``date`` and ``wing_mm``; or one column for each person or repeat
        (``wing AB``, ``wing MK``). Of a season already read, the birds that stand in two rows of one day.
    trainer : str
        Initials of the person whom all others are held against; by default each is held against the mean of
        the others.
    across_days : bool
        Whether a bird measured on two days counts as measured twice: only of specimens and full-grown birds.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    Measuring
        Shown as sentences; ``table()`` and ``pairs()`` give the figures, ``differences()``, ``repeats()``,
        ``biases()`` and ``last_digits()`` draw them, ``write(folder)`` writes a page and tables.

    Raises
    ------
    audit.refusal.Refusal
        Nothing can be read there, nobody was measured twice, or the trainer is none of the observers.

    Examples
    --------
    >>> import pandas as pd
    >>> sheet = pd.DataFrame({"bird": [*"abc"], "wing AB": [201, 188, 175], "wing MK": [200, 186, 174]})
    >>> round(measuring(sheet).of("wing_mm").biases[0].value, 2)
    1.33
    """
    declared = declarations_of(schemas)
    if isinstance(source, Season):
        sheet = season_measures(source, declared)
    else:
        sheet = read_measured(source, declared)
    return measure_again(sheet, declared, trainer=trainer, across_days=across_days)
