"""Which tag stood in a cell that a spreadsheet has damaged?

The damage is that of tests/unit/test_intake_values_codes.py: a spreadsheet shows fifteen digits as a power of
ten and writes what it shows (documented limit of fifteen digits; the export is measured there).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typed_season import ask, blamed, typed_season

from audit.rules.tag_damage import RULE, _left_by
from audit.season import Reading, Season

DAY = dt.date(2026, 6, 6)
TAGS = [f"9991040{n:08d}" for n in (11, 24, 37, 41)]


def rows() -> list[dict]:
    return [
        {"date": DAY, "box": "SL-01", "ring": f"SV0100{i}", "tag": tag, "event": "ringed"}
        for i, tag in enumerate(TAGS, 1)
    ]


def season(typed: str, handlings: list[dict], at: int = 1, **tables: list[dict]) -> Season:
    handlings[at] = {**handlings[at], "tag": None}
    made = typed_season(handlings=handlings, **tables)
    remark = Reading(f"handlings!{at + 2}", "tag", "damaged_code", typed, "", "")
    return replace(made, readings=(remark,))


def reads(tags: list[str], day: dt.date = DAY) -> list[dict]:
    start = dt.datetime(day.year, day.month, day.day, 10)
    return [{"read_at": start + dt.timedelta(minutes=3 * i), "tag": tag} for i, tag in enumerate(tags)]


@pytest.mark.parametrize("typed", ["9.99104E+14", "9,99104E+14", "999104000000000"])
def test_the_reader_has_the_only_tag_that_fits(typed: str) -> None:
    answers = ask(RULE, season(typed, rows(), tag_reads=reads(TAGS)))
    assert blamed(answers) == {("handlings!3", "tag"): ("tag_damage.read", TAGS[1])}
    assert answers[0].message == (
        f"{typed} is what a spreadsheet left of a tag: "
        f"{TAGS[1]} was read that day, stands on no row, and fits."
    )


def test_the_bird_has_it_at_another_visit() -> None:
    later = [{**row, "date": DAY + dt.timedelta(days=14), "event": "re-encountered"} for row in rows()]
    answers = ask(RULE, season("9.99104E+14", rows() + later, at=5))
    assert blamed(answers) == {("handlings!7", "tag"): ("tag_damage.bird", TAGS[1])}
    assert answers[0].message == (
        f"9.99104E+14 is what a spreadsheet left of a tag: {TAGS[1]} of the same bird at another visit fits."
    )


def test_two_that_fit_are_none() -> None:
    spare = "999104000000099"
    both = reads([TAGS[0], TAGS[1], spare, *TAGS[2:]])
    assert ask(RULE, season("9.99104E+14", rows(), tag_reads=both)) == []


def test_the_order_of_the_reader_tells_two_that_fit_apart() -> None:
    spare = "999104000000099"
    answers = ask(RULE, season("9.99104E+14", rows(), tag_reads=reads([*TAGS, spare])))
    assert blamed(answers) == {("handlings!3", "tag"): ("tag_damage.read", TAGS[1])}


def test_one_that_does_not_fit_is_none() -> None:
    assert ask(RULE, season("9.85121E+14", rows(), tag_reads=reads(TAGS))) == []
    assert ask(RULE, season("inf", rows(), tag_reads=reads(TAGS))) == []


def test_a_stock_with_one_tag_left_names_it() -> None:
    answers = ask(RULE, season("9.99104E+14", rows(), tag_stock=[{"tag": tag} for tag in TAGS]))
    assert blamed(answers) == {("handlings!3", "tag"): ("tag_damage.stock", TAGS[1])}


def test_a_rounded_last_digit_still_fits() -> None:
    tags = [*TAGS[:1], "999104700000024", *TAGS[2:]]
    handlings = [{**row, "tag": tag} for row, tag in zip(rows(), tags, strict=True)]
    answers = ask(RULE, season("9.99105E+14", handlings, tag_reads=reads(tags)))
    assert blamed(answers) == {("handlings!3", "tag"): ("tag_damage.read", tags[1])}


def test_nothing_damaged_nothing_said() -> None:
    assert ask(RULE, typed_season(handlings=rows(), tag_reads=reads(TAGS))) == []


TAG = st.integers(10**14, 10**15 - 1).map(str)


@given(TAG, st.integers(1, 8), st.sampled_from(["{}", " {} ", "'{}"]))
def test_what_is_shown_of_a_tag_fits_it(tag: str, places: int, around: str) -> None:
    # the scientific form of the standard library rounds as spreadsheets do (half to even is too rare to tell)
    power = f"{int(tag):.{places}E}"
    for shown in (power, power.replace(".", ","), power.lower(), str(int(float(power)))):
        if len(shown) <= 15:
            assert _left_by(around.format(shown), tag), shown


@given(TAG, st.integers(1, 8), st.sampled_from([-1, 1]), st.floats(1.01, 9))
def test_what_is_shown_of_a_tag_further_off_than_was_rounded_does_not_fit(
    tag: str, places: int, side: int, times: float
) -> None:
    power = f"{int(tag):.{places}E}"
    other = int(float(power)) + side * int(times * 10 ** (14 - places))
    if len(str(other)) == 15:
        assert not _left_by(power, str(other))


@pytest.mark.parametrize(
    ("typed", "tag", "fits"),
    [
        # cut off, and rounded
        ("999104000000000", "999104700000024", True),
        ("999105000000000", "999104700000024", True),
        ("999106000000000", "999104700000024", False),
        ("999103000000000", "999104700000024", False),
        ("999104700000024", "999104700000024", True),
        # of another length, of nothing but noughts, of letters
        ("99910400000000", "999104700000024", False),
        ("000000000000000", "999104700000024", False),
        ("99910A000000000", "999104700000024", False),
        ("inf", "999104700000024", False),
        ("9.99104E+14", "999.104700000024", False),
        ("9.991E+14", "0A1B2C3D4E", False),
        ("0A1B000000", "0A1B2C3D4E", False),
    ],
)
def test_which_texts_are_what_is_left_of_a_tag(typed: str, tag: str, *, fits: bool) -> None:
    assert _left_by(typed, tag) is fits


def test_nothing_is_left_in_stock_that_another_bird_has() -> None:
    stock = [{"tag": tag} for tag in [*TAGS, "999104000000099"]]
    assert ask(RULE, season("9.99104E+14", rows(), tag_stock=stock)) == []
    others = [*rows(), {**rows()[0], "ring": "SV01009", "tag": "999104000000099"}]
    answers = ask(RULE, season("9.99104E+14", others, tag_stock=stock))
    assert blamed(answers) == {("handlings!3", "tag"): ("tag_damage.stock", TAGS[1])}
