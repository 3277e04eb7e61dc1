"""Practise to weigh: read balances drawn as pictures, and write gross, bag and net."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.drilling import DrillPractice, MarkedDrill, begun, from_answers
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
    trainee: str,
    *,
    species: str = "barn_owl",
    level: str | int | None = None,
    seed: int | None = None,
    progress: str | Path | None = None,
    schemas: str | Path | Declarations | None = None,
) -> WeighingPractice:
    """Begin to practise at balances drawn as pictures.

    Parameters
    ----------
    trainee : str
        Initials.
    species : str
        Whose masses are shown, as in ``schemas/species``.
    level : int or str, optional
        1 to 5, or its name; by default the first that the trainee has not settled.
    seed : int, optional
        Another number, another round; by default the number of the trainee's next round.
    progress : path, optional
        File to which each marked round is added; without it nothing is kept.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    WeighingPractice
        Shown as the round; ``mark([{"gross": "395", ...}, ...])`` marks it, ``next()`` goes on.

    Raises
    ------
    audit.refusal.Refusal
        No such species or level, no initials, or the file of progress cannot be read.

    Examples
    --------
    >>> practice = practise_weighing("AB", seed=1)
    >>> right = [{cell: f"{one.true(cell):g}" for cell in ("gross", "bag", "net")}
    ...          for one in practice.round.weighings]
    >>> practice.mark(right).marked.whole.value
    1.0
    """
    return WeighingPractice(begun(weighing_drill(species), trainee, level, seed, progress, schemas))


def mark_weighing(
    answers: str | Path,
    progress: str | Path | None = None,
    *,
    schemas: str | Path | Declarations | None = None,
) -> MarkedWeighing:
    """Mark a sheet of answers that was filled in, and keep what came of it.

    Parameters
    ----------
    answers : path
        As written by `WeighingPractice.write`, with the masses filled in: .csv, .xlsx or .ods; it is never
        written to.
    progress : path, optional
        File to which the marked round is added. The same round with the same answers is kept once.
    schemas : path or Declarations, optional
        The declarations that the round was made with.

    Raises
    ------
    audit.refusal.Refusal
        The file is no sheet of answers, or cannot be marked.
    """
    return MarkedWeighing(*from_answers(weighing_drill(), answers, progress, schemas))
