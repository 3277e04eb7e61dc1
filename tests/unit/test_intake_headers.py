"""Headers as people write them."""

from __future__ import annotations

import itertools

import pytest

from audit.intake.headers import fold, vocabulary_of

LANGUAGES = ("en", "de", "fr", "es", "nl")


@pytest.fixture(scope="module")
def words(declared):
    return vocabulary_of(declared)


def test_no_header_means_two_columns_of_one_table(declared):
    german = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})
    for table in declared.tables.values():
        meanings = {}
        for field in table.fields:
            for header in (field.name, *field.headers):
                for folded in {fold(header), fold(header.casefold().translate(german))}:
                    assert meanings.setdefault(folded, field.name) == field.name, (table.name, header)


def test_no_sheet_name_means_two_tables(declared):
    meanings = {}
    for table in declared.tables.values():
        for name in (table.name, *table.sheet_names):
            assert meanings.setdefault(fold(name), table.name) == table.name, name


def test_every_column_and_table_is_known_in_every_language(declared):
    from audit.declarations.document import read_document
    from audit.declarations.locate import schemas_folder

    for table in declared.tables:
        tree = read_document(schemas_folder() / "tables" / f"{table}.yaml").tree
        assert tuple(tree["sheets"]) == LANGUAGES, table
        # earlier seasons are read by the headers of the handlings
        fields = {} if table == "earlier" else tree["fields"]
        for name, field in fields.items():
            assert tuple(field["headers"]) == LANGUAGES, (table, name)
            assert all(field["headers"].values()), (table, name)


@pytest.mark.parametrize(
    ("header", "field"),
    [
        ("wing_mm", "wing_mm"),
        ("WING MM", "wing_mm"),
        ("Wing-length", "wing_mm"),
        ("Wing\n(mm)", "wing_mm"),
        ("wing [mm]", "wing_mm"),
        ("Wing, mm", "wing_mm"),
        ("Wing/mm", "wing_mm"),
        ("Flügel in mm", "wing_mm"),
        ("Fluegel", "wing_mm"),
        ("mass (g)", "net_g"),
        ("Gross weight [g]", "gross_g"),
        ("Bird + bag", "gross_g"),
        ("Bird & bag (g)", "gross_g"),
        ("Bag g", "bag_g"),
        ("poids + sac", "gross_g"),
        ("poids sac", "bag_g"),
        ("Ring #", "ring"),
        ("Ring No.:", "ring"),
        ("N° bague", "ring"),
        ("Nº de anilla", "ring"),
        ("Date (dd/mm/yyyy)", "date"),
        ("Datum (TT.MM.JJJJ)", "date"),
        ("Fecha (dd-mm-aaaa)", "date"),
        ("Time (hh:mm)", "time"),
        ("Uhrzeit [24h]", "time"),
        ("Sex (M/F)", "sex"),
        ("♂/♀", "sex"),
        ("Ring leg (L/R)", "ring_leg"),
        ("Age (days)", "age_days"),
        ("Age [d]", "age_days"),
        ("Alter (Tage)", "age_days"),
        ("âge (j)", "age_days"),
        ("Age", "age"),
        ("PIT-tag", "tag"),
        ("Number (ring)", "ring"),
        ("Ring number (metal)", "ring"),
        ("Leg (ring)", "ring_leg"),
        ("Weight (with bag)", "gross_g"),
        ("Ring (colour)", None),
        ("Box (g)", None),
        ("Height", None),
        ("Nest", None),
        ("", None),
    ],
)
def test_a_header_is_known_however_it_is_written(words, header, field):
    found = words.recognise(header, "handlings")
    assert (found.field if found else None) == field


@pytest.mark.parametrize(
    ("header", "unit"),
    [("Wing (cm)", "cm"), ("wing cm", "cm"), ("Wing (mm)", "mm"), ("wing", None), ("Weight [kg]", "kg")],
)
def test_the_unit_of_a_header_is_noticed(words, header, unit):
    found = words.recognise(header, "handlings")
    assert (found.unit.name if found.unit else None) == unit


def test_weeks_mean_the_age_in_days_and_not_the_age_code(words):
    found = words.recognise("Age (weeks)", "handlings")
    assert (found.field, found.unit.factor) == ("age_days", 7)


@pytest.mark.parametrize(
    ("header", "field"),
    [
        ("Wng", "wing_mm"),
        ("Rign", "ring"),
        ("Boxx", "box"),
        ("Rings", "ring"),
        ("Dte", "date"),
        ("Speceis", "species"),
        ("Transpnder", "tag"),
        ("Flügellänqe", "wing_mm"),
        ("Wng (cm)", "wing_mm"),
        ("Nest", None),
        ("Height", None),
        ("Ringed", None),
        ("Bx", None),
        ("Bog", None),
        ("Colour", None),
    ],
)
def test_a_slip_of_the_keys_is_taken_when_it_makes_no_other_word(words, declared, header, field):
    found = words.slip(header, "handlings", declared.tables["handlings"].names)
    assert (found.field if found else None) == field


def test_a_slip_is_not_taken_for_a_column_that_is_there(words):
    assert words.slip("Wng", "handlings", {"ring", "box"}) is None


def test_no_known_header_is_one_slip_from_a_known_header_of_another_column(words):
    """Else an exact header of one column would be a slip of the other, and matching would depend on order."""
    from audit.intake.headers import is_slip

    known = words.words["handlings"]
    pairs = [
        (one, other)
        for one, other in itertools.permutations(known, 2)
        if known[one] != known[other] and abs(len(one) - len(other)) <= 1 and is_slip(one, other, words.slips)
    ]
    assert all(words.recognise(one, "handlings").field == known[one] for one, _ in pairs)


def test_the_nearest_known_header_is_offered_as_declared(words):
    assert words.nearest("Rg-Nr.", "handlings") == ("ring nr", "ring")
    assert words.nearest("xyzzy", "handlings") is None
