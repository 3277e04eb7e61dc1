"""One round of a drill as one line of a file of progress, and back."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from audit.review.log_lines import LineFault

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["DrillRecord", "drill_in", "drill_line", "identity_of", "is_drill"]

#: Version of the form of a line.
FORM = 1
_TEXTS = ("identity", "at", "who", "drill", "sheet", "level")
_NUMBERS = ("asked", "right")


@dataclass(frozen=True, slots=True)
class DrillRecord:
    """One round of a drill.

    Attributes
    ----------
    identity : str
        Of the round with these answers: handed in twice, it counts once.
    at, who : str
        Moment, ISO 8601, and initials of the trainee.
    drill, sheet, level : str
        Name of the drill, such as ``reading``, of the round, and of its level.
    asked, right : int
        Questions of the round, and how many of them were answered rightly.
    counts : mapping of str to mapping of str to int
        Anything else that the drill counts, such as ``{"slips": {"digit": 2}}``.
    """

    identity: str
    at: str
    who: str
    drill: str
    sheet: str
    level: str
    asked: int
    right: int
    counts: Mapping[str, Mapping[str, int]] = field(default_factory=dict)


def identity_of(sheet: str, answers: Iterable[str]) -> str:
    """Return the identity of a round with its answers."""
    told = json.dumps([sheet, list(answers)])
    return hashlib.blake2b(told.encode(), digest_size=8).hexdigest()


def drill_line(record: DrillRecord) -> bytes:
    """Write a record as one line, without the line end."""
    return json.dumps({"form": FORM, **asdict(record)}, ensure_ascii=True).encode()


def is_drill(line: bytes) -> bool:
    """Tell whether a whole line is one of a drill, whatever its form."""
    try:
        tree = json.loads(line.decode())
    except (ValueError, RecursionError):
        return False
    return isinstance(tree, dict) and "form" in tree and "drill" in tree


def drill_in(line: bytes) -> DrillRecord:
    """Read a line.

    Raises
    ------
    audit.review.log_lines.LineFault
        It is of a later form, or something in it has the wrong type.
    """
    tree = json.loads(line.decode())
    if tree["form"] != FORM:
        raise LineFault("it was written by a later version of nestproof")
    for names, kind in ((_TEXTS, str), (_NUMBERS, int)):
        for name in names:
            if type(tree.get(name)) is not kind or (kind is int and tree[name] < 0):
                raise LineFault(f"'{name}' in it is not what it should be")
    if tree["right"] > tree["asked"]:
        raise LineFault("'right' in it is not what it should be")
    return DrillRecord(
        **{name: tree[name] for name in (*_TEXTS, *_NUMBERS)}, counts=_counts(tree.get("counts"))
    )


def _counts(tree: Any) -> dict[str, dict[str, int]]:  # noqa: ANN401 - whatever stands in the line
    is_fit = isinstance(tree, dict) and all(
        isinstance(part, dict) and all(type(number) is int and number >= 0 for number in part.values())
        for part in tree.values()
    )
    if not is_fit:
        raise LineFault("'counts' in it is not what it should be")
    return {name: dict(part) for name, part in tree.items()}
