"""Practise on invented sheets: the same rules that audit a season teach whoever types one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import declarations_of
from audit.drilling import moment, opened_desk
from audit.practice.ageing.marking import overview_line as ageing_line
from audit.practice.exercise.files import write_overview, write_result, write_sheet
from audit.practice.exercise.filled import read_marked
from audit.practice.exercise.lesson import Lesson
from audit.practice.exercise.levels import levels_of
from audit.practice.exercise.marking import mark_sheet
from audit.practice.exercise.overview import advice, overview_of
from audit.practice.exercise.overview_page import overview_piece, overview_text
from audit.practice.exercise.progress import PROGRESS, add_record, read_progress
from audit.practice.exercise.result_page import result_piece, result_text
from audit.practice.exercise.sheet_page import sheet_piece
from audit.practice.exercise.sheet_record import record_of
from audit.practice.reading.reading_words import overview_line
from audit.practice.weighing_drill.marking import overview_line as weighing_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from audit.declarations import Declarations
    from audit.practice.exercise.answers import Answer
    from audit.practice.exercise.desk import SheetDesk
    from audit.practice.exercise.exercise import Exercise
    from audit.practice.exercise.overview import Overview
    from audit.practice.exercise.score import Score
    from audit.practice.exercise.sheet_record import SheetRecord

__all__ = ["Marked", "Practice", "TrainersView", "mark_practice", "practice_overview", "practise"]

#: Drill -> what the trainer's overview says of its rounds, in a line.
DRILLS = {"reading": overview_line, "weighing": weighing_line, "ageing": ageing_line}


class Marked:
    """A marked sheet: shown as a page; ``score`` holds every cell."""

    def __init__(self, score: Score, titles: Mapping[str, str], told: str) -> None:
        self.score = score
        self.titles = titles
        self.advice = told

    def __repr__(self) -> str:
        return result_text(self.score, self.advice)

    def _repr_html_(self) -> str:
        return result_piece(self.score, self.titles, self.advice)

    def write(self, out: str | Path, inputs: Iterable[Path] = ()) -> list[Path]:
        """Write the result as ``<name>.result.html`` into a folder."""
        return write_result(self.score, self.titles, self.advice, Path(out), list(inputs))


class TrainersView:
    """How each trainee gets on: shown as tables; ``overview`` holds the figures."""

    def __init__(self, overview: Overview) -> None:
        self.overview = overview

    def __repr__(self) -> str:
        return overview_text(self.overview)

    def _repr_html_(self) -> str:
        return overview_piece(self.overview)

    def write(self, out: str | Path) -> list[Path]:
        """Write ``practice.overview.html`` into a folder."""
        return write_overview(self.overview, Path(out))


class Practice:
    """A trainee at practice: shown as the sheet at hand.

    Attributes
    ----------
    lesson : Lesson
        The state: the sheet at hand, what came of it, and what comes next.
    """

    def __init__(self, lesson: Lesson) -> None:
        self.lesson = lesson

    @property
    def exercise(self) -> Exercise:
        """The sheet at hand, with its key."""
        return self.lesson.exercise

    def mark(self, marked: Mapping[tuple[int | str, str], str] | Iterable[Answer]) -> Marked:
        """Mark the sheet at hand, and keep what came of it.

        Parameters
        ----------
        marked : mapping of (line, column) to str, or iterable of Answer
            Number of the line and column of each cell that is wrong -> what was meant, or ``?`` where the
            field notebook must be asked: ``{(3, "net"): "324", (5, "wing"): "?"}``.

        Raises
        ------
        audit.refusal.Refusal
            The sheet has no such cell, or the file of progress cannot be written.
        """
        score = self.lesson.mark(marked, at=moment())
        return Marked(score, self.lesson.titles, self.lesson.advice)

    def next(self, *, level: str | int | None = None, seed: int | None = None) -> Practice:
        """Go on to the next sheet; its slips are chosen by what was missed and what is due."""
        self.lesson.next(level=level, seed=seed)
        return self

    def desk(self) -> SheetDesk:
        """Open a desk in a notebook: the sheet as a grid, in which cells are marked and handed in.

        Raises
        ------
        audit.refusal.Refusal
            The libraries of the notebook are not installed.
        """
        desk: SheetDesk = opened_desk("audit.practice.exercise.desk", "SheetDesk")(self.lesson, moment)
        return desk

    def overview(self) -> TrainersView:
        """Tell how this trainee, and all others of the same file, get on."""
        return practice_overview(self.lesson.path, schemas=self.lesson.declared)

    def write(self, out: str | Path, *, paper: str = "a4") -> list[Path]:
        """Write the sheet to print and to fill in, and its key into a folder ``keys`` beside it."""
        return write_sheet(self.exercise, self.lesson.declared, Path(out), paper=paper)

    def __repr__(self) -> str:
        from audit.practice.exercise.words import lead, title

        typed = self.exercise.season.tables["handlings"].typed
        shown = typed.set_axis(range(1, len(typed) + 1)).to_string()
        return f"{title(self.exercise)}\n{lead(self.exercise)}\n{shown}"

    def _repr_html_(self) -> str:
        return sheet_piece(self.exercise, self.lesson.aids)


def practise(
    trainee: str,
    *,
    species: str = "barn_owl",
    level: str | int | None = None,
    seed: int | None = None,
    progress: str | Path | None = None,
    schemas: str | Path | Declarations | None = None,
) -> Practice:
    """Begin to practise on an invented sheet with slips in it.

    Parameters
    ----------
    trainee : str
        Initials.
    species : str
        Of which the sheet is, as in ``schemas/species``.
    level : int or str, optional
        1 to 14, or its name; by default the first that the trainee has not settled.
    seed : int, optional
        Another number, another sheet; by default the number of the trainee's next sheet.
    progress : path, optional
        File to which each marked sheet is added, such as ``practice.progress.jsonl``; without it nothing is
        kept.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    Practice
        Shown as the sheet; ``mark({(3, "net"): "324"})`` marks it, ``next()`` goes on.

    Raises
    ------
    audit.refusal.Refusal
        No such level or species, no initials, or the file of progress cannot be read.

    Examples
    --------
    >>> practice = practise("AB", level=2, seed=1)
    >>> place, change = next(iter(practice.exercise.changes.items()))
    >>> line = practice.exercise.line(place[0])
    >>> practice.mark({(line, place[1]): change.meant}).score.kinds[0].mended
    1
    """
    declared = declarations_of(schemas)
    path = None if progress is None else Path(progress)
    return Practice(Lesson(trainee, declared, species=species, path=path, level=level, seed=seed))


def mark_practice(
    workbook: str | Path,
    progress: str | Path | None = None,
    *,
    schemas: str | Path | Declarations | None = None,
) -> Marked:
    """Mark a practice sheet that was filled in, and keep what came of it.

    Parameters
    ----------
    workbook : path
        As written by `Practice.write`, with wrong cells typed over; it is never written to.
    progress : path, optional
        File to which the marked sheet is added. The same sheet with the same answers is kept once.
    schemas : path or Declarations, optional
        The declarations that the sheet was made with.

    Raises
    ------
    audit.refusal.Refusal
        The workbook is no practice sheet, or cannot be marked.
    """
    declared = declarations_of(schemas)
    exercise, answers = read_marked(Path(workbook), declared)
    score = mark_sheet(exercise, answers, declared)
    record = record_of(score, at=moment())
    levels = levels_of(declared)
    if progress is None:
        records: tuple[SheetRecord, ...] = (record,)
    else:
        add_record(Path(progress), record)
        records = read_progress(Path(progress)).of(record.who)
    titles = {level.slug: level.title for level in levels}
    return Marked(score, titles, advice(records, levels, declared))


def practice_overview(
    progress: str | Path | None, *, schemas: str | Path | Declarations | None = None
) -> TrainersView:
    """Tell how each trainee gets on.

    Parameters
    ----------
    progress : path
        The file of progress, or the folder that it lies in.

    Raises
    ------
    audit.refusal.Refusal
        It cannot be read, or is another file.
    """
    declared = declarations_of(schemas)
    path = None if progress is None else Path(progress)
    if path is not None and path.is_dir():
        path = path / PROGRESS
    return TrainersView(overview_of(read_progress(path), levels_of(declared), declared, DRILLS))
