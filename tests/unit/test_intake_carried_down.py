"""Day and box typed once for each visit."""

from __future__ import annotations

import pytest
from sheets import text_file, workbook

from audit.declarations import load_declarations
from audit.intake import read
from audit.intake.carried_down import ByVisits, carried_down, is_kept_by_visits
from audit.intake.grid import RawCell

DECLARED = load_declarations()
LIMITS = ByVisits(share=0.4, visits=3)
HEADER = ("date", "box", "ring", "wing_mm")
VISITS = (
    ("2026-05-04", "SL-01", "SV01001", "201"),
    ("", "", "SV01002", "199"),
    ("", "", "SV01003", "188"),
    ("", "SL-02", "SV01004", "180"),
    ("", "", "SV01005", "181"),
    ("2026-05-05", "SL-03", "SV01006", "170"),
    ("", "", "SV01007", "166"),
)


@pytest.mark.parametrize("form", ["book", "text"])
def test_a_sheet_kept_visit_by_visit(tmp_path, form):
    rows = [HEADER, *VISITS]
    if form == "book":
        path = workbook(
            tmp_path / "round.xlsx", {"handlings": [[cell or None for cell in row] for row in rows]}
        )
    else:
        path = text_file(tmp_path / "handlings.csv", rows)
    season = read(path, DECLARED)
    frame = season.frame("handlings")
    assert frame["box"].tolist() == ["SL-01"] * 3 + ["SL-02"] * 2 + ["SL-03"] * 2
    assert [day.day for day in frame["date"]] == [4] * 5 + [5] * 2
    assert [season.cell(label, "box").observed for label in frame.index[:2]] == ["SL-01", ""]
    (said,) = season.notices
    assert said.endswith(
        "day and box stand in the first row of each visit; 5 rows below were read with them."
    )


def test_some_people_repeat_day_and_box_and_some_do_not(tmp_path):
    rows = []
    for visit in range(8):
        day, box = f"2026-05-{4 + visit:02d}", f"SL-{visit + 1:02d}"
        for bird in range(4):
            above = bird and visit in (1, 4, 6)
            rows.append(("" if above else day, "" if above else box, f"SV010{visit}{bird}", f"{190 - bird}"))
    season = read(text_file(tmp_path / "handlings.csv", [HEADER, *rows]), DECLARED)
    assert season.frame("handlings")["box"].tolist() == [f"SL-{k // 4 + 1:02d}" for k in range(32)]
    assert season.frame("handlings")["date"].notna().all()
    (said,) = season.notices
    assert said.endswith(
        "day and box stand in the first row of several visits; 9 rows below were read with them."
    )
    # two such visits are still an oversight
    rows[16:20] = [(f"2026-05-{8:02d}", "SL-05", *row[2:]) for row in rows[16:20]]
    season = read(text_file(tmp_path / "handlings.csv", [HEADER, *rows]), DECLARED)
    assert season.frame("handlings")["box"].isna().sum() == 6


def test_a_few_empty_cells_are_an_oversight(tmp_path):
    rows = [(f"2026-05-{4 + i}", f"SL-{i:02d}", f"SV0100{i}", "190") for i in range(1, 7)]
    rows[2] = ("", "", "SV01003", "190")
    season = read(text_file(tmp_path / "handlings.csv", [HEADER, *rows]), DECLARED)
    assert season.frame("handlings")["box"].isna().sum() == 1
    assert season.notices == ()


def test_a_day_without_a_box_keeps_none():
    days, boxes = (
        [RawCell(text or None, text) for text in texts]
        for texts in (["d1", "", "", "d2", ""], ["SL-01", "", "", "", ""])
    )
    told_days, told_boxes, rows = carried_down(days, boxes, LIMITS)
    assert [cell.value for cell in told_days] == ["d1", '"', '"', "d2", '"']
    assert [cell.value for cell in told_boxes] == ["SL-01", '"', '"', None, None]
    assert rows == 3
    # nothing stands above the first row
    assert carried_down(days[1:], boxes[1:], LIMITS)[2] == 0


@pytest.mark.parametrize(
    ("days", "boxes", "kept"),
    [
        ("d...d", "b...b", True),
        # the share itself is enough, and less is an oversight
        ("d..dd", "b..bb", True),
        ("d.ddd", "b.bbb", False),
        # three visits with two rows below that have neither are enough, and two are not, nor single rows
        ("d..ddddd..ddddd..dddddddd", "b..bbbbb..bbbbb..bbbbbbbb", True),
        ("d..ddddd..ddddd..d", "b..bbbbb..bbbbbbbb", False),
        ("d...dddddddd....dddddddddd", "b...bbbbbbbb....bbbbbbbbbb", False),
        ("d.dddd.dddd.dddd.dddddd", "b.bbbb.bbbb.bbbb.bbbbbb", False),
        # rows that have one of both do not count
        ("d...d", "b.bbb", False),
        ("dd..d", "b...b", True),
        # the first row holds for those below
        ("....d", "b...b", False),
        ("d...d", "....b", False),
        ("ddddd", "bbbbb", False),
        ("", "", False),
    ],
)
def test_rows_with_neither_day_nor_box_tell_how_a_sheet_is_kept(days, boxes, kept):
    typed = ([sign != "." for sign in column] for column in (days, boxes))
    assert is_kept_by_visits(*typed, LIMITS) is kept


def test_where_no_row_lacks_both_nothing_is_carried_whatever_the_share():
    assert not is_kept_by_visits([True, True], [True, True], ByVisits(0.0, 0))
