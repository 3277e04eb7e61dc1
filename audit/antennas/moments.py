"""How a log writes its moments: found by what reads most of them, and in which order they then follow."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    import duckdb

__all__ = ["ISO", "ZONED", "find_formats", "has_zone", "moment_sql"]

#: ISO 8601 without and with a time zone, and counts since 1970.
ISO, ZONED, SECONDS, MILLISECONDS = "iso", "zoned", "seconds", "milliseconds"

#: 1900: no log is older.
_ANTIQUITY = -2_208_988_800_000
#: 2000, which a clock shows that was never set.
_LOGGERS = 946_684_800_000
_ZONE = re.compile(r"\d(?:Z|[+-]\d{2}:?\d{2})$")
_SECONDS = re.compile(r"\d{9,10}(?:\.\d+)?")
_MILLISECONDS = re.compile(r"\d{12,13}")
_TIME = re.compile(r"\d:\d\d|\d{6}")


def moment_sql(text: str, formats: Sequence[str], minutes: float = 0.0) -> str:
    """Word an expression of the engine that turns a text into milliseconds since 1970, NULL where it cannot.

    Parameters
    ----------
    text : str
        Expression of the text.
    formats : sequence of str
        Tried in order; all of one kind.
    minutes : float
        Added to each moment.
    """
    kind = formats[0]
    if kind == ZONED:
        made = f"epoch_ms(try_cast({text} as timestamptz))"
    elif kind == ISO:
        made = f"epoch_ms(try_cast({text} as timestamp))"
    elif kind == SECONDS:
        made = f"cast(round(try_cast({text} as double) * 1000) as bigint)"
    elif kind == MILLISECONDS:
        made = f"try_cast({text} as bigint)"
    else:
        listed = ", ".join("'" + one.replace("'", "''") + "'" for one in formats)
        made = f"epoch_ms(try_strptime({text}, [{listed}]))"
    return made if not minutes else f"({made} + {round(minutes * 60_000)})"


def has_zone(text: str) -> bool:
    """Whether a moment says in which time zone it is.

    Examples
    --------
    >>> has_zone("2026-05-04T21:14:03+02:00"), has_zone("2026-05-04 21:14:03")
    (True, False)
    """
    return ":" in text and bool(_ZONE.search(text))


def find_formats(
    engine: duckdb.DuckDBPyConnection, texts: Sequence[str], known: Sequence[str]
) -> list[tuple[str, ...]]:
    """Find how moments are written.

    Parameters
    ----------
    engine : duckdb.DuckDBPyConnection
        Reads the texts, so that what fits here fits the whole file.
    texts : sequence of str
        Moments in the order of the file.
    known : sequence of str
        Declared ways of writing.

    Returns
    -------
    list of tuple of str
        The best way, each with and without fractions of a second; two or more where nothing tells them apart,
        none where no way reads half of the texts.
    """
    shown = [text for text in texts if _TIME.search(text)]
    if not shown:
        return []
    read: dict[tuple[str, ...], list[int | None]] = {}
    for formats in _candidates(shown, known):
        column = moment_sql("text", formats)
        rows = engine.execute(
            f"select {column} from (select unnest(?::varchar[]) as text)",  # noqa: S608 - made of declared formats
            [shown],
        ).fetchall()
        # a year of two digits read as one of four, or a long number that is no count since 1970
        earliest = _LOGGERS if formats[0] in (SECONDS, MILLISECONDS) else _ANTIQUITY
        read[formats] = [None if row[0] is None or row[0] < earliest else row[0] for row in rows]
    counts = {formats: sum(value is not None for value in values) for formats, values in read.items()}
    most = max(counts.values())
    if most * 2 < len(shown):
        return []
    best = [formats for formats, count in counts.items() if count == most]
    back = {formats: _steps_back(read[formats]) for formats in best}
    best = [formats for formats in best if back[formats] == min(back.values())]
    # days in place of months make months of days
    span = {formats: _span(read[formats]) for formats in best}
    best = [formats for formats in best if span[formats] <= 2 * min(span.values())]
    return [formats for nr, formats in enumerate(best) if all(read[formats] != read[b] for b in best[:nr])]


def _candidates(texts: Sequence[str], known: Sequence[str]) -> list[tuple[str, ...]]:
    few = len(texts) / 2
    if sum(bool(_ZONE.search(text)) for text in texts) > few and any(":" in text for text in texts):
        return [(ZONED,)]
    if sum(bool(_MILLISECONDS.fullmatch(text)) for text in texts) > few:
        return [(MILLISECONDS,)]
    if sum(bool(_SECONDS.fullmatch(text)) for text in texts) > few:
        return [(SECONDS,)]
    return [(ISO,), *dict.fromkeys(_with_fractions(one) for one in known)]


def _with_fractions(one: str) -> tuple[str, ...]:
    plain = one.replace(".%f", "")
    if one in (ISO, ZONED, SECONDS, MILLISECONDS) or "%S" not in plain:
        return (one,)
    return plain, plain.replace("%S", "%S.%f")


def _span(values: Sequence[int | None]) -> int:
    known = [value for value in values if value is not None]
    return max(known) - min(known)


def _steps_back(values: Sequence[int | None]) -> int:
    known = [value for value in values if value is not None]
    return sum(later < earlier for earlier, later in pairwise(known))
