"""Lines of passages put together from tables are those of the standard library's writer of CSV."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest

from audit.handover.passages.passages_files import passage_rows
from audit.handover.passages.passages_lines import passage_lines
from audit.handover.passages.passages_record import Heard, PassagesRecord
from audit.models.passage_hearing import no_spells
from audit.models.reads import Passages


def _record(n: int, *, exact: bool, zoned: bool) -> PassagesRecord:
    rng = np.random.default_rng(n)
    boxes, tags = ("SL-01", 'the "old", barn', "=SL", "Ü"), ("999000000001337", "3E7.0000000539")
    none = np.empty(0, dtype=np.int64)
    found = Passages(
        rng.integers(0, len(boxes), n).astype(np.int32),
        rng.integers(0, len(tags), n).astype(np.int32),
        rng.integers(-(10**12), 2 * 10**12, n),
        rng.integers(0, 3, n).astype(np.int8),
        rng.random(n),
        rng.integers(0, 2, n).astype(np.int8),
    )
    heard = Heard(none, none, none, none, none)
    return PassagesRecord("log", boxes, tags, found, no_spells(), heard, (), exact=exact, zoned=zoned)


@pytest.mark.parametrize("exact", [False, True])
@pytest.mark.parametrize("zoned", [False, True])
@pytest.mark.parametrize("n", [0, 1, 500])
def test_lines_are_those_of_the_standard_writer(n: int, *, exact: bool, zoned: bool) -> None:
    record = _record(n, exact=exact, zoned=zoned)
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows(passage_rows(record))

    assert b"".join(passage_lines(record)).decode() == stream.getvalue()


def test_lines_that_are_put_together_in_parts_stay_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    record = _record(500, exact=True, zoned=False)
    whole = b"".join(passage_lines(record))
    monkeypatch.setattr("audit.handover.passages.passages_lines._AT_ONCE", 64)
    parts = list(passage_lines(record))

    assert len(parts) == 8
    assert b"".join(parts) == whole
    # whoever stops reading leaves nothing behind
    few = passage_lines(record)
    assert next(few) == parts[0]
    few.close()
