"""Many hex words at once say what one by one says (`models/tag_text`, itself held against ISO 11784)."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from audit.models.iso_code import IsoCode
from audit.models.iso_words import decimals_of
from audit.models.tag_text import canonical, recognise

words = st.one_of(
    st.integers(0, 2**64 - 1),
    # plain words, and those in which few bits are set
    st.builds(
        lambda prefix, national, animal: IsoCode(prefix, national, animal=animal).word,
        st.integers(0, 1023),
        st.integers(0, 2**38 - 1),
        st.booleans(),
    ),
    st.lists(st.integers(0, 63), max_size=9).map(lambda bits: sum(1 << bit for bit in set(bits))),
).map(lambda word: f"{word:016X}")


@given(
    st.lists(st.one_of(words, words.map(lambda text: text[::-1]), st.text("0123456789ABCDEFG.", max_size=17)))
)
def test_what_is_told_is_what_one_by_one_says(texts):
    found = decimals_of(texts)
    for text in texts:
        if text in found:
            assert found[text] == canonical(text)
        else:
            assert not (
                len({reading.key for reading in recognise(text)}) == 1
                and recognise(text)[0].slug in ("iso_hex_left", "iso_hex_right")
                and recognise(text)[0].iso.plain
                # what begins like a frame is left to the slower way
                and not text.startswith(("FF8", "FF9", "FFA", "FFB", "FFC", "FFD", "FFE", "FFF"))
            ), text


def test_both_ways_of_writing_and_none():
    code = IsoCode(999, 104_000_000_001)
    assert decimals_of([code.left, code.right]) == dict.fromkeys([code.left, code.right], code.decimal)
    assert decimals_of([code.decimal, "", "XYZ"]) == {}
    # one that makes sense both ways is not told
    assert decimals_of(["8000840000210001"]) == {}
