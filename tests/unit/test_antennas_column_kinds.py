"""A column under a name of its own is known by what stands in it, where it is the only one of its kind."""

from __future__ import annotations

import pytest

from audit.antennas.log import open_log
from audit.declarations.load import load_declarations
from audit.refusal import Refusal

ROWS = [
    f"SL-01,{which},2026-05-20 21:{minute:02d}:00,99900000010000{minute % 3}"
    for minute in range(40)
    for which in ("outer", "inner")
]


def _written(path, header, rows):
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path


def test_words_and_codes_name_their_columns(tmp_path):
    path = _written(tmp_path / "log.csv", "site,reader,time,number", ROWS)
    with open_log(path, load_declarations()) as log:
        assert log.boxes == ("SL-01",)
        assert len(log.tags) == 3
        assert log.engine.execute(
            "select antenna, count(*) from reads group by all order by all"
        ).fetchall() == [
            (0, 40),
            (1, 40),
        ]


def test_two_columns_of_one_kind_are_asked_for(tmp_path):
    rows = [f"{row},{row.split(',')[1]}" for row in ROWS]
    path = _written(tmp_path / "log.csv", "site,reader,time,tag,side", rows)
    with pytest.raises(Refusal, match="antenna"), open_log(path, load_declarations()):
        pass
