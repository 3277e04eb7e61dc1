"""Which reads belong to which visit, and what is said of the reader's clock."""

from __future__ import annotations

import datetime as dt

from marked_examples import found
from typed_season import typed_season

from audit.findings import Report
from audit.handover.conflicts_table import NO_CONFLICT, conflicts_table, conflicts_text
from audit.review.download_visits import download_visits

EMPTY = Report("none", ())
NINE = dt.datetime(2026, 6, 13, 9, 0)


def tag_of(number):
    return f"9991041900{66800 + 37 * number:05d}"


def row(number, box, minutes=None, **more):
    when = NINE + dt.timedelta(minutes=4 * number if minutes is None else minutes)
    return {
        "date": when.date().isoformat(),
        "time": when.strftime("%H:%M"),
        "box": box,
        "ring": f"SV01{number:03d}",
        "tag": tag_of(number),
        "event": "ringed",
    } | more


def read(number, late=0, **more):
    when = NINE + dt.timedelta(minutes=4 * number + 1 + late)
    return {"read_at": when, "tag": tag_of(number), "reader": "R1"} | more


def visits_of(rows, reads, declared, report=EMPTY):
    return download_visits(typed_season(declared, handlings=rows, tag_reads=reads), declared, report)


ROWS = [row(i, "SL-07" if i < 4 else "SL-08") for i in range(9)]
READS = [read(i) for i in range(9)]


def test_each_visit_has_its_rows_and_its_reads(declared):
    visits = visits_of(ROWS, READS, declared)
    beside = visits.beside("2026-06-13", "SL-07")
    assert [one.ring for one in beside.rows] == ["SV01000", "SV01001", "SV01002", "SV01003"]
    assert beside.pairs == {0: 0, 1: 1, 2: 2, 3: 3}
    assert len(visits.beside("2026-06-13").rows) == 9
    assert beside.remarks == ()


def test_a_read_between_those_of_a_visit_is_shown_with_it_though_on_no_row(declared):
    rows = [one for i, one in enumerate(ROWS) if i != 2]
    visits = visits_of(rows, READS, declared)
    beside = visits.beside("2026-06-13", "SL-07")
    assert [one.tag for i, one in enumerate(beside.reads) if i not in beside.pairs.values()] == [tag_of(2)]
    other = visits.beside("2026-06-13", "SL-08")
    assert len(other.reads) == len(other.rows) == 5
    assert [(one.box, one.alone) for one in visits.by_doubt()] == [("SL-07", 1), ("SL-08", 0)]


def test_a_tag_that_was_not_read_is_alone(declared):
    visits = visits_of(ROWS, [one for i, one in enumerate(READS) if i != 6], declared)
    beside = visits.beside("2026-06-13", "SL-08")
    assert set(range(5)) - set(beside.pairs) == {2}
    assert visits.by_doubt()[0].box == "SL-08"


def test_a_slip_is_paired_with_the_read_at_its_place(declared):
    rows = [*ROWS]
    rows[5] = row(5, "SL-08", tag=tag_of(5)[:-2] + "0" + tag_of(5)[-1])
    beside = visits_of(rows, READS, declared).beside("2026-06-13", "SL-08")
    assert beside.pairs[1] == 1
    assert beside.rows[1].tag != beside.reads[1].tag == tag_of(5)


def test_the_clock_is_set_right_and_that_is_said(declared):
    visits = visits_of(ROWS, [read(i, late=60) for i in range(9)], declared)
    beside = visits.beside("2026-06-13", "SL-07")
    assert beside.remarks == ("the clock of reader R1 was 1 h ahead; times are set right",)
    assert beside.reads[0].clock.startswith("09:0")
    assert beside.reads[0].stored.startswith("2026-06-13 10:0")


def test_a_row_with_another_date_is_named_beside_its_read(declared):
    rows = [*ROWS]
    rows[2] = row(2, "SL-07", date="2025-06-13")
    season = typed_season(declared, handlings=rows, tag_reads=READS)
    finding = found(season, "dates.slip", "suspect", [("handlings!4", "date", "2026-06-13")], "Wrong year.")
    beside = download_visits(season, declared, Report("x", (finding,))).beside("2026-06-13", "SL-07")
    assert [one.remark for one in beside.reads if one.remark] == ["row 4, dated 2025-06-13"]


def test_findings_on_the_tag_mark_a_row(declared):
    season = typed_season(declared, handlings=ROWS, tag_reads=READS)
    at = [("handlings!3", "tag", "1"), ("handlings!3", "ring", "")]
    report = Report("x", (found(season, "a.b", "suspect", at, "Odd tag."),))
    beside = download_visits(season, declared, report).beside("2026-06-13", "SL-07")
    assert [(one.severity, one.message, one.meant) for one in beside.rows[:2]] == [
        (None, "", ""),
        ("suspect", "Odd tag.", "1"),
    ]


def test_what_a_spreadsheet_left_of_a_tag_is_shown_as_typed(declared):
    season = typed_season(declared, handlings=ROWS, tag_reads=READS)
    table = season.tables["handlings"]
    table.frame.loc["handlings!4", "tag"] = None
    table.typed.loc["handlings!4", "tag"] = "9.99104E+14"
    beside = download_visits(season, declared, EMPTY).beside("2026-06-13", "SL-07")
    assert beside.rows[2].tag == "9.99104E+14"


def test_without_tags_or_download_there_is_nothing_to_lay_side_by_side(declared):
    bare = [{"date": "2026-06-13", "box": "SL-07", "ring": "SV01001"}]
    for tables in ({"handlings": bare}, {"handlings": ROWS}, {"handlings": bare, "tag_reads": READS}):
        visits = download_visits(typed_season(declared, **tables), declared, EMPTY)
        assert visits.by_doubt() == ()
        assert visits.beside("2026-06-13", "SL-99").rows == ()


def test_no_conflict_is_said():
    assert conflicts_text(()) == NO_CONFLICT
    assert NO_CONFLICT in conflicts_table(())
