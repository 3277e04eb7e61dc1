"""From a blank sheet to measures of the same birds, and to what to practise: verbs of the front door."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import declarations_of
from audit.practice.measuring.blank import Blank, make_blank
from audit.practice.measuring.blank_files import write_blank
from audit.practice.measuring.blank_page import blank_piece, blank_text
from audit.practice.measuring.record import Measuring, measure_again
from audit.practice.measuring.season_rows import season_measures
from audit.practice.measuring.sheet import read_measured
from audit.season import Season

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from audit.declarations import Declarations

__all__ = ["Measuring", "MeasuringSheet", "measuring", "measuring_sheet"]


class MeasuringSheet:
    """A blank sheet on which birds are measured again: shown as what is printed; ``blank`` holds the plan."""

    def __init__(self, blank: Blank) -> None:
        self.blank = blank

    def __repr__(self) -> str:
        return blank_text(self.blank)

    def _repr_html_(self) -> str:
        return blank_piece(self.blank)

    def write(self, out: str | Path, *, paper: str = "a4") -> list[Path]:
        """Write ``<name>.html`` to print, ``<name>.xlsx`` and ``<name>.csv`` to type into.

        A workbook or table of this round that is there already is left as it is.

        Parameters
        ----------
        paper : str
            ``a4`` or ``letter``.

        Raises
        ------
        audit.refusal.Refusal
            The folder cannot be written to, or there is no such paper.
        """
        return write_blank(self.blank, Path(out), paper=paper)


def measuring_sheet(
    observers: str | Sequence[str],
    birds: int | Sequence[str] | None = None,
    *,
    repeats: int = 1,
    measures: Sequence[str] = (),
    seed: int = 1,
    schemas: str | Path | Declarations | None = None,
) -> MeasuringSheet:
    """Plan a round in which the same birds are measured again, each person blind to what the others found.

    Parameters
    ----------
    observers : str or sequence of str
        Initials of those who measure.
    birds : int or sequence of str, optional
        How many birds, then numbered from 1, or their rings; by default as many as are declared.
    repeats : int
        How often each person measures each bird.
    measures : sequence of str
        Columns such as ``wing_mm``; by default wing and weighing.
    seed : int
        Another number, other orders of the birds.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    MeasuringSheet
        Shown as what is printed; ``write(folder)`` writes it with a workbook to type into, which `measuring`
        reads back.

    Raises
    ------
    audit.refusal.Refusal
        Nothing could be told from such a round.

    Examples
    --------
    >>> sheet = measuring_sheet(["AB", "MK"], 12)
    >>> len(sheet.blank.pages), sorted(sheet.blank.pages[0].birds, key=int)[:3]
    (2, ['1', '2', '3'])
    """
    declared = declarations_of(schemas)
    people = [observers] if isinstance(observers, str) else list(observers)
    if birds is None:
        birds = int(declared.settings["practice.measuring.blank.birds"].value)
    made = make_blank(
        [birds] if isinstance(birds, str) else birds,
        people,
        declared,
        repeats=repeats,
        measures=[measures] if isinstance(measures, str) else measures,
        seed=seed,
    )
    return MeasuringSheet(made)


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
