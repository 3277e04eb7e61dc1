"""Files of a round: the page, the sheet for the answers, the key apart, and what came of it."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

from audit.handover.folder import write_whole
from audit.practice.drill.round_code import Coded
from audit.practice.exercise.files import KEYS
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.practice.drill.drill import Drill
    from audit.practice.drill.paper import Paper

    Writers = dict[str, Callable[[Path], object]]

__all__ = ["write_result", "write_round"]

R = TypeVar("R", bound=Coded)


def write_round(
    drill: Drill[R, Any, Any], made: R, declared: Declarations, out: Path, *, paper: str = "a4"
) -> list[Path]:
    """Write a round and, in a folder of its own, its key.

    A sheet for answers that is there already is left as it is: somebody may have written into it.

    Returns
    -------
    list of Path
        ``<name>.html``, ``.answers.csv`` and, of some drills, ``.pdf``; ``keys/<name>.key.html`` and
        ``.key.pdf``.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, there is no such paper, or a sheet for answers by this name belongs
        to another round.
    """
    name, answers = made.name, out / f"{made.name}.answers.csv"
    page, key = (part(made, declared).page(paper) for part in (drill.sheet, drill.key))
    prints = drill.prints(made, paper)
    writers: Writers = {f"{name}.html": partial(_write, page)}
    writers |= {f"{name}{end}": partial(_write_bytes, prints[end]) for end in prints if "key" not in end}
    if answers.exists():
        _refuse_other(made, answers)
    else:
        writers[answers.name] = partial(drill.answers.write, made)
    keyed: Writers = {f"{name}.key.html": partial(_write, key)}
    keyed |= {f"{name}{end}": partial(_write_bytes, prints[end]) for end in prints if "key" in end}
    return write_whole(writers, out, ()) + write_whole(keyed, out / KEYS, ())


def write_result(name: str, result: Paper, out: Path, inputs: Sequence[Path] = ()) -> list[Path]:
    """Write what came of a round: ``<name>.result.html``.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or the result would replace a file that was read.
    """
    return write_whole({f"{name}.result.html": partial(_write, result.page())}, out, inputs)


def _refuse_other(made: Coded, answers: Path) -> None:
    """Leave no page beside answers to other questions."""
    if made.code.encode() not in answers.read_bytes():
        raise Refusal(
            "A sheet for answers by this name is there already, and belongs to another round.",
            where=str(answers),
            cure="Have it marked and move it away, or make a round with another --seed.",
        )


def _write(page: str, path: Path) -> None:
    path.write_text(page, encoding="utf-8", newline="\n")


def _write_bytes(content: bytes, path: Path) -> None:
    path.write_bytes(content)
