"""What is said of a number: how it was read, why it was not, and what was probably meant."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.answer import UNREADABLE, Answer, plainly, quoted

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["LARGEST_WHOLE", "NumberAnswers"]

#: The largest whole number up to which every one is kept exactly in floating point.
LARGEST_WHOLE = 2**53


@dataclass(frozen=True, slots=True)
class NumberAnswers:
    """Answers for cells of one column of numbers.

    Attributes
    ----------
    unit : str
        Unit of the column's values.
    whole : bool
        Only whole numbers make sense.
    """

    unit: str
    whole: bool

    def checked(self, typed: str, value: float, kind: str = "", remark: str = "") -> Answer:
        """Answer with a value, or refuse one that the column cannot hold.

        Parameters
        ----------
        typed : str
            The cell as typed.
        value : float
            In the column's unit.
        kind : str
            Outcome of the rule ``reading``; empty for a plain number.
        remark : str
            The beginning of a sentence that ends with value and unit.
        """
        refused, value = self._kept(typed, value)
        if refused is not None:
            return refused
        if not kind:
            return Answer(value)
        shown = plainly(value)
        return Answer(value, kind, f"{remark} {shown} {self.unit}".rstrip(), shown)

    def either(self, typed: str, value: float, other: float) -> Answer:
        """Answer with one of two values between which nothing decides."""
        refused, kept = self._kept(typed, value)
        said = (
            f"{quoted(typed)} was read as {plainly(value)}, not as {plainly(other)}, since "
            "nothing in the column shows what its mark means"
        )
        return refused or Answer(kept, "decimal_mark", said, plainly(kept))

    def lettered(self, typed: str, value: float, letters: Mapping[str, str]) -> Answer:
        """Answer with a number that was typed with letters for digits."""
        kinds = " and ".join(f"the letter {letter} for {digit}" for letter, digit in letters.items())
        refused, kept = self._kept(typed, value)
        shown = plainly(float(f"{value:.12g}"))
        said = f"{quoted(typed)} has {kinds}; it was read as {shown} {self.unit}".rstrip()
        return refused or Answer(kept, "letter_in_number", said, plainly(kept))

    def doubtful(self, typed: str, inner: Answer) -> Answer:
        """Answer with what stands within a mark of doubt."""
        if inner.value is None or inner.kind.startswith("letter"):
            return inner
        shown = plainly(float(str(inner.value)))
        unit = f" {self.unit}" if self.unit else ""
        return Answer(
            inner.value,
            "uncertain_mark",
            f"{quoted(typed)} was read as {shown}{unit}; its mark of doubt or limit is kept as typed only",
            shown,
        )

    def lost(self, typed: str, meant: float | None) -> Answer:
        """Say that nothing can be read, with what was probably meant where that is known."""
        return Answer(
            None,
            UNREADABLE,
            f"{quoted(typed)} cannot be read as a number; type the number alone, and words into the remarks",
            "" if meant is None else plainly(float(f"{meant:.12g}")),
        )

    def _kept(self, typed: str, value: float) -> tuple[Answer | None, float]:
        """Return why a value cannot be kept, if so, and the value as it is kept."""
        if not abs(value) <= LARGEST_WHOLE:
            too_large = f"{quoted(typed)} is too large to be kept; retype the cell"
            return Answer(None, UNREADABLE, too_large), value
        # 0.373 kg is 373 g, not 372.99999999999994 g
        value = float(f"{value:.12g}")
        if self.whole and not value.is_integer():
            no_count = f"{quoted(typed)} is no whole number, but this column counts; type a whole number"
            return Answer(None, UNREADABLE, no_count), value
        return None, value
