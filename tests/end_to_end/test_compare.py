"""``nestproof compare`` as a person runs it."""

from __future__ import annotations

import csv
import datetime as dt

import pytest
from end_to_end.season_files import small_season, snapshot, three_birds, write_season
from sheets import HEADER, text_file, workbook

from audit.checking import read_season
from audit.review.decisions import Decision
from audit.review.log import DecisionLog, log_path
from audit.review.places import decided_cell

FILES = ["differences.csv", "differences.html"]


@pytest.fixture
def compare(nestproof, tmp_path):
    def run(*words, out=tmp_path / "out"):
        return nestproof("compare", *words, "--out", out, out=out)

    return run


def lines(folder):
    with (folder / "differences.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def other_hand(rows, folder, changes=(), drop=()):
    """Type the same rows as a .csv file: columns turned round, German dates, some cells changed."""
    typed = []
    for k, row in enumerate(rows):
        if k in drop:
            continue
        told = {name: "" if value is None else value for name, value in row.items()}
        told |= {name: text for at, name, text in changes if at == k}
        typed.append(
            {
                name: f"{value:%d.%m.%Y}" if isinstance(value, dt.date) else str(value)
                for name, value in told.items()
            }
        )
    fields = list(typed[0])[::-1]
    return text_file(
        folder / "typed-by-mk.csv", [fields, *([row[f] for f in fields] for row in typed)], delimiter=";"
    )


def test_a_workbook_and_a_text_file_that_agree(compare, tmp_path):
    season = small_season()
    first = write_season(season, tmp_path)
    second = other_hand(season["handlings"], tmp_path)
    before = snapshot(tmp_path)
    told = compare(first, second)
    assert (told.code, told.err, told.written) == (0, "", FILES)
    after = {name: file for name, file in snapshot(tmp_path).items() if not name.startswith("out/")}
    assert after == before
    assert "No difference was found." in told.out
    assert lines(told.folder) == []


def test_differences_are_told_with_both_places(compare, tmp_path):
    season = small_season()
    rows = season["handlings"]
    wing = int(rows[5]["wing_mm"])
    first = write_season(season, tmp_path)
    second = other_hand(rows, tmp_path, [(5, "wing_mm", wing + 1), (9, "ring", "SV99999")], drop=[12])
    told = compare(first, second)
    assert (told.code, told.err, told.written) == (1, "", FILES)
    found = {line["rule"] + " " + line["field"]: line for line in lines(told.folder)}
    assert set(found) == {
        "double_entry.differs wing_mm",
        "double_entry.differs ring",
        "double_entry.row_extra ring",
    }
    line = found["double_entry.differs wing_mm"]
    assert (line["first_sheet"], line["first_row"], line["first_text"]) == ("handlings", "7", str(wing))
    assert (line["second_row"], line["second_text"]) == ("7", str(wing + 1))
    assert float(line["p_first_right"]) + float(line["p_second_right"]) <= 1.001
    ring = found["double_entry.differs ring"]
    assert float(ring["p_first_right"]) > 0.9
    page = (told.folder / "differences.html").read_text(encoding="utf-8")
    assert "SV99999" in page
    assert "round.xlsx and typed-by-mk.csv: where two typings differ" in page
    assert "Settle each against the field sheet" in told.out
    assert "once all are decided" in " ".join(told.out.split())


def test_decisions_beside_the_first_typing_give_the_estimate(compare, tmp_path):
    first = three_birds(tmp_path)
    rows = [["2026-05-04", "SL-01", "SV01001", "201"], ["2026-05-04", "SL-01", "SV01002", "191"]]
    second = text_file(tmp_path / "other.csv", [HEADER[:4], *rows, ["2026-05-05", "SL-02", "SV01003", "188"]])
    season = read_season(first)
    cell = decided_cell(season, "handlings!3", "wing_mm", "191")
    DecisionLog.open(log_path(season)).append(
        Decision("d1", "2026-08-01T10:00:00+00:00", "AB", "accept", (cell,))
    )
    told = compare(first, second)
    assert told.code == 1
    assert "1 error was found, none by both" in " ".join(told.out.split())
    page = (told.folder / "differences.html").read_text(encoding="utf-8")
    assert "How often each typing is wrong" in page
    assert "The two finders did not know of each other" in page


def test_the_same_file_twice_is_refused(compare, tmp_path):
    first = three_birds(tmp_path)
    again = tmp_path / "again.xlsx"
    again.symlink_to(first)
    for second in (first, again):
        told = compare(first, second)
        assert (told.code, told.written) == (2, [])
        assert "Both typings are the same file." in told.err


def test_sheets_of_other_birds_are_refused(compare, tmp_path):
    first = three_birds(tmp_path)
    others = [["2026-07-01", f"SL-4{k}", f"SK0900{k}", f"15{k}", "dry"] for k in range(3)]
    told = compare(first, workbook(tmp_path / "others.xlsx", {"handlings": [HEADER, *others]}))
    assert (told.code, told.written) == (2, [])
    assert "no row in common" in told.err


def test_no_typing_is_replaced(compare, tmp_path):
    first = three_birds(tmp_path)
    second = text_file(tmp_path / "differences.csv", [HEADER, ["2026-05-04", "SL-01", "SV01001", "201", ""]])
    told = compare(first, second, out=tmp_path)
    assert told.code == 2
    assert second.read_text(encoding="utf-8").startswith("date,box,ring")


def test_a_typed_formula_does_not_run_in_the_table(compare, tmp_path):
    first = three_birds(tmp_path)
    rows = [
        ["2026-05-04", "SL-01", "SV01001", "201", "=2+3"],
        ["2026-05-04", "SL-01", "SV01002", "199", "<b>wet</b>"],
        ["2026-05-05", "SL-02", "SV01003", "188", "wet"],
    ]
    told = compare(first, text_file(tmp_path / "other.csv", [HEADER, *rows]))
    assert told.code == 1
    assert [line["second_text"] for line in lines(told.folder)] == ["'=2+3", "<b>wet</b>"]
    assert "<b>wet" not in (told.folder / "differences.html").read_text(encoding="utf-8")
