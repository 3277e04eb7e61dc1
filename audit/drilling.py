"""What every drill of practice offers at a prompt: a round, what came of it, and their files."""

from __future__ import annotations

import datetime as dt
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypedDict, TypeVar

from audit.checking import declarations_of
from audit.practice.drill.answer_sheet import answered_drill
from audit.practice.drill.files import write_result, write_round
from audit.practice.drill.lesson import DrillLesson
from audit.practice.drill.round_code import Coded
from audit.practice.exercise.progress import add_record, read_progress
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.declarations import Declarations
    from audit.practice.drill.drill import Drill
    from audit.practice.drill.paper import Paper
    from audit.practice.exercise.drill_record import DrillRecord

__all__ = [
    "DrillPractice",
    "MarkedDrill",
    "Wishes",
    "begun",
    "drill_of_answers",
    "from_answers",
    "moment",
    "opened_desk",
]

R = TypeVar("R", bound=Coded)
A = TypeVar("A")
S = TypeVar("S")

if TYPE_CHECKING:
    #: All that a `MarkedDrill` takes.
    _Marked = tuple[Drill[Any, Any, S], str, S, Sequence[DrillRecord], Declarations]


class MarkedDrill(Generic[S]):
    """A marked round: shown as a page; ``marked`` holds every answer.

    Parameters
    ----------
    drill : Drill
    name : str
        Stem of the files of the round.
    marked : S
    records : sequence of DrillRecord
        All rounds of the trainee, this one too.
    declared : Declarations
    """

    def __init__(
        self,
        drill: Drill[Any, Any, S],
        name: str,
        marked: S,
        records: Sequence[DrillRecord],
        declared: Declarations,
    ) -> None:
        self.drill = drill
        self.name = name
        self.marked = marked
        self.records = tuple(records)
        self.declared = declared

    @property
    def result(self) -> Paper:
        """What came of it, as a page."""
        return self.drill.result(self.marked, self.records, self.declared)

    def __repr__(self) -> str:
        return self.result.text

    def _repr_html_(self) -> str:
        return self.result.piece()

    def write(self, out: str | Path, inputs: Iterable[Path] = ()) -> list[Path]:
        """Write the result as ``<name>.result.html`` into a folder."""
        return write_result(self.name, self.result, Path(out), list(inputs))


class DrillPractice(Generic[R, A, S]):
    """A trainee at a drill: shown as the round at hand.

    Attributes
    ----------
    lesson : DrillLesson
        The state: the round at hand, what came of it, and what comes next.
    """

    #: Module and class of its desk.
    desk_at = ("", "")

    def __init__(self, lesson: DrillLesson[R, A, S]) -> None:
        self.lesson = lesson

    @property
    def round(self) -> R:
        """The round at hand, with its key."""
        return self.lesson.round

    def next(self, *, level: str | int | None = None, seed: int | None = None) -> DrillPractice[R, A, S]:
        """Go on to the next round; what was missed comes more often."""
        self.lesson.next(level=level, number=seed)
        return self

    def desk(self) -> Any:  # noqa: ANN401 - a widget, whose library is loaded here
        """Open a desk in a notebook: the round is done there, and marked.

        Raises
        ------
        audit.refusal.Refusal
            The libraries of the notebook are not installed.
        """
        return opened_desk(*self.desk_at)(self.lesson, moment)

    def write(self, out: str | Path, *, paper: str = "a4") -> list[Path]:
        """Write the round to print, a sheet for the answers, and the key into a folder ``keys`` beside."""
        lesson = self.lesson
        return write_round(lesson.drill, lesson.round, lesson.declared, Path(out), paper=paper)

    def __repr__(self) -> str:
        return self.lesson.sheet.text

    def _repr_html_(self) -> str:
        return self.lesson.sheet.piece()

    def _handed_in(self, answers: A) -> _Marked[S]:
        lesson = self.lesson
        score = lesson.hand_in(answers, at=moment())
        return lesson.drill, lesson.round.name, score, lesson.records, lesson.declared


class Wishes(TypedDict, total=False):
    """What may be wished for at the begin of any drill; `begun` says what each is."""

    level: str | int | None
    seed: int | None
    progress: str | Path | None
    schemas: str | Path | Declarations | None


def begun(
    drill: Drill[R, A, S],
    trainee: str,
    *,
    level: str | int | None = None,
    seed: int | None = None,
    progress: str | Path | None = None,
    schemas: str | Path | Declarations | None = None,
) -> DrillLesson[R, A, S]:
    """Begin a lesson.

    Parameters
    ----------
    drill : Drill
    trainee : str
        Initials.
    level : int or str, optional
        Number or name of a level; by default the first that the trainee has not settled.
    seed : int, optional
        Another number, another round; by default the number of the trainee's next round.
    progress : path, optional
        File to which each marked round is added, such as ``practice.progress.jsonl``; without it nothing is
        kept.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Raises
    ------
    audit.refusal.Refusal
        No such level or whatever else the drill takes, no initials, or the file of progress cannot be read.
    """
    path = None if progress is None else Path(progress)
    return DrillLesson(drill, trainee, declarations_of(schemas), path=path, level=level, number=seed)


def from_answers(
    drill: Drill[R, A, S],
    answers: str | Path,
    progress: str | Path | None,
    schemas: str | Path | Declarations | None,
) -> _Marked[S]:
    """Mark a sheet of answers, and keep what came of it.

    Parameters
    ----------
    answers : path
        As `DrillPractice.write` wrote it, filled in: .csv, .xlsx or .ods; it is never written to.
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
    made, written = drill.answers.read(Path(answers), declared)
    score = drill.mark(made, written, declared)
    record = drill.record(score, moment())
    records: tuple[DrillRecord, ...] = (record,)
    if progress is not None:
        add_record(Path(progress), record)
        records = read_progress(Path(progress)).drills_of(made.trainee, drill.name)
    return drill, made.name, score, records, declared


def drill_of_answers(path: str | Path, *, schemas: str | Path | Declarations | None = None) -> str:
    """Tell of which drill a file is a sheet of answers; empty where it is none."""
    return answered_drill(Path(path), declarations_of(schemas))


def opened_desk(module: str, name: str) -> Any:  # noqa: ANN401 - the class of a widget
    """Load the desk of a notebook.

    Raises
    ------
    audit.refusal.Refusal
        The libraries of the notebook are not installed.
    """
    try:
        return getattr(import_module(module), name)
    except ModuleNotFoundError as fault:
        raise Refusal(
            "The desk needs the libraries of the notebook.",
            where=str(fault.name),
            cure="pip install 'nestproof[notebook]'",
        ) from fault


def moment() -> str:
    """Return the moment, ISO 8601 with the offset of this machine."""
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")
