"""How one file of a log is laid out: which column holds what."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.antennas.column_kinds import by_content, by_header, under_other_names
from audit.antennas.log_sample import Sample, cells, take_sample
from audit.antennas.moments import ZONED, find_formats, has_zone
from audit.declarations.loggers import LogForm
from audit.intake.headers import fold
from audit.intake.wording import listed
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    import duckdb

    from audit.antennas.column_kinds import Clues
    from audit.declarations.loggers import LoggerDeclarations

__all__ = ["Layout", "NoLog", "lay_out_text", "named_antenna", "named_box", "refuse_unfound"]

_FRACTION = re.compile(r"\d{1,6}")
_THOUSANDTHS = 3
_WHOLE_SECONDS = re.compile(r"\d:\d\d:\d\d")
_WHERE_TO_DECLARE = "write a form for these files into loggers.yaml of your own folder of declarations"


class NoLog(Refusal):
    """A file without reads: refused alone, left out and told of among logs.

    Attributes
    ----------
    why : str
        Half a sentence for a list of lines that were left out.
    """

    why: str = "this file is no log"


class _HeaderOnly(NoLog):
    why = "no reads stand below these names of columns"


@dataclass(frozen=True, slots=True)
class Layout:
    """How a file is read.

    Attributes
    ----------
    path : Path
    separator, encoding : str
        Empty separator: a table kept by columns.
    plain : bool
        The engine can read the file as it is.
    copy : Path or None
        What the engine reads in place of the file.
    quoted, comma : bool
        Whether quotation marks stand in it; whether a comma may stand before fractions of a second.
    skipped : int
        Lines before the first read, the header among them.
    names : tuple of str
        Names of the columns in the engine.
    at : mapping of str to int
        ``box``, ``antenna``, ``tag``, ``milliseconds``: position of the column from 0.
    moment : tuple of int
        Columns that make the moment, in order.
    formats : tuple of str
        How the moment is written.
    minutes : float
        Added to each moment.
    box, antenna : str
        The one box or antenna of the file; empty where a column tells.
    antennas : mapping of str to str
        Folded word -> ``outer`` or ``inner``.
    """

    path: Path
    names: tuple[str, ...]
    at: Mapping[str, int]
    moment: tuple[int, ...]
    formats: tuple[str, ...]
    separator: str = ""
    encoding: str = ""
    quoted: bool = False
    comma: bool = False
    skipped: int = 0
    minutes: float = 0.0
    box: str = ""
    antenna: str = ""
    antennas: Mapping[str, str] = field(default_factory=dict)
    plain: bool = True
    copy: Path | None = None

    @property
    def read_from(self) -> Path:
        """What the engine reads."""
        return self.copy or self.path

    @property
    def zoned(self) -> bool:
        """Whether moments say in which time zone they are."""
        return self.formats[0] == ZONED


def lay_out_text(
    path: Path, loggers: LoggerDeclarations, clues: Clues, engine: duckdb.DuckDBPyConnection
) -> Layout:
    """Find how a text file is laid out.

    Raises
    ------
    Refusal
        A column is missing, or the way moments are written cannot be told.
    """
    sample = take_sample(path, int(loggers.limits["reading.sample_lines"].value))
    form = loggers.form_of(path.name) or LogForm("")
    lines = [line for line in (*sample.first[form.skip_lines :], *sample.spread) if line.strip()]
    if not lines:
        raise NoLog("Nothing is written in this file.", where=str(path), cure="Name another file.")
    separator = form.separator or _separator(lines, clues)
    header, skipped = _header(sample, separator, form, clues)
    rows = _rows(sample, separator, skipped)
    if header and not rows:
        raise _HeaderOnly(
            "No reads stand below the names of the columns in this file.",
            where=str(path),
            cure="Copy it from the logger again, or name another one.",
        )
    at = by_header(header, rows, clues) if header else by_content(rows, clues, engine)
    at = _declared_columns(at, header, form, path)
    if not form.antenna:
        at = under_other_names(rows, at, clues)
    width = max([len(header), *(position + 1 for position in at.values())])
    moment = tuple(at.pop(name) for name in ("detected_at", "date", "time") if name in at)
    box = form.box or ("" if "box" in at else named_box(path, form, clues))
    antenna = form.antenna or ("" if "antenna" in at else named_antenna(path, clues))
    refuse_unfound(path, header, at, moment, box=box, antenna=antenna)
    if separator == "," and (parted := _parted_fractions(header, rows, moment[-1], clues.parted)):
        shift = moment[-1] + 1
        at = {name: place + (place >= shift and bool(header)) for name, place in at.items()}
        moment = tuple(place + (place >= shift and bool(header)) for place in moment)
        at["milliseconds"] = shift
        if parted != _THOUSANDTHS:
            raise Refusal(
                "A comma stands between the seconds and their fractions here, and between the columns too.",
                where=str(path),
                cure="Save the file with semicolons between the columns.",
            )
        width = max(width, *(position + 1 for position in at.values()))
    texts = [
        " ".join(row[place] for place in moment).replace(",", ".") for row in rows if len(row) > max(moment)
    ]
    _refuse_some_zones(path, texts)
    # commas in moments are read as points, so those of a declared form are meant for points, too
    declared = form.time_format.replace(",", ".")
    formats = (declared,) if declared else _formats(path, texts, clues, engine)
    return Layout(
        path=path,
        names=tuple(f"c{nr}" for nr in range(width)),
        at=at,
        moment=moment,
        formats=formats,
        separator=separator,
        encoding=sample.encoding,
        plain=sample.plain,
        quoted=sample.quoted,
        comma="," in form.time_format
        or any("," in row[place] for row in rows for place in moment if place < len(row)),
        skipped=skipped,
        minutes=form.minutes_to_add,
        box=box,
        antenna=antenna,
        antennas={**clues.antennas, **{fold(word): which for word, which in form.antennas.items()}},
    )


def _separator(lines: Sequence[str], clues: Clues) -> str:
    """Take the sign that parts most lines into equally many cells, a blank where no other does."""

    def evenness(separator: str) -> tuple[int, float, int]:
        counts = Counter(len(cells(line, separator)) for line in lines)
        usual, times = max(counts.items(), key=lambda item: (item[0] > 1, item[1]))
        head = max(len(by_header(cells(line, separator), [], clues)) for line in lines[: clues.head_lines])
        return head, times / len(lines) if usual > 1 else 0.0, usual

    best = max(clues.separators, key=evenness)
    return best if evenness(best)[1] > 0 else " "


def _header(sample: Sample, separator: str, form: LogForm, clues: Clues) -> tuple[list[str], int]:
    """Find the line that names the columns, and how many lines stand before the first read."""
    if form.header is False:
        return [], form.skip_lines
    for nr, line in enumerate(sample.first[: clues.head_lines]):
        if nr < form.skip_lines or not line.strip():
            continue
        row = cells(line, separator)
        if form.header:
            return row, nr + 1
        found = by_header(row, [], clues)
        # a header names the tag or the moment and something else, and holds no moment itself
        if len(found) > 1 and {"tag", "detected_at", "date", "time"} & found.keys():
            return row, nr + 1
        if form.columns and all(name in row for name in form.columns.values() if isinstance(name, str)):
            texts = [name for name in form.columns.values() if isinstance(name, str)]
            if texts:
                return row, nr + 1
    return [], form.skip_lines


def _rows(sample: Sample, separator: str, skipped: int) -> list[list[str]]:
    lines = (*sample.first[skipped:], *sample.spread)
    return [cells(line, separator) for line in lines if line.strip()]


def _parted_fractions(header: Sequence[str], rows: Sequence[Sequence[str]], place: int, share: float) -> int:
    """Find fractions of a second that a comma put into a cell of their own: their digits, 0 where none are.

    Parameters
    ----------
    place : int
        The last column of the moment.
    share : float
        More lines than this share have them, or none of them are.
    """
    named = len("".join(header) and _without_blanks(header))
    full = [row for row in rows if len(row) > place + 1]
    if header:
        full = [row for row in full if len(_without_blanks(row)) == named + 1]
    digits = Counter(len(row[place + 1]) for row in full if _FRACTION.fullmatch(row[place + 1]))
    usual, times = max(digits.items(), key=lambda item: item[1], default=(0, 0))
    whole = sum(bool(_WHOLE_SECONDS.search(row[place])) for row in full)
    return usual if min(times, whole) > share * len(rows) else 0


def _without_blanks(row: Sequence[str]) -> Sequence[str]:
    """Leave out blank cells at the end of a line."""
    last = max((nr for nr, cell in enumerate(row) if cell), default=-1)
    return row[: last + 1]


def _refuse_some_zones(path: Path, texts: Sequence[str]) -> None:
    zoned = [text for text in texts if has_zone(text)]
    plain = [text for text in texts if _WHOLE_SECONDS.search(text) and not has_zone(text)]
    if min(len(zoned), len(plain)) > 1:
        raise Refusal(
            f"Some moments here say their time zone, such as '{zoned[0]}', and others do not, such as "
            f"'{plain[0]}'.",
            where=str(path),
            cure="Give both kinds in files of their own, one kind at a time.",
        )


def _declared_columns(
    found: dict[str, int], header: Sequence[str], form: LogForm, path: Path
) -> dict[str, int]:
    at = dict(found)
    if {"detected_at"} & form.columns.keys():
        at = {name: place for name, place in at.items() if name not in ("date", "time")}
    if {"date", "time"} & form.columns.keys():
        at.pop("detected_at", None)
    folded = [fold(cell) for cell in header]
    for name, place in form.columns.items():
        if isinstance(place, int):
            at[name] = place - 1
        elif fold(place) in folded:
            at[name] = folded.index(fold(place))
        else:
            raise Refusal(
                f"The form '{form.name}' names a column '{place}', which this file does not have.",
                where=str(path),
                cure=f"Write it as the file does: {listed([cell for cell in header if cell], 'or')}."
                if header
                else "The file has no header: give the number of the column, from 1.",
            )
    if form.box:
        at.pop("box", None)
    if form.antenna:
        at.pop("antenna", None)
    return at


def named_box(path: Path, form: LogForm | None, clues: Clues) -> str:
    """Take the box from the name of a file or its folder; empty where they have none."""
    own = form.box_in_name if form else ""
    # downloads may lie in a folder for each box
    for name in (path.stem, path.parent.name):
        if found := re.search(own or clues.box_form, name):
            return found[1].strip()
    return ""


def named_antenna(path: Path, clues: Clues) -> str:
    """Take the antenna from the name of a file; empty where it has none."""
    # single letters may be anything
    parts = [part for part in re.split(r"[\W\d_]+", path.stem) if len(part) > 1]
    found = {clues.antennas[fold(part)] for part in parts if fold(part) in clues.antennas}
    return found.pop() if len(found) == 1 else ""


def refuse_unfound(
    path: Path, header: Sequence[str], at: Mapping[str, int], moment: Sequence[int], *, box: str, antenna: str
) -> None:
    """Refuse a file in which something that is needed was not found.

    Raises
    ------
    Refusal
        With what is missing.
    """
    missing = []
    if not moment:
        missing.append("the moment of each read")
    if "tag" not in at:
        missing.append("the tag")
    if "antenna" not in at and not antenna:
        missing.append("the antenna, outer or inner")
    if "box" not in at and not box:
        missing.append("the box")
    if missing:
        # what names neither tags nor antennas lies among logs by chance: notes, visits
        kind = NoLog if {"the tag", "the antenna, outer or inner"} <= {*missing} else Refusal
        seen = f"Its columns are {listed([cell for cell in header if cell])}. " if header else ""
        raise kind(
            f"In this file {listed(missing)} cannot be found.",
            where=str(path),
            cure=f"{seen}Name the columns box, antenna, detected_at and tag, or {_WHERE_TO_DECLARE}.",
        )


def _formats(
    path: Path, texts: Sequence[str], clues: Clues, engine: duckdb.DuckDBPyConnection
) -> tuple[str, ...]:
    found = find_formats(engine, texts, clues.time_formats)
    if len(found) == 1:
        return found[0]
    example = next((text for text in texts if any(sign.isdigit() for sign in text)), "")
    if not found:
        raise Refusal(
            f"It cannot be told how the moment of a read is written, such as '{example}'.",
            where=str(path),
            cure=f"Write it as 2026-05-04 21:14:03, or {_WHERE_TO_DECLARE}, with its time_format.",
        )
    raise Refusal(
        f"The moment '{example}' can be read as {listed([formats[0] for formats in found], 'or as')}, and "
        "nothing in this file tells which.",
        where=str(path),
        cure=f"To say which, {_WHERE_TO_DECLARE}, with its time_format.",
    )
