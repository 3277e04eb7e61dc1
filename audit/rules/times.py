"""Times of day in the order in which the birds of a day were handled.

A sheet may be kept by box, by ring or by several teams, so that times go back and forth; what is usual is
learnt from the sheet itself. A time is blamed only where a slip of the hand explains it better than a habit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.steps import Steps
from audit.models.time_of_day import DAY, clock
from audit.rules.case import At
from audit.rules.columns import minutes_of_rows
from audit.rules.heeded import READER_CLOCK, together
from audit.rules.meant_times import MeantTimes
from audit.rules.reader_clock import clocks_of
from audit.rules.rule import Rule
from audit.rules.typing_hand import hand_of
from audit.season import split_label, texts_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd
    from numpy.typing import NDArray

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["RULE", "check"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Hold each time against those above and below it on its day, and against the reader's clock."""
    times = _Times(case)
    doubtful = [*times.beside_steps_back(), *times.away_from_reader()]
    # what one slip explains is no habit of the sheet
    explained = {row for rows in doubtful for row, meant in [times.judge(rows)] if meant is not None}
    times = times.with_habits(explained)
    told: set[int] = set()
    for rows in doubtful:
        row, meant = times.judge(rows)
        if meant is not None and row not in told:
            told.add(row)
            yield times.say(row, meant)


@dataclass(frozen=True, slots=True)
class _Meant:
    """The likeliest time, where one is likely enough to be named, its probability, and that of any slip."""

    minutes: int | None
    p_fix: float
    p_error: float

    @property
    def named(self) -> str:
        """The time as it is written, empty where none is named."""
        return "" if self.minutes is None else clock(self.minutes)


class _Times:
    """The rows with day and time, in sheet order; step k leads from row k to the next.

    Attributes
    ----------
    goes_on : numpy.ndarray of bool, shape (n - 1,)
        Whether both rows of a step stand on one sheet and day.
    same_box : numpy.ndarray of bool, shape (n - 1,)
        Whether they are of one box.
    """

    def __init__(self, case: Case) -> None:
        frame = case.sure("handlings")
        self.case = case
        minutes = minutes_of_rows(case)
        known = np.isfinite(minutes) & frame["date"].notna().to_numpy()
        self.labels = [str(label) for label in frame.index[known]]
        self.minutes = minutes[known].astype(np.int64)
        boxes = frame["box"].fillna("").to_numpy(dtype=object)[known]
        day = frame["date"].to_numpy(dtype="datetime64[D]")[known]
        page = np.array([split_label(label)[0] for label in self.labels], dtype=object)
        self.goes_on: Flags = (day[1:] == day[:-1]) & (page[1:] == page[:-1])
        self.same_box: Flags = (boxes[1:] == boxes[:-1]) & (boxes[1:] != "")
        self.steps: Ints = np.diff(self.minutes)
        self.back: Flags = self.goes_on & (self.steps < 0)
        self.habit: Flags = np.zeros(len(self.steps), dtype=bool)
        self.read = self._reads(frame[known], day)
        self.meant = MeantTimes(hand_of(case.declared))

    def _reads(self, frame: pd.DataFrame, day: NDArray[np.datetime64]) -> Floats:
        """Minute at which the tag of each row was read that day, the nearest; NaN where it was not."""
        found = np.full(len(frame), np.nan)
        if not self.case.season.has("tag_reads", "read_at", "tag") or "tag" not in frame.columns:
            return found
        moments = clocks_of(self.case).moments.astype("datetime64[m]")
        known = ~np.isnat(moments)
        on = moments.astype("datetime64[D]")
        minutes = (moments - on).astype(np.int64)
        by_tag: dict[tuple[str, int], list[float]] = {}
        columns = (known.tolist(), on.astype(np.int64).tolist(), minutes.tolist())
        for tag, told, when, minute in zip(
            texts_in(self.case.sure("tag_reads"), "tag"), *columns, strict=True
        ):
            if tag and told:
                by_tag.setdefault((tag, when), []).append(float(minute))
        typed = self.minutes.tolist()
        for i, key in enumerate(zip(texts_in(frame, "tag"), day.astype(np.int64).tolist(), strict=True)):
            if key in by_tag:
                found[i] = min(by_tag[key], key=lambda at: abs(at - typed[i]))
        return found

    def beside_steps_back(self) -> list[tuple[int, ...]]:
        """Find both rows of each step back, where the sheet is kept by time."""
        n = int(self.goes_on.sum())
        few = n < self.case.limit("fewest_steps")
        if few or self.back.sum() > max(self.case.limit("steps_back_share") * n, 1):
            return []
        return [(int(k), int(k) + 1) for k in np.flatnonzero(self.back)]

    def away_from_reader(self) -> list[tuple[int, ...]]:
        """Find rows whose time is far from the reader's, unlike the others."""
        off = self.minutes - self.read
        known = np.isfinite(off)
        if known.sum() < self.case.limit("fewest_steps"):
            return []
        away = np.abs(off - np.nanmedian(off)) > self.case.limit("reader_minutes")
        if (away & known).sum() > max(self.case.limit("steps_back_share") * known.sum(), 1):
            return []
        return [(int(row),) for row in np.flatnonzero(away & known)]

    def with_habits(self, explained: set[int]) -> _Times:
        """Count the steps back that no slip explains as habits."""
        for k in np.flatnonzero(self.back):
            self.habit[k] = not {int(k), int(k) + 1} & explained
        return self

    def judge(self, doubtful: tuple[int, ...]) -> tuple[int, _Meant | None]:
        """Find which of some rows is wrong, and what was meant if that is clear."""
        around = [
            k
            for k in range(doubtful[0] - 1, doubtful[-1] + 1)
            if 0 <= k < len(self.steps) and self.goes_on[k]
        ]
        rate = self.case.share("rates.field")
        first = doubtful[0]
        # as typed, and then any other time of one of the rows
        meant = {row: self.meant.instead_of(int(self.minutes[row])) for row in doubtful}
        rows = np.repeat([first, *doubtful], [1, *(len(minutes) for minutes, _ in meant.values())])
        minutes = np.concatenate([self.minutes[[first]], *(minutes for minutes, _ in meant.values())])
        # whoever writes down the time of something else may have meant any
        anything = float(np.log(rate * self.case.share("codes.unknown") / DAY))
        parts = [np.array([np.log(1 - rate)])]
        for at, chance in meant.values():
            parts += [np.logaddexp(np.log(rate * chance), anything), np.full(len(at) - len(chance), anything)]
        log = np.concatenate(parts)
        for same in (False, True):
            ahead, back = self._learnt(around, same=same)
            for k in around:
                if bool(self.same_box[k]) == same:
                    before = np.where(rows == k, minutes, self.minutes[k])
                    after = np.where(rows == k + 1, minutes, self.minutes[k + 1])
                    steps = after - before
                    log += np.where(steps < 0, back, ahead.log_chance(steps))
        for row in doubtful:
            if np.isfinite(self.read[row]):
                at = np.where(rows == row, minutes, self.minutes[row]) - self.read[row]
                log += self._beside_reads(doubtful).log_chance(at.astype(np.int64))
        share = np.exp(log - log.max())
        share /= share.sum()
        wrong = {row: float(share[1:][rows[1:] == row].sum()) for row in doubtful}
        row = max(wrong, key=lambda one: wrong[one])
        if wrong[row] < self.case.limit("blame_from"):
            return row, None
        best = max(np.flatnonzero(rows == row), key=lambda k: share[k] if k else 0.0)
        likely = float(share[best]) >= self.case.setting("explain.unread.suggest_from")
        return row, _Meant(int(minutes[best]) if likely else None, float(share[best]), wrong[row])

    def _learnt(self, left_out: list[int], *, same: bool) -> tuple[Steps, float]:
        """How times go on elsewhere, and the log probability of any one step back."""
        use = self.goes_on & (self.same_box == same)
        use[left_out] = False
        where = "within" if same else "between"
        width = self.case.setting(f"explain.unread.time_width_{where}")
        ahead = Steps(self.steps[use & ~self.back], width, 2 * DAY, self.case.setting("explain.unread.exact"))
        backwards = (self.habit & use).sum() + self.case.limit(f"steps_back_{where}")
        return ahead, float(np.log(backwards / (use.sum() + 1) / DAY))

    def _beside_reads(self, left_out: tuple[int, ...]) -> Steps:
        off = self.minutes - self.read
        off[list(left_out)] = np.nan
        width = self.case.setting("explain.unread.reader_minutes")
        return Steps(
            off[np.isfinite(off)].astype(np.int64), width, 2 * DAY, self.case.setting("explain.unread.exact")
        )

    def say(self, row: int, meant: _Meant) -> Finding:
        """Put one time and the times beside it into words."""
        beside = [k for k in (row - 1, row + 1) if self._together(row, k)]
        clause = f": {meant.named} was probably meant." if meant.named else "."
        typed, ordered = clock(self.minutes[row]), all(self._in_order(row, k) for k in beside)
        if ordered:
            return self.case.blame(
                "reader",
                [At(self.labels[row], "time", meant.named, meant.p_error, meant.p_fix)],
                f"The time says {typed}, but the tag of this row was read at {clock(self.read[row])}{clause}",
                [(self.labels[row], "tag")],
            )
        said = [f"{clock(self.minutes[k])} in the row {'above' if k < row else 'below'}" for k in beside]
        return self.case.blame(
            "order",
            [At(self.labels[row], "time", meant.named, meant.p_error, meant.p_fix)],
            f"The time {typed} is out of order beside {' and '.join(said)} of the same day{clause}",
            [(self.labels[k], "time") for k in beside],
        )

    def _in_order(self, row: int, other: int) -> bool:
        return bool((self.minutes[other] - self.minutes[row]) * (other - row) >= 0)

    def _together(self, row: int, other: int) -> bool:
        return 0 <= other < len(self.minutes) and bool(self.goes_on[min(row, other)])


RULE = Rule(
    slug="times",
    needs={"handlings": ("date", "time", "box")},
    check=check,
    heeds=together(READER_CLOCK, {"handlings": ("box",)}),
)
