"""A round marked: what came of each cell, shares with intervals, what to practise, the line of progress."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.models.interval import Share, wilson
from audit.practice.exercise.drill_record import DrillRecord, identity_of
from audit.practice.weighing_drill.classing import class_weighing
from audit.practice.weighing_drill.weighing import CELLS, DRILL, WAYS
from audit.practice.weighing_drill.words import KINDS, PRACTISE, WAYS_SAID
from audit.refusal import Refusal
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.declarations import Declarations
    from audit.practice.weighing_drill.classing import Verdict
    from audit.practice.weighing_drill.round import Round

__all__ = ["MarkedRound", "advice", "mark_round", "overview_line", "record_of"]


@dataclass(frozen=True, slots=True)
class MarkedRound:
    """A marked round.

    Attributes
    ----------
    made : Round
    answers : tuple of mapping of str to str
        What was written of each weighing.
    verdicts : tuple of tuple of Verdict
        Of each weighing, cell by cell.
    whole : Share
        Weighings of which all three cells are right.
    by_way : mapping of str to Share
        The same, by way of weighing.
    readings, sums : Share
        Gross and bag that were read rightly; nets that come out of them.
    confidence : float
        Of all intervals.
    """

    made: Round
    answers: tuple[Mapping[str, str], ...]
    verdicts: tuple[tuple[Verdict, ...], ...]
    whole: Share
    by_way: Mapping[str, Share]
    readings: Share
    sums: Share
    confidence: float

    @property
    def slips(self) -> Counter[str]:
        """How many slips of each kind."""
        return Counter(one.kind for row in self.verdicts for one in row if not one.is_right)


def mark_round(made: Round, answers: Sequence[Mapping[str, str]], declared: Declarations) -> MarkedRound:
    """Mark what was written of a round.

    Parameters
    ----------
    answers : sequence of mapping of str to str
        Text by cell for each weighing, in the order of the page.

    Raises
    ------
    audit.refusal.Refusal
        There are more or fewer of them than weighings, or a cell that there is not.
    """
    if len(answers) != len(made.weighings):
        raise Refusal(
            f"There are answers to {len(answers)} weighings, and the round has {len(made.weighings)}.",
            where=made.name,
            cure="Give one answer for each weighing; leave a cell empty where nothing was written.",
        )
    odd = sorted({cell for answer in answers for cell in answer} - set(CELLS))
    if odd:
        raise Refusal(
            f"A weighing has no '{odd[0]}'.", where=made.name, cure=f"Name {', '.join(CELLS)} only."
        )
    verdicts = tuple(
        class_weighing(weighing, answer) for weighing, answer in zip(made.weighings, answers, strict=True)
    )
    level = float(declared.settings["practice.weighing.confidence"].value)
    whole = [all(one.is_right for one in row) for row in verdicts]
    cells = [one for row in verdicts for one in row]
    ways = [weighing.way for weighing in made.weighings]

    def share(hits: Sequence[bool]) -> Share:
        return wilson(sum(hits), len(hits), level)

    return MarkedRound(
        made,
        tuple(dict(answer) for answer in answers),
        verdicts,
        share(whole),
        {
            way: share([right for right, one in zip(whole, ways, strict=True) if one == way])
            for way in WAYS
            if way in ways
        },
        share([one.is_right for one in cells if one.cell != "net"]),
        share([one.is_right for one in cells if one.cell == "net"]),
        level,
    )


def advice(marked: MarkedRound) -> str:
    """Say in a sentence or two what to practise."""
    if not marked.slips:
        return "All is right. Go on to the next level, or to another round of this one."
    # the same slips in the same order whatever the order of the page
    kind, times = min(marked.slips.items(), key=lambda one: (-one[1], list(KINDS).index(one[0])))
    told = f"Most often, {times} of {sum(marked.slips.values())}, {KINDS[kind]}: {PRACTISE[kind]}."
    if sum(marked.slips.values()) == 1:
        told = f"One slip: {KINDS[kind]}. From now on, {PRACTISE[kind]}."
    worst = min(marked.by_way, key=lambda way: (marked.by_way[way].value, WAYS.index(way)))
    if len(marked.by_way) == 1:
        return told
    return f"{told} The next round holds more weighings of the kind that went worst, {WAYS_SAID[worst]}."


def overview_line(records: Sequence[DrillRecord], declared: Declarations) -> str:
    """Say in a line how a trainee gets on with weighing, for the trainer."""
    level = float(declared.settings["practice.weighing.confidence"].value)
    own = wilson(sum(one.right for one in records), sum(one.asked for one in records), level)
    slips = sum((Counter(one.counts.get("slips", {})) for one in records), Counter[str]())
    told = f"Weighing drill: {counted(len(records), 'round')}, {own.hits} of {own.trials} weighings right"
    told += f" ({own.low:.2f} to {own.high:.2f})"
    often = min(slips, key=lambda kind: (-slips[kind], kind), default="")
    return f"{told}; most often {KINDS[often]}." if often in KINDS else f"{told}."


def record_of(marked: MarkedRound, *, at: str) -> DrillRecord:
    """Make the line of progress of a marked round.

    Parameters
    ----------
    at : str
        Moment at which it was marked, ISO 8601.
    """
    texts = [answer.get(cell, "").strip() for answer in marked.answers for cell in CELLS]
    shares = marked.by_way
    return DrillRecord(
        identity=identity_of(marked.made.code, texts),
        at=at,
        who=marked.made.trainee,
        drill=DRILL,
        sheet=marked.made.name,
        level=marked.made.level.slug,
        asked=marked.whole.trials,
        right=marked.whole.hits,
        counts={
            "ways": {way: share.trials for way, share in shares.items()},
            "missed": {way: share.trials - share.hits for way, share in shares.items()},
            "slips": dict(sorted(marked.slips.items())),
        },
    )
