"""What the intake noted becomes findings."""

from __future__ import annotations

import dataclasses

import pytest
from typed_column import DECLARED, column, values
from typed_season import ask, blamed, reported, typed_season

from audit.intake.grid import RawCell
from audit.rules import RULES
from audit.rules.reading import RULE


def season_of(field, *stored, table="handlings"):
    """Build a season whose one column was read from `stored`."""
    read = column(field, *stored, table=table)
    season = typed_season(**{table: [{field: None} for _ in stored]})
    kept = season.tables[table]
    filled = dataclasses.replace(kept, frame=values(read).to_frame(field), typed=read.typed.to_frame(field))
    return dataclasses.replace(season, tables={table: filled}, readings=read.readings)


def test_a_plain_season_gives_nothing():
    assert ask(RULE, season_of("wing_mm", 205, "205,5", None, "-")) == []


def test_marks_for_as_above_give_nothing():
    season = season_of("box", "SL-01", '"', '"')
    assert len(season.readings) == 2
    assert ask(RULE, season) == []


def test_it_is_asked_first():
    assert RULES[0] is RULE


@pytest.mark.parametrize(
    ("field", "typed", "outcome", "suggested", "message"),
    [
        (
            "wing_mm",
            "205 left",
            "error reading.unreadable",
            "205",
            "'205 left' cannot be read as a number; type the number alone, and words into the remarks.",
        ),
        (
            "date",
            "31.04.2026",
            "error reading.unreadable",
            "",
            "'31.04.2026' is no day of the calendar; look the date up in the notebook.",
        ),
        (
            "tag",
            "9.85121E+14",
            "error reading.damaged_code",
            "",
            (
                "'9.85121E+14' is what a spreadsheet shows of a code of 15 digits; the last ones are "
                "gone; take it from "
                "the reader's download or the notebook, into a cell of text."
            ),
        ),
        (
            "tag",
            "98512I004515220",
            "suspect reading.letter_in_code",
            "985121004515220",
            "'98512I004515220' has the letter I for 1; it was read as 985121004515220.",
        ),
        (
            "gross_g",
            "39S",
            "suspect reading.letter_in_number",
            "395",
            "'39S' has the letter S for 5; it was read as 395 g.",
        ),
        (
            "tag",
            "985121004515220.0",
            "note reading.restored_code",
            "985121004515220",
            (
                "'985121004515220.0' was read as 985121004515220, without the '.0' that a spreadsheet "
                "put behind it."
            ),
        ),
        (
            "wing_mm",
            "20.5cm",
            "note reading.unit_converted",
            "205",
            "'20.5cm' was read as 205 mm.",
        ),
        (
            "net_g",
            "395-22",
            "note reading.arithmetic",
            "373",
            "'395-22' was worked out as 373 g.",
        ),
        (
            "net_g",
            RawCell(None, "=F3-G3", formula="=F3-G3"),
            "error reading.unreadable",
            "",
            (
                "The formula '=F3-G3' has no result stored in the file; open the file in the "
                "spreadsheet, save it and "
                "read it again, or type the value."
            ),
        ),
    ],
    ids=lambda value: str(value)[:24],
)
def test_one_cell(field, typed, outcome, suggested, message):
    season = season_of(field, typed)
    (finding,) = ask(RULE, season)
    (suspect,) = finding.suspects
    assert (f"{finding.severity} {finding.rule}", finding.message) == (outcome, message)
    assert (suspect.suggested, suspect.cell.address) == (suggested, "A2")
    assert suspect.cell.observed == (typed.text if isinstance(typed, RawCell) else typed)
    assert (suspect.p_fix is None) == (not suggested)
    assert (suspect.p_error > 0.9) == (finding.severity != "note")


def test_a_damaged_column_is_one_group_with_a_line_for_each_cell():
    season = season_of("tag", *["985121000000000"] * 3, "985121004515220")
    report = reported(season, DECLARED, [RULE])
    assert [finding.rule for finding in report.findings] == ["reading.damaged_code"] * 3
    assert len({finding.group for finding in report.findings}) == 1
    assert len({finding.identity for finding in report.findings}) == 3
    assert set(blamed(report.findings)) == {(f"handlings!{row}", "tag") for row in (2, 3, 4)}


def test_many_like_notes_are_told_once():
    typed = [f"{20 + i}.5cm" for i in range(6)]
    (finding,) = ask(RULE, season_of("wing_mm", *typed))
    assert finding.message == "'20.5cm' was read as 205 mm; so it is with 5 other cells of this column."
    assert [suspect.suggested for suspect in finding.suspects] == ["205", "215", "225", "235", "245", "255"]
    assert len(ask(RULE, season_of("wing_mm", *typed[:3]))) == 3


def test_errors_are_never_bundled():
    assert len(ask(RULE, season_of("wing_mm", *["x"] * 9))) == 9


def test_any_table():
    season = season_of("cleaned", "yes", "maybe", table="visits")
    (finding,) = ask(RULE, season)
    assert finding.message == "'maybe' is neither yes nor no; type yes or no."
    assert finding.suspects[0].cell.sheet == "visits"


def test_cells_that_cannot_be_read_are_no_witnesses_for_later_rules():
    season = season_of("wing_mm", "205 left", "20.5cm")
    seen = []

    def look(case):
        seen.append(case.doubted)
        return iter(())

    reported(season, DECLARED, [RULE, dataclasses.replace(RULE, check=look)])
    assert seen == [frozenset({("handlings!2", "wing_mm")})]
