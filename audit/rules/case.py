"""The case before a rule: the season, the declarations, and the cells already in doubt."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Concatenate, TypeVar

import numpy as np

from audit.findings import Finding, NotRun, Suspect
from audit.rules.layouts import Layouts
from audit.rules.others import others_of
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Sequence

    import pandas as pd
    from pandas.api.extensions import ExtensionArray

    from audit.declarations import Declarations
    from audit.declarations.questions import RuleDeclaration
    from audit.findings import Cell
    from audit.rules.heeded import Columns
    from audit.season import Season

__all__ = ["At", "Case"]

Layout = TypeVar("Layout")


@dataclass(frozen=True, slots=True)
class At:
    """A blamed cell by label and column, with the value that was probably meant.

    `p_error` and `p_fix` override the declared probabilities of the outcome. `others` are values that may
    have been meant instead, with their probabilities, in any order; those worth naming are chosen later.
    """

    label: str
    field: str
    suggested: object = ""
    p_error: float | None = None
    p_fix: float | None = None
    others: Sequence[tuple[object, float]] = ()


@dataclass(frozen=True, slots=True)
class Case:
    """What a rule works on.

    Attributes
    ----------
    doubted : frozenset of (label, field)
        Cells that an earlier rule blamed. A cell in doubt is no witness against another.
    layouts : Layouts
        What other rules of the same round have laid out.
    """

    season: Season
    declared: Declarations
    rule: RuleDeclaration
    doubted: frozenset[tuple[str, str]] = frozenset()
    layouts: Layouts = field(default_factory=Layouts, repr=False, compare=False)

    def limit(self, name: str) -> Any:  # noqa: ANN401 - a limit may be a number, a word or a list
        """Return the value of a limit declared for this rule."""
        return self.rule.limits[name].value

    def setting(self, key: str) -> Any:  # noqa: ANN401 - as above
        """Return the value of a setting such as ``season.window.first_month``."""
        return self.declared.settings[key].value

    def share(self, name: str) -> float:
        """Return a declared rate or share of slips, such as ``rates.field`` or ``copied.above``."""
        return self.declared.slips.share(name)

    def frame(self, table: str) -> pd.DataFrame:
        """Return the typed values of a table, index = row labels."""
        return self.season.frame(table)

    def sure(self, table: str) -> pd.DataFrame:
        """Return a copy of a table in which cells already in doubt are missing."""
        frame = self.season.frame(table)
        heeds = self.layouts.all_of(table, frame.columns)
        known: pd.DataFrame = self.layouts.get(
            ("sure", table, self._seen_in_doubt(heeds)), lambda: self._without_doubted(table, frame), heeds
        )
        # shares its columns until one is written to
        return known.copy(deep=False)

    def sure_column(self, table: str, name: str) -> ExtensionArray:
        """Return one column of a table, to be read only, in which cells already in doubt are missing."""
        values = self.season.frame(table)[name].array
        doubtful = self._doubtful(table, name)
        return self._masked(table, name, doubtful) if doubtful else values

    def lay_out(
        self, make: Callable[Concatenate[Case, ...], Layout], heeds: Columns, *given: Hashable
    ) -> Layout:
        """Return what a function makes of this case; it is made once for all rules that see the same.

        Parameters
        ----------
        make : callable
            Takes a case and what is given; asks for no limit of the rule that the case is before.
        heeds : mapping of str to tuple of str
            Columns, by table, on which it depends. Of cells in doubt it may know these columns' only.
        """
        key = (make, given, self._seen_in_doubt(heeds))
        made: Layout = self.layouts.get(key, lambda: make(self, *given), heeds)
        return made

    def _seen_in_doubt(self, heeds: Columns) -> frozenset[frozenset[tuple[str, str]]]:
        return self.layouts.seen_in_doubt(self.doubted, heeds, self.season.table_of)

    def _doubtful(self, table: str, name: str) -> frozenset[tuple[str, str]]:
        return self.layouts.in_doubt(self.doubted, self.season.table_of).get((table, name), frozenset())

    def _without_doubted(self, table: str, frame: pd.DataFrame) -> pd.DataFrame:
        sure = frame.copy(deep=False)
        doubtful = self.layouts.in_doubt(self.doubted, self.season.table_of)
        for name in frame.columns:
            if (table, name) in doubtful:
                sure[name] = self._masked(table, name, doubtful[table, name])
        return sure

    def _masked(self, table: str, name: str, cells: frozenset[tuple[str, str]]) -> ExtensionArray:
        def make() -> ExtensionArray:
            frame = self.season.frame(table)
            values: ExtensionArray = frame[name].array.copy()
            places = self._places(table)
            rows = np.array([places[label] for label, _ in cells if label in places], dtype=np.int64)
            # a moment is of a type of numpy, which names no missing one
            values[rows] = getattr(values.dtype, "na_value", None)
            return values

        heeds = self.layouts.all_of(table, (name,))
        made: ExtensionArray = self.layouts.get(("sure", table, name, cells), make, heeds)
        return made

    def _places(self, table: str) -> dict[str, int]:
        """Row label -> place of the row in its table."""

        def make() -> dict[str, int]:
            return {label: place for place, label in enumerate(self.season.frame(table).index.tolist())}

        # an edited cell leaves its row where it is
        made: dict[str, int] = self.layouts.get(("places", table), make, {})
        return made

    def in_doubt(self, label: str, *fields: str) -> bool:
        """Whether an earlier rule blamed any of these cells."""
        return any((label, field) in self.doubted for field in fields)

    def blame(
        self,
        outcome: str,
        suspects: Sequence[At],
        message: str,
        witnesses: Sequence[tuple[str, str]] = (),
    ) -> Finding:
        """Make a finding of one of the declared outcomes of this rule.

        Parameters
        ----------
        outcome : str
            Key under ``outcomes`` of the rule's declaration.
        suspects : sequence of At
            The cells that are probably wrong: never an innocent one.
        message : str
            One sentence for the person who typed it, with the numbers and units that led there.
        witnesses : sequence of (label, field)
            Innocent cells that led to the finding.
        """
        declared = self.rule.outcomes[outcome]
        made = []
        for at in suspects:
            cell = self.season.cell(at.label, at.field)
            suggested = plain_text(at.suggested)
            p_error = declared.p_error if at.p_error is None else at.p_error
            p_fix = at.p_fix if at.p_fix is not None else declared.p_fix
            p_fix = p_fix if suggested else None
            others = self._others(at, cell, suggested, p_error - (p_fix or 0.0)) if at.others else ()
            made.append(Suspect(cell, suggested, p_error, p_fix, others))
        return Finding(
            rule=declared.slug,
            severity=declared.severity,
            suspects=tuple(made),
            message=message,
            witnesses=tuple(self.season.cell(label, field) for label, field in witnesses),
        )

    def evenly(self, outcome: str, values: Sequence[object]) -> list[tuple[object, float]]:
        """Share the declared chance of a suggestion among a few values of which none is likelier.

        Parameters
        ----------
        outcome : str
            Key under ``outcomes`` of the rule's declaration.
        values : sequence
            What may have been meant; of more than can be named, none is.
        """
        chance = self.rule.outcomes[outcome].p_fix
        if chance is None or len(values) > self.setting("explain.others.most"):
            return []
        return [(value, chance / len(values)) for value in values]

    def _others(self, at: At, cell: Cell, suggested: str, room: float) -> tuple[tuple[str, float], ...]:
        return others_of(
            at.others,
            suggested=suggested,
            typed=cell.observed,
            room=room,
            least=self.setting("explain.others.least_chance"),
            most=self.setting("explain.others.most"),
        )

    def not_run(self, outcome: str, reason: str) -> NotRun:
        """Say that one part of this rule could not run, and why."""
        return NotRun(self.rule.outcomes[outcome].slug, reason)
