"""Two typings of the same field sheets: rows paired, cells compared by meaning, each text weighed."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from two_typings import declared, typing

from audit.checking import check, read_season
from audit.comparing import double_entry
from audit.findings import Report
from audit.refusal import SeasonRefusal
from audit.review.decisions import Decision
from audit.review.double_entry import compare, second_typing
from audit.review.missed_errors import estimate, rates
from audit.review.places import decided_cell
from audit.review.typing_rows import paired_tables
from audit.review.which_typing import Blame, Typed, Weigher

ROWS = (
    ("2026-05-04", "SL-01", "SV01001", "barn owl", "395", "22", "373", "201"),
    ("2026-05-04", "SL-01", "SV01002", "barn owl", "382", "22", "360", "195"),
    ("2026-05-04", "SL-01", "SV01003", "barn owl", "371", "22", "349", "188"),
    ("2026-05-05", "SL-02", "SV01004", "barn owl", "401", "25", "376", "207"),
    ("2026-05-05", "SL-02", "SV01005", "barn owl", "388", "25", "363", "199"),
)
FIELDS = ("date", "box", "ring", "species", "gross_g", "bag_g", "net_g", "wing_mm")


def season(rows=ROWS, fields=FIELDS, **changes):
    """A season of few rows; ``row_field`` names a changed cell: ``r2_wing_mm='210'``."""
    frame = pd.DataFrame([list(row) for row in rows], columns=list(fields), dtype="object")
    for name, text in changes.items():
        row, _, field = name.partition("_")
        frame.loc[int(row[1:]), field] = text
    return read_season({"handlings": frame}, schemas=declared())


SILENT = Report("season", ())


def compared(first, second, audits=(SILENT, SILENT)):
    return compare(first, second, declared(), audits)


# pairing of rows


@cache
def paired(seed: int):
    one, other = (typing(seed, who, boxes=10) for who in (1, 2))
    table = next(t for t in paired_tables(one.season, other.season, declared()) if t.table == "handlings")
    return one, other, table


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10_000))
def test_rows_of_two_disordered_typings_find_each_other(seed):
    one, other, table = paired(seed)
    both = set(one.origin) & set(other.origin)
    right = {one.origin[i] for i, j in table.rows.pairs if one.origin[i] == other.origin[j]}
    assert all(one.origin[i] == other.origin[j] for i, j in table.rows.pairs), "another bird's row"
    assert len(both - right) <= 0.005 * len(both)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10_000))
def test_differences_are_the_cells_in_which_a_hand_slipped(seed):
    one, other = (typing(seed, who, boxes=6, disorder=False) for who in (1, 2))
    double = compared(one.season, other.season)
    differing = {(s.cell.label, s.cell.field) for f in double.differences for s in f.suspects}
    slips = set(one.key.changes) | set(other.key.changes)
    assert differing <= slips
    # what the reader understands as it was meant, and what both typed alike, is no difference
    for label, field in slips - differing:
        row = list(one.season.frame("handlings").index).index(label)
        column = next(c for c in double.tables[0].columns if c.field == field)
        assert column.first[row] == column.second[row]


# cells compared by what they mean


@pytest.mark.parametrize(
    ("field", "one", "other"),
    [
        ("wing_mm", "205", "20.5 cm"),
        ("date", "2026-05-04", "04.05.2026"),
        ("species", "barn owl", "Tyto alba"),
        ("species", "barn owl", "BARN  OWL"),
        ("box", "SL-01", "sl 1"),
        ("ring", "SV01001", " sv 01001"),
        ("net_g", "373", "373.0"),
        ("gross_g", "", "-"),
    ],
)
def test_another_writing_is_a_note(field, one, other):
    double = compared(season(**{f"r0_{field}": one}), season(**{f"r0_{field}": other}))
    assert double.differences == ()
    assert {f.severity for f in double.report.findings} <= {"note"}


@pytest.mark.parametrize(
    ("field", "one", "other"),
    [
        ("wing_mm", "205", "20.5"),
        ("date", "2026-05-04", "2026-04-05"),
        ("species", "barn owl", "kestrel"),
        ("box", "SL-01", "SL-10"),
        ("net_g", "373", ""),
        ("net_g", "", "373"),
        ("net_g", "37?x", "373"),
        ("wing_mm", "a lot", "plenty"),
    ],
)
def test_another_meaning_is_a_difference(field, one, other):
    double = compared(season(**{f"r0_{field}": one}), season(**{f"r0_{field}": other}))
    (finding,) = double.differences
    assert (finding.suspects[0].cell.field, finding.suspects[0].cell.observed) == (field, one)
    assert finding.severity == "suspect"


def test_unreadable_cells_of_the_same_text_agree():
    assert compared(season(r0_wing_mm="a lot"), season(r0_wing_mm="A lot")).differences == ()


def test_a_tag_is_the_same_tag_in_another_form():
    fields = (*FIELDS, "tag")
    one = [(*row, f"99900000000120{k}") for k, row in enumerate(ROWS)]
    other = [(*row, f"999 000 000 00120{k}") for k, row in enumerate(ROWS)]
    double = compared(season(one, fields), season(other, fields))
    assert double.differences == ()


def test_columns_in_another_order_and_language_are_the_same():
    other = pd.DataFrame([list(row) for row in ROWS], columns=list(FIELDS))[list(FIELDS[::-1])]
    other = other.rename(columns={"wing_mm": "Flügel (mm)", "ring": "Ringnummer", "box": "Kasten"})
    double = double_entry(season(), {"Fänge": other}, schemas=declared())
    assert double.differences == ()
    assert len(double.rows) == len(ROWS)


def test_many_cells_written_otherwise_are_told_in_one_line():
    rows = [(".".join(row[0].split("-")[::-1]), *row[1:]) for row in ROWS]
    double = compared(season(), season(rows))
    assert double.report.findings == ()
    (notice,) = double.report.notices
    assert notice == (
        "handlings: 5 cells of date are written in another way and mean the same, such as '2026-05-04' and "
        "'04.05.2026'."
    )


def test_a_column_of_one_typing_is_told_and_not_compared():
    double = compared(season(), season([row[:-1] for row in ROWS], FIELDS[:-1]))
    assert double.differences == ()
    assert double.report.notices == (
        "handlings: only the first typing has the column wing_mm: not compared.",
    )


# which of the two is right


def test_nobody_is_right_by_default():
    double = compared(season(r1_wing_mm="195"), season(r1_wing_mm="159"))
    (finding,) = double.differences
    (suspect,) = finding.suspects
    assert suspect.suggested == ""
    assert suspect.p_error == pytest.approx(0.5, abs=0.05)
    assert suspect.others == (("159", pytest.approx(0.5, abs=0.05)),)
    assert finding.message == (
        "wing_mm is '195' in the first typing and '159' in the second typing (handlings row 3): nothing "
        "tells which is right."
    )


def test_the_audit_of_the_first_typing_speaks_for_the_second():
    first, second = season(r0_net_g="395"), season()
    double = double_entry(first, second, schemas=declared())
    (finding,) = double.differences
    (suspect,) = finding.suspects
    assert (suspect.suggested, suspect.p_error > 0.99, suspect.p_fix > 0.99) == ("373", True, True)
    assert finding.message == (
        "net_g is '395' in the first typing and '373' in the second typing (handlings row 2): '373' is "
        "probably right (99 %), since the audit of the first typing finds fault there."
    )


def test_the_audit_of_the_second_typing_speaks_for_the_first():
    double = double_entry(season(), season(r0_net_g="395"), schemas=declared())
    (suspect,) = double.differences[0].suspects
    assert (suspect.suggested, suspect.p_error < 0.01) == ("", True)
    assert double.differences[0].message.endswith(
        "'373' is probably right (99 %), since the audit of the second typing finds fault there."
    )


def test_what_both_audits_suggest_may_be_a_third_value():
    first, second = season(r0_net_g="733"), season(r0_net_g="37.3")
    double = double_entry(first, second, schemas=declared())
    (finding,) = double.differences
    (suspect,) = finding.suspects
    assert suspect.suggested == "373"
    assert suspect.p_error > 0.9
    assert "probably neither is right" in finding.message
    assert "'373' may have been meant" in finding.message


def test_an_empty_cell_was_rather_left_out():
    (finding,) = compared(season(r2_wing_mm=""), season()).differences
    assert (finding.rule, finding.suspects[0].suggested) == ("double_entry.empty_first", "188")
    assert 0.8 < finding.suspects[0].p_error < 0.97
    (finding,) = compared(season(), season(r2_wing_mm="")).differences
    assert (finding.rule, finding.suspects[0].suggested) == ("double_entry.empty_second", "")
    assert finding.suspects[0].p_error < 0.2


def test_dates_are_suggested_as_iso_8601():
    double = double_entry(season(r1_date="2062-05-04"), season(r1_date="04.05.2026"), schemas=declared())
    assert double.differences[0].suspects[0].suggested == "2026-05-04"


@given(
    st.sampled_from(["ring", "net_g", "sex"]),
    st.one_of(st.none(), st.floats(0, 1)),
    st.one_of(st.none(), st.floats(0, 1)),
)
def test_the_three_accounts_make_one_and_change_places_with_the_typings(name, one, other):
    texts = {"ring": ("SV01263", "SV01236"), "net_g": (373.0, 337.0), "sex": (None, None)}[name]
    first, second = (
        Typed(meaning, value, None, None if p is None else Blame(p))
        for meaning, value, p in zip("ab", texts, (one, other), strict=True)
    )
    weigher = Weigher(declared())
    told, turned = weigher.weigh(name, first, second), weigher.weigh(name, second, first)
    assert told.first + told.second + told.neither == pytest.approx(1)
    assert (told.first, told.second) == pytest.approx((turned.second, turned.first))


# rows that only one typing has


def test_a_row_left_out_of_the_first_typing():
    double = compared(season(ROWS[:2] + ROWS[3:]), season())
    (finding,) = double.report.findings
    assert finding.rule == "double_entry.row_missing"
    assert finding.suspects[0].cell.observed == "SV01002"
    assert finding.message == (
        "After this row the first typing lacks one that stands in the second typing (handlings row 4): the "
        "row of ring SV01003, box SL-01, date 2026-05-04."
    )


def test_a_row_left_out_of_the_second_typing():
    double = compared(season(), season(ROWS[1:]))
    (finding,) = double.report.findings
    assert (finding.rule, finding.suspects[0].cell.row) == ("double_entry.row_extra", 2)
    assert finding.message == (
        "The row of ring SV01001, box SL-01, date 2026-05-04 stands in the first typing only, not in the "
        "second typing."
    )


def test_a_row_typed_twice():
    double = compared(season((*ROWS[:2], ROWS[1], *ROWS[2:])), season())
    (finding,) = double.report.findings
    assert finding.rule == "double_entry.row_doubled"
    assert finding.suspects[0].cell.row in (3, 4)
    double = compared(season(), season((*ROWS[:2], ROWS[1], *ROWS[2:])))
    assert [f.rule for f in double.report.findings] == ["double_entry.row_doubled_second"]


# slips of several cells


def test_two_cells_exchanged_share_a_group():
    double = compared(season(), season(r1_gross_g="22", r1_bag_g="382", r4_wing_mm="99"))
    groups = {f.suspects[0].cell.field: f.group for f in double.differences}
    assert groups["gross_g"] == groups["bag_g"] != groups["wing_mm"]


def test_a_column_that_slid_is_one_group():
    rings = [row[2] for row in ROWS]
    slid = {f"r{k}_ring": ring for k, ring in enumerate([rings[1], rings[2], rings[0]])}
    double = compared(season(), season(**slid))
    assert len(double.differences) == 3
    assert len({f.group for f in double.differences}) == 1


def test_identities_do_not_depend_on_the_row():
    one = compared(season(), season(r1_wing_mm="99")).differences
    other = compared(season(ROWS[::-1]), season(ROWS[::-1], r3_wing_mm="99")).differences
    assert [f.identity for f in one] == [f.identity for f in other]


# what the desk shows beside


def test_the_row_of_the_second_typing_is_an_excerpt():
    double = compared(season(), season(ROWS[1:], r1_wing_mm="99"))
    (finding,) = double.differences
    excerpt = second_typing(double, finding)
    assert (excerpt.title, excerpt.kind) == ("handlings as typed in the second typing", "second_typing")
    assert [line.place for line in excerpt.lines] == ["2", "3", "4"]
    assert excerpt.lines[1].texts[excerpt.fields.index("wing_mm")] == "99"
    assert excerpt.witnesses == {(excerpt.lines[1].label, "wing_mm")}
    assert not {line.label for line in excerpt.lines} & set(double.first.frame("handlings").index)


def test_a_finding_of_the_audit_has_the_row_too():
    double = double_entry(season(r0_net_g="395"), season(), schemas=declared())
    audited = double.audits[0].above_notes[0]
    excerpt = second_typing(double, audited)
    assert excerpt.lines[0].texts[excerpt.fields.index("ring")] == "SV01001"


def test_without_a_row_there_is_no_excerpt():
    double = compared(season(), season(ROWS[1:]))
    assert second_typing(double, double.report.findings[0]) is None


# refusals


def test_typings_without_a_common_row_are_refused():
    other = [("2026-07-01", f"SL-4{k}", f"SK0900{k}", "kestrel", "180", "11", "169", "150") for k in range(5)]
    with pytest.raises(SeasonRefusal, match="no row in common"):
        compared(season(), season(other))


# errors that both finders missed


def decided(double, which) -> list[Decision]:
    """Decide cells: text to put there, or None to keep."""
    made = []
    for k, ((label, field), instead) in enumerate(which.items()):
        cell = decided_cell(double.first, label, field, instead)
        verb = "keep" if instead is None else "amend"
        made.append(Decision(f"d{k}", "2026-08-01T10:00:00+00:00", "AB", verb, (cell,), reason="sheet"))
    return made


@pytest.fixture(scope="module")
def three_differences():
    first = season(r0_net_g="395", r1_wing_mm="159", r3_wing_mm="270")
    return double_entry(first, season(r2_wing_mm="189"), schemas=declared())


def test_the_estimate_waits_for_decisions(three_differences):
    said = estimate(three_differences, [])
    assert isinstance(said, str)
    assert said.startswith("How many errors both missed can be estimated once all are decided: 4 differences")


def test_decided_differences_give_estimate_and_rates(three_differences):
    double = three_differences
    texts = {("handlings!2", "net_g"): "373", ("handlings!3", "wing_mm"): "195"}
    texts |= {("handlings!4", "wing_mm"): None, ("handlings!5", "wing_mm"): "207"}
    audited = {(s.cell.label, s.cell.field): None for f in double.audits[0].above_notes for s in f.suspects}
    decisions = decided(double, {**audited, **texts})
    found = estimate(double, decisions)
    blamed = set(audited) & {at for at, text in texts.items() if text}
    assert found.found == 3
    assert found.estimate == 0
    assert found.is_open == (not blamed)
    whole = rates(double, decisions)[-1]
    assert (whole.differing, whole.undecided, whole.first.hits, whole.second.hits) == (4, 0, 3, 1)
    wing = next(rate for rate in rates(double, decisions) if rate.field == "wing_mm")
    assert (wing.cells, wing.first.hits, wing.second.hits) == (5, 2, 1)
    assert wing.first.low < 2 / 5 < wing.first.high


def test_a_third_text_makes_both_typings_wrong(three_differences):
    double = three_differences
    whole = rates(double, decided(double, {("handlings!3", "wing_mm"): "196"}))[-1]
    assert (whole.first.hits, whole.second.hits, whole.undecided) == (1, 1, 3)


# how sure it is


def test_probabilities_are_calibrated_on_planted_typings():
    """Of differences called p, a share p is wrong in the first typing, within 0.05."""
    called: list[tuple[float, bool]] = []
    spoken = Counter()
    for seed in (901, 902):
        one, other = (typing(seed, who, boxes=20, rate=0.12, disorder=False) for who in (1, 2))
        audits = tuple(check(typed.season, schemas=declared()) for typed in (one, other))
        double = compare(one.season, other.season, declared(), audits)
        blamed = [{(s.cell.label, s.cell.field) for f in a.above_notes for s in f.suspects} for a in audits]
        for finding in double.differences:
            (suspect,) = finding.suspects
            at = suspect.cell.label, suspect.cell.field
            wrong = at in one.key.changes
            called.append((suspect.p_error, wrong))
            if (at in blamed[0]) != (at in blamed[1]):
                spoken[(suspect.p_error > 0.5) == wrong] += 1
    table = pd.DataFrame(called, columns=["p", "wrong"])
    bins = table.groupby((table.p * 10).clip(upper=9).astype(int))
    apart = (bins.p.mean() - bins.wrong.mean()).abs() * bins.size()
    assert len(table) > 60
    assert apart.sum() / len(table) <= 0.05
    assert spoken[True] >= 0.98 * spoken.total()


def test_the_record_says_what_it_is(three_differences):
    assert repr(three_differences) == (
        "the first typing and the second typing: 5 rows paired, 4 differences in 40 cells."
    )
    assert replace(three_differences.report).season == "season"
