"""The noisy channel: what may have been meant, and how likely it is that it was typed like this."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.declarations import load_declarations
from audit.models.digit_swaps import digit_swaps
from audit.models.keying import Channel
from audit.models.learnt_slips import learn, learn_rate
from audit.models.slip_kinds import CODE_KINDS, KINDS, ONE_SLIP

CHANNEL = load_declarations().slips.channel()
DIGITS = "0123456789"
SIGNS = DIGITS + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
#: Damerau (1964): one letter wrong, missing, too many, or two adjacent ones transposed.
FOUR = ("digit", "neighbours", "dropped", "extra")


def osa_distance(a: str, b: str) -> int:
    """Restricted Damerau-Levenshtein (optimal string alignment) distance, as in textbooks."""
    rows = [[i + j if i * j == 0 else 0 for j in range(len(b) + 1)] for i in range(len(a) + 1)]
    for i in range(1, len(a) + 1):
        for j in range(1, len(b) + 1):
            rows[i][j] = min(
                rows[i - 1][j] + 1, rows[i][j - 1] + 1, rows[i - 1][j - 1] + (a[i - 1] != b[j - 1])
            )
            if i > 1 and j > 1 and a[i - 1] == b[j - 2] and a[i - 2] == b[j - 1]:
                rows[i][j] = min(rows[i][j], rows[i - 2][j - 2] + 1)
    return rows[-1][-1]


def verhoeff_patterns(meant: str) -> set[str]:
    """Jump, twin, jump twin and phonetic slips of a code, from their definitions (Verhoeff 1969)."""
    found = set()
    for i in range(len(meant) - 1):
        a, b = meant[i : i + 2]
        if a == b:
            found |= {meant[:i] + c + c + meant[i + 2 :] for c in SIGNS}
        if a in "23456789" and b == "0":
            found.add(f"{meant[:i]}1{a}{meant[i + 2 :]}")
        if a == "1" and b in "23456789":
            found.add(f"{meant[:i]}{b}0{meant[i + 2 :]}")
    for i in range(len(meant) - 2):
        a, c, b = meant[i : i + 3]
        found.add(meant[:i] + b + c + a + meant[i + 3 :])
        if a == b:
            found |= {meant[:i] + d + c + d + meant[i + 3 :] for d in SIGNS}
    return found - {meant}


# against outside sources


def test_every_pair_at_damerau_distance_one_is_one_of_the_four_single_slips():
    """Damerau (1964): all texts of up to four signs out of three, against the textbook distance."""
    texts = ["".join(signs) for n in range(5) for signs in product("20A", repeat=n)]
    for meant in texts[1:]:
        for typed in texts:
            found = CHANNEL.chances(typed, meant)
            kinds = [kind for kind in FOUR if found.get(kind, 0.0) > 0]
            assert len(kinds) == (osa_distance(meant, typed) == 1), (meant, typed, kinds)


def test_the_declared_shares_lie_within_the_published_ranges():
    """Verhoeff (1969), ranges as relayed by Wagner, The Laws of Cryptography (2002)."""
    shares = CHANNEL.codes
    assert 0.60 <= shares["digit"] <= 0.95
    assert 0.10 <= shares["neighbours"] <= 0.20
    assert 0.10 <= shares["dropped"] + shares["extra"] <= 0.20
    assert 0.005 <= shares["jump"] <= 0.015
    assert 0.005 <= shares["twin"] <= 0.015
    assert 0.005 <= shares["phonetic"] <= 0.015
    assert 0 < shares["jump_twin"] < 0.01
    # his six-digit study, from memory: 0.83, 0.55, 0.29 and 0.49 %
    rare = np.array([shares[kind] for kind in ("jump", "twin", "jump_twin", "phonetic")])
    assert rare / rare.sum() == pytest.approx(np.array([0.83, 0.55, 0.29, 0.49]) / 2.16, rel=0.002)
    assert sum(shares.values()) == pytest.approx(1)


@pytest.mark.parametrize(
    ("meant", "kind"),
    [
        ("ACTRESS", "dropped"),
        ("CRESS", "extra"),
        ("CARESS", "neighbours"),
        ("ACCESS", "digit"),
        ("ACROSS", "digit"),
        ("ACRES", "extra"),
    ],
)
def test_a_worked_example_of_the_noisy_channel(meant, kind):
    """The word 'acress' and its six corrections (Kernighan, Church & Gale 1990; from memory)."""
    assert CHANNEL.kind("ACRESS", meant) == kind
    assert meant in {source.meant for source in CHANNEL.sources("ACRESS")}


def test_two_rings_that_may_have_been_meant_weighed_by_hand():
    """SV01263 was typed; SV01236 (two neighbours turned) and SV01265 (one digit) are as likely beforehand."""
    hand = 1 - sum(CHANNEL.habits.values())
    turned = hand * 0.11 / 6
    # 5 for 3 look alike (half as likely again) and touch at a corner of the pad (a tenth): 1.6 of 10.7 parts
    # 5: 2, 4, 6, 8 beside (1.25), 1, 3, 7, 9 at a corner (1.1), 0 far (1); alike 3, 6, 9 (0.5 more)
    parts = 4 * 1.25 + 4 * 1.1 + 1 + 3 * 0.5
    one_digit = hand * 0.72 * 0.98 * 1.6 / parts / 7
    found = np.exp([CHANNEL.log_chance("SV01263", meant) for meant in ("SV01236", "SV01265")])
    assert found == pytest.approx([turned, one_digit], rel=0.01)
    assert found[0] / found.sum() == pytest.approx(turned / (turned + one_digit), rel=0.01)


def test_a_spreadsheet_keeps_fifteen_digits():
    """IEEE 754 double precision: card number 1111 2222 3333 4444, a documented example, from memory."""
    assert CHANNEL.kind("1111222233334440", "1111222233334444") in ("digit", "rounded")
    assert CHANNEL.chances("1111222233334440", "1111222233334444")["rounded"] > 0
    assert CHANNEL.kind("11112222333344440000", "11112222333344449876") == "unknown"
    assert CHANNEL.kind("11112222333344400000", "11112222333344449876") == "rounded"


@pytest.mark.parametrize("typed", ["9.99E+14", "9.99000E+14", "9,99E+14", "9.99001E+14", "9,99001E+14"])
def test_a_long_number_is_shown_with_an_exponent(typed):
    assert CHANNEL.kind(typed, "999001000012345" if "001E" in typed else "999000000012345") == "scientific"


# a proper channel


@pytest.mark.parametrize("meant", ["0", "12", "O0", "A1", "11"])
def test_chances_of_all_codes_sum_to_no_more_than_their_shares(meant):
    totals = dict.fromkeys(CODE_KINDS, 0.0)
    for n in range(4):
        for signs in product(SIGNS, repeat=n):
            for kind, chance in CHANNEL.chances("".join(signs), meant).items():
                totals[kind] += chance
    hand = 1 - sum(CHANNEL.habits.values())
    for kind, total in totals.items():
        share = CHANNEL.habits.get(kind, hand * CHANNEL.codes.get(kind, 0.0))
        assert total <= share * (1 + 1e-9), kind
    assert 0.4 < sum(totals.values()) <= 1
    # one wrong digit is possible in every code: nothing of its share is lost
    assert totals["digit"] == pytest.approx(hand * CHANNEL.codes["digit"], rel=1e-4)


@settings(max_examples=12, deadline=None)
@given(meant=st.integers(0, 999), unit=st.sampled_from([1.0, 0.1]))
def test_chances_of_all_numbers_sum_to_no_more_than_their_shares(meant, unit):
    value = meant * unit
    # all numbers of up to a digit more in the unit, and all finer ones that may be typed for it
    typed = np.unique(np.round(np.concatenate([np.arange(10_000) * unit, np.arange(20_000) * 0.01]), 2))
    found = CHANNEL.numbers(typed, np.full(len(typed), value), np.full(len(typed), unit))
    totals = dict(zip(KINDS, found.sum(axis=0), strict=True))
    for kind in (
        "digit",
        "neighbours",
        "dropped",
        "extra",
        "jump",
        "twin",
        "jump_twin",
        "phonetic",
        "two_edits",
    ):
        assert totals[kind] <= CHANNEL.keyed * CHANNEL.codes[kind] * (1 + 1e-9), kind
    assert totals["tenfold"] <= CHANNEL.tenfold * (1 + 1e-9)
    assert totals["kilograms"] <= CHANNEL.kilograms * (1 + 1e-9)
    assert totals["unknown"] <= CHANNEL.keyed * CHANNEL.codes["unknown"]
    assert totals["copied"] == totals["borrow"] == 0
    assert sum(totals.values()) <= 1


def test_numbers_for_no_reason_sum_to_their_share():
    typed = np.arange(200_000.0)
    unknown = CHANNEL.numbers(typed, np.full(len(typed), 373.0), np.ones(len(typed)))[
        :, KINDS.index("unknown")
    ]
    share = CHANNEL.keyed * CHANNEL.codes["unknown"] * (1 - CHANNEL.odd_step)
    assert unknown.sum() == pytest.approx(share, rel=0.01)
    half = unknown[: int(CHANNEL.span_g)].sum()
    assert half == pytest.approx(share / 2, rel=0.01)


# one slip apart

codes = st.text(alphabet="01233O5SAB", min_size=1, max_size=6)
plain_codes = st.text(alphabet="0123", min_size=1, max_size=5)


@settings(max_examples=80, deadline=None)
@given(plain_codes, plain_codes)
def test_sources_are_what_is_one_slip_away(typed, meant):
    """Against the textbook distance and Verhoeff's patterns written out; look-alikes need a letter."""
    apart = osa_distance(meant, typed) == 1 or typed in verhoeff_patterns(meant)
    assert (meant in {source.meant for source in CHANNEL.sources(typed)}) == apart


def test_sources_of_codes_with_letters_for_digits():
    """One look-alike or all of a kind, but never some of several: all codes of up to four signs."""
    texts = ["".join(signs) for n in (1, 2, 3, 4) for signs in product("0O1", repeat=n)]
    for typed in texts:
        sources = {source.meant for source in CHANNEL.sources(typed)}
        for meant in texts:
            found = CHANNEL.chances(typed, meant)
            assert (meant in sources) == any(found.get(kind, 0.0) > 0 for kind in ONE_SLIP), (typed, meant)


@settings(max_examples=50, deadline=None)
@given(codes)
def test_sources_are_finite_named_and_never_the_text_itself(typed):
    sources = CHANNEL.sources(typed)
    meant = [source.meant for source in sources]
    assert typed not in meant
    assert len(set(meant)) == len(meant)
    assert [source.chance for source in sources] == sorted((s.chance for s in sources), reverse=True)
    for source in sources[::17]:
        assert source.kind == CHANNEL.kind(typed, source.meant)
        assert np.log(source.chance) == pytest.approx(CHANNEL.log_chance(typed, source.meant))
        assert np.isfinite(CHANNEL.log_chance(typed, source.meant))


@settings(max_examples=20, deadline=None)
@given(typed=st.integers(0, 9_999), unit=st.sampled_from([1.0, 0.1, 0.01]))
def test_sources_of_a_number_are_what_is_one_slip_away(typed, unit):
    value = round(typed * unit, 2)
    sources = {source.meant: source for source in CHANNEL.sources(value, unit=unit)}
    every = np.round(np.arange(100_000) * unit, 2)
    found = CHANNEL.numbers(np.full(len(every), value), every, np.full(len(every), unit))
    one_slip = [KINDS.index(kind) for kind in ONE_SLIP if kind in KINDS]
    assert set(every[found[:, one_slip].any(axis=1)]) == set(sources) & set(every)
    assert value not in sources
    for meant, source in list(sources.items())[::13]:
        assert np.log(source.chance) == pytest.approx(CHANNEL.log_chance(value, meant, unit=unit))
        assert source.kind == CHANNEL.kind(value, meant, unit=unit)


def test_numbers_foreseen_together_are_those_asked_one_by_one():
    asked = [(373.0, 1.0), (37.3, 0.1), (0.25, 0.01), (373.0, 1.0), (1000.0, 1.0)]
    together = replace(CHANNEL)
    together.foresee(asked)
    for typed, unit in asked:
        found = together.sources(typed, unit=unit)
        assert found == replace(CHANNEL).sources(typed, unit=unit)
        for one in found:
            assert np.log(one.chance) == pytest.approx(CHANNEL.log_chance(typed, one.meant, unit=unit))
    # the unit of the number itself, where none is given
    assert together.sources(37.3) == together.sources(37.3, unit=0.1)


@given(st.integers(1, 9_999), st.sampled_from([1.0, 0.1]))
def test_points_noughts_and_kilograms_are_among_the_sources(steps, unit):
    value = round(steps * unit, 1)
    found = {round(float(source.meant), 6): source.kind for source in CHANNEL.sources(value, unit=unit)}
    assert {round(value * 10, 6), round(value / 10, 6), round(value * 1000, 6)} <= set(found)


SAME_BACKWARDS = ("digit", "neighbours", "jump", "twin", "jump_twin", "phonetic", "look_alike")


@given(codes, st.data())
def test_kinds_read_the_same_backwards(typed, data):
    source = data.draw(st.sampled_from(CHANNEL.sources(typed)))
    back = CHANNEL.kind(source.meant, typed)
    if source.kind in SAME_BACKWARDS:
        assert back == source.kind
    if source.kind == "extra":
        assert back in ("dropped", "zeros_lost")


@given(st.from_regex(r"[1-9][0-9]{0,5}", fullmatch=True), st.data())
def test_numbers_and_codes_are_weighed_alike(meant, data):
    """A mistyped number is a code of digits that habit does not touch."""
    typed = str(data.draw(st.sampled_from(CHANNEL.sources(meant))).meant)
    if not typed.isdigit() or typed[0] == "0" or typed == "0":
        return
    as_number = dict(
        zip(KINDS, CHANNEL.numbers(*np.array([[float(typed)], [float(meant)]]), np.ones(1))[0], strict=True)
    )
    as_code = CHANNEL.chances(typed, meant)
    hand = 1 - sum(CHANNEL.habits.values())
    for kind in ("neighbours", "dropped", "jump", "phonetic"):
        assert as_number[kind] / CHANNEL.keyed == pytest.approx(as_code.get(kind, 0.0) / hand)
    for kind in ("digit", "twin", "jump_twin"):
        same_class = 1 - CHANNEL.other_class
        assert as_number[kind] / CHANNEL.keyed == pytest.approx(as_code.get(kind, 0.0) / hand / same_class)


def test_signs_that_are_neither_digit_nor_capital_letter_have_the_declared_share():
    often = replace(CHANNEL, other_sign=2 * CHANNEL.other_sign)
    for typed in ("1234#6", "12345#"):
        chances = (channel.chances(typed, "123456")["digit"] for channel in (CHANNEL, often))
        assert next(chances) * 2 == pytest.approx(next(chances))
    letter = CHANNEL.chances("1234K6", "123456")["digit"] / often.chances("1234K6", "123456")["digit"]
    assert letter == pytest.approx((1 - CHANNEL.other_sign) / (1 - often.other_sign))


# numbers


@pytest.mark.parametrize(
    ("typed", "meant", "kind"),
    [
        (378.0, 373.0, "digit"),
        (37.3, 373.0, "tenfold"),
        (3730.0, 373.0, "tenfold"),
        (0.373, 373.0, "kilograms"),
        (37.5, 37.3, "digit"),
        (373.5, 37.2, "unknown"),
        (373.0, 373.0, ""),
    ],
)
def test_kinds_of_numbers(typed, meant, kind):
    assert CHANNEL.kind(typed, meant) == kind


def test_a_number_with_more_decimals_than_its_column_is_no_digit_slip():
    assert CHANNEL.kind(373.4, 373.0, unit=1.0) == "unknown"
    assert CHANNEL.kind(373.4, 373.0, unit=0.1) == "digit"
    assert CHANNEL.kind(37.3, 373.0, unit=1.0) == "tenfold"


def test_a_copy_of_the_row_above_needs_the_row_above():
    assert CHANNEL.kind(211.0, 373.0) == "unknown"
    assert CHANNEL.kind(211.0, 373.0, above=211.0) == "copied"
    assert CHANNEL.kind("SV01240", "SV01236", above="SV01240") == "copied"
    assert CHANNEL.kind("SV01291", "SV01236", above="SV01290") == "filled"
    assert CHANNEL.kind("SV01300", "SV01236", above="SV01299") == "filled"


@pytest.mark.parametrize("typed", [12_345_678.0, 0.0, 0.001, 1e12])
def test_any_number_is_possible(typed):
    assert np.isfinite(CHANNEL.log_chance(typed, 373.0))


def test_missing_and_negative_numbers_are_not_weighed():
    typed, meant = np.array([np.nan, -22.0, 373.0]), np.array([373.0, 22.0, np.nan])
    assert not CHANNEL.numbers(typed, meant, np.ones(3), np.array([np.nan, -22.0, 373.0])).any()


# codes


@pytest.mark.parametrize(
    ("typed", "meant", "kind"),
    [
        ("SVO1236", "SV01236", "look_alike"),
        ("SVO1O3", "SV0103", "look_alike"),
        ("5V01236", "SV01236", "look_alike"),
        ("1236", "001236", "zeros_lost"),
        ("SV01", "SV01236", "unknown"),
        ("SV236", "SV01236", "two_edits"),
        ("SV0123699", "SV01236", "two_edits"),
        ("SV03216", "SV01236", "jump"),
        ("SV01244", "SV01233", "twin"),
        ("SV01813", "SV01030", "unknown"),
        ("SV01313", "SV01330", "phonetic"),
        ("", "SV01236", "unknown"),
        ("Ä", "A", "digit"),
    ],
)
def test_kinds_of_codes(typed, meant, kind):
    assert CHANNEL.kind(typed, meant) == kind
    assert np.isfinite(CHANNEL.log_chance(typed, meant))


def test_the_same_code_is_no_slip():
    assert CHANNEL.kind("SV01236", "SV01236") == ""
    assert CHANNEL.log_chance("SV01236", "SV01236") == -np.inf


def test_a_very_long_text_does_no_harm():
    assert CHANNEL.log_chance("9" * 6000, "8" * 6000) == -np.inf


# which wrong digit


def test_which_wrong_digit_by_hand():
    """The key 5: 2, 4, 6, 8 beside it, 1, 3, 7, 9 at its corners, 0 far; 5 and 6 look alike."""
    swaps = digit_swaps(["56"], 3, ["789", "456", "123", "00."], 2, 1.5)
    parts = 3 * 2 + (2 + 2) + 4 * 1.5 + 1
    assert swaps[5, [8, 6, 1, 0]] == pytest.approx(np.array([2, 4, 1.5, 1]) / parts)
    # the nought is a wide key below 1 and 2
    assert swaps[0, 1] == swaps[0, 2] > swaps[0, 3] > swaps[0, 9]


def test_shipped_wrong_digits_are_a_mild_tilt():
    swaps = CHANNEL.swaps
    assert swaps.sum(axis=1) == pytest.approx(1)
    assert not np.diag(swaps).any()
    off = swaps[~np.eye(10, dtype=bool)]
    assert off.max() < 2 * off.min()
    assert swaps[1, 7] > swaps[1, 6]
    assert swaps[4, 9] > swaps[4, 5] > swaps[4, 8] > swaps[4, 6]


# learning


def test_shares_are_learnt_as_worked_by_hand():
    """Dirichlet posterior mean: 50 slips' weight at 0.72 are 36, and 10 of 20 were met: 46 of 70."""
    counts = {"digit": 10, "neighbours": 6, "dropped": 4}
    learnt = learn(CHANNEL.codes, counts, 50)
    assert learnt["digit"] == pytest.approx((36 + 10) / 70)
    assert learnt["neighbours"] == pytest.approx((5.5 + 6) / 70)
    assert learnt["twin"] == pytest.approx(0.00764 * 50 / 70)
    assert sum(learnt.values()) == pytest.approx(1)
    assert replace(CHANNEL, codes=learnt).log_chance("SV01237", "SV01236") < CHANNEL.log_chance(
        "SV01237", "SV01236"
    )


@given(st.dictionaries(st.sampled_from(sorted(CHANNEL.codes)), st.integers(0, 500)))
def test_learnt_shares_lie_between_what_was_declared_and_what_was_met(counts):
    learnt = learn(CHANNEL.codes, counts, 50)
    met = sum(counts.values())
    for kind, share in CHANNEL.codes.items():
        own = counts.get(kind, 0) / met if met else share
        assert min(share, own) - 1e-12 <= learnt[kind] <= max(share, own) + 1e-12
    assert sum(learnt.values()) == pytest.approx(1)


@pytest.mark.parametrize(("counts", "weight"), [({"swapped": 1}, 50), ({"digit": -1}, 50), ({"digit": 1}, 0)])
def test_senseless_counts_are_not_learnt(counts, weight):
    with pytest.raises(ValueError, match=r"declared|negative"):
        learn(CHANNEL.codes, counts, weight)


@pytest.mark.parametrize(
    ("wrong", "cells", "rate"),
    [
        (0, 0, 0.005),
        (8, 600, (0.005 * 400 + 8) / 1000),
        (0, 1_000_000, 0.001),
        (500, 1000, 0.036),
    ],
)
def test_a_rate_is_learnt_and_kept_within_its_range(wrong, cells, rate):
    """Beta posterior mean; the range is that of published rates, 0.1 to 3.6 % of fields."""
    assert learn_rate(0.005, wrong, cells, 400, (0.001, 0.036)) == pytest.approx(rate)


@pytest.mark.parametrize(("wrong", "cells", "weight"), [(2, 1, 400), (-1, 5, 400), (0, 1, 0)])
def test_a_senseless_rate_is_not_learnt(wrong, cells, weight):
    with pytest.raises(ValueError, match="wrong"):
        learn_rate(0.005, wrong, cells, weight, (0.001, 0.036))


def test_channels_are_values():
    assert isinstance(CHANNEL, Channel)
    assert load_declarations().slips.channel() == CHANNEL
