"""Columns that slid by a row, and what only looks like it."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paged_season import reads_of, season_rows, slid
from typed_season import ask, blamed, typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.rules import slid_wings, slides

shipped = cache(load_declarations)


def told(rows, **tables):
    season = typed_season(shipped(), handlings=rows, **tables)
    return [*ask(slides.RULE, season, shipped()), *ask(slid_wings.RULE, season, shipped())]


def cell(i, field):
    return (f"handlings!{i + 2}", field)


def test_a_clean_season_gives_nothing():
    rows = season_rows()
    assert told(rows, tag_reads=reads_of(rows)) == []
    assert told(rows) == []


@pytest.mark.parametrize("how", ["down empty", "down doubled", "up empty", "up doubled"])
@pytest.mark.parametrize(
    ("field", "outcome"),
    [("tag", "tags"), ("ring", "rings"), ("gross_g", "masses"), ("net_g", "masses"), ("bag_g", "masses")],
)
def test_a_slide_over_a_page_is_one_finding(field, outcome, how):
    rows = season_rows()
    answers = told(slid(rows, field, 2, 12, how), tag_reads=reads_of(rows))
    assert len(answers) == 1
    found = blamed(answers)
    assert {rule for rule, _ in found.values()} == {f"slides.{outcome}"}
    typed = slid(rows, field, 2, 12, how)
    wrong = {cell(i, field) for i in range(len(rows)) if typed[i][field] != rows[i][field]}
    end = cell(12 if how.startswith("down") else 2, field)
    assert found.keys() - {end} == wrong - {end}
    for i in range(2, 13):
        if cell(i, field) in found and cell(i, field) != end:
            meant = rows[i][field]
            assert found[cell(i, field)][1] == (meant if isinstance(meant, str) else f"{meant:g}")


def test_tags_that_stand_one_row_too_low():
    rows = season_rows()
    (finding,) = told(slid(rows, "tag", 2, 12, "down empty"), tag_reads=reads_of(rows))
    assert finding.message == (
        "Tags of rows 5 to 14 on 2026-06-13 stand one row too low: the cell of row 4 was left empty, and "
        f"{rows[12]['tag']} of row 14 is lost."
    )
    assert finding.severity == "error"
    assert min(suspect.p_error for suspect in finding.suspects) > 0.9


def test_rings_that_stand_one_row_too_high():
    rows = season_rows()
    (finding,) = told(slid(rows, "ring", 2, 12, "up doubled"), tag_reads=reads_of(rows))
    assert finding.message == (
        "Rings of rows 4 to 13 on 2026-06-13 stand one row too high: SV01013 stands twice, in rows 13 and "
        "14, and SV01003 of row 4 is lost."
    )


def test_net_masses_that_stand_one_row_too_low():
    rows = season_rows()
    (finding,) = told(slid(rows, "net_g", 2, 12, "down empty"))
    assert finding.message == (
        "Net masses of rows 5 to 14 on 2026-06-13 stand one row too low: the cell of row 4 was left empty."
    )


def test_no_other_rule_reports_the_same_cells_again():
    rows = season_rows()
    typed = slid(rows, "net_g", 2, 12, "down doubled")
    report = check(typed_season(shipped(), handlings=typed), schemas=shipped())
    assert [f.rule for f in report.above_notes] == ["slides.masses"]


def test_birds_without_a_tag_are_innocent():
    rows = season_rows()
    for i in (3, 8, 20):
        name = rows[i]["ring"]
        rows = [{**row, "tag": None} if row["ring"] == name else row for row in rows]
    assert told(rows, tag_reads=reads_of(rows)) == []


def test_one_tag_left_out_is_no_slide():
    rows = season_rows()
    typed = [{**row, "tag": None if i == 4 else row["tag"]} for i, row in enumerate(rows)]
    assert told(typed, tag_reads=reads_of(rows)) == []


def test_one_value_typed_twice_is_no_slide():
    rows = season_rows()
    for field in ("tag", "ring", "net_g", "wing_mm"):
        typed = [{**row, field: rows[4][field] if i == 5 else row[field]} for i, row in enumerate(rows)]
        assert told(typed, tag_reads=reads_of(rows)) == []


def test_a_reader_used_in_another_order_is_innocent():
    rows = [{**row, "time": None} for row in season_rows()]
    reads = reads_of(season_rows())
    turned = [
        {**read, "tag": other["tag"]}
        for read, other in zip(reads, [*reads[1:15:2], *reads[0:15:2], *reads[15:]], strict=True)
    ]
    assert told(rows, tag_reads=turned) == []


def test_true_gaps_in_the_string_are_innocent():
    rows = [row for row in season_rows() if row["ring"] not in ("SV01004", "SV01011", "SV01017")]
    assert told(rows, tag_reads=reads_of(rows)) == []


def test_codes_exchanged_within_a_visit_are_left_to_the_rule_on_them():
    rows = season_rows()
    typed = [dict(row) for row in rows]
    typed[5]["tag"], typed[6]["tag"] = rows[6]["tag"], rows[5]["tag"]
    assert told(typed, tag_reads=reads_of(rows)) == []


@given(
    field=st.sampled_from(["tag", "ring", "net_g", "gross_g"]),
    first=st.integers(0, 5),
    length=st.integers(5, 9),
    how=st.sampled_from(["down empty", "down doubled", "up empty", "up doubled"]),
)
@settings(max_examples=25, deadline=None)
def test_wherever_a_column_slides_only_its_cells_are_blamed(field, first, length, how):
    rows = season_rows()
    typed = slid(rows, field, first, first + length, how)
    found = blamed(told(typed, tag_reads=reads_of(rows)))
    wrong = {cell(i, field) for i in range(len(rows)) if typed[i][field] != rows[i][field]}
    assert found.keys() <= wrong
    assert len(found) >= len(wrong) - 1


def test_odd_seasons_do_no_harm():
    rows = season_rows()[:2]
    assert told(rows[:1]) == []
    assert told([{**row, "ring": None, "tag": None, "date": None, "box": None} for row in rows]) == []
    assert told([{name: row[name] for name in ("date", "box", "ring")} for row in season_rows()]) == []


def by_bird(rows):
    """Sort a sheet so that the visits of each bird stand one below the other."""
    return sorted(rows, key=lambda row: (row["ring"], row["date"]))


def mistyped(rows, i, field, at=-3):
    """Type one digit of a code wrongly."""
    code = rows[i][field]
    digit = str((int(code[at]) + 5) % 10)
    typed = code[:at] + digit + code[at + 1 :]
    return [{**row, field: typed} if k == i else row for k, row in enumerate(rows)]


@pytest.mark.parametrize("field", ["tag", "ring"])
def test_a_mistyped_code_in_a_sheet_by_birds_is_no_slide(field):
    rows = by_bird(season_rows())
    for i in range(8, 24):
        assert told(mistyped(rows, i, field), tag_reads=reads_of(rows)) == []
        assert told(mistyped(rows, i, field)) == []


@pytest.mark.parametrize("lost", ["down", "up"])
def test_a_mistyped_tag_beside_an_empty_cell_is_no_slide(lost):
    rows = season_rows()
    for i in range(3, 13):
        typed = mistyped(rows, i, "tag")
        empty = i - 1 if lost == "down" else i + 1
        typed = [{**row, "tag": None} if k == empty else row for k, row in enumerate(typed)]
        assert told(typed, tag_reads=reads_of(rows)) == []
        assert told(typed) == []


def test_several_slips_in_a_sheet_by_birds_are_no_slide():
    rows = by_bird(season_rows())
    typed = rows
    for i, field in ((9, "tag"), (12, "ring"), (14, "tag"), (19, "tag")):
        typed = mistyped(typed, i, field)
    assert told(typed, tag_reads=reads_of(rows)) == []
    assert told(typed) == []


@pytest.mark.parametrize("field", ["tag", "ring"])
@pytest.mark.parametrize("how", ["down empty", "up empty"])
def test_a_slide_in_a_sheet_by_birds_is_found_still(field, how):
    rows = by_bird(season_rows())
    typed = slid(rows, field, 8, 19, how)
    found = blamed(told(typed))
    wrong = {cell(i, field) for i in range(len(rows)) if typed[i][field] != rows[i][field]}
    # of the last bird either visit may have been pushed out
    end = cell(19 if how.startswith("down") else 8, field)
    assert found.keys() - {end} <= wrong
    assert len(found) >= len(wrong) - 2


@pytest.mark.parametrize("lone", [3, 9])
@pytest.mark.parametrize("way", [1, -1])
def test_tags_turned_round_within_a_visit_beside_a_bird_without_one_are_left_to_the_rule_on_them(lone, way):
    rows = season_rows()
    bare = rows[lone]["ring"]
    rows = [{**row, "tag": None} if row["ring"] == bare else row for row in rows]
    reads = reads_of(rows)
    tags = [row["tag"] for row in rows[4:9]]
    turned = [*tags[way:], *tags[:way]]
    typed = [{**row, "tag": turned[i - 4]} if 4 <= i <= 8 else row for i, row in enumerate(rows)]
    assert told(typed, tag_reads=reads) == []
    report = check(typed_season(shipped(), handlings=typed, tag_reads=reads), schemas=shipped())
    (finding,) = report.above_notes
    assert finding.rule == "tag_twice.slid"
    assert {suspect.cell.row: suspect.suggested for suspect in finding.suspects} == {
        i + 2: rows[i]["tag"] for i in range(4, 9)
    }


def test_a_ring_copied_from_above_is_no_slide_of_it_and_the_next():
    # rings of a brood met again, in another order than that of the string
    rows = season_rows()
    typed = [dict(row) for row in rows]
    typed[31]["ring"] = typed[30]["ring"]
    answers = told(typed, tag_reads=reads_of(rows))
    assert not {label for label, _ in blamed(answers)} - {"handlings!33"}
