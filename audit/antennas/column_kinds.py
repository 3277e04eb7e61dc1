"""What the columns of a log hold: by their headers, or by what stands in them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.antennas.moments import find_formats
from audit.intake.codes import clean_code
from audit.intake.headers import Vocabulary, fold, vocabulary_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import duckdb

    from audit.declarations import Declarations

__all__ = ["Clues", "by_content", "by_header", "clues_of", "under_other_names"]

_MILLISECONDS = frozenset({"ms", "msec", "millisecond", "milliseconds", "millis"})
_DATE = re.compile(r"\d{1,4}([./-])\d{1,2}\1\d{1,4}|\d{8}|\d{1,2} [A-Za-z]{3} \d{4}")
_TIME = re.compile(r"\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?( [AaPp][Mm])?|\d{6}")
_TABLE = "detections"
#: A table with a time of its own beside the date: its headers name times.
_TIMED = "handlings"


@dataclass(frozen=True, slots=True)
class Clues:
    """By what columns are told.

    Attributes
    ----------
    vocabulary : Vocabulary
        Known headers.
    antennas : mapping of str to str
        Folded word -> ``outer`` or ``inner``.
    tag_form, box_form : re.Pattern
        Printed forms of tags; a box in the name of a file.
    time_formats, separators : tuple of str
        Known ways of writing a moment; signs between columns.
    least : float
        Share of a column that must be of one kind.
    head_lines : int
        Lines at the start of a file among which its header is looked for.
    parted : float
        Share of lines above which a cell behind the moment holds fractions of its second.
    """

    vocabulary: Vocabulary
    antennas: Mapping[str, str]
    tag_form: re.Pattern[str]
    box_form: re.Pattern[str]
    time_formats: tuple[str, ...]
    separators: tuple[str, ...]
    least: float
    head_lines: int
    parted: float

    def is_antenna(self, text: str) -> bool:
        """Whether it is a word for one of the antennas."""
        return fold(text) in self.antennas

    def is_tag(self, text: str) -> bool:
        """Whether it is written as the code of a tag."""
        return bool(self.tag_form.fullmatch(clean_code(text)))


def clues_of(declared: Declarations) -> Clues:
    """Gather from the declarations by what columns are told."""
    limits = declared.loggers.limits
    return Clues(
        vocabulary_of(declared),
        {
            fold(word): which
            for which in ("outer", "inner")
            for word in limits[f"reading.{which}_words"].value
        },
        re.compile("|".join(f"(?:{one})" for one in declared.settings["reading.codes.tag_forms"].value)),
        re.compile(limits["reading.box_in_name"].value),
        tuple(limits["reading.time_formats"].value),
        tuple(limits["reading.separators"].value),
        float(limits["reading.sample_share"].value),
        int(limits["reading.head_lines"].value),
        float(limits["reading.parted_share"].value),
    )


def by_header(header: Sequence[str], rows: Sequence[Sequence[str]], clues: Clues) -> dict[str, int]:
    """Find columns by their headers.

    Parameters
    ----------
    rows : sequence of sequence of str
        What stands below: tells a column of days from one of times.

    Returns
    -------
    dict
        Field -> position: ``box``, ``antenna``, ``tag``, ``milliseconds``; ``detected_at``, or ``date`` and
        ``time``.
    """
    places: dict[str, list[int]] = {}
    for nr, cell in enumerate(header):
        if fold(cell) in _MILLISECONDS:
            places.setdefault("milliseconds", []).append(nr)
        elif cell and (found := clues.vocabulary.recognise(cell, _TABLE)) is not None:
            # a column under its own name comes before its synonyms
            own = found.how == "own name"
            places.setdefault(found.field, []).insert(0 if own else len(header), nr)
        elif (
            cell and (found := clues.vocabulary.recognise(cell, _TIMED)) is not None and found.field == "time"
        ):
            places.setdefault("detected_at", []).append(nr)
    at = {field: nrs[0] for field, nrs in places.items() if field != "detected_at"}
    moments = places.get("detected_at", [])
    if len(moments) > 1 and header[moments[0]].strip() != "detected_at":
        days = [nr for nr in moments if _share(rows, nr, _is_day) > 0]
        times = [nr for nr in moments if nr not in days]
        if days and times:
            return {**at, "date": days[0], "time": times[0]}
        if not rows:
            return {**at, "date": moments[0], "time": moments[1]}
    return {**at, "detected_at": moments[0]} if moments else at


def by_content(
    rows: Sequence[Sequence[str]], clues: Clues, engine: duckdb.DuckDBPyConnection
) -> dict[str, int]:
    """Find columns by what stands in them, in a file without a header; fields as in `by_header`."""
    free = list(range(max((len(row) for row in rows), default=0)))
    at: dict[str, int] = {}

    def take(name: str, is_one: Callable[[str], bool]) -> None:
        shares = {nr: _share(rows, nr, is_one) for nr in free}
        best = max(shares, key=lambda nr: (shares[nr], -nr), default=None)
        if best is not None and shares[best] > clues.least:
            at[name] = best
            free.remove(best)

    for nr in free:
        texts = [row[nr] for row in rows if nr < len(row) and row[nr]]
        part = _share(rows, nr, lambda text: _is_day(text) or bool(_TIME.fullmatch(text)))
        if part <= clues.least < len(texts) / len(rows) and find_formats(engine, texts, clues.time_formats):
            at["detected_at"] = nr
            free.remove(nr)
            break
    else:
        take("date", _is_day)
        take("time", lambda text: bool(_TIME.fullmatch(text)))
    take("antenna", clues.is_antenna)
    take("tag", clues.is_tag)
    take("box", lambda text: bool(clues.box_form.fullmatch(text)))
    return at


def under_other_names(rows: Sequence[Sequence[str]], at: dict[str, int], clues: Clues) -> dict[str, int]:
    """Find the antenna and the tag by what stands in their columns, where no header names them.

    Parameters
    ----------
    at : dict
        What `by_header` found; its columns are no other ones.
    """
    found = dict(at)
    for name, is_one in (("antenna", clues.is_antenna), ("tag", clues.is_tag)):
        free = sorted({*range(max((len(row) for row in rows), default=0))} - {*found.values()})
        some = [nr for nr in free if _share(rows, nr, is_one) > clues.least]
        if name not in found and len(some) == 1:
            found[name] = some[0]
    return found


def _is_day(text: str) -> bool:
    return bool(_DATE.fullmatch(text))


def _share(rows: Sequence[Sequence[str]], nr: int, is_one: Callable[[str], bool]) -> float:
    if not rows:
        return 0.0
    return sum(is_one(row[nr]) for row in rows if nr < len(row)) / len(rows)
