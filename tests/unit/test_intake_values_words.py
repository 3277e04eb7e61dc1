"""Words that mean something, marks for 'as above', yes and no."""

from __future__ import annotations

import pytest
from typed_column import DECLARED, column, moment, one, plain

from audit.intake.grid import RawCell


@pytest.mark.parametrize(
    ("field", "typed", "value"),
    [
        *[
            ("ring_leg", typed, "L")
            for typed in ("L", "l", "left", "Left", "links", "gauche", "izquierda", "izq.", "g")
        ],
        *[
            ("tag_leg", typed, "R")
            for typed in ("R", "r", "right", "rechts", "droite", "derecha", "D", " Right ")
        ],
        *[("sex", typed, "M") for typed in ("M", "m", "male", "♂", "Männchen", "mâle", "macho", "man")],
        *[
            ("sex", typed, "F")
            for typed in ("F", "female", "♀", "Weibchen", "w", "femelle", "hembra", "vrouw")
        ],
        *[
            ("sex", typed, "U")
            for typed in ("U", "?", "unknown", "unbekannt", "inconnu", "desconocido", "onbekend")
        ],
        *[
            ("event", typed, "ringed")
            for typed in ("N", "new", "first", "ringed", "neu", "nouveau", "nuevo", "nieuw")
        ],
        *[
            ("event", typed, "re-encountered")
            for typed in (
                "R",
                "retrap",
                "recapture",
                "Wiederfang",
                "Kontrolle",
                "contrôle",
                "recaptura",
                "terugvangst",
                "re-encountered",
            )
        ],
        *[
            ("age", typed, "1")
            for typed in (
                1,
                1.0,
                "1",
                "1.0",
                "pullus",
                "pull",
                "Pull.",
                "nestling",
                "poussin",
                "pollo",
                "nestjong",
            )
        ],
    ],
    ids=repr,
)
def test_words_in_five_languages(field, typed, value):
    assert one(field, typed) == (value, "", "")


@pytest.mark.parametrize(
    ("table", "field", "typed", "value"),
    [
        ("ring_losses", "fate", "verloren", "lost"),
        ("ring_losses", "fate", "Kaputt", "destroyed"),
        ("ring_losses", "fate", "retour", "returned"),
        ("ring_losses", "fate", "passed on", "passed on"),
        ("detections", "antenna", "außen", "outer"),
        ("detections", "antenna", "binnen", "inner"),
    ],
)
def test_words_of_other_tables(table, field, typed, value):
    assert one(field, typed, table=table) == (value, "", "")


@pytest.mark.parametrize(
    ("field", "typed"),
    [("ring_leg", "both"), ("sex", "xy"), ("event", "escaped"), ("age", "3"), ("age", "3J")],
)
def test_unknown_words_stay_as_typed(field, typed):
    assert one(field, typed) == (typed, "", "")


@pytest.mark.parametrize(
    ("field", "typed", "value"),
    [("ring_leg", "L?", "L"), ("sex", "Weibchen (?)", "F"), ("age", "pull?", "1")],
)
def test_a_word_in_doubt(field, typed, value):
    assert one(field, typed) == (value, "uncertain_mark", value)


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("  fine ", "fine"),
        ("two  eggs\nleft", "two  eggs\nleft"),
        ("NA", "NA"),
        ("-", None),
        ("", None),
        (None, None),
        (5, "5"),
        (5.5, "5.5"),
        (985121004515220.0, "985121004515220"),
        (True, "TRUE"),
        (moment(2026, 5, 4), "2026-05-04"),
        (float("nan"), None),
    ],
    ids=repr,
)
def test_free_text(typed, value):
    assert one("remarks", typed) == (value, "", "")


@pytest.mark.parametrize("initials", ["NM", "NA", "DO", "MI", "AB", "K.A.B."])
def test_initials_are_no_words(initials):
    assert one("ringer", initials) == (initials, "", "")


@pytest.mark.parametrize("typed", ["#REF!", "#N/A", "#NV", "#VALEUR!"], ids=repr)
def test_spreadsheet_errors_are_no_text(typed):
    assert one("remarks", typed)[:2] == (None, "unreadable")


class TestYesNo:
    @pytest.mark.parametrize(
        "typed",
        [
            "yes",
            "Y",
            "ja",
            "J",
            "oui",
            "sí",
            "si",
            "x",
            "X",
            "✓",
            "✔",
            "1",
            1,
            1.0,
            True,
            "TRUE",
            "wahr",
            "WAAR",
        ],
        ids=repr,
    )
    def test_yes(self, typed):
        assert one("cleaned", typed, table="visits") == (True, "", "")

    @pytest.mark.parametrize(
        "typed", ["no", "N", "nein", "non", "nee", "0", 0, False, "FALSE", "falsch", "faux"], ids=repr
    )
    def test_no(self, typed):
        assert one("cleaned", typed, table="visits") == (False, "", "")

    @pytest.mark.parametrize("typed", ["?", "-", "", None, "n/a", float("nan")], ids=repr)
    def test_nothing(self, typed):
        assert one("cleaned", typed, table="visits") == (None, "", "")

    @pytest.mark.parametrize("typed", ["maybe", 2, 0.5, moment(2026, 5, 4), "10:30", float("inf")], ids=repr)
    def test_neither(self, typed):
        assert one("cleaned", typed, table="visits")[:2] == (None, "unreadable")


class TestAsAbove:
    @pytest.mark.parametrize(
        "mark", ['"', "″", "”", ",,", "''", "dito", "ditto", "do.", "idem", "id.", "↓", '- " -', " 〃 "]
    )
    def test_columns_that_repeat(self, mark):
        for field, value in [
            ("box", "SL-01"),
            ("ringer", "AB"),
            ("time", "09:30"),
            ("species", "barn owl"),
            ("brood_size", 4),
        ]:
            read = column(field, value, mark, mark)
            assert plain(read) == [value] * 3
            assert {reading.kind for reading in read.readings} == {"ditto"}
            assert list(read.typed)[1:] == [mark, mark]

    @pytest.mark.parametrize("field", ["ring", "tag", "wing_mm", "gross_g", "net_g", "age_days"])
    def test_columns_that_never_repeat(self, field):
        read = column(field, 205, '"')
        assert plain(read)[1] is None
        assert read.readings[0].kind == "unreadable"
        assert read.readings[0].remark == (
            "'\"' repeats the row above, but here every row has a value of its own; type it"
        )

    def test_a_bag_is_told(self):
        read = column("bag_g", "22 g", '"')
        assert plain(read) == [22.0, 22.0]
        assert [(r.kind, r.remark) for r in read.readings] == [
            ("ditto_measure", "'\"' was read as 22 g from above")
        ]

    def test_dates_and_gaps(self):
        read = column("date", "4.5.2026", None, '"', "5.5.2026", '"', "25.05.2026")
        assert [None if v is None else v.day for v in plain(read)] == [4, None, 4, 5, 5, 25]

    def test_nothing_above(self):
        read = column("box", '"', "SL-01")
        assert plain(read) == [None, "SL-01"]
        assert (
            read.readings[0].remark == "'\"' repeats the row above, but nothing stands there; type the value"
        )

    def test_what_cannot_be_read_above_is_told_once(self):
        read = column("date", "31.04.2026", '"')
        assert [reading.kind for reading in read.readings] == ["unreadable", "ditto"]


def test_merged_cells():
    merged = RawCell("SL-01", "SL-01", merged=True)
    assert one("box", merged) == ("SL-01", "", "")
    assert one("remarks", RawCell("wet", "wet", merged=True)) == ("wet", "", "")
    for field, value in [("ring", "SV01001"), ("tag", "999000000001337"), ("wing_mm", 205)]:
        read = column(field, RawCell(value, str(value), merged=True))
        assert plain(read) == [None]
        assert read.readings[0].remark == (
            f"'{value}' is repeated here by a merged cell, but every row has a value of its own; "
            f"split the cell and "
            "type it"
        )
    assert one("ring", RawCell(None, "", merged=True)) == (None, "", "")


@pytest.mark.parametrize(
    ("field", "typed", "value"),
    [
        *[
            ("age", typed, "1")
            for typed in ("1 (pullus)", "1 = pullus", "pullus (1)", "1 pullus", "Pull. (1)")
        ],
        ("age", "4 (adult)", "4"),
        ("age", "4 (pullus)", "4 (pullus)"),
        ("age", "4 (?)", "4 (?)"),
        ("age", "adult", "adult"),
        ("sex", "M (male)", "M"),
        ("sex", "M (female)", "M (female)"),
        ("event", "neu (Erstfang)", "ringed"),
    ],
)
def test_a_word_that_is_explained_in_its_cell(field, typed, value):
    assert one(field, typed)[0] == value


@pytest.mark.parametrize("typed", ["n.g.", "n. gem.", "nicht gem.", "not measured"])
def test_a_measure_that_was_not_taken(typed):
    assert one("wing_mm", typed) == (None, "", "")


def test_words_are_declared_once():
    # a word that means two values of one column would be read by chance
    for field in ("ring_leg", "tag_leg", "sex", "event", "fate", "antenna", "age"):
        seen = {}
        for key, limit in DECLARED.settings.items():
            if key.startswith(f"reading.meanings.{field}."):
                value = key.split(".", 3)[3].rpartition(".")[0]
                for word in limit.value:
                    assert seen.setdefault(str(word).casefold(), value) == value, (field, word)
    yes, no = (
        {
            w.casefold()
            for key, limit in DECLARED.settings.items()
            if key.startswith(stem)
            for w in limit.value
        }
        for stem in ("reading.yes.", "reading.no.")
    )
    assert not yes & no


def test_a_team_adds_words_of_its_own(tmp_path):
    from audit.declarations import load_declarations
    from audit.intake.values import read_column

    (tmp_path / "reading.yaml").write_text(
        "yes: {own: {value: [jawohl], source: our sheets, grade: common practice}}\n"
        "meanings: {sex: {M: {own: {value: [terzel], source: our sheets, grade: common practice}}}}\n",
        encoding="utf-8",
    )
    own = load_declarations(tmp_path)
    for table, field, word, value in [
        ("visits", "cleaned", "jawohl", True),
        ("handlings", "sex", "Terzel", "M"),
    ]:
        read = read_column([RawCell(word, word)], ["s!2"], own.tables[table].field(field), own)
        assert plain(read) == [value]
