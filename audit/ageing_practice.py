"""Practise to age nestlings by their wings, and to tell whether a brood is within the days of ringing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.drilling import DrillPractice, MarkedDrill, begun, from_answers
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


def practise_ageing(
    trainee: str,
    *,
    species: str = "barn_owl",
    level: str | int | None = None,
    seed: int | None = None,
    progress: str | Path | None = None,
    schemas: str | Path | Declarations | None = None,
) -> AgeingPractice:
    """Begin to practise ageing.

    Parameters
    ----------
    trainee : str
        Initials.
    species : str
        One whose curves tell ages, as in ``schemas/species``: by its wing, or, where no curve of the wing is
        declared, by its mass, and then without broods.
    level : int or str, optional
        1 to 3, or its name; by default the first that the trainee has not settled.
    seed : int, optional
        Another number, another round; by default the number of the trainee's next round.
    progress : path, optional
        File to which each marked round is added; without it nothing is kept.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Raises
    ------
    audit.refusal.Refusal
        The species cannot be aged, no such level, no initials, or the file of progress cannot be read.

    Examples
    --------
    >>> practice = practise_ageing("AB", seed=1)
    >>> ages = [f"{one.age:.0f}" for one in practice.round.nestlings]
    >>> practice.mark(ages, [brood.verdict for brood in practice.round.broods]).marked.inside.value
    1.0
    """
    return AgeingPractice(begun(ageing_drill(species), trainee, level, seed, progress, schemas))


def mark_ageing(
    answers: str | Path,
    progress: str | Path | None = None,
    *,
    schemas: str | Path | Declarations | None = None,
) -> MarkedAgeing:
    """Mark a sheet of answers that was filled in, and keep what came of it.

    Parameters
    ----------
    answers : path
        As written by `AgeingPractice.write`, filled in: .csv, .xlsx or .ods; it is never written to.
    progress : path, optional
        File to which the marked round is added. The same round with the same answers is kept once.
    schemas : path or Declarations, optional
        The declarations that the round was made with.

    Raises
    ------
    audit.refusal.Refusal
        The file is no sheet of answers, or cannot be marked.
    """
    return MarkedAgeing(*from_answers(ageing_drill(), answers, progress, schemas))
