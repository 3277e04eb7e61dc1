"""A form that a team declared for its files is taken as it is written."""

from __future__ import annotations

import pytest

from audit.antennas.log import open_log
from audit.declarations import load_declarations

FORM = """\
forms:
  ours:
    files: "*.csv"
    separator: ";"
    columns: {detected_at: Zeit, antenna: Leser, tag: Code, box: Box}
    time_format: "%d.%m.%Y %H:%M:%S,%f"
    antennas: {"1": outer, "2": inner}
"""


@pytest.mark.parametrize("first", ["03.06.2025 21:14:03,299", "03.06.2025 21:14:03,000"])
def test_a_declared_comma_before_milliseconds_is_read(first, tmp_path):
    (tmp_path / "loggers.yaml").write_text(FORM, encoding="utf-8")
    log = tmp_path / "log.csv"
    rows = f"{first};1;999000000001020;SL-01\n03.06.2025 21:14:05,375;2;999000000001020;SL-01\n"
    log.write_text("Zeit;Leser;Code;Box\n" + rows, encoding="utf-8")
    with open_log(log, load_declarations(tmp_path)) as opened:
        (reads,) = opened.chunks()
    assert (reads.at % 60_000).tolist() == [3000 + int(first[-3:]), 5375]
    assert reads.antenna.tolist() == [0, 1]
