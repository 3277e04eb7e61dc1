"""Accounts of a contradiction between two seasons: how likely each is, and which cells each blames."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.rules.case import At

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.case import Case

__all__ = ["Account", "Verdict", "weigh"]


@dataclass(frozen=True, slots=True)
class Account:
    """One way in which a contradiction can have come about.

    Attributes
    ----------
    weight : float
        How likely it is beside the others.
    field : str
        The column of this season's row that is wrong; empty where none is.
    meant : str
        What was meant there; empty where that is not known.
    why : str
        Names the account, where it makes a difference to what is said.
    """

    weight: float
    field: str = ""
    meant: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the accounts say together: the probability of each column to be wrong, and of what was meant."""

    wrong: dict[str, float]
    meant: dict[str, dict[str, float]]
    why: str

    def suspects(self, case: Case, label: str) -> list[At]:
        """List the cells of a row to blame, the likeliest first; none where nothing wrong is as likely."""
        if sum(self.wrong.values()) < case.limit("blame_from"):
            return []
        least = min(case.limit("second_from"), max(self.wrong.values()))
        found = []
        for field, p in sorted(self.wrong.items(), key=lambda item: (-item[1], item[0])):
            if p < least:
                continue
            text, p_fix = max(self.meant[field].items(), key=lambda item: (item[1], item[0]))
            told = text and p_fix >= case.limit("mend_from") * p
            others = list(self.meant[field].items())
            found.append(At(label, field, text if told else "", p, p_fix if told else None, others))
        return found


def weigh(accounts: Sequence[Account]) -> Verdict:
    """Turn weights into probabilities (Bayes' theorem over the accounts given)."""
    total = sum(account.weight for account in accounts)
    wrong: dict[str, float] = {}
    meant: dict[str, dict[str, float]] = {}
    if not total:
        return Verdict(wrong, meant, "")
    for account in accounts:
        if account.field:
            p = account.weight / total
            wrong[account.field] = min(1.0, wrong.get(account.field, 0.0) + p)
            by_text = meant.setdefault(account.field, {})
            by_text[account.meant] = min(1.0, by_text.get(account.meant, 0.0) + p)
    return Verdict(wrong, meant, max(accounts, key=lambda account: account.weight).why)
