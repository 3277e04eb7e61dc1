"""Records and lines. The strings are synthetic, of our own: no complete record of a manual could be read.

Their lengths, 94 characters, 60 and 64 fields, are those of the three forms (the widths from memory).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.declarations import load_declarations
from audit.handover.exchange.encounter import NAMES, Encounter
from audit.handover.exchange.lines import as_written, line_of
from audit.handover.exchange.reading import form_of, read_line, read_lines
from audit.handover.exchange.ring_padding import padded, unpadded
from audit.refusal import Refusal

EXCHANGE = load_declarations().exchange

FIXED = "NLAA0A...12345612GB0735007350N0NNUU11U053021206202601430NL--+520000+00500000820040000000000000"
PLUS = (
    "NLA|A0|A...123456|1|2|GB|07350|07350|N|0|N|N|U|U|1|1|U|05|30|2|12062026|0|1430|NL--|+520000+0050000|0|8|20|0|4"
    "|00000|000|00000|150.0|||288.0|||||||||||||||||||||Box 12||V1"
)
DEGREES = (
    "NLA|A0|A...123456|1|2|GB|07350|07350|N|0|N|N|U|U|1|1|U|05|30|2|12062026|0|1430|NL--|...............|0|8|20|0|4"
    "|00000|000|00000|150.0|||288.0|||||||||||||||||||||Box 12||V1|52.0000|5.0000||"
)
LINES = {"2000": FIXED, "2000+": PLUS, "2020": DEGREES}


def test_the_synthetic_lines_have_the_lengths_of_the_forms():
    assert (len(FIXED), PLUS.count("|") + 1, DEGREES.count("|") + 1) == (94, 60, 64)


@pytest.mark.parametrize("form", LINES)
def test_a_line_tells_its_form(form):
    assert form_of(LINES[form], EXCHANGE) == form


@pytest.mark.parametrize("form", LINES)
def test_a_line_is_read_and_written_again(form):
    record = read_line(LINES[form], EXCHANGE)
    assert line_of(record, form, EXCHANGE) == LINES[form]


def test_each_field_is_read_from_its_place():
    record = read_line(FIXED, EXCHANGE)
    assert (record.scheme, record.method, record.ring, record.species_mentioned) == (
        "NLA", "A0", "A...123456", "07350",
    )  # fmt: skip
    assert (record.brood_size, record.pullus_age, record.pullus_age_accuracy) == ("05", "30", "2")
    assert (record.date, record.time, record.place_code) == ("12062026", "1430", "NL--")
    assert (record.coordinates, record.circumstances, record.code_identifier) == (
        "+520000+0050000",
        "20",
        "4",
    )
    plus = read_line(PLUS, EXCHANGE)
    assert (plus.wing, plus.mass, plus.place_name, plus.reference) == ("150.0", "288.0", "Box 12", "V1")
    degrees = read_line(DEGREES, EXCHANGE)
    assert (degrees.latitude, degrees.longitude, degrees.coordinates) == ("52.0000", "5.0000", "." * 15)


def test_the_forms_agree_in_what_they_share():
    fixed, plus, degrees = (read_line(line, EXCHANGE) for line in LINES.values())
    shared = [name for name in NAMES[:33] if name != "coordinates"]
    assert all(getattr(fixed, name) == getattr(plus, name) == getattr(degrees, name) for name in shared)
    assert fixed.coordinates == plus.coordinates


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_files_with_other_line_ends_and_a_mark_at_the_start(ends):
    text = "\ufeff" + ends.join([PLUS, "", DEGREES, FIXED, ""])
    assert [record.reference for record in read_lines(text, EXCHANGE)] == ["V1", "V1", ""]


# faults: file, line, field and cure


@pytest.mark.parametrize(
    ("line", "where", "what"),
    [
        (PLUS.replace("07350|07350", "7350|07350"), "field 7 (species mentioned)",
         "'7350' has 4 characters instead of 5. A table may have dropped a zero in front: 07350?"),
        (PLUS.replace("|NL--|", "|00--|"), "field 24 (place code)",
         "'00--' does not have the form of this field."),
        (PLUS.replace("12062026", "1206202x"), "field 21 (date)",
         "'1206202x' does not have the form of this field."),
        (PLUS.replace("A...123456", "A.1.123456"), "field 3 (identification number)",
         "'A.1.123456' does not have the form of this field."),
        (PLUS.replace("150.0", "150,0"), "field 34 (wing length)",
         "'150,0' does not have the form of this field."),
        (PLUS.replace("|0|8|20|", "|0|8|2|"), "field 28 (circumstances)",
         "'2' has 1 characters instead of 2. A table may have dropped a zero in front: 02?"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("form", ["", "2000+"])
def test_a_fault_names_line_and_field(line, where, what, form):
    with pytest.raises(Refusal) as caught:
        read_lines(f"{PLUS}\n{line}\n", EXCHANGE, form, name="records.txt")
    assert caught.value.where == f"records.txt, line 2, {where}"
    assert caught.value.what == what
    assert caught.value.cure


@pytest.mark.parametrize(
    ("line", "form", "what"),
    [
        (PLUS + "|", "2000+", "The line has 61 fields, and the form 2000+ has 60 fields between pipes."),
        (FIXED + " ", "2000", "The line has 95 characters, and the form 2000 has 94 characters."),
        (FIXED[:-1], "2000", "The line has 93 characters, and the form 2000 has 94 characters."),
        (PLUS + "|", "", "has 61 fields: no known form of a record."),
        ("an odd line", "", "The line 'an odd line' has 11 characters: no known form of a record."),
    ],
)
def test_a_line_of_the_wrong_length(line, form, what):
    with pytest.raises(Refusal) as caught:
        read_line(line, EXCHANGE, form)
    assert what in caught.value.what


@pytest.mark.parametrize("text", ["a|b", "a\nb", "a\rb", "a\u2028b", "b\n"])
def test_no_text_breaks_a_line(text):
    record = replace(read_line(PLUS, EXCHANGE), remarks=text)
    with pytest.raises(Refusal, match="holds a pipe or a line break"):
        line_of(record, "2000+", EXCHANGE)


def test_a_fixed_field_is_filled():
    with pytest.raises(Refusal, match="'7350' does not fill 5 characters"):
        line_of(replace(read_line(PLUS, EXCHANGE), species_mentioned="7350"), "2000", EXCHANGE)


# round trip


def records():
    """Any record that fits the forms of its fields."""
    # no sign that ends a line, a field, or a byte order mark
    free = st.text(
        st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp"), exclude_characters="|\ufeff"), max_size=12
    )
    parts = {}
    for field in EXCHANGE.fields:
        if field.form is None:
            parts[field.name] = free
            continue
        drawn = st.from_regex(rf"\A(?:{field.form.pattern})\Z", fullmatch=True)
        parts[field.name] = drawn
    stem = st.text("ABCXYZ0123456789", max_size=4)
    rings = st.tuples(stem, st.text("0123456789", min_size=1, max_size=6))
    parts["ring"] = rings.map(lambda ring: padded("".join(ring), 10))
    return st.builds(Encounter, **parts)


@settings(max_examples=40)
@given(records(), st.sampled_from(["2000", "2000+", "2020"]))
def test_what_is_written_is_read_back(record, form):
    line = line_of(record, form, EXCHANGE)
    (read,) = read_lines(line, EXCHANGE, form)
    assert read == Encounter(*as_written(record, form, EXCHANGE))
    assert read == read_line(line, EXCHANGE, form)
    # all that the form has is there, but for the packed position where degrees are written
    known = {field.name for field in EXCHANGE.forms[form]}
    if form == "2020" and record.latitude:
        known.discard("coordinates")
    assert all(getattr(read, name) == getattr(record, name) for name in known)


# rings


@pytest.mark.parametrize(
    ("ring", "text"),
    [
        # the rule is from memory: letters left, digits right, dots between; digits alone at the right
        ("A123456", "A...123456"), ("1234567", "...1234567"), ("ET06049", "ET...06049"),
        ("2N-5354", "2N....5354"), ("888-88801", "..88888801"), ("sv 03001", "SV...03001"),
        ("AB12C345", "AB12C..345"), ("1234567890", "1234567890"),
    ],
)  # fmt: skip
def test_a_ring_is_padded(ring, text):
    assert padded(ring, 10) == text


@pytest.mark.parametrize(
    ("ring", "why"),
    [
        ("SV1234567890", "has 12 characters, and the code holds 10"),
        ("SVA", "does not end in digits"),
        ("ÄB12345", "signs other than letters"),
        ("SV?3001", "signs other than letters"),
        ("--", "no letter and no digit"),
    ],
)
def test_a_ring_without_a_place_in_the_code(ring, why):
    with pytest.raises(Refusal, match=why):
        padded(ring, 10)


@settings(max_examples=50)
@given(st.from_regex(r"\A[A-Z0-9]{0,5}[0-9]{1,5}\Z"))
def test_a_padded_ring_is_found_again(ring):
    text = padded(ring, 10)
    assert len(text) == 10
    assert unpadded(text) == ring
