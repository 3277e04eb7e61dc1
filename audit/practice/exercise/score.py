"""What a marked practice sheet is worth, cell by cell and kind by kind."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from audit.findings import Finding
    from audit.practice.exercise.answers import Answer
    from audit.practice.exercise.exercise import Exercise, Planted

    Place = tuple[str, str]

__all__ = ["INNOCENT", "WRONG", "CellScore", "KindScore", "Outcome", "Score", "SlipScore"]

Outcome = Literal["mended", "asked", "seen", "missed", "near", "blamed", "asked_right", "unneeded"]

#: What can become of a cell with a slip in it: put right; asked about, where the sheet does not tell what was
#: meant; marked, but with another value, or asked although the sheet tells; not marked.
WRONG: tuple[Outcome, ...] = ("mended", "asked", "seen", "missed")
#: What can become of a marked cell without one: in the line of a slip that was not found; changed without
#: need; asked about where a remark calls it into doubt; asked about without need.
INNOCENT: tuple[Outcome, ...] = ("near", "blamed", "asked_right", "unneeded")


@dataclass(frozen=True, slots=True)
class CellScore:
    """What became of one cell.

    Attributes
    ----------
    place : (str, str)
        Row label and column.
    outcome : str
        One of `WRONG` or `INNOCENT`.
    answer : Answer or None
        None where nothing was marked.
    """

    place: Place
    outcome: Outcome
    answer: Answer | None = None


@dataclass(frozen=True, slots=True)
class SlipScore:
    """What became of one slip.

    Attributes
    ----------
    planted : Planted
    cells : tuple of CellScore
        All that it changed.
    near : bool
        Whether a wrong cell was marked in its line, and none of its own.
    findings : tuple of Finding
        What the audit says of it.
    """

    planted: Planted
    cells: tuple[CellScore, ...]
    near: bool
    findings: tuple[Finding, ...]

    @property
    def found(self) -> bool:
        """Whether any cell of it was marked."""
        return any(cell.outcome != "missed" for cell in self.cells)

    @property
    def whole(self) -> bool:
        """Whether every cell of it was put right, or rightly asked about."""
        return all(cell.outcome in ("mended", "asked") for cell in self.cells)

    @property
    def asked(self) -> bool:
        """Whether any cell of it was rightly asked about."""
        return any(cell.outcome == "asked" for cell in self.cells)


@dataclass(frozen=True, slots=True)
class KindScore:
    """How many slips of a kind stood on a sheet, were found, mended (or rightly asked), rightly asked."""

    kind: str
    slips: int
    found: int
    mended: int
    asked: int


@dataclass(frozen=True, slots=True)
class Score:
    """What a marked practice sheet is worth.

    Attributes
    ----------
    exercise : Exercise
    slips : tuple of SlipScore
        In the order of the sheet.
    marks : tuple of CellScore
        Marked cells without a slip, in the order of the sheet.
    idle : tuple of Answer
        Answers that say what stands there already: they count as no mark.
    """

    exercise: Exercise
    slips: tuple[SlipScore, ...]
    marks: tuple[CellScore, ...]
    idle: tuple[Answer, ...] = ()

    @property
    def counts(self) -> Counter[Outcome]:
        """How often each outcome came about."""
        every = [*(cell for slip in self.slips for cell in slip.cells), *self.marks]
        return Counter(cell.outcome for cell in every)

    @property
    def blamed(self) -> int:
        """Innocent cells that were changed without need."""
        counts = self.counts
        return counts["blamed"] + counts["near"]

    @property
    def kinds(self) -> tuple[KindScore, ...]:
        """Count slips by kind, in the order of the levels."""
        found: dict[str, list[SlipScore]] = {}
        for slip in self.slips:
            found.setdefault(slip.planted.kind, []).append(slip)
        return tuple(
            KindScore(
                kind,
                len(slips),
                sum(slip.found for slip in slips),
                sum(slip.whole for slip in slips),
                sum(slip.asked for slip in slips),
            )
            for kind, slips in found.items()
        )
