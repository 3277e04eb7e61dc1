"""Rows keep the order in which they stood in the file, which is that of a logger's memory."""

from __future__ import annotations

import duckdb
import pytest

from audit.antennas.log import open_log
from audit.declarations.load import load_declarations
from audit.refusal import Refusal


def test_the_order_of_a_large_file_survives(tmp_path):
    # rows run backward in time, so no sorting by moment can bring their order about; a join in two threads
    # hands on blocks of some hundred thousand rows in any order
    path = tmp_path / "log.parquet"
    duckdb.execute(
        # the path is one of ours
        "copy (select 'SL-' || (hash(i) % 50)::varchar as box, "  # noqa: S608 - texts of ours
        "case when hash(i, 7) % 2 = 0 then 'outer' else 'inner' end as antenna, "
        "make_timestamp_ms(1777636800000 - i * 50) as detected_at, "
        "(999000000100000 + hash(i, 3) % 200)::varchar as tag from range(900000) t(i)) "
        f"to '{path}' (format parquet)"
    )
    with open_log(path, load_declarations()) as log:
        wrong = log.engine.execute(
            "select count(*) from (select stamp - lag(stamp) over (order by row) as later from reads) "
            "where later <> -50"
        ).fetchall()
        rows = log.engine.execute("select min(row), max(row), count(distinct row) from reads").fetchall()
    assert wrong == [(0,)]
    assert rows == [(0, 899_999, 900_000)]


def _parquet(path, first):
    duckdb.execute(
        # the path is one of ours
        "copy (select 'SL-01' as box, 'outer' as antenna, "  # noqa: S608 - texts of ours
        f"make_timestamp_ms(1777636800000 + ({first} - i) * 1000) as detected_at, "
        f"(999000000100000 + i % 3)::varchar as tag from range(5000) t(i)) to '{path}' (format parquet)"
    )
    return path


def test_files_by_columns_follow_each_other(tmp_path):
    _parquet(tmp_path / "1.parquet", 10_000)
    _parquet(tmp_path / "2.parquet", 50_000)
    with open_log(tmp_path, load_declarations()) as log:
        found = log.engine.execute("select file, stamp from reads order by row").fetchnumpy()
        assert [(file.reads, file.unread) for file in log.files] == [(5000, 0), (5000, 0)]
    assert found["file"].tolist() == [0] * 5000 + [1] * 5000
    assert (found["stamp"][1:5000] - found["stamp"][:4999] == -1000).all()
    assert found["stamp"][5000] - found["stamp"][0] == 40_000_000


def test_a_file_by_columns_with_holes_is_refused(tmp_path):
    path = _parquet(tmp_path / "log.parquet", 10_000)
    data = bytearray(path.read_bytes())
    data[100 : len(data) // 2] = bytes(len(data) // 2 - 100)
    path.write_bytes(data)
    with pytest.raises(Refusal, match="cannot be read to its end"), open_log(path, load_declarations()):
        pass
