"""All that is said of one measure, in order: what to practise, what was found, what stands out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.practice.measuring.advice import advice, verdicts
from audit.practice.measuring.agreement_words import agreement_told, slope_told
from audit.practice.measuring.odd_words import odd_told, without_told
from audit.practice.measuring.words import bias_told, share, spread_told
from audit.review.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations
    from audit.practice.measuring.account import Account
    from audit.practice.measuring.record import Measuring

__all__ = ["Told", "opening", "told_of"]


_SEASON = (
    "Most birds were measured once. In the sheet of a season a mistyped ring makes two birds look like one "
    "measured twice: let the audit look at it first."
)


@dataclass(frozen=True, slots=True)
class Told:
    """What is said of one measure, one sentence each.

    Attributes
    ----------
    practise, found, stands_out, goals, not_told : tuple of str
    """

    practise: tuple[str, ...]
    found: tuple[str, ...]
    stands_out: tuple[str, ...]
    goals: tuple[str, ...]
    not_told: tuple[str, ...]

    def sections(self) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Headings with their sentences, none of them empty."""
        for heading, sentences in (
            ("What to practise", self.practise),
            ("What stands out", self.stands_out),
            ("What was found", self.found),
            ("Goals", self.goals),
            ("What could not be told", self.not_told),
        ):
            if sentences:
                yield heading, sentences


def opening(measuring: Measuring) -> Iterator[str]:
    """Say what was read."""
    sheet = measuring.sheet
    people = sorted({one.observer for one in sheet.taken if one.observer})
    birds = len({one.bird for one in sheet.taken})
    by = f" by {listed(people)}" if people else ", nobody named as observer"
    yield f"Repeated measures in {sheet.name}: {counted(birds, 'bird')}{by}."
    if measuring.trainer:
        yield f"All others are held against {measuring.trainer}."
    yield from sheet.notices
    shown = {one.repeats.measure.field for one in measuring.accounts}
    single = [measure.title for measure in sheet.measures if measure.field not in shown]
    if single:
        yield f"Never measured twice, and so left out: {listed(single)}."
    for one in measuring.accounts:
        alone = len(one.repeats.birds) - one.repeats.again
        if alone:
            what, verb = one.repeats.measure.title, "stands" if alone == 1 else "stand"
            yield f"{what}: {counted(alone, 'measure')} {verb} alone, left out of the figures."
    if any(len(one.repeats.birds) > 2 * one.repeats.again for one in measuring.accounts):
        yield _SEASON


def told_of(account: Account, declared: Declarations) -> Told:
    """Gather all that is said of one measure."""
    slope_p = float(declared.settings["practice.measuring.slope_p"].value)
    found = [
        *(bias_told(account, bias) for bias in account.biases),
        *spread_told(account),
        *(said for pairs in account.comparisons for said in agreement_told(account, pairs)),
    ]
    if account.without_odd is None:
        found += [said for pairs in account.comparisons for said in slope_told(account, pairs, slope_p)]
    both = account.alike
    if both is not None and len(account.repeats.observers) > 1:
        agreement = f"{share(both.agreement_low)} to {share(both.agreement_high)}"
        consistency = f"{share(both.consistency_low)} to {share(both.consistency_high)}"
        found.append(
            f"Taken by anybody, one measure has a repeatability of {share(both.agreement)} ({agreement}); "
            f"with each person's bias set right {share(both.consistency)} ({consistency}); "
            f"{counted(both.birds, 'bird')} measured by all."
        )
    return Told(
        practise=advice(account, declared),
        found=tuple(found),
        stands_out=(*(odd_told(account, odd) for odd in account.odd), *without_told(account, slope_p)),
        goals=tuple(f"{what[0].upper()}{what[1:]}: {how}." for what, how in verdicts(account)),
        not_told=account.refused,
    )
