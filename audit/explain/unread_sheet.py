"""A table around one of its cells: what stands above, below, in the same visit, on the same bird."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.models.steps import Steps
from audit.models.time_of_day import DAY, minutes_of
from audit.rules.case import Case
from audit.rules.layouts import Layouts
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd
    from numpy.typing import NDArray

    from audit.declarations import Declarations
    from audit.season import Season

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Words = NDArray[np.object_]

__all__ = ["Belief", "Sheet", "Tables"]


@dataclass(frozen=True, slots=True)
class Belief:
    """What a cell may be expected to say, before one looks at what is typed in it.

    Attributes
    ----------
    plain : list of str
        All values that the cell may have, as they are suggested to a person.
    log_prior : numpy.ndarray, shape (k,)
        Log probability of each, up to a constant.
    because : callable
        Takes a position in `plain`; returns the clause that says why, empty where nothing does.
    noun : str
        What the cell holds, such as ``a mass``.
    """

    plain: list[str]
    log_prior: Floats
    because: Callable[[int], str]
    noun: str


class Sheet:
    """One table with cells in doubt taken out."""

    def __init__(self, frame: pd.DataFrame, setting: Callable[[str], Any]) -> None:
        self.frame = frame
        self.setting = setting
        self.labels = [str(label) for label in frame.index]
        self.place = {label: i for i, label in enumerate(self.labels)}
        self._alike: dict[tuple[str, str], float] = {}
        self._words: dict[str, Words] = {}
        self.pages = np.array([split_label(label)[0] for label in self.labels], dtype=object)

    def __len__(self) -> int:
        return len(self.labels)

    def has(self, field: str) -> bool:
        """Whether the table has the column."""
        return field in self.frame.columns

    def words(self, field: str) -> Words:
        """Values of a column of text, to be read only; None where missing, and without such a column."""
        if field not in self._words:
            self._words[field] = (
                self.frame[field].array.to_numpy(dtype=object, na_value=None)
                if self.has(field)
                else np.full(len(self), None, dtype=object)
            )
        return self._words[field]

    def numbers(self, field: str) -> Floats:
        """Values of a column of numbers; NaN where missing or where there is no such column."""
        if not self.has(field):
            return np.full(len(self), np.nan)
        return self.frame[field].to_numpy(dtype=np.float64, na_value=np.nan)

    @cached_property
    def days(self) -> Floats:
        """Days since 1970; NaN where missing."""
        return self.days_of("date")

    def days_of(self, field: str) -> Floats:
        """Days since 1970 in a column of dates; NaN where missing."""
        if not self.has(field):
            return np.full(len(self), np.nan)
        values = self.frame[field].to_numpy(dtype="datetime64[D]")
        return np.where(np.isnat(values), np.nan, values.astype(np.int64))

    @cached_property
    def boxes(self) -> Words:
        """Labels of boxes; None where missing."""
        return self.words("box")

    @cached_property
    def minutes(self) -> Floats:
        """Times of day in minutes; NaN where missing."""
        return np.array([minutes_of(text) for text in self.words("time")], dtype=np.float64)

    @cached_property
    def visits(self) -> dict[tuple[float, object], list[int]]:
        """Rows by day and box, where both are known."""
        found: dict[tuple[float, object], list[int]] = {}
        for i, (day, box) in enumerate(zip(self.days, self.boxes, strict=True)):
            if np.isfinite(day) and box is not None:
                found.setdefault((float(day), box), []).append(i)
        return found

    @cached_property
    def birds(self) -> dict[object, list[int]]:
        """Rows by ring."""
        found: dict[object, list[int]] = {}
        for i, ring in enumerate(self.words("ring")):
            if ring is not None:
                found.setdefault(ring, []).append(i)
        return found

    def mates(self, row: int) -> list[int]:
        """Other rows of the same day and box."""
        return [i for i in self.visits.get((float(self.days[row]), self.boxes[row]), []) if i != row]

    def same_bird(self, row: int) -> list[int]:
        """Other rows of the same ring."""
        return [i for i in self.birds.get(self.words("ring")[row], []) if i != row]

    def beside(self, row: int, known: Flags) -> tuple[int | None, int | None]:
        """Rows above and below on the same sheet of which something is known."""
        found: list[int | None] = []
        for rows in (range(row - 1, -1, -1), range(row + 1, len(self))):
            other = next((i for i in rows if known[i] or self.pages[i] != self.pages[row]), None)
            found.append(other if other is not None and self.pages[other] == self.pages[row] else None)
        return found[0], found[1]

    # --- how columns go on from row to row ------------------------------------------------------------

    def pairs(self, known: Flags) -> tuple[Ints, Ints]:
        """Each row of which something is known, and the next such row on the same sheet."""
        at = np.flatnonzero(known)
        one, other = at[:-1], at[1:]
        together = self.pages[one] == self.pages[other]
        return one[together], other[together]

    @cached_property
    def day_steps(self) -> tuple[Steps, Steps]:
        """How dates go on from a row to the next: of another box, of the same box."""
        one, other = self.pairs(np.isfinite(self.days))
        steps = (self.days[other] - self.days[one]).astype(np.int64)
        same = self._same_box(one, other)
        width, exact = self.setting("day_width"), self.setting("exact")
        return Steps(steps[~same], width, DAY, exact), Steps(steps[same], width, DAY, exact)

    @cached_property
    def time_steps(self) -> tuple[Steps, Steps]:
        """How times of one day go on from a row to the next: of another box, of the same box."""
        one, other = self.pairs(np.isfinite(self.minutes) & np.isfinite(self.days))
        today = self.days[one] == self.days[other]
        one, other = one[today], other[today]
        steps = (self.minutes[other] - self.minutes[one]).astype(np.int64)
        same = self._same_box(one, other)
        exact = self.setting("exact")
        return (
            Steps(steps[~same], self.setting("time_width_between"), 2 * DAY, exact),
            Steps(steps[same], self.setting("time_width_within"), 2 * DAY, exact),
        )

    def _same_box(self, one: Ints, other: Ints) -> Flags:
        a, b = self.boxes[one], self.boxes[other]
        return np.array([x is not None and x == y for x, y in zip(a, b, strict=True)], dtype=bool)

    def alike(self, field: str, by: str) -> float:
        """Share in which other rows of the same visit or bird say the same as a row."""
        if (field, by) not in self._alike:
            self._alike[field, by] = self._share_alike(field, by)
        return self._alike[field, by]

    def _share_alike(self, field: str, by: str) -> float:
        column = self.words(field)
        groups = (self.visits if by == "visit" else self.birds).values()
        hits, n = 0.0, 0
        for rows in groups:
            said = [column[i] for i in rows if column[i] is not None]
            if len(said) > 1:
                hits += sum((said.count(value) - 1) / (len(said) - 1) for value in said)
                n += len(said)
        return float((hits + self.setting("alike_at_first")) / (n + 1))


class Tables:
    """The tables of a season, each laid out when it is first asked for."""

    def __init__(
        self,
        season: Season,
        declared: Declarations,
        doubted: frozenset[tuple[str, str]],
        layouts: Layouts | None = None,
    ) -> None:
        self.season = season
        self.declared = declared
        self.doubted = doubted
        self.layouts = Layouts() if layouts is None else layouts
        self._sheets: dict[str, Sheet] = {}

    def sheet(self, name: str) -> Sheet | None:
        """Return a table; None where the season has none."""
        if not self.season.has(name):
            return None
        if name not in self._sheets:
            self._sheets[name] = Sheet(self.case("reading").sure(name), self.setting)
        return self._sheets[name]

    def case(self, rule: str) -> Case:
        """Return the case before a rule; cells in doubt are no witnesses."""
        return Case(self.season, self.declared, self.declared.rules[rule], self.doubted, self.layouts)

    def setting(self, name: str) -> Any:  # noqa: ANN401 - a number, a word or a list
        """Return a setting under ``explain.unread``."""
        return self.declared.settings[f"explain.unread.{name}"].value
