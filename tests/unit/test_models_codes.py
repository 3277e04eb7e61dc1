"""Tag codes against published vectors, an independent CRC library, and their own inverses."""

from __future__ import annotations

import csv
import itertools
import re
from functools import cache
from pathlib import Path

import pytest
from crccheck.crc import CrcKermit
from hypothesis import given
from hypothesis import strategies as st

from audit.declarations import load_declarations
from audit.models.checksum import check_bytes, check_word
from audit.models.em_code import ALL_BITS, PRINTED, EmCode, read_frame
from audit.models.iso_code import (
    LARGEST_NATIONAL,
    IsoCode,
    Telegram,
    mirror,
    read_decimal,
    read_dot_hex,
    read_hex16,
    read_telegram,
    read_word,
    send_telegram,
)
from audit.models.tag_text import bits_lost, canonical, comparable, complete, recognise, write

REFERENCE = Path(__file__).resolve().parent.parent / "reference"


def _vectors(name):
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


ISO = _vectors("iso_tag_vectors.csv")
TELEGRAMS = _vectors("iso_tag_telegrams.csv")
EM = _vectors("em_tag_vectors.csv")

words = st.integers(0, 2**64 - 1)
iso_codes = st.builds(IsoCode, prefix=st.integers(1, 999), national=st.integers(0, LARGEST_NATIONAL))
em_values = st.integers(0, ALL_BITS)


@pytest.mark.parametrize("row", ISO, ids=lambda row: row["left"])
def test_every_presentation_of_the_published_codes(row):
    code = read_word(int(row["left"], 16))
    assert (code.decimal, code.dot_hex, code.left, code.right) == (
        row["decimal"],
        row["dot_hex"],
        row["left"],
        row["right"],
    )
    assert f"{code.check:04X}" == row["crc"]
    assert (code.animal, code.retagging, code.user, code.data_block) == (
        row["animal"] == "1",
        int(row["retagging"]),
        int(row["user"]),
        row["data_block"] == "1",
    )
    assert {canonical(row[form]) for form in ("decimal", "dot_hex", "left", "right")} == {row["decimal"]}
    assert [way for way, _ in read_hex16(row["left"])] == ["left"]
    assert [way for way, _ in read_hex16(row["right"])] == ["right"]


@pytest.mark.parametrize("row", TELEGRAMS, ids=lambda row: row["decimal"])
def test_telegrams_as_on_air(row):
    heard = read_telegram(int(row["telegram"], 16))
    assert heard.code.decimal == row["decimal"]
    assert heard.code.animal == (row["animal"] == "1")
    assert heard.trailer == 0
    assert f"{send_telegram(heard):032x}" == row["telegram"]
    assert canonical(row["telegram"].upper()) == row["decimal"]


def test_wire_bytes_of_a_check_as_in_an_open_decoders_unit_test():
    assert check_word(0x0000F9C05968A455).to_bytes(2, "little").hex() == "1c8a"
    assert [f"{mirror(byte, 8):02x}" for byte in check_word(0x0000F9C05968A455).to_bytes(2, "little")] == [
        "38",
        "51",
    ]


@given(words)
def test_check_equals_an_independent_library(word):
    # crccheck 1.3.1, CrcKermit
    assert check_word(word) == CrcKermit.calc(word.to_bytes(8, "little"))


@given(st.binary(max_size=40))
def test_check_of_any_bytes_and_its_residue(data):
    assert check_bytes(data) == CrcKermit.calc(data)
    assert check_bytes(data + check_bytes(data).to_bytes(2, "little")) == 0


def test_check_value_of_the_catalogue():
    assert check_bytes(b"123456789") == 0x2189


@pytest.mark.parametrize("flips", [1, 2])
def test_every_change_of_one_or_two_bits_is_seen(flips):
    word = 0x8000842098B29BA0
    sent = word | check_word(word) << 64
    for places in itertools.combinations(range(80), flips):
        heard = sent
        for place in places:
            heard ^= 1 << place
        assert check_word(heard & (2**64 - 1)) != heard >> 64


@given(words)
def test_a_word_survives_its_fields_and_its_mirror(word):
    assert read_word(word).word == word
    assert mirror(mirror(word)) == word


@given(iso_codes, st.integers(0, 2**24 - 1))
def test_every_presentation_leads_back_to_the_code(code, trailer):
    assert read_decimal(code.decimal) == code
    assert read_dot_hex(code.dot_hex) == code
    assert ("left", code) in read_hex16(code.left)
    assert ("right", code) in read_hex16(code.right)
    assert read_telegram(send_telegram(Telegram(code, trailer))) == Telegram(code, trailer)
    for slug in ("iso_decimal", "iso_dot_hex", "iso_hex_left", "iso_hex_right"):
        text = write(code.decimal, slug)
        assert canonical(text, slug) == code.decimal


@given(iso_codes, st.integers(11, 100))
def test_a_telegram_with_one_wrong_bit_before_the_trailer_is_refused(code, place):
    sent = Telegram(code)
    damaged = send_telegram(sent) ^ 1 << (127 - place)
    with pytest.raises(ValueError, match=r"control|check"):
        read_telegram(damaged)


def test_impossible_codes():
    # 737,733,408,912 > 2^38 - 1: an example value in the open R package ISO11784Tools
    assert read_decimal("989737733408912") is None
    assert recognise("989737733408912") == ()
    assert comparable("989737733408912") == "989737733408912"
    assert read_decimal("999274877906944") is None
    assert read_decimal("999274877906943").national == LARGEST_NATIONAL
    assert read_dot_hex("3E8.0000000001") is None
    assert read_dot_hex("3E7.4000000000") is None
    with pytest.raises(ValueError, match="national"):
        IsoCode(999, LARGEST_NATIONAL + 1)


@pytest.mark.parametrize(
    ("bits", "says"),
    [
        ((1 << 128) - 1, "header"),
        (int(TELEGRAMS[0]["telegram"], 16) ^ 1 << (127 - 19), "control"),
        (int(TELEGRAMS[0]["telegram"], 16) ^ 1 << (127 - 12), "check"),
    ],
)
def test_a_damaged_telegram_is_refused_with_the_reason(bits, says):
    with pytest.raises(ValueError, match=says):
        read_telegram(bits)


def test_the_published_code_by_hand():
    # 8000842098B29BA0: bit 63 is 1; (word >> 38) & 1023 = 210 hex = 528; the low 38 bits are 140,000,795,552
    word = 0x8000842098B29BA0
    assert (word >> 63, word >> 38 & 1023, word & 2**38 - 1) == (1, 528, 140000795552)
    assert read_word(word) == IsoCode(528, 140000795552)


@pytest.mark.parametrize("row", EM, ids=lambda row: row["em_hex"])
def test_every_print_of_a_read_only_tag(row):
    code = EmCode(int(row["em_hex"], 16))
    for printed in PRINTED:
        assert printed.write(code.value) == row[printed.slug]
        assert printed.read(row[printed.slug]) == code.value & printed.known
        assert printed.slug in [reading.slug for reading in recognise(row[printed.slug])]
        assert write(row["em_hex"], printed.slug) == row[printed.slug]
    assert code.mirrored == row["mirrored"] == write(row["em_hex"], "em_mirrored")
    assert f"{code.frame:016X}" == row["frame"] == write(row["em_hex"], "em_frame")
    assert read_frame(code.frame) == code
    assert canonical(row["frame"]) == canonical(row["em_13_digits"]) == row["em_hex"]
    assert canonical(row["em_14_digits"]) == row["em_hex"]
    for short in ("em_10_digits", "em_8_digits", "em_3_comma_5", "em_5_comma_5", "em_3_dot_5"):
        assert complete([row[short]], [row["em_hex"], "FFFFFFFFFF"]) == {row[short]: row["em_hex"]}


@given(em_values)
def test_every_print_leads_back_as_far_as_it_tells(value):
    whole = recognise(f"{value:010X}")[0]
    for printed in PRINTED:
        text = printed.write(value)
        assert printed.read(text) == value & printed.known
        readings = [reading for reading in recognise(text) if reading.slug == printed.slug]
        assert len(readings) == 1
        assert readings[0].value & readings[0].known == whole.value & readings[0].known
        if printed.known == ALL_BITS:
            assert canonical(text, printed.slug) == f"{value:010X}"
    assert read_frame(EmCode(value).frame).value == value


@pytest.mark.parametrize("flips", [1, 2])
def test_frame_parity_sees_every_change_of_one_or_two_bits(flips):
    frame = EmCode(0x01026F6C3A).frame
    for places in itertools.combinations(range(64), flips):
        damaged = frame
        for place in places:
            damaged ^= 1 << place
        with pytest.raises(ValueError, match=r"header|stop|parity"):
            read_frame(damaged)


def test_ten_digits_have_two_meanings():
    # as hex 1,082,484,276; as the low 32 bits in decimal 026F6C3A
    hexed, low = recognise("0040856634")
    assert (hexed.slug, hexed.value) == ("em_hex", 1082484276)
    assert (low.slug, low.value) == ("em_10_digits", 0x026F6C3A)
    assert canonical("0040856634") is None
    assert canonical("0040856634", "em_hex") == "0040856634"


def test_bits_lost_by_short_prints():
    lost = {printed.slug: bits_lost(printed.slug) for printed in PRINTED}
    assert lost == {
        "em_hex": 0,
        "em_13_digits": 0,
        "em_14_digits": 0,
        "em_10_digits": 8,
        "em_8_digits": 16,
        "em_3_comma_5": 16,
        "em_5_comma_5": 8,
        "em_3_dot_5": 16,
    }
    assert bits_lost("iso_decimal") == 0


def test_short_print_of_two_known_tags_is_left_open():
    known = ["01026F6C3A", "02006F6C3A"]
    assert complete(["111,27706"], known) == {}
    assert complete(["00623,27706"], known) == {"00623,27706": "01026F6C3A"}


def test_different_families_never_agree():
    assert canonical("999000000001337") != canonical("01026F6C3A")
    assert canonical("3E7.0000000539") == canonical("999000000001337")


@pytest.mark.parametrize(
    "text",
    ["", "9.85121E+14", "98512100451522", "99900000000133", "300,00001", "1234567890123456789", "SV01234"],
)
def test_texts_without_a_known_form(text):
    assert recognise(text) == ()
    assert canonical(text) is None
    assert comparable(text) == text


@given(st.text(alphabet="0123456789ABCDEFO.,", max_size=33))
def test_any_text_has_one_key_and_its_key_is_its_own_key(text):
    assert comparable(comparable(text, "em_hex"), "em_hex") == comparable(text, "em_hex")


def test_declared_patterns_take_every_recognised_text(declared):
    for row in ISO:
        for slug, form in (
            ("iso_decimal", "decimal"),
            ("iso_dot_hex", "dot_hex"),
            ("iso_hex_left", "left"),
            ("iso_hex_right", "right"),
        ):
            assert re.fullmatch(declared.tags.formats[slug].pattern, row[form])
    for row in TELEGRAMS:
        assert re.fullmatch(declared.tags.formats["iso_telegram"].pattern, row["telegram"].upper())
    for row in EM:
        for printed in PRINTED:
            assert re.fullmatch(declared.tags.formats[printed.slug].pattern, row[printed.slug])
        assert re.fullmatch(declared.tags.formats["em_frame"].pattern, row["frame"])


@given(em_values)
def test_declared_patterns_take_every_print(value):
    for printed in PRINTED:
        assert re.fullmatch(_patterns()[printed.slug], printed.write(value))


@cache
def _patterns():
    return {slug: form.pattern for slug, form in load_declarations().tags.formats.items()}


def test_raised_and_foreign_figures_are_no_decimal_code():
    assert not [reading for text in ("²" * 15, "٣" * 15) for reading in recognise(text)]
