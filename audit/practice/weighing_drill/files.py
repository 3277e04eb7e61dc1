"""Files of a round: the page, the sheet for the answers, the key apart, and what came of it."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

from audit.handover.folder import write_whole
from audit.practice.exercise.answer_lines import answer_lines
from audit.practice.exercise.files import KEYS
from audit.practice.weighing_drill.page import key_page, result_page, round_page
from audit.practice.weighing_drill.round import round_of_code
from audit.practice.weighing_drill.weighing import CELLS
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.practice.weighing_drill.marking import MarkedRound
    from audit.practice.weighing_drill.round import Round

__all__ = ["HEAD", "read_answers", "write_result", "write_round"]

#: First line of the sheet for the answers.
HEAD = ("round", "weighing", "gross_g", "bag_g", "net_g")


def write_round(made: Round, out: Path, *, paper: str = "a4") -> list[Path]:
    """Write ``<name>.html``, ``<name>.answers.csv`` and, in a folder of its own, ``keys/<name>.key.html``.

    A sheet for answers that is there already is left as it is: somebody may have written into it.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or there is no such paper.
    """
    page = round_page(made, paper)
    answers = out / f"{made.name}.answers.csv"
    writers = {f"{made.name}.html": lambda path: _write(path, page)}
    if not answers.exists():
        writers[answers.name] = lambda path: _write_answers(made, path)
    written = write_whole(writers, out, ())
    return written + write_whole(
        {f"{made.name}.key.html": lambda path: _write(path, key_page(made))}, out / KEYS, ()
    )


def write_result(marked: MarkedRound, out: Path, inputs: Sequence[Path]) -> list[Path]:
    """Write what came of a round: ``<name>.result.html``.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or the result would replace a file that was read.
    """
    page = result_page(marked)
    return write_whole({f"{marked.made.name}.result.html": lambda path: _write(path, page)}, out, inputs)


def read_answers(path: Path, declared: Declarations) -> tuple[Round, list[dict[str, str]]]:
    """Read a sheet of answers that was filled in; it is never written to.

    Raises
    ------
    audit.refusal.Refusal
        It cannot be read, is another file, or its weighings are not those of its round.
    """
    lines = answer_lines(path, HEAD, "weighing")
    made = round_of_code(lines[0][0], declared)
    by_number = {line[1]: line[2:] for line in lines}
    wanted = [str(number) for number in range(1, len(made.weighings) + 1)]
    if sorted(by_number) != sorted(wanted) or len(lines) != len(wanted):
        raise Refusal(
            "The lines of the sheet are not those of its round.",
            where=str(path),
            cure=f"Keep one line for each of the weighings 1 to {len(wanted)}.",
        )
    if not any(cell for row in by_number.values() for cell in row):
        raise Refusal(
            "Nothing was written into the sheet of answers yet.",
            where=str(path),
            cure="Write gross, bag and net of each weighing into it, save it, and mark it then.",
        )
    return made, [dict(zip(CELLS, by_number[number], strict=True)) for number in wanted]


def _write_answers(made: Round, path: Path) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(HEAD)
        writer.writerows((made.code, number, "", "", "") for number in range(1, len(made.weighings) + 1))


def _write(path: Path, page: str) -> None:
    path.write_text(page, encoding="utf-8", newline="\n")
