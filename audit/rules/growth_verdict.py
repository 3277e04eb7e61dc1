"""The verdict on one bird's measures: which cell is blamed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.models.written_number import step_of
from audit.rules.case import At
from audit.rules.growth_words import GrowthWords
from audit.rules.moves import moved_remarks
from audit.rules.plain import plain_text
from audit.rules.scatter import log_sum
from audit.rules.species_text import as_written

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.findings import Finding
    from audit.rules.bird_accounts import Account
    from audit.rules.case import Case
    from audit.rules.outlook import Outlook

    Floats = NDArray[np.float64]

__all__ = ["judge"]


def judge(
    case: Case, outlook: Outlook, row: int, accounts: list[Account], far: Mapping[str, float]
) -> Finding | None:
    """Blame the cell that is most probably wrong; None when it is likelier that nothing is.

    Parameters
    ----------
    far : mapping of str to float
        Distance in standard deviations of a wing or mass so far off that it is worth a remark in any case.
    """
    weights = np.array([account.log_weight for account in accounts])
    shares = np.exp(weights - log_sum(weights[None, :])[0])
    by_cause: dict[str, float] = {}
    for account, share in zip(accounts, shares, strict=True):
        by_cause[account.cause] = by_cause.get(account.cause, 0.0) + float(share)
    wrong = 1 - by_cause.pop("nothing")
    verdict = _Verdict(case, outlook, row, accounts, shares, by_cause, GrowthWords(case, outlook, row))
    if wrong < case.limit("decisive"):
        return verdict.remark(far)
    ranked = sorted(by_cause, key=lambda cause: -by_cause[cause])
    best = ranked[0]
    if by_cause[best] >= case.limit("lead") * wrong:
        return verdict.blame_one(best)
    if best == "place":
        # a note about the box leaves open that one of the measures is wrong instead
        return verdict.blame_one(best)
    named = [cause for cause in ranked if cause != "place" and by_cause[cause] >= case.limit("share_from")]
    return verdict.blame_several(named[:2]) if len(named) > 1 else verdict.blame_one(best)


@dataclass(frozen=True, slots=True)
class _Verdict:
    """Puts the weighed accounts of one row into a finding."""

    case: Case
    outlook: Outlook
    row: int
    accounts: list[Account]
    shares: Floats
    by_cause: dict[str, float]
    words: GrowthWords

    @property
    def label(self) -> str:
        return self.words.label

    def blame_one(self, cause: str) -> Finding:
        best = self._best(cause)
        outcome = self._outcome(cause, best)
        return self.case.blame(
            outcome, self._cells(cause), self.words.says(cause, outcome, best), self._witnesses(cause)
        )

    def blame_several(self, causes: list[str]) -> Finding:
        cells: dict[str, At] = {}
        words = self.words
        for cause in causes:
            for at in self._cells(cause):
                cells.setdefault(at.field, at)
        witnesses = [at for at in self._witnesses(causes[0]) if at[1] not in cells]
        fields = " or ".join(_SPOKEN.get(name, name) for name in cells)
        column = "wing_mm" if "wing" in causes and "mass" not in causes else "mass_g"
        return self.case.blame(
            "unclear",
            list(cells.values()),
            f"{words.measures()} do not go together: {words.unlike(column)}; either {fields} is wrong.",
            witnesses,
        )

    def remark(self, far: Mapping[str, float]) -> Finding | None:
        """Remark on the wing or mass that lies farthest off, though it may well be right."""
        # what a wrong value of another day, or hunger, explains well is no reason to look again
        far = {cause: z for cause, z in far.items() if self._chance(cause) >= self.case.limit("remark_from")}
        if not far:
            return None
        cause = max(far, key=self._chance)
        column, field = ("wing_mm", "wing_mm") if cause == "wing" else ("mass_g", "net_g")
        if cause == "mass":
            field = str(self.outlook.birds.mass_field[self.row])
        side, words = "above" if far[cause] > 0 else "below", self.words
        return self.case.blame(
            "unusual",
            [At(self.label, field, p_error=self._chance(cause))],
            f"{words.typed(cause)} is {abs(far[cause]):.1f} standard deviations {side} what is expected: "
            f"{words.unlike(column)}; look again, though it may be right.",
            [(self.label, name) for name in self._present()[:2] if name != field],
        )

    def _chance(self, cause: str) -> float:
        return self.by_cause.get(cause, 0.0)

    def _best(self, cause: str) -> tuple[Account, float]:
        """Likeliest account of a cause, and its share within the cause."""
        inside = [
            (account, float(share))
            for account, share in zip(self.accounts, self.shares, strict=True)
            if account.cause == cause
        ]
        account, share = max(inside, key=lambda pair: pair[1])
        total = sum(share for _, share in inside)
        return account, share / total if total > 0 else 0.0

    def _outcome(self, cause: str, best: tuple[Account, float]) -> str:
        account, share = best
        if cause in ("wing", "mass") and account.kind == "tenfold" and share >= self.case.limit("lead"):
            typed = self.words.value("wing" if cause == "wing" else "mass")
            if cause == "wing" and float(account.meant) > typed and step_of(typed) < 1:
                return "centimetres"
            return "tenfold"
        if cause == "mass":
            young = self.outlook.birds.grown[self.row] == 0
            return "mass_for_wing" if young and np.isfinite(self.words.value("wing")) else "mass"
        return {
            "wing": "wing",
            "exchanged": "columns_exchanged",
            "both": "both",
            "age": "age_days",
            "code": "age_code",
            "place": "stranger_said" if moved_remarks(self.case, [self.label]) else "stranger",
            "species": "species",
            "sex": "sex",
        }[cause]

    def _cells(self, cause: str) -> list[At]:
        birds, row = self.outlook.birds, self.row
        p_error = self.by_cause[cause]
        account, share = self._best(cause)
        mass_field = str(birds.mass_field[row])

        def at(field: str, suggested: object = "", others: Sequence[tuple[object, float]] = ()) -> At:
            if plain_text(suggested) and share >= self.case.limit("suggest_from"):
                return At(self.label, field, suggested, p_error, share, others)
            return At(self.label, field, p_error=p_error, others=others)

        if cause == "wing":
            return [at("wing_mm", account.meant, self._others(cause))]
        if cause == "mass":
            return self._mass_cells(mass_field, account, at)
        if cause == "exchanged":
            return [at("wing_mm", self.words.value("mass")), at(mass_field, self.words.value("wing"))]
        if cause == "both":
            return [at("wing_mm"), at(mass_field)]
        if cause == "age":
            return [at(str(birds.age_field[row]))]
        if cause == "code":
            nestling_code = str(self.case.limit("pullus_codes")[0])
            return [at("age", nestling_code if birds.grown[row] == 1 else "")]
        if cause == "place":
            # what a remark accounts for is as sure as its outcome says
            return [At(self.label, "box") if moved_remarks(self.case, [self.label]) else at("box")]
        if cause == "species":
            slug = str(account.meant)
            others = [(as_written(self.case, str(other)), p) for other, p in self._others(cause)]
            return [at("species", as_written(self.case, slug), others)]
        return [at("sex", account.meant)]

    def _others(self, cause: str) -> list[tuple[object, float]]:
        """Give all values that the accounts of a cause name, with their probabilities."""
        return [
            (account.meant, float(share))
            for account, share in zip(self.accounts, self.shares, strict=True)
            if account.cause == cause and account.meant is not None
        ]

    def _mass_cells(self, mass_field: str, account: Account, at: Any) -> list[At]:  # noqa: ANN401 - a closure
        bag = 0.0
        if self.case.season.has("handlings", "bag_g"):
            typed = self.case.frame("handlings").loc[[self.label], "bag_g"]
            bag = float(typed.to_numpy(dtype=np.float64)[0])
        if mass_field == "net_g":
            cells = [at("net_g", account.meant)]
            if self.outlook.birds.balanced[self.row]:
                # net was worked out from gross, so both carry the slip
                cells.append(at("gross_g", float(account.meant) + bag))
            return cells
        return [at("gross_g", float(account.meant) + bag)]

    def _present(self) -> list[str]:
        frame = self.case.frame("handlings")
        names = ["wing_mm", str(self.outlook.birds.mass_field[self.row]), "species", "age", "sex", "age_days"]
        at = frame.index.get_loc(self.label)
        return [name for name in names if name in frame.columns and not frame[name].array.isna()[at]]

    def _witnesses(self, cause: str) -> list[tuple[str, str]]:
        blamed = {at.field for at in self._cells(cause)}
        return [(self.label, name) for name in self._present()[:2] if name not in blamed]


_SPOKEN = {
    "wing_mm": "the wing",
    "net_g": "the net mass",
    "gross_g": "the gross mass",
    "age": "the age code",
    "age_days": "the age",
    "hatch_date": "the hatching date",
    "species": "the species",
    "sex": "the sex",
}
