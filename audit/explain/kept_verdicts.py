"""What was said about measures by an earlier audit, taken over where it would be said again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from audit.explain.explaining import Explained, Verdict
from audit.rules.heeded import together
from audit.rules.kept.plain_findings import finding_from, plain_finding
from audit.rules.round import blamed_by

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.kept.kept_answers import KeptAnswers
    from audit.rules.round import Gathered
    from audit.rules.rule import Rule
    from audit.season import Season

__all__ = ["KeptVerdicts"]


class KeptVerdicts:
    """The verdicts on all handlings, which hang together by what the season teaches.

    Parameters
    ----------
    kept : KeptAnswers
        Where they are kept.
    gathered : Gathered
        What the rules found now.
    weighers : sequence of Rule
        Rules whose findings are weighed, and whose columns the weighing heeds.
    """

    def __init__(self, kept: KeptAnswers, gathered: Gathered, weighers: Sequence[Rule]) -> None:
        self._kept = kept
        slugs = {rule.slug for rule in weighers}
        drafted = [plain_finding(one) for one in gathered.findings if one.rule.partition(".")[0] in slugs]
        heeds = together(*(rule.heeds for rule in weighers))
        self._gathered = gathered
        self._key = kept.key(heeds, blamed_by(gathered.findings), "measures", drafted)

    def before(self) -> Explained | None:
        """Return what was explained before, where all of it still holds."""
        verdicts = self._kept.recall(self._key, lambda values: _verdicts(values, self._kept.season))
        return None if verdicts is None else Explained(self._gathered, verdicts)

    def keep(self, explained: Explained) -> None:
        """Keep what is explained now."""
        told = {
            label: [
                verdict.settled,
                None if verdict.findings is None else [plain_finding(one) for one in verdict.findings],
            ]
            for label, verdict in explained.verdicts.items()
        }
        self._kept.keep(self._key, [len(told), told])


def _verdicts(values: Sequence[Any], season: Season) -> dict[str, Verdict]:
    number, told = values
    if number != len(told):
        raise ValueError(number)
    return {
        label: Verdict(
            None if findings is None else tuple(finding_from(one, season) for one in findings), bool(settled)
        )
        for label, (settled, findings) in told.items()
    }
