"""Practise to weigh: read balances drawn as pictures, and write gross, bag and net."""

from __future__ import annotations

from typing import TYPE_CHECKING, Unpack

from audit.drilling import DrillPractice, MarkedDrill, Wishes, begun, from_answers
from audit.practice.weighing_drill.drill import weighing_drill
from audit.practice.weighing_drill.marking import MarkedRound
from audit.practice.weighing_drill.round import Round

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from audit.declarations import Declarations

    Written = Sequence[Mapping[str, str]]

__all__ = ["MarkedWeighing", "WeighingPractice", "mark_weighing", "practise_weighing"]


class MarkedWeighing(MarkedDrill[MarkedRound]):
    """A marked round: shown as a page; ``marked`` holds every cell."""


class WeighingPractice(DrillPractice[Round, "Written", MarkedRound]):
    """A trainee at the balances: shown as the round at hand, which is ``round``."""

    desk_at = ("audit.practice.weighing_drill.desk", "WeighingDesk")

    def mark(self, answers: Sequence[Mapping[str, str]]) -> MarkedWeighing:
        """Mark the round at hand, and keep what came of it.

        Parameters
        ----------
        answers : sequence of mapping of str to str
            For each weighing what was written: ``{"gross": "395", "bag": "22", "net": "373"}``; ``?`` for a
            mass that cannot be known.

        Raises
        ------
        audit.refusal.Refusal
            There are more or fewer answers than weighings, or the file of progress cannot be written.
        """
        return MarkedWeighing(*self._handed_in(answers))


def practise_weighing(
    trainee: str, *, species: str = "barn_owl", **wishes: Unpack[Wishes]
) -> WeighingPractice:
    """Begin to practise at balances drawn as pictures.

    Parameters
    ----------
    trainee : str
        Initials.
    species : str
        Whose masses are shown, as in ``schemas/species``.
    **wishes
        ``level`` (number or name), ``seed`` (another number, another round), ``progress`` (file in which
        rounds are kept) and ``schemas`` (a team's folder), all as for `audit.drilling.begun`.

    Returns
    -------
    WeighingPractice
        Shown as the round; ``mark([{"gross": "395", ...}, ...])`` marks it, ``next()`` goes on.

    Examples
    --------
    >>> practice = practise_weighing("AB", seed=1)
    >>> right = [{cell: f"{one.true(cell):g}" for cell in ("gross", "bag", "net")}
    ...          for one in practice.round.weighings]
    >>> practice.mark(right).marked.whole.value
    1.0
    """
    return WeighingPractice(begun(weighing_drill(species), trainee, **wishes))


def mark_weighing(
    answers: str | Path,
    progress: str | Path | None = None,
    *,
    schemas: str | Path | Declarations | None = None,
) -> MarkedWeighing:
    """Mark a sheet of answers that was filled in, as `audit.drilling.from_answers` says."""
    return MarkedWeighing(*from_answers(weighing_drill(), answers, progress, schemas))
