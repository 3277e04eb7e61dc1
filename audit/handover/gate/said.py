"""What people have said of each cell, and whether that answers what the audit says of it now.

- ``keep`` and ``amend`` are a person's own word. They answer a finding of a rule that the person was shown,
  and, where a decision does not tell what was looked at, whatever is said of the cell.
- ``accept`` takes the audit's word, so it answers nothing that the audit says against the new text.
- A rule that the person was not shown has found something new: an error stays open until it is decided, too;
  a suspect is only listed, since the person has had the cell in hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.review.decisions import Decision
    from audit.review.replay import Replayed, Settled

__all__ = ["Place", "Said", "Stand", "said_in"]

#: Row label and canonical column.
Place = tuple[str, str]

#: Answered; decided without knowing of this; asked, in conflict or held back; not decided.
Stand = Literal["answered", "decided", "waiting", "open"]

#: Signs of a day in ISO 8601.
_DAY = 10
_DONE = {"keep": "kept", "amend": "amended", "accept": "accepted"}


@dataclass(frozen=True, slots=True)
class Said:
    """Cells on which something stands.

    Attributes
    ----------
    settled : mapping of (label, field) to Settled
        Cells that were kept, amended or accepted.
    waiting : frozenset of (label, field)
        Cells that are asked about, in conflict, or held back by a conflict: each is an item of its own.
    """

    settled: Mapping[Place, Settled]
    waiting: frozenset[Place]

    def stand(self, place: Place, rule: str, identity: str = "") -> Stand:
        """Say how a cell stands to a finding of a rule."""
        if place in self.waiting:
            return "waiting"
        if place not in self.settled:
            return "open"
        answers = any(_answers(decision, rule, identity) for decision in self.decisions(place))
        return "answered" if answers else "decided"

    def vouched(self, place: Place) -> bool:
        """Whether somebody kept or amended the cell, so that its text is a person's own word."""
        return any(decision.verb in ("keep", "amend") for decision in self.decisions(place))

    def decisions(self, place: Place) -> list[Decision]:
        """Decisions that came to the text of a cell."""
        settled = self.settled.get(place)
        return [one for one, _ in settled.choices if one.verb != "ask"] if settled else []

    def by(self, place: Place) -> str:
        """Who decided a cell, how and when: ``kept by AB on 2026-07-02``; empty where nobody did."""
        said = dict.fromkeys(
            f"{_DONE[one.verb]} by {one.who} on {one.at[:_DAY]}" for one in self.decisions(place)
        )
        return ", ".join(said)

    def why(self, place: Place) -> str:
        """Reasons that were given for a cell."""
        return " ".join(dict.fromkeys(one.reason for one in self.decisions(place) if one.reason))


def said_in(replayed: Replayed) -> Said:
    """Gather what stands on each cell."""
    waiting = {(one.label, one.field) for one in (*replayed.asked, *replayed.held)}
    waiting |= {(one.label, one.cell.field) for one in replayed.conflicts if one.label}
    settled = {(one.label, one.field): one for one in (*replayed.applied, *replayed.kept)}
    return Said(settled, frozenset(waiting))


def _answers(decision: Decision, rule: str, identity: str) -> bool:
    if decision.verb not in ("keep", "amend"):
        return False
    return not decision.rules or rule in decision.rules or identity in decision.findings
