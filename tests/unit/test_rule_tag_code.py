"""Tag numbers: each fault, each innocent look-alike, and the exact sentence.

Codes are invented: those beginning with 999 lie in the test range; 985 and 276 stand with made-up numbers.
"""

from __future__ import annotations

import datetime as dt
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import invented_season
from typed_season import ask as ask_rule
from typed_season import blamed
from typed_season import typed_season as build

from audit.declarations import load_declarations
from audit.models.tag_text import write
from audit.rules import tag_code

DAY = dt.date(2026, 6, 3)
FIRST = 985_104_000_000_100


@cache
def shipped():
    return load_declarations()


def ask(rule, built, declared=None, **more):
    return ask_rule(rule, built, declared or shipped(), **more)


def typed_season(declared=None, **tables):
    return build(declared or shipped(), **tables)


def season(tags, n=60, *, stock=True, reads=False, rows=None, declared=None):
    """A clean season of n birds with consecutive tags, some rows changed."""
    handlings = [
        {
            "date": DAY + dt.timedelta(days=i // 8),
            "box": f"SL-{i // 4 + 1:02d}",
            "ring": f"SV{1001 + i:05d}",
            "tag": str(FIRST + i),
            "event": "ringed",
        }
        for i in range(n)
    ]
    tables = {}
    if stock:
        tables["tag_stock"] = [{"tag": row["tag"]} for row in handlings]
    if reads:
        tables["tag_reads"] = [
            {"read_at": dt.datetime.combine(row["date"], dt.time(10)), "tag": row["tag"]} for row in handlings
        ]
    for i, tag in tags.items():
        handlings[i]["tag"] = tag
    for i, changed in (rows or {}).items():
        handlings[i].update(changed)
    return typed_season(declared, handlings=handlings, **tables)


def message(answers):
    return [answer.message for answer in answers if hasattr(answer, "message")]


def outcomes(answers):
    return [answer.rule for answer in answers if hasattr(answer, "message")]


@pytest.mark.parametrize("stock", [True, False])
@pytest.mark.parametrize("reads", [True, False])
def test_sixty_birds_with_consecutive_tags_give_nothing(stock, reads):
    assert message(ask(tag_code.RULE, season({}, stock=stock, reads=reads))) == []


@pytest.mark.parametrize("slug", ["iso_dot_hex", "iso_hex_left", "iso_hex_right"])
def test_other_ways_of_writing_give_nothing(slug):
    tags = {i: write(str(FIRST + i), slug) for i in range(60)}
    assert message(ask(tag_code.RULE, season(tags))) == []


@pytest.mark.parametrize(
    "slug",
    ["em_hex", "em_13_digits", "em_14_digits", "em_10_digits", "em_8_digits", "em_3_comma_5", "em_5_comma_5"],
)
def test_seasons_of_read_only_tags_give_nothing(slug):
    keys = [f"{0x01A0000000 + 7919 * i:010X}" for i in range(60)]
    tags = {i: write(key, slug) for i, key in enumerate(keys)}
    for stock in ([write(key, slug) for key in keys], keys):
        built = season(tags, stock=False)
        with_stock = typed_season(
            handlings=[
                {"date": DAY, "box": "SL-01", "ring": f"SV{i:05d}", "tag": tags[i], "event": "ringed"}
                for i in range(60)
            ],
            tag_stock=[{"tag": tag} for tag in stock],
        )
        assert message(ask(tag_code.RULE, built)) == []
        assert message(ask(tag_code.RULE, with_stock)) == []


CASES = [
    (
        "digit_lost",
        "98510400000113",
        "985104000000113",
        (
            "Tag 98510400000113 has 14 digits where the others have 15: one is missing; 985104000000113 is "
            "in stock and on no other bird."
        ),
    ),
    (
        "digit_too_many",
        "9851040000001133",
        "985104000000113",
        (
            "Tag 9851040000001133 has 16 digits where the others have 15: one is too many; 985104000000113 "
            "is in stock and on no other bird."
        ),
    ),
    (
        "letter_in_code",
        "98510400O000113",
        "985104000000113",
        (
            "Tag 98510400O000113 is no number: O stands for a digit; 985104000000113 is in stock and on no "
            "other bird."
        ),
    ),
    (
        "letter_in_code",
        "985104000000LI3",
        "985104000000113",
        (
            "Tag 985104000000LI3 is no number: L and I stand for digits; 985104000000113 is in stock and "
            "on no other bird."
        ),
    ),
    (
        "impossible_number",
        "985404000000113",
        "985104000000113",
        (
            "Tag 985404000000113 cannot exist: its last twelve digits may be at most 274877906943; "
            "985104000000113 is in stock and on no other bird."
        ),
    ),
    (
        "senseless_prefix",
        "085104000000113",
        "985104000000113",
        (
            "Tag 085104000000113 begins with 085, which is neither a country nor a maker; 985104000000113 "
            "is in stock and on no other bird."
        ),
    ),
    (
        "test_tag",
        "999104000000777",
        "",
        "Tag 999104000000777 begins with 999, the test range, which no bird may carry.",
    ),
    (
        "one_slip_from_known",
        "985104000000173",
        "985104000000113",
        "Tag 985104000000173 is not in the stock list; 985104000000113 is in stock and on no other bird.",
    ),
    (
        "one_slip_from_known",
        "985014000000113",
        "985104000000113",
        "Tag 985014000000113 is not in the stock list; 985104000000113 is in stock and on no other bird.",
    ),
    ("not_in_stock", "276098106092341", "", "Tag 276098106092341 is not in the stock list."),
    (
        "no_known_form",
        "9.85104E+14",
        "",
        "Tag 9.85104E+14 is no tag number in any known form; the others have 15 digits.",
    ),
    (
        "rounded",
        "985104000000000",
        "",
        "Tag 985104000000000 ends in 9 or more zeros: a spreadsheet has lost its last digits.",
    ),
    (
        "unlike_season",
        "01026F6C3A",
        "",
        "Tag 01026F6C3A has 10 hex digits, where the others of the season have 15 digits.",
    ),
]


@pytest.mark.parametrize(("outcome", "typed", "meant", "says"), CASES, ids=lambda x: str(x)[:24])
def test_each_fault_with_its_sentence(outcome, typed, meant, says):
    built = season({13: typed})
    answers = ask(tag_code.RULE, built)
    assert message(answers) == [says]
    assert outcomes(answers) == [f"tag_code.{outcome}"]
    assert blamed(answers)["handlings!15", "tag"][1] == meant


def test_a_lost_leading_zero_is_mended_without_a_stock_list():
    tags = {i: f"040{104_000_000_100 + i:012d}" for i in range(60)}
    tags[13] = tags[13][1:]
    answers = ask(tag_code.RULE, season(tags, stock=False))
    assert blamed(answers) == {("handlings!15", "tag"): ("tag_code.digit_lost", "040104000000113")}


def test_the_birds_own_tag_decides_between_neighbours():
    # 98510400000011 lacks its last digit: ten tags of the stock would fit, three of them unused
    rows = {
        1: {"ring": "SV01014", "date": DAY + dt.timedelta(days=14), "event": "re-encountered"},
    }
    answers = ask(tag_code.RULE, season({1: "98510400000011", 2: "985104000000103"}, rows=rows))
    assert blamed(answers)["handlings!3", "tag"] == ("tag_code.digit_lost", "985104000000113")
    assert message(answers)[0] == (
        "Tag 98510400000011 has 14 digits where the others have 15: one is missing; 985104000000113 is this "
        "bird's tag on 2026-06-04."
    )


def test_a_slip_onto_another_stock_tag_is_told_by_the_reader():
    stock = [{"tag": str(FIRST + i)} for i in range(90)]
    rows = [
        {
            "date": DAY,
            "box": "SL-01",
            "ring": f"SV{1001 + i:05d}",
            "tag": str(FIRST + i),
            "event": "ringed",
        }
        for i in range(8)
    ]
    reads = [
        {"read_at": dt.datetime.combine(DAY, dt.time(10, i)), "tag": row["tag"]} for i, row in enumerate(rows)
    ]
    rows[3]["tag"] = str(FIRST + 83)
    answers = ask(tag_code.RULE, typed_season(handlings=rows, tag_stock=stock, tag_reads=reads))
    assert message(answers) == [
        (
            "Tag 985104000000183 is not in the download of the reader; 985104000000103 was read that day and "
            "stands on no other row."
        )
    ]
    assert blamed(answers) == {("handlings!5", "tag"): ("tag_code.one_slip_from_read", "985104000000103")}
    # a day with more reads than rows is not typed in full, and the tag in stock may have missed its read
    half_typed = ask(tag_code.RULE, typed_season(handlings=rows[:6], tag_stock=stock, tag_reads=reads))
    assert blamed(half_typed) == {}


def test_a_row_whose_ring_is_in_doubt_does_not_use_up_its_tag():
    later = {"ring": "SV01014", "date": DAY + dt.timedelta(days=14), "event": "re-encountered"}
    tags = {13: "985104000000113", 59: "98510400000113"}
    built = season(tags, rows={13: {"ring": "SV91014"}, 59: later})
    answers = ask(tag_code.RULE, built, doubted=frozenset({("handlings!15", "ring")}))
    assert blamed(answers) == {("handlings!61", "tag"): ("tag_code.digit_lost", "985104000000113")}


def test_without_suggestion_where_two_known_tags_are_as_near():
    spare = season({13: "985104000000193"}, rows={23: {"tag": None}, 33: {"tag": None}})
    answers = ask(tag_code.RULE, spare)
    assert outcomes(answers) == ["tag_code.one_slip_from_known"]
    assert blamed(answers)["handlings!15", "tag"][1] == ""
    assert message(answers) == [
        "Tag 985104000000193 is not in the stock list; 3 known tags are one slip away."
    ]


def test_practice_seasons_get_one_note():
    tags = {i: f"999{104_000_000_100 + i:012d}" for i in range(60)}
    answers = ask(tag_code.RULE, season(tags, stock=False))
    assert blamed(answers) == {}
    assert message(answers) == [
        (
            "60 of 60 tags lie in the test range 999, as in a practice season; on real birds no such tag "
            "may be fitted."
        )
    ]


def test_a_stock_of_test_tags_makes_a_practice_season():
    built = typed_season(
        handlings=[
            {"date": DAY, "box": "SL-01", "ring": "SV01001", "tag": "999104000000101", "event": "ringed"}
        ],
        tag_stock=[{"tag": f"9991040000001{i:02d}"} for i in range(25)],
    )
    answers = ask(tag_code.RULE, built)
    assert outcomes(answers) == ["tag_code.test_season"]


def test_birds_from_elsewhere_are_not_expected_in_stock():
    rows = {5: {"event": "re-encountered", "tag": "276098106092341"}}
    assert message(ask(tag_code.RULE, season({}, rows=rows))) == []


def test_a_bird_from_elsewhere_with_another_kind_is_a_note():
    rows = {5: {"event": "re-encountered", "tag": "01026F6C3A"}}
    answers = ask(tag_code.RULE, season({}, rows=rows))
    assert blamed(answers) == {}
    assert outcomes(answers) == ["tag_code.other_kind"]


def test_a_known_tag_in_other_writing_is_a_note():
    answers = ask(tag_code.RULE, season({13: write(str(FIRST + 13), "iso_dot_hex")}))
    assert blamed(answers) == {}
    assert message(answers) == [
        (
            "Tag 3D9.1836E21071 is the known tag 985104000000113, written as 3 hex digits, a dot, 10 hex "
            "digits; the others have 15 digits."
        )
    ]


def test_a_bag_missing_from_the_stock_list_is_no_crowd_of_suspects():
    tags = {40 + i: str(FIRST + 5000 + 2 * i) for i in range(4)}
    answers = ask(tag_code.RULE, season(tags))
    assert blamed(answers) == {}
    assert set(outcomes(answers)) == {"tag_code.missing_from_stock"}
    many = {30 + i: str(FIRST + 50_000 + 777 * i) for i in range(20)}
    answers = ask(tag_code.RULE, season(many))
    assert blamed(answers) == {}
    assert message(answers) == [
        (
            "20 of 60 fitted tags are not in the stock list, the first is 985104000050100: the list seems "
            "incomplete, so tags were not checked against it."
        )
    ]


def test_a_tag_seen_twice_on_its_bird_is_right():
    again = {"ring": "SV01014", "date": DAY + dt.timedelta(days=14), "event": "re-encountered"}
    tag = "985104000000173"
    answers = ask(tag_code.RULE, season({13: tag, 59: tag}, rows={59: again}))
    assert blamed(answers) == {}
    assert outcomes(answers) == ["tag_code.missing_from_stock"]


def test_without_stock_a_beginning_one_slip_from_all_others_is_seen():
    answers = ask(tag_code.RULE, season({13: "985204000000113"}, stock=False))
    assert blamed(answers) == {("handlings!15", "tag"): ("tag_code.unlike_batch", "985104000000113")}
    assert message(answers) == [
        (
            "Tag 985204000000113 begins with 9852040000001, but 59 of 60 tags fitted this season begin with "
            "9851040000001."
        )
    ]


@pytest.mark.parametrize("start", [985_104_000_000_980, 985_104_000_000_060])
def test_a_batch_that_rolls_over_is_innocent(start):
    tags = {i: str(start + i) for i in range(60)}
    assert message(ask(tag_code.RULE, season(tags, stock=False))) == []


def test_a_bag_that_just_goes_on_is_innocent_without_stock():
    assert message(ask(tag_code.RULE, season({13: "985104000000203"}, stock=False))) == []


def test_a_second_batch_is_innocent_without_stock():
    tags = {50 + i: str(985_204_000_000_100 + i) for i in range(3)}
    assert message(ask(tag_code.RULE, season(tags, stock=False))) == []


def test_a_cell_in_doubt_is_not_blamed_twice():
    built = season({13: "9.85104E+14"})
    doubted = frozenset({("handlings!15", "tag")})
    assert blamed(ask(tag_code.RULE, built, doubted=doubted)) == {}


def test_a_team_that_expects_a_format_and_a_prefix(tmp_path):
    (tmp_path / "tags.yaml").write_text(
        "expected:\n  formats: [iso_decimal]\n  prefixes: [985]\n", encoding="utf-8"
    )
    own = load_declarations(tmp_path)
    built = season({3: "276098106092341", 4: "01026F6C3A"}, stock=False, declared=own)
    answers = ask(tag_code.RULE, built, own)
    assert message(answers) == [
        "Tag 276098106092341 begins with 276, but this team fits tags that begin with 985.",
        "Tag 01026F6C3A has 10 hex digits, but this team writes tags as 15 digits.",
    ]


def test_ten_digits_among_hex_are_hex():
    keys = [f"{0x01A0000000 + 7919 * i:010X}" for i in range(60)]
    keys[7] = "0110234567"
    assert message(ask(tag_code.RULE, season(dict(enumerate(keys)), stock=False))) == []


def test_letters_in_hex_map_only_where_they_are_safe():
    keys = [f"{0x01A0000000 + 7919 * i:010X}" for i in range(60)]
    typed = keys[7].replace("0", "O", 1)
    tags = dict(enumerate(keys)) | {7: typed}
    answers = ask(tag_code.RULE, season(tags, stock=False))
    assert blamed(answers) == {("handlings!9", "tag"): ("tag_code.letter_in_code", keys[7])}


def test_no_tags_no_answers():
    built = typed_season(handlings=[{"date": DAY, "box": "SL-01", "ring": "SV01001", "tag": None}])
    assert ask(tag_code.RULE, built) == []


def test_what_could_not_run_is_said():
    answers = ask(tag_code.RULE, season({}, stock=False))
    assert [(answer.rule, answer.reason) for answer in answers] == [
        ("tag_code.not_in_stock", "there is no table 'tag_stock'")
    ]


digits = st.integers(0, 14)


@settings(max_examples=40, deadline=None)
@given(place=digits, digit=st.integers(1, 9), seed=st.integers(0, 10))
def test_one_wrong_digit_is_never_blamed_on_another_row(place, digit, seed):
    rng = np.random.default_rng(seed)
    tags = [str(FIRST + int(step)) for step in np.cumsum(rng.integers(1, 60, size=40))]
    typed = tags[20][:place] + str((int(tags[20][place]) + digit) % 10) + tags[20][place + 1 :]
    rows = [
        {"date": DAY, "box": "SL-01", "ring": f"SV{i:05d}", "tag": tag, "event": "ringed"}
        for i, tag in enumerate([*tags[:20], typed, *tags[21:]])
    ]
    answers = ask(tag_code.RULE, typed_season(handlings=rows, tag_stock=[{"tag": tag} for tag in tags]))
    found = blamed(answers)
    if typed in tags:
        assert found == {}
    else:
        assert list(found) == [("handlings!22", "tag")]
        assert found["handlings!22", "tag"][1] == tags[20]


@pytest.mark.parametrize("seed", [1, 2])
def test_invented_seasons_are_innocent(seed):
    assert blamed(ask(tag_code.RULE, typed_season(**invented_season(seed)))) == {}


@pytest.mark.parametrize(
    ("typed", "slip"),
    [
        ("985104000000311", "jump: 113 for 311"),
        ("995104000000113", "a twin would be 99 for 88; here one digit"),
        ("985104011000113", "twin: 00 for 11"),
        ("985140000000113", "neighbours, far from the end"),
        ("985104000130113", "phonetic or two digits"),
        (";985104000000113.", "signs around it"),
        ("98510400000i113", "a letter beside the digit on the keyboard"),
        ("9851040000001131".replace("04", "05", 1), "a digit too many, another wrong"),
    ],
)
def test_rare_slips_are_mended_from_the_stock(typed, slip):
    answers = ask(tag_code.RULE, season({13: typed.upper()}, rows={}))
    assert blamed(answers)["handlings!15", "tag"][1] == "985104000000113", slip


def test_a_tag_left_out_is_told_by_the_reader():
    built = season({13: None}, reads=True)
    answers = ask(tag_code.RULE, built)
    assert blamed(answers) == {("handlings!15", "tag"): ("tag_code.left_out", "985104000000113")}
    assert message(answers) == [
        (
            "No tag is given, but the reader stored 985104000000113 that day, which stands on no row and was "
            "read between those of the rows around it."
        )
    ]


def test_no_tag_and_no_read_is_innocent():
    assert message(ask(tag_code.RULE, season({13: None}))) == []
