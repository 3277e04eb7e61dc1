"""How the values of a column are written."""

from __future__ import annotations

import datetime as dt

import pytest

from audit.explain.unread_writing import Writing, of_dates, of_numbers, of_times, of_words

ISO, DOTTED, SHORT = "{y}-{m:02}-{d:02}", "{d:02}.{m:02}.{y}", "{d:02}.{m:02}.{s}"
FORMS = (ISO, DOTTED, SHORT)
DAYS = [dt.date(2026, 6, day) for day in (1, 5, 9, 14, 20)]


def test_dates_are_written_as_enough_of_the_column() -> None:
    texts = [f"{day:%d.%m.%Y}" for day in DAYS]
    found = of_dates(texts, DAYS, FORMS, 0.2)
    assert found.forms == (DOTTED,)
    assert found.texts("2026-06-05") == ["05.06.2026"]
    assert set(found.alphabet) == {*"0123456789."}
    # one in five is enough, one in five is too few where more are asked for
    mixed = [*texts[:4], DAYS[4].isoformat()]
    assert of_dates(mixed, DAYS, FORMS, 0.2).forms == (ISO, DOTTED)
    assert of_dates(mixed, DAYS, FORMS, 0.21).forms == (DOTTED,)
    assert set(of_dates(mixed, DAYS, FORMS, 0.2).alphabet) == {*"0123456789.-"}
    # one text counts once, however often it stands there; what was not read is no evidence
    often = [*texts[:4], *[DAYS[4].isoformat()] * 5, "soon"]
    assert of_dates(often, [*DAYS, *[DAYS[4]] * 4, None], FORMS, 0.21).forms == (DOTTED,)


def test_years_of_two_digits_are_written_with_two() -> None:
    found = of_dates(["05.06.07"], [dt.date(2007, 6, 5)], FORMS, 0.1)
    assert found.forms == (SHORT,)
    assert found.texts("2009-06-05") == ["05.06.09"]


def test_without_a_known_form_the_first_is_taken() -> None:
    assert of_dates(["5 June"], [dt.date(2026, 6, 5)], FORMS, 0.1).forms == (ISO,)
    assert of_dates([], [], FORMS, 0.1).forms == (ISO,)


def test_times_are_written_as_enough_of_the_column() -> None:
    forms = ("{h:02}:{m:02}", "{h}.{m:02}")
    found = of_times(["9.30", "10.05", "x"], ["09:30", "10:05", "noon"], forms, 0.1)
    assert found.forms == ("{h}.{m:02}",)
    assert found.texts("07:05") == ["7.05"]
    assert set(found.alphabet) == {*"0123456789."}
    assert of_times([], [], forms, 0.1).forms == ("{h:02}:{m:02}",)


@pytest.mark.parametrize(
    ("values", "unit"),
    [
        ([350.0, 351.0, 352.0], 1.0),
        ([350.5, 351.0, 352.0], 0.1),
        ([350.25, 351.0, 352.0], 0.01),
        # one in twenty is no more than the share, and a slip
        ([0.5, *[350.0] * 19], 1.0),
        ([0.5, *[350.0] * 18], 0.1),
        ([0.25, *[350.5] * 19], 0.1),
        ([0.1 + 0.2, 350.0], 0.1),
        ([], 1.0),
    ],
)
def test_numbers_are_written_to_the_finest_unit_that_enough_of_them_need(
    values: list[float], unit: float
) -> None:
    assert of_numbers([], values, 0.05, whole=False).unit == unit
    assert of_numbers([], values, 0.05, whole=True).unit == 1.0


def test_the_sign_of_decimals_is_that_of_most_numbers() -> None:
    assert of_numbers(["20,5", "21,5", "22"], [20.5, 21.5, 22], 0.05, whole=False).alphabet[-1] == ","
    assert of_numbers(["20,5", "21.5", "22"], [20.5, 21.5, 22], 0.05, whole=False).alphabet[-1] == "."
    assert of_numbers(["20", "21"], [20, 21], 0.05, whole=False).alphabet == "0123456789"


def test_texts_that_say_the_same_have_one_form() -> None:
    number = Writing("number", "0123456789.")
    assert [number.same(text) for text in ("20,50", "20.5", "20.0", "20", "200")] == [
        *["20.5"] * 2,
        *["20"] * 2,
        "200",
    ]
    assert number.same("1.2.30") == "1.2.30"
    assert of_words().same("Barn Owl") == of_words().same("BARN OWL") == "barn owl"
    assert Writing("date", "0123456789-").same("2026-06-05.") == "2026-06-05."


@pytest.mark.parametrize(
    ("typed", "is_one"),
    [("20", True), ("-3.5", True), (",5", True), ("5.", True), ("", False), ("2 0", False)],
)
def test_what_is_a_number(typed: str, *, is_one: bool) -> None:
    assert Writing("number", "0123456789.").is_number(typed) is is_one
    assert not of_words().is_number(typed)
