"""Rows keep the order in which they stood in the file, which is that of a logger's memory."""

from __future__ import annotations

import duckdb

from audit.archive.log import open_log
from audit.declarations.load import load_declarations


def test_the_order_of_a_large_file_survives(tmp_path):
    # rows run backward in time, so no sorting by moment can bring their order about; a join in two threads
    # hands on blocks of some hundred thousand rows in any order
    path = tmp_path / "log.parquet"
    duckdb.execute(
        # the path is one of ours
        "copy (select 'SL-' || (hash(i) % 50)::varchar as box, "  # noqa: S608
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
