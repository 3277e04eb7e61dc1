"""Many passages as lines of text, by tables of all texts that stand in a column."""

from __future__ import annotations

import csv
import io
from collections import deque
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.handover.passages.passages_record import DIRECTIONS, HOW, moments
from audit.handover.table_file import guard

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from concurrent.futures import Future

    from numpy.typing import NDArray

    from audit.handover.passages.passages_record import PassagesRecord

__all__ = ["passage_lines"]

_DAY = 86_400_000
_SECOND = 1000
#: Places of a probability behind the point, as a power of ten.
_FINE = 10_000
_AT_ONCE = 200_000
_HANDS = 2


def passage_lines(record: PassagesRecord) -> Iterator[bytes]:
    """Give the lines of ``passages.csv`` without its header, many at a time.

    Notes
    -----
    Each column is a table of its texts, all of one width, and rows of bytes are put together from these; what
    is padded is left out at last. Lines are those that `csv.writer` makes of `passages_files.passage_rows`.
    Of many passages some are put together while others are written: numpy lets go of the interpreter.
    """
    if not len(record.passages.at):
        return
    lines = _lines_of(record)
    starts = range(0, len(record.passages.at), _AT_ONCE)
    if len(starts) == 1:
        yield lines(0)
        return
    waiting: deque[Future[bytes]] = deque()
    with ThreadPoolExecutor(_HANDS) as hands:
        for start in starts:
            waiting.append(hands.submit(lines, start))
            if len(waiting) > _HANDS:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def _lines_of(record: PassagesRecord) -> Callable[[int], bytes]:
    """Lay out the tables; what is given puts the lines of passages from some position on together."""
    found = record.passages
    boxes, tags = _table([guard(box) for box in record.boxes]), _table([guard(tag) for tag in record.tags])
    directions, how = _table(DIRECTIONS), _table(HOW, end="\n")
    chances = _plain_table([f"{nr / _FINE:.4f}" for nr in range(_FINE + 1)])
    first, last = int(found.at.min()) // _DAY, int(found.at.max()) // _DAY
    midnights = np.arange(first, last + 1, dtype=np.int64) * _DAY
    days = _plain_table(
        [text[: text.index("T") + 1] for text in moments(midnights, exact=False, zoned=False)], end=""
    )
    end = "" if record.exact else "Z," if record.zoned else ","
    clock = _clock_table(end)
    parts = _plain_table([f".{nr:03d}" for nr in range(_SECOND)], end="Z," if record.zoned else ",")

    def lines(start: int) -> bytes:
        one = slice(start, start + _AT_ONCE)
        at = found.at[one]
        day = at // _DAY
        of_day = at - day * _DAY
        second = of_day // _SECOND
        cells: list[tuple[NDArray[np.uint8], NDArray[Any]]] = [
            (boxes, found.box[one]),
            (tags, found.tag[one]),
            (days, day - first),
            (clock, second),
        ]
        if record.exact:
            cells.append((parts, of_day - second * _SECOND))
        cells += [
            (directions, found.direction[one]),
            (chances, np.rint(found.p[one] * _FINE).astype(np.int64)),
            (how, found.how[one]),
        ]
        return _joined(cells)

    return lines


def _clock_table(end: str) -> NDArray[np.uint8]:
    """Do as `_plain_table` does for all seconds of a day, which are too many to be written one by one."""
    second = np.arange(_DAY // _SECOND)
    wide = np.tile(np.frombuffer(f"00:00:00{end}".encode(), dtype=np.uint8), (len(second), 1))
    for place, number in ((0, second // 3600), (3, second // 60 % 60), (6, second % 60)):
        wide[:, place] += (number // 10).astype(np.uint8)
        wide[:, place + 1] += (number % 10).astype(np.uint8)
    return wide


def _table(texts: Sequence[str], end: str = ",") -> NDArray[np.uint8]:
    """Bytes of each text and what follows it, as rows of one width, shape (texts, width)."""
    return _plain_table([_cell(text) for text in texts], end)


def _plain_table(texts: Sequence[str], end: str = ",") -> NDArray[np.uint8]:
    """Do the same for texts that stand in a file as they are."""
    cells = [(text + end).encode() for text in texts]
    wide = np.array(cells, dtype=np.bytes_)
    return wide.view(np.uint8).reshape(len(cells), wide.dtype.itemsize)


def _cell(text: str) -> str:
    stream = io.StringIO()
    # a lone empty text would be quoted
    csv.writer(stream, lineterminator="").writerow([text, "-"])
    return stream.getvalue()[:-2]


def _joined(cells: Sequence[tuple[NDArray[np.uint8], NDArray[Any]]]) -> bytes:
    """Put rows of bytes together: each cell is copied as a whole, as wide as its table."""
    kinds = np.dtype([(str(nr), np.void, table.shape[1]) for nr, (table, _) in enumerate(cells)])
    whole = np.empty(len(cells[0][1]), dtype=kinds)
    for nr, (table, codes) in enumerate(cells):
        whole[str(nr)] = table.view((np.void, table.shape[1]))[:, 0][codes]
    signs = whole.view(np.uint8)
    told: bytes = signs[signs != 0].tobytes()
    return told
