"""One marked practice sheet as one line of a file of progress, and back."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from audit.practice.exercise.score import KindScore
from audit.review.log_lines import LineFault

if TYPE_CHECKING:
    from audit.practice.exercise.score import Score

__all__ = ["SheetRecord", "line_of", "record_in", "record_of"]

#: Version of the form of a line.
FORM = 1
_TEXTS = ("identity", "at", "who", "sheet", "level", "species")
_NUMBERS = ("innocent", "blamed", "asked_right", "unneeded")


@dataclass(frozen=True, slots=True)
class SheetRecord:
    """One marked practice sheet.

    Attributes
    ----------
    identity : str
        Of the sheet with these answers: marked twice, it counts once.
    at, who : str
        Moment, ISO 8601, and initials of the trainee.
    sheet, level, species : str
        Name of the sheet, its level and species.
    kinds : tuple of KindScore
        Slips by kind.
    innocent, blamed, asked_right, unneeded : int
        Cells without a slip; how many of them were changed without need, rightly asked about, and asked about
        without need.
    """

    identity: str
    at: str
    who: str
    sheet: str
    level: str
    species: str
    kinds: tuple[KindScore, ...]
    innocent: int
    blamed: int
    asked_right: int = 0
    unneeded: int = 0


def record_of(score: Score, *, at: str) -> SheetRecord:
    """Make the record of a marked sheet.

    Parameters
    ----------
    at : str
        Moment at which it was marked, ISO 8601.
    """
    exercise, counts = score.exercise, score.counts
    cells = [*(cell for slip in score.slips for cell in slip.cells), *score.marks]
    answers = sorted((*cell.place, cell.answer.text) for cell in cells if cell.answer is not None)
    told = json.dumps([exercise.recipe.code, answers])
    return SheetRecord(
        identity=hashlib.blake2b(told.encode(), digest_size=8).hexdigest(),
        at=at,
        who=exercise.recipe.trainee,
        sheet=exercise.name,
        level=exercise.recipe.level,
        species=exercise.recipe.species,
        kinds=score.kinds,
        innocent=len(exercise.labels) * len(exercise.fields) - len(exercise.changes),
        blamed=score.blamed,
        asked_right=counts["asked_right"],
        unneeded=counts["unneeded"],
    )


def line_of(record: SheetRecord) -> bytes:
    """Write a record as one line, without the line end."""
    return json.dumps({"form": FORM, **asdict(record)}, ensure_ascii=True).encode()


def record_in(line: bytes) -> SheetRecord:
    """Read a line.

    Raises
    ------
    audit.review.log_lines.LineFault
        It is cut off, no JSON, of a later form, or something in it has the wrong type.
    """
    try:
        tree = json.loads(line.decode())
    except (ValueError, RecursionError) as fault:
        raise LineFault("it is cut off or was written over") from fault
    if not isinstance(tree, dict) or "form" not in tree:
        raise LineFault("it is no marked practice sheet")
    if tree["form"] != FORM:
        raise LineFault("it was written by a later version of nestproof")
    for names, kind in ((_TEXTS, str), (_NUMBERS, int)):
        for name in names:
            if type(tree.get(name)) is not kind or (kind is int and tree[name] < 0):
                raise LineFault(f"'{name}' in it is not what it should be")
    kinds = tree.get("kinds")
    if not isinstance(kinds, list):
        raise LineFault("'kinds' in it is not what it should be")
    return SheetRecord(
        **{name: tree[name] for name in (*_TEXTS, *_NUMBERS)}, kinds=tuple(_kind(one) for one in kinds)
    )


def _kind(tree: Any) -> KindScore:  # noqa: ANN401 - whatever stands in the line
    names = ("slips", "found", "mended", "asked")
    is_fit = isinstance(tree, dict) and type(tree.get("kind")) is str
    if not is_fit or not all(
        type(tree.get(name)) is int and 0 <= tree[name] <= tree["slips"] for name in names
    ):
        raise LineFault("'kinds' in it is not what it should be")
    return KindScore(tree["kind"], *(tree[name] for name in names))
