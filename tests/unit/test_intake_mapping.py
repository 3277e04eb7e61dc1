"""Which sheet is which table, which header is which column, and what a person may say about it."""

from __future__ import annotations

import pandas as pd
import pytest
from sheets import BIRDS, HEADER, as_typed, text_file, workbook

from audit.intake import propose_mapping, read
from audit.intake.mapping import write
from audit.refusal import DeclarationRefusal, SeasonRefusal

VISITS = [("date", "box", "eggs", "alive"), ("2026-05-04", "SL-01", 0, 4)]


def saved(path, text):
    path.with_name(f"{path.stem}.mapping.yaml").write_text(text, encoding="utf-8")


def test_sheets_of_months_are_one_table(declared, tmp_path):
    june = [("ring", "box", "date", "net_g", "brood_size"), ("SV01009", "SL-03", "2026-06-01", 373, 4)]
    season = read(workbook(tmp_path / "2026.xlsx", {"Mai": [HEADER, *BIRDS], "Juni": june}), declared)
    birds = season.frame("handlings")
    assert list(birds.index) == ["Mai!2", "Mai!3", "Mai!4", "Juni!2"]
    assert list(birds) == ["date", "box", "ring", "net_g", "wing_mm", "brood_size", "remarks"]
    assert birds["brood_size"].dtype == "Int64"
    assert birds.loc["Juni!2", "net_g"] == 373
    assert pd.isna(birds.loc["Mai!2", "net_g"])
    assert season.cell("Juni!2", "ring").address == "A2"
    assert season.cell("Mai!2", "net_g").observed == ""
    assert season.notices == (
        "Sheet 'Mai' was read as handlings, by its headers.",
        "Sheet 'Juni' was read as handlings, by its headers.",
    )


def test_sheets_that_match_nothing_are_said(declared, tmp_path):
    lists = [("Colour", "Meaning"), ("green", "done"), ("grey", "open")]
    season = read(
        workbook(tmp_path / "s.xlsx", {"handlings": [HEADER, *BIRDS], "Lists": lists, "Sheet3": []}), declared
    )
    assert season.notices == ("Sheet 'Lists' matches no table; 3 rows were not read.",)


def test_a_bad_optional_sheet_does_not_sink_the_season(declared, tmp_path):
    bad = [("box", "eggs", "alive"), ("SL-01", 0, 4)]
    season = read(workbook(tmp_path / "s.xlsx", {"handlings": [HEADER, *BIRDS], "visits": bad}), declared)
    assert set(season.tables) == {"handlings"}
    assert season.notices == (
        "Sheet 'visits' has no column for date; it was not read. All its headers are known; add 'date'.",
    )


def test_a_copy_of_a_sheet_is_not_read_twice(declared, tmp_path):
    rows = [HEADER, *BIRDS]
    season = read(workbook(tmp_path / "s.xlsx", {"handlings": rows, "backup": [("old",), *rows]}), declared)
    assert len(season.frame("handlings")) == 3
    assert season.notices == ("Sheet 'backup' repeats sheet 'handlings' row for row and was not read.",)


def test_a_summary_that_is_nearly_a_table_of_birds_is_said(declared, tmp_path):
    summary = [("box", "species", "wing_mm", "net_g"), ("SL-01", "barn owl", 200, 366)]
    season = read(workbook(tmp_path / "s.xlsx", {"handlings": [HEADER, *BIRDS], "Means": summary}), declared)
    assert len(season.frame("handlings")) == 3
    said = "Sheet 'Means' has no column for date and ring; it was not read. All its headers are known; add "
    assert season.notices == (f"{said}'date' and 'ring'.",)


def test_a_typing_slip_in_a_header_is_taken_and_said(declared, tmp_path):
    rows = [("Dte", "Boxx", "Rign", "Wng"), *[bird[:4] for bird in BIRDS]]
    season = read(workbook(tmp_path / "s.xlsx", {"handlings": rows}), declared)
    assert list(season.frame("handlings")) == ["date", "box", "ring", "wing_mm"]
    assert season.notices == (
        "Sheet 'handlings': 'Dte' was taken as date.",
        "Sheet 'handlings': 'Boxx' was taken as box.",
        "Sheet 'handlings': 'Rign' was taken as ring.",
        "Sheet 'handlings': 'Wng' was taken as wing_mm.",
    )
    assert season.cell("handlings!2", "wing_mm").column == "Wng"


def test_a_typing_slip_over_words_is_not_taken_for_numbers(declared, tmp_path):
    rows = [("date", "box", "ring", "wins"), ("2026-05-04", "SL-01", "SV01001", "many")]
    season = read(workbook(tmp_path / "s.xlsx", {"handlings": rows}), declared)
    assert "wing_mm" not in season.frame("handlings")


def test_the_column_of_that_very_name_is_taken_of_two(declared, tmp_path):
    rows = [("date", "box", "ring", "Ring no"), *[(*bird[:3], "other") for bird in BIRDS]]
    season = read(workbook(tmp_path / "s.xlsx", {"handlings": rows}), declared)
    assert season.frame("handlings")["ring"].tolist() == ["SV01001", "SV01002", "SV01003"]
    assert season.notices == (
        "Sheet 'handlings': 'ring' (C) was taken as ring, although 'Ring no' (D) means it too.",
        "Sheet 'handlings': 'Ring no' (D) is not known and not checked; kept as typed.",
    )
    assert as_typed(season)["handlings!2", "Ring no"] == "other"


def test_a_unit_that_the_values_contradict_is_not_believed(declared, tmp_path):
    rows = [("date", "box", "ring", "Wing (cm)"), *[bird[:4] for bird in BIRDS]]
    season = read(workbook(tmp_path / "s.xlsx", {"handlings": rows}), declared)
    assert season.frame("handlings")["wing_mm"].tolist() == [201, 199, 188]
    assert season.notices == (
        (
            "Sheet 'handlings': the header 'Wing (cm)' says cm, but values such as 201 are no cm; they were "
            "read as mm, as they stand."
        ),
    )


def test_a_saved_mapping_goes_before_everything(declared, tmp_path):
    rows = [("wann", "wo", "welcher", "ring"), *[(*bird[:3], "not the ring") for bird in BIRDS]]
    path = workbook(tmp_path / "s.xlsx", {"Tabelle1": rows, "visits": VISITS})
    saved(
        path,
        "sheets: {Tabelle1: handlings, visits: ignore}\n"
        "columns:\n  Tabelle1: {wann: date, wo: box, welcher: ring, ring: ignore}\n",
    )
    season = read(path, declared)
    assert season.frame("handlings")["ring"].tolist() == ["SV01001", "SV01002", "SV01003"]
    assert season.notices == ("Sheet 'visits' was left out, as the mapping says.",)
    other = tmp_path / "other.yaml"
    (tmp_path / "s.mapping.yaml").rename(other)
    assert read(path, declared, mapping=other).frame("handlings")["box"].tolist() == [
        "SL-01",
        "SL-01",
        "SL-02",
    ]
    with pytest.raises(SeasonRefusal):
        read(path, declared)


@pytest.mark.parametrize(
    ("text", "line", "what", "cure"),
    [
        (
            "sheets:\n  Tabelle: handlings\n",
            2,
            "There is no sheet 'Tabelle'.",
            "Did you mean 'Tabelle1'? Known: Tabelle1.",
        ),
        (
            "sheets:\n  Tabelle1: handling\n",
            2,
            "'handling' is no table.",
            "Did you mean 'handlings'? Known: ",
        ),
        (
            "columns:\n  Tabelle1:\n    Datum: date\n",
            3,
            "Sheet 'Tabelle1' has no header 'Datum'.",
            "Did you mean 'date'? Known: date, box, ring, wing_mm, remarks.",
        ),
        (
            "columns:\n  Tabelle1:\n    date: date\n    remarks: rings\n",
            4,
            "'rings' is no column of handlings.",
            "Did you mean 'ring'? Known: date, time, ",
        ),
        (
            "columns:\n  Tabelle1:\n    ring: ring\n    remarks: ring\n",
            4,
            "'remarks' and 'ring' are both given as ring.",
            "Write ignore for one of them.",
        ),
        ("sheet: {}\n", 1, "The key 'sheet' is not known.", "Did you mean 'sheets'?"),
        ("columns: [a]\n", 1, "", ""),
        ("columns: {a: [\n", 2, "", ""),
    ],
)
def test_a_wrong_mapping_is_refused_with_its_line(declared, tmp_path, text, line, *, what, cure):
    path = workbook(tmp_path / "s.xlsx", {"Tabelle1": [HEADER, *BIRDS]})
    if text.startswith("columns:\n"):
        text = text + "sheets: {Tabelle1: handlings}\n"
    saved(path, text)
    with pytest.raises(DeclarationRefusal) as refusal:
        read(path, declared)
    assert refusal.value.what.startswith(what)
    assert refusal.value.cure.startswith(cure)
    assert refusal.value.where == f"{tmp_path / 's.mapping.yaml'}, line {line}"


def test_a_mapping_may_name_columns_alone(declared, tmp_path):
    path = workbook(
        tmp_path / "s.xlsx", {"Tabelle1": [("date", "box", "Nummer"), *[bird[:3] for bird in BIRDS]]}
    )
    saved(path, "columns: {Tabelle1: {Nummer: ring}}")
    assert read(path, declared).frame("handlings")["ring"].tolist() == ["SV01001", "SV01002", "SV01003"]


def test_a_mapping_that_is_not_there_is_refused(declared, tmp_path):
    path = workbook(tmp_path / "s.xlsx", {"handlings": [HEADER, *BIRDS]})
    with pytest.raises(SeasonRefusal, match="This mapping file does not exist"):
        read(path, declared, mapping=tmp_path / "none.yaml")


def test_a_proposal_shows_every_header_and_how_it_was_matched(declared, tmp_path):
    rows = [("Dte", "Nest box", "ring", "Flügelmaß (cm)", "Colour"), *[(*bird[:4], "x") for bird in BIRDS]]
    path = workbook(tmp_path / "s.xlsx", {"May": rows, "Lists": [("Colour",), ("green",)]})
    proposal = propose_mapping(path, declared)
    table = proposal.table()
    assert table.to_numpy().tolist() == [
        ["May", "handlings", "A", "Dte", "date", "typing slip"],
        ["May", "handlings", "B", "Nest box", "box", "known header"],
        ["May", "handlings", "C", "ring", "ring", "own name"],
        ["May", "handlings", "D", "Flügelmaß (cm)", "wing_mm", "known header and unit"],
        ["May", "handlings", "E", "Colour", "", "not known"],
    ]
    assert list(table.columns) == ["sheet", "table", "column", "header", "field", "how"]
    assert [match.header for match in proposal.unknown()] == ["Colour"]
    assert dict(proposal.sheets) == {"May": "handlings", "Lists": ""}


def test_a_saved_proposal_reads_the_same_season(declared, tmp_path):
    rows = [("Dte", "Nest box", "ring", "Wing (mm)", "Colour: 'x'"), *[(*bird[:4], "x") for bird in BIRDS]]
    path = workbook(tmp_path / "s.xlsx", {"May": rows, "Lists": [("Colour",), ("green",)]})
    before = read(path, declared)
    write(propose_mapping(path, declared), tmp_path / "s.mapping.yaml")
    after = read(path, declared)
    pd.testing.assert_frame_equal(before.frame("handlings"), after.frame("handlings"))
    assert as_typed(before) == as_typed(after)
    assert after.notices == ("Sheet 'Lists' was left out, as the mapping says.",)
    assert {match.how for match in propose_mapping(path, declared).matches} == {"saved mapping"}


def test_a_proposal_tells_what_is_missing_without_refusing(declared, tmp_path):
    rows = [("date", "box", "Rg-Nr."), *[bird[:3] for bird in BIRDS]]
    proposal = propose_mapping(workbook(tmp_path / "s.xlsx", {"handlings": rows}), declared)
    assert proposal.matches[2].how == "not known"
    assert "has no column for ring" in proposal.notices[0]


def test_a_folder_of_text_files_is_a_season(declared, tmp_path):
    folder = tmp_path / "round 2026"
    folder.mkdir()
    text_file(folder / "handlings.csv", [HEADER, *BIRDS])
    text_file(folder / "visits.csv", VISITS, delimiter=";")
    text_file(folder / "visits.txt", [VISITS[0], ("2026-06-04", "SL-01", 0, 4)], delimiter="\t")
    (folder / "notes.md").write_text("not read")
    (folder / "empty.csv").write_text("")
    season = read(folder, declared)
    assert (season.name, season.source) == ("round 2026", str(folder))
    assert list(season.frame("visits").index) == ["visits!2", "visits (2)!2"]
    assert season.notices == (
        "File 'empty.csv' is empty.",
        "Sheet 'visits (2)' was read as visits, by its headers.",
        "A second sheet is named 'visits'; it is called 'visits (2)' here.",
    )


def test_downloads_fill_their_tables(declared, tmp_path):
    path = workbook(tmp_path / "s.xlsx", {"handlings": [HEADER, *BIRDS]})
    reads = text_file(
        tmp_path / "handlings.csv", [("Date and time", "ID"), ("2026-05-04 09:31:02", "999000000012345")]
    )
    detections = text_file(
        tmp_path / "log.txt",
        [
            ("box", "antenna", "timestamp", "transponder"),
            ("SL-01", "outer", "2026-06-04 22:01:02.125", "999000000012345"),
        ],
        delimiter="\t",
    )
    season = read(path, declared, reads=reads, detections=detections)
    assert list(season.frame("tag_reads").index) == ["handlings.csv!2"]
    assert season.frame("tag_reads")["tag"].tolist() == ["999000000012345"]
    assert season.frame("detections").loc["log!2", "detected_at"] == pd.Timestamp("2026-06-04 22:01:02.125")
    assert season.cell("handlings.csv!2", "tag").address == "B2"
    with pytest.raises(SeasonRefusal, match="has no column for detected_at"):
        read(
            path,
            declared,
            detections=text_file(tmp_path / "x.csv", [("box", "antenna", "tag"), ("a", "outer", "c")]),
        )


def test_a_double_table_of_adults_and_chicks_is_refused_as_such(declared, tmp_path):
    rows = [
        ("date", "box", "Adult", None, "Chick", None),
        (None, None, "ring", "mass", "ring", "mass"),
        ("2026-05-04", "SL-01", "SV01001", 300, "SV01002", 280),
    ]
    with pytest.raises(
        SeasonRefusal, match=r"'Adult / ring' \(C\) and 'Chick / ring' \(E\) mean the same, ring"
    ):
        read(workbook(tmp_path / "s.xlsx", {"Sheet1": rows}), declared)


def test_two_slips_for_one_column_say_neither(declared, tmp_path):
    rows = [("date", "box", "Rign", "Rng"), ("2026-05-04", "SL-01", "SV01001", "SV01002")]
    with pytest.raises(SeasonRefusal, match="has no column for ring"):
        read(workbook(tmp_path / "s.xlsx", {"handlings": rows}), declared)


def test_every_sheet_has_a_name_of_its_own(declared, tmp_path):
    sheets = {
        "handlings": [HEADER, *BIRDS],
        "log": VISITS,
        "LOG.csv": [VISITS[0], ("2026-05-09", "SL-09", 1, 1)],
    }
    reads = text_file(tmp_path / "log.csv", [("read at", "tag"), ("2026-05-04 09:31:02", "999000000012345")])
    season = read(workbook(tmp_path / "s.xlsx", sheets), declared, reads=reads)
    assert list(season.frame("tag_reads").index) == ["log.csv (2)!2"]
    assert season.cell("log.csv (2)!2", "tag").observed == "999000000012345"
