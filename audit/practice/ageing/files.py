"""Files of a round: the page, the sheet for the answers, the key apart, and what came of it."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

from audit.handover.folder import write_whole
from audit.practice.ageing.page import key_page, result_page, round_page
from audit.practice.ageing.round import round_of_code
from audit.practice.exercise.answer_lines import answer_lines
from audit.practice.exercise.files import KEYS
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.practice.ageing.marking import MarkedAges
    from audit.practice.ageing.round import AgeingRound

__all__ = ["HEAD", "read_ages", "write_ages", "write_result"]

#: First line of the sheet for the answers.
HEAD = ("round", "question", "answer")


def write_ages(made: AgeingRound, declared: Declarations, out: Path, *, paper: str = "a4") -> list[Path]:
    """Write ``<name>.html``, ``<name>.answers.csv`` and, in a folder of its own, ``keys/<name>.key.html``.

    A sheet for answers that is there already is left as it is: somebody may have written into it.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or there is no such paper.
    """
    page = round_page(made, declared, paper)
    answers = out / f"{made.name}.answers.csv"
    writers = {f"{made.name}.html": lambda path: _write(path, page)}
    if not answers.exists():
        writers[answers.name] = lambda path: _write_answers(made, path)
    written = write_whole(writers, out, ())
    return written + write_whole(
        {f"{made.name}.key.html": lambda path: _write(path, key_page(made, declared))}, out / KEYS, ()
    )


def write_result(marked: MarkedAges, declared: Declarations, out: Path, inputs: Sequence[Path]) -> list[Path]:
    """Write what came of a round: ``<name>.result.html``.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or the result would replace a file that was read.
    """
    page = result_page(marked, declared)
    return write_whole({f"{marked.made.name}.result.html": lambda path: _write(path, page)}, out, inputs)


def read_ages(path: Path, declared: Declarations) -> tuple[AgeingRound, list[str], list[str]]:
    """Read a sheet of answers that was filled in: its round, the ages, the verdicts on broods.

    Raises
    ------
    audit.refusal.Refusal
        It cannot be read, is another file, its questions are not those of its round, or nothing is answered.
    """
    lines = answer_lines(path, HEAD, "ageing")
    made = round_of_code(lines[0][0], declared)
    told = {line[1]: line[2] for line in lines}
    wanted = _questions(made)
    if sorted(told) != sorted(wanted) or len(lines) != len(wanted):
        raise Refusal(
            "The lines of the sheet are not those of its round.",
            where=str(path),
            cure=f"Keep one line for each of: {', '.join(wanted)}.",
        )
    if not any(told.values()):
        raise Refusal(
            "Nothing was written into the sheet of answers yet.",
            where=str(path),
            cure="Write an age or an answer into each line, save it, and mark it then.",
        )
    answers = [told[question] for question in wanted]
    return made, answers[: len(made.nestlings)], answers[len(made.nestlings) :]


def _questions(made: AgeingRound) -> list[str]:
    birds = [f"nestling {number}" for number in range(1, len(made.nestlings) + 1)]
    return birds + [f"brood {number}" for number in range(1, len(made.broods) + 1)]


def _write_answers(made: AgeingRound, path: Path) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(HEAD)
        writer.writerows((made.code, question, "") for question in _questions(made))


def _write(path: Path, page: str) -> None:
    path.write_text(page, encoding="utf-8", newline="\n")
