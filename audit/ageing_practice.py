"""Practise to age nestlings by their wings, and to tell whether a brood is within the days of ringing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Unpack

from audit.drilling import DrillPractice, MarkedDrill, Wishes, begun, from_answers
from audit.practice.ageing.drill import ageing_drill
from audit.practice.ageing.marking import MarkedAges
from audit.practice.ageing.round import AgeingRound

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from audit.declarations import Declarations

    Told = tuple[Sequence[str], Sequence[str]]

__all__ = ["AgeingPractice", "MarkedAgeing", "mark_ageing", "practise_ageing"]


class MarkedAgeing(MarkedDrill[MarkedAges]):
    """A marked round: shown as a page; ``marked`` holds every answer."""


class AgeingPractice(DrillPractice[AgeingRound, "Told", MarkedAges]):
    """A trainee who ages nestlings: shown as the round at hand, which is ``round``."""

    desk_at = ("audit.practice.ageing.desk", "AgeingDesk")

    def mark(self, ages: Sequence[str], verdicts: Sequence[str] = ()) -> MarkedAgeing:
        """Mark the round at hand, and keep what came of it.

        Parameters
        ----------
        ages : sequence of str
            Days since hatching, one for each nestling.
        verdicts : sequence of str
            ``within``, ``too young`` or ``too old``, one for each brood; near the first or last day of
            ringing also ``too close``.

        Raises
        ------
        audit.refusal.Refusal
            Answers are missing or too many, or the file of progress cannot be written.
        """
        return MarkedAgeing(*self._handed_in((ages, verdicts)))


def practise_ageing(trainee: str, *, species: str = "barn_owl", **wishes: Unpack[Wishes]) -> AgeingPractice:
    """Begin to practise ageing.

    Parameters
    ----------
    trainee : str
        Initials.
    species : str
        One whose curves tell ages, as in ``schemas/species``: by its wing, or, where no curve of the wing is
        declared, by its mass, and then without broods.
    **wishes
        ``level`` (number or name), ``seed`` (another number, another round), ``progress`` (file in which
        rounds are kept) and ``schemas`` (a team's folder), all as for `audit.drilling.begun`.

    Examples
    --------
    >>> practice = practise_ageing("AB", seed=1)
    >>> ages = [f"{one.age:.0f}" for one in practice.round.nestlings]
    >>> practice.mark(ages, [brood.verdict for brood in practice.round.broods]).marked.inside.value
    1.0
    """
    return AgeingPractice(begun(ageing_drill(species), trainee, **wishes))


def mark_ageing(
    answers: str | Path,
    progress: str | Path | None = None,
    *,
    schemas: str | Path | Declarations | None = None,
) -> MarkedAgeing:
    """Mark a sheet of answers that was filled in, as `audit.drilling.from_answers` says."""
    return MarkedAgeing(*from_answers(ageing_drill(), answers, progress, schemas))
