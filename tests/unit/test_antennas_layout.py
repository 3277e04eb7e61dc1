"""How a file of a log is laid out: where its columns are named, and what a comma parts."""

from __future__ import annotations

import pytest

from audit.antennas.log import open_log
from audit.declarations.load import load_declarations
from audit.refusal import Refusal

HEAD = "Kasten;Antenne;Zeit;Tag"
ROWS = [
    f"SL-01;{which};2026-05-20 21:{minute:02d}:07,2{minute:02d};99900000010000{minute % 3}"
    for minute in range(40)
    for which in ("outer", "inner")
]


def _declared(tmp_path, **limits):
    folder = tmp_path / "schemas"
    folder.mkdir()
    text = "".join(f"  {name}: {{value: {value}}}\n" for name, value in limits.items())
    (folder / "loggers.yaml").write_text(f"reading:\n{text}", encoding="utf-8")
    return load_declarations(folder)


def _reads(path, declared):
    with open_log(path, declared) as log:
        reads = list(log.chunks())
        return sum(len(one.at) for one in reads), {int(at) % 1000 for one in reads for at in one.at}


@pytest.mark.parametrize("before", [0, 5, 39])
def test_lines_of_settings_may_stand_before_the_header(before, tmp_path):
    path = tmp_path / "log.csv"
    lines = [f"setting {nr}: 17" for nr in range(before)]
    path.write_text("\n".join([*lines, HEAD, *ROWS]) + "\n", encoding="utf-8")
    count, _ = _reads(path, load_declarations())
    assert count == 80


def test_a_header_is_looked_for_as_far_as_declared(tmp_path):
    path = tmp_path / "log.csv"
    # no column of this file speaks for itself but by its header
    rows = [row.replace("outer", "A").replace("inner", "B") for row in ROWS]
    path.write_text("\n".join([*["settings"] * 6, HEAD, *rows]) + "\n", encoding="utf-8")
    with pytest.raises(Refusal, match="Antennas are called A and B"), open_log(path, load_declarations()):
        pass
    with pytest.raises(Refusal, match="the antenna"), open_log(path, _declared(tmp_path, head_lines=6)):
        pass


def _parted(whole):
    """Commas between columns and before fractions, which so many of the forty moments lack."""
    rows = [row.replace(";", ",") for row in ROWS]
    return [row.replace(f":07,2{nr // 2:02d},", ":07,") if nr < whole else row for nr, row in enumerate(rows)]


def test_fractions_behind_a_comma_are_read_where_nearly_all_lines_have_them(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("\n".join([HEAD.replace(";", ","), *_parted(0)]) + "\n", encoding="utf-8")
    count, fractions = _reads(path, load_declarations())
    assert count == 80
    assert fractions == {200 + minute for minute in range(40)}


def test_fractions_that_too_few_lines_have_are_none(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("\n".join([HEAD.replace(";", ","), *_parted(12)]) + "\n", encoding="utf-8")
    # 68 of 80 lines have them, which is more than 0.8 and less than 0.9
    count, fractions = _reads(path, load_declarations())
    assert (count, min(fractions)) == (68, 206)
    _, fractions = _reads(path, _declared(tmp_path, parted_share=0.9))
    assert fractions == {0}
