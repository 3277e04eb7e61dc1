"""Practise to age nestlings by their wings, and to tell whether a brood is within the days of ringing."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import declarations_of
from audit.practice.ageing.files import read_ages, write_ages, write_result
from audit.practice.ageing.marking import mark_ages, record_of
from audit.practice.ageing.page import result_piece, result_text, round_piece
from audit.practice.ageing.round import DRILL, make_round, next_mix
from audit.practice.exercise.lesson import trainee_named
from audit.practice.exercise.progress import add_record, read_progress

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.declarations import Declarations
    from audit.practice.ageing.marking import MarkedAges
    from audit.practice.ageing.round import AgeingRound

__all__ = ["AgeingPractice", "MarkedAgeing", "mark_ageing", "practise_ageing"]


class MarkedAgeing:
    """A marked round: shown as a page; ``marked`` holds every answer."""

    def __init__(self, marked: MarkedAges, declared: Declarations) -> None:
        self.marked = marked
        self._declared = declared

    def __repr__(self) -> str:
        return result_text(self.marked)

    def _repr_html_(self) -> str:
        return result_piece(self.marked, self._declared)

    def write(self, out: str | Path, inputs: Iterable[Path] = ()) -> list[Path]:
        """Write the result as ``<name>.result.html`` into a folder."""
        return write_result(self.marked, self._declared, Path(out), list(inputs))


class AgeingPractice:
    """A trainee who ages nestlings: shown as the round at hand, which is ``round``."""

    def __init__(self, made: AgeingRound, declared: Declarations, progress: Path | None) -> None:
        self.round = made
        self._declared = declared
        self._progress = progress

    def mark(self, ages: Sequence[str], verdicts: Sequence[str]) -> MarkedAgeing:
        """Mark the round at hand, and keep what came of it.

        Parameters
        ----------
        ages : sequence of str
            Days since hatching, one for each nestling.
        verdicts : sequence of str
            ``within``, ``too young`` or ``too old``, one for each brood.

        Raises
        ------
        audit.refusal.Refusal
            Answers are missing or too many, or the file of progress cannot be written.
        """
        marked = mark_ages(self.round, ages, verdicts, self._declared)
        if self._progress is not None:
            add_record(self._progress, record_of(marked, at=_now()))
        return MarkedAgeing(marked, self._declared)

    def write(self, out: str | Path, *, paper: str = "a4") -> list[Path]:
        """Write the page, the sheet for the answers, and the key into a folder ``keys`` beside them."""
        return write_ages(self.round, self._declared, Path(out), paper=paper)

    def __repr__(self) -> str:
        made = self.round
        birds = [
            f"  nestling {number}: wing {one.wing:.0f} mm" for number, one in enumerate(made.nestlings, 1)
        ]
        broods = [
            f"  brood {number}: wings {', '.join(f'{bird.wing:.0f}' for bird in brood)} mm"
            for number, (brood, _) in enumerate(made.broods, 1)
        ]
        return "\n".join([f"Ageing drill {made.number} of {made.trainee}", *birds, *broods])

    def _repr_html_(self) -> str:
        return round_piece(self.round, self._declared)


def practise_ageing(
    trainee: str,
    *,
    species: str = "barn_owl",
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
        One whose wing curve holds well before and after its days of ringing, as in ``schemas/species``.
    seed : int, optional
        Another number, another round; by default the number of the trainee's next round.
    progress : path, optional
        File to which each marked round is added; without it nothing is kept.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Raises
    ------
    audit.refusal.Refusal
        The species cannot be aged by its wing, no initials, or the file of progress cannot be read.

    Examples
    --------
    >>> practice = practise_ageing("AB", seed=1)
    >>> ages = [f"{one.age:.0f}" for one in practice.round.nestlings]
    >>> practice.mark(ages, [meant for _, meant in practice.round.broods]).marked.inside.value
    1.0
    """
    declared = declarations_of(schemas)
    path = None if progress is None else Path(progress)
    who = trainee_named(trainee)
    records = read_progress(path).drills_of(who, DRILL)
    number = len(records) + 1 if seed is None else seed
    return AgeingPractice(
        make_round(who, number, species, next_mix(records, declared), declared), declared, path
    )


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
        As written by `AgeingPractice.write`, filled in; it is never written to.
    progress : path, optional
        File to which the marked round is added. The same round with the same answers is kept once.
    schemas : path or Declarations, optional
        The declarations that the round was made with.

    Raises
    ------
    audit.refusal.Refusal
        The file is no sheet of answers, or cannot be marked.
    """
    declared = declarations_of(schemas)
    made, ages, verdicts = read_ages(Path(answers), declared)
    marked = mark_ages(made, ages, verdicts, declared)
    if progress is not None:
        add_record(Path(progress), record_of(marked, at=_now()))
    return MarkedAgeing(marked, declared)


def _now() -> str:
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")
