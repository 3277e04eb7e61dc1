"""What an earlier audit answered, taken over where nothing that was asked about has changed."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, TypeVar

from audit.findings import NotRun
from audit.rules.kept.content import Content
from audit.rules.kept.plain_findings import finding_from, plain_finding
from audit.rules.round import FAULT, Answered, blamed_by

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping

    from audit.rules.rule import Rule
    from audit.season import Season

__all__ = ["KeptAnswers"]

Answer = TypeVar("Answer")

#: What values that are none of ours make when they are read.
_NOT_OURS = (KeyError, TypeError, ValueError, AttributeError, IndexError)


class KeptAnswers:
    """Answers by the checksum of all that they depend on.

    Parameters
    ----------
    season : Season
        The season that is audited now.
    made_of : str
        Checksum of program and declarations: others may answer otherwise.
    known : mapping of str to Any
        What an earlier audit left as `fresh`, of whatever season.

    Attributes
    ----------
    season, made_of
        As given.
    fresh : dict of str to Any
        What this audit was told or took over, for the next one: plain values.
    taken : int
        How many answers were taken over.
    """

    def __init__(self, season: Season, made_of: str, known: Mapping[str, Any]) -> None:
        self.season = season
        self._content = Content(season)
        self.made_of = made_of
        self._known = known
        self.fresh: dict[str, Any] = {}
        self.taken = 0

    def key(
        self, heeds: Mapping[str, Collection[str]], doubted: Collection[tuple[str, str]], *further: object
    ) -> str:
        """Take the checksum of all that an answer depends on: as `Content.seen`, and who gives it."""
        return self._content.seen(heeds, doubted, self.made_of, *further)

    def recall(self, key: str, read: Callable[[Any], Answer]) -> Answer | None:
        """Return what was kept under a key, read from plain values; None where nothing of ours was."""
        try:
            answer = read(self._known[key])
        except _NOT_OURS:
            return None
        self.taken += 1
        return answer

    def keep(self, key: str, values: object) -> None:
        """Keep plain values for the next audit; what JSON cannot hold is not kept."""
        try:
            json.dumps(values, allow_nan=False)
        except _NOT_OURS:
            return
        self.fresh[key] = values

    def answer(
        self, rule: Rule, doubted: frozenset[tuple[str, str]], ask: Callable[[], Answered]
    ) -> Answered:
        """Take over what a shipped rule answered, or ask it.

        Parameters
        ----------
        doubted : frozenset of (label, field)
            Cells blamed by the rules before it.
        ask : callable
            Asks the rule.
        """
        key = self.key(rule.heeds, doubted, rule.slug)
        answer = self.recall(key, lambda values: self._answered(rule, doubted, values))
        if answer is None:
            answer = ask()
        if not any(part.reason.startswith(FAULT) for part in answer.not_run):
            findings = [plain_finding(one) for one in answer.findings]
            self.keep(key, [answer.ran, findings, [[part.rule, part.reason] for part in answer.not_run]])
        return answer

    def _answered(self, rule: Rule, doubted: frozenset[tuple[str, str]], values: Iterable[Any]) -> Answered:
        ran, findings, not_run = values
        found = tuple(finding_from(one, self.season) for one in findings)
        parts = tuple(NotRun(str(slug), str(reason)) for slug, reason in not_run)
        return Answered(rule.slug, found, parts, ran=bool(ran), doubted=doubted | blamed_by(found))
