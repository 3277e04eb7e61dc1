"""Repeated measures with all that they tell, as one record: shown, drawn, written."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from audit.practice.measuring.account import account
from audit.practice.measuring.figures import COLUMNS, PAIR_COLUMNS, figure_rows, pair_rows
from audit.practice.measuring.taken import repeats_of
from audit.refusal import Refusal
from audit.review.wording import listed

if TYPE_CHECKING:
    import pandas as pd

    from audit.charts.living import Living
    from audit.declarations import Declarations
    from audit.practice.measuring.account import Account
    from audit.practice.measuring.taken import MeasuredSheet

__all__ = ["Measuring", "measure_again"]


@dataclass(frozen=True, slots=True)
class Measuring:
    """What repeated measures of the same birds tell.

    Attributes
    ----------
    sheet : MeasuredSheet
    accounts : tuple of Account
        By measure, in the order of the columns.
    trainer : str
        Whom the others are held against; empty for nobody.
    declared : Declarations
    """

    sheet: MeasuredSheet
    accounts: tuple[Account, ...]
    trainer: str
    declared: Declarations

    def __repr__(self) -> str:
        from audit.practice.measuring.text import measuring_text

        return measuring_text(self)

    def _repr_html_(self) -> str:
        from audit.practice.measuring.page import measuring_body
        from audit.review.page_look import piece

        return piece(measuring_body(self, level=3))

    def table(self) -> pd.DataFrame:
        """Give all figures as in ``measuring.csv``."""
        import pandas as pd

        rows = [row for one in self.accounts for row in figure_rows(one)]
        frame = pd.DataFrame(rows, columns=list(COLUMNS))
        numbers = {name: pd.to_numeric(frame[name]) for name in ("value", "low", "high", "birds", "values")}
        return frame.assign(**numbers)

    def pairs(self) -> pd.DataFrame:
        """Give all pairs of measures as in ``pairs.csv``."""
        import pandas as pd

        rows = [row for one in self.accounts for row in pair_rows(one)]
        return pd.DataFrame(rows, columns=list(PAIR_COLUMNS))

    def of(self, measure: str = "") -> Account:
        """Return what is told of one measure, the first one by default.

        Raises
        ------
        audit.refusal.Refusal
            There is no such measure.
        """
        for one in self.accounts:
            if measure in ("", one.repeats.measure.field):
                return one
        known = listed([one.repeats.measure.field for one in self.accounts])
        raise Refusal(
            f"There is no measure '{measure}' in this sheet.", where=self.sheet.name, cure=f"Known: {known}."
        )

    def differences(self, measure: str = "", number: int = 0) -> Living:
        """Draw the differences of two measures of the same birds against their means.

        Parameters
        ----------
        measure : str
            Such as ``wing_mm``; by default the first one.
        number : int
            Which comparison, from 0, in the order of the page.
        """
        from audit.practice.measuring.pictures import differences

        return differences(self.of(measure), number)

    def repeats(self, measure: str = "") -> Living:
        """Draw how far the repeats of each bird lie apart."""
        from audit.practice.measuring.pictures import repeats

        return repeats(self.of(measure))

    def biases(self, measure: str = "") -> Living:
        """Draw who measures more, who less than the others."""
        from audit.practice.measuring.pictures import observer_biases

        return observer_biases(self.of(measure))

    def last_digits(self, measure: str = "", observer: str = "") -> Living:
        """Draw how often an observer writes each last digit; by default the first with enough values."""
        from audit.practice.measuring.pictures import digits

        return digits(self.of(measure), observer)

    def write(self, out: str | Path) -> list[Path]:
        """Write ``measuring.html`` to read and print, ``measuring.csv`` and ``pairs.csv``: all or none.

        Raises
        ------
        audit.refusal.Refusal
            The folder cannot be written to, or a result would replace the sheet.
        """
        from audit.practice.measuring.files import write_measuring

        return write_measuring(self, Path(out))


def measure_again(
    sheet: MeasuredSheet, declared: Declarations, *, trainer: str = "", across_days: bool = False
) -> Measuring:
    """Tell what repeated measures say.

    Parameters
    ----------
    trainer : str
        Initials of the person whom all others are held against.
    across_days : bool
        Whether a bird measured on two days counts as measured twice.

    Raises
    ------
    audit.refusal.Refusal
        Nobody was measured twice, or the trainer is none of the observers.
    """
    laid = [repeats_of(sheet, measure, across_days=across_days) for measure in sheet.measures]
    people = list(dict.fromkeys(name for one in laid for name in one.observers if name))
    trainer = next((name for name in people if name.casefold() == trainer.casefold()), trainer)
    if trainer and trainer not in people:
        raise Refusal(
            f"Nobody in this sheet is called '{trainer}'.",
            where=sheet.name,
            cure=f"Name one of {listed(people)}." if people else "Give the sheet a column 'observer'.",
        )
    where = sheet.name if sheet.source is None else str(sheet.source)
    if not laid:
        raise Refusal(
            "No measure stands in this sheet yet.",
            where=where,
            cure="Write into its cells what was measured, save it, and give it again.",
        )
    if not any(one.again for one in laid):
        apart = not across_days and any(
            repeats_of(sheet, measure, across_days=True).again for measure in sheet.measures
        )
        raise Refusal(
            "No bird was measured twice on one day." if apart else "No bird was measured twice.",
            where=where,
            cure=_cure(sheet, apart=apart),
        )
    accounts = tuple(
        account(one, declared, one.observers.index(trainer) if trainer in one.observers else -1)
        for one in laid
        if one.again
    )
    return Measuring(sheet, accounts, trainer, declared)


def _cure(sheet: MeasuredSheet, *, apart: bool) -> str:
    """Say what to do where nobody was measured twice; `apart` where only days keep measures apart."""
    if not apart:
        return "Give each measure a row of its own: the same bird once for each person and repeat."
    if len({bool(one.day) for one in sheet.taken}) > 1:
        return (
            "Some rows have a date and others none, so they count as different days: write it into all rows."
        )
    return (
        "Nestlings grow from day to day, so days are kept apart; for specimens or full-grown birds say "
        "across_days=True (on the command line --across-days)."
    )
