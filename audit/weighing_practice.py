"""Practise to weigh: read balances drawn as pictures, and write gross, bag and net."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import declarations_of
from audit.practice.exercise.lesson import trainee_named
from audit.practice.exercise.progress import add_record, read_progress
from audit.practice.weighing_drill.files import read_answers, write_result, write_round
from audit.practice.weighing_drill.marking import mark_round, record_of
from audit.practice.weighing_drill.page import result_piece, result_text, round_piece
from audit.practice.weighing_drill.round import DRILL, make_round, next_mix
from audit.practice.weighing_drill.words import LEAD, WAYS_SAID, title

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.practice.exercise.drill_record import DrillRecord
    from audit.practice.weighing_drill.marking import MarkedRound
    from audit.practice.weighing_drill.round import Round

__all__ = ["MarkedWeighing", "WeighingPractice", "mark_weighing", "practise_weighing"]


class MarkedWeighing:
    """A marked round: shown as a page; ``marked`` holds every cell."""

    def __init__(self, marked: MarkedRound) -> None:
        self.marked = marked

    def __repr__(self) -> str:
        return result_text(self.marked)

    def _repr_html_(self) -> str:
        return result_piece(self.marked)

    def write(self, out: str | Path, inputs: Iterable[Path] = ()) -> list[Path]:
        """Write the result as ``<name>.result.html`` into a folder."""
        return write_result(self.marked, Path(out), list(inputs))


class WeighingPractice:
    """A trainee at the balances: shown as the round at hand.

    Attributes
    ----------
    round : Round
        The weighings, with what they should be.
    """

    def __init__(self, made: Round, declared: Declarations, progress: Path | None) -> None:
        self.round = made
        self._declared = declared
        self._progress = progress
        self._own: tuple[DrillRecord, ...] = ()

    def mark(self, answers: Sequence[Mapping[str, str]]) -> MarkedWeighing:
        """Mark the round at hand, and keep what came of it.

        Parameters
        ----------
        answers : sequence of mapping of str to str
            For each weighing what was written: ``{"gross": "395", "bag": "22", "net": "373"}``.

        Raises
        ------
        audit.refusal.Refusal
            There are more or fewer answers than weighings, or the file of progress cannot be written.
        """
        marked = mark_round(self.round, answers, self._declared)
        record = record_of(marked, at=_now())
        if self._progress is not None:
            add_record(self._progress, record)
        elif all(one.sheet != record.sheet for one in self._own):
            self._own += (record,)
        return MarkedWeighing(marked)

    def next(self, *, seed: int | None = None) -> WeighingPractice:
        """Go on to the next round, with more weighings of the kind that went worst."""
        made = self.round
        records = _records(made.trainee, self._progress) or self._own
        number = made.number + 1 if seed is None else seed
        mix = next_mix(records, self._declared)
        self.round = make_round(made.trainee, number, made.species, mix, self._declared)
        return self

    def write(self, out: str | Path, *, paper: str = "a4") -> list[Path]:
        """Write the page, the sheet for the answers, and the key into a folder ``keys`` beside them."""
        return write_round(self.round, Path(out), paper=paper)

    def __repr__(self) -> str:
        lines = [f"{title(self.round)}: {len(self.round.weighings)} weighings", LEAD]
        lines += [
            f"  {times} {WAYS_SAID[way]}"
            for way, times in zip(WAYS_SAID, self.round.mix, strict=True)
            if times
        ]
        lines.append("Read the pictures on the page and write the masses into the sheet for the answers.")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        return round_piece(self.round)


def practise_weighing(
    trainee: str,
    *,
    species: str = "barn_owl",
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
        No such species, no initials, or the file of progress cannot be read.

    Examples
    --------
    >>> practice = practise_weighing("AB", seed=1)
    >>> right = [{cell: f"{one.true(cell):g}" for cell in ("gross", "bag", "net")}
    ...          for one in practice.round.weighings]
    >>> practice.mark(right).marked.whole.value
    1.0
    """
    declared = declarations_of(schemas)
    path = None if progress is None else Path(progress)
    who = trainee_named(trainee)
    records = _records(who, path)
    number = len(records) + 1 if seed is None else seed
    made = make_round(who, number, species, next_mix(records, declared), declared)
    return WeighingPractice(made, declared, path)


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
        As written by `WeighingPractice.write`, with the masses filled in; it is never written to.
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
    made, written = read_answers(Path(answers), declared)
    marked = mark_round(made, written, declared)
    if progress is not None:
        add_record(Path(progress), record_of(marked, at=_now()))
    return MarkedWeighing(marked)


def _records(trainee: str, path: Path | None) -> tuple[DrillRecord, ...]:
    return read_progress(path).drills_of(trainee, DRILL)


def _now() -> str:
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")
