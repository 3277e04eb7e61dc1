"""The reading drill: signs that can be told, numbers of valid forms, answers classed as the audit would."""

from __future__ import annotations

import itertools
import math
import re
from types import SimpleNamespace

import numpy as np
import pytest
from golden_file import hold_against_golden
from hypothesis import given, settings
from hypothesis import strategies as st

import audit
from audit.checking import declarations_of
from audit.practice.exercise.progress import read_progress
from audit.practice.reading.display_drawing import Display, lit_segments
from audit.practice.reading.reading_levels import reading_levels
from audit.practice.reading.reading_round import make_round
from audit.practice.reading.reading_score import mark_reading
from audit.practice.reading.ring_drawing import Ring, draw_ring, ring_of, worn_strokes
from audit.practice.reading.segments import SEGMENTS, may_be_dead
from audit.practice.reading.signs import HIGH, SIGNS, WIDE, resampled
from audit.refusal import Refusal

DECLARED = declarations_of(None)
LEVELS = reading_levels(DECLARED)

#: Segments a to g of each digit, as in the table "7 Segment display" of basictables.com (read); a is the
#: highest bit. Displays that leave the tails of 6 and 9 or light a third segment of 7 exist too.
PUBLISHED = (0x7E, 0x30, 0x6D, 0x79, 0x33, 0x5B, 0x5F, 0x70, 0x7F, 0x7B)


def points_of(sign, keep=lambda _: True):
    return [at for stroke in SIGNS[sign] for at in resampled(stroke, 0.2) if keep(at)]


def apart(one, other):
    """How far two sets of points lie apart (Hausdorff distance), in units of the grid of signs."""
    return max(
        max(min(math.dist(a, b) for b in there) for a in here) for here, there in ((one, other), (other, one))
    )


@pytest.mark.parametrize(
    ("keep", "signs"),
    [
        pytest.param(lambda _: True, "".join(SIGNS), id="whole"),
        # what a toe leaves of signs, at the hardest level, upright and upside down
        pytest.param(lambda at: at[1] < HIGH * 0.75, "0123456789", id="foot hidden"),
        pytest.param(lambda at: at[1] > HIGH * 0.25, "0123456789", id="head hidden"),
    ],
)
def test_every_sign_can_be_told_from_every_other(keep, signs):
    seen = {sign: points_of(sign, keep) for sign in signs}
    nearest = min((apart(seen[a], seen[b]), a, b) for a, b in itertools.combinations(seen, 2))
    assert nearest[0] > 0.5, nearest


def test_a_six_turned_is_a_nine_and_no_toe_hides_more_than_was_looked_at():
    turned = [(WIDE - x, HIGH - y) for x, y in points_of("6")]
    assert apart(turned, points_of("9")) < 0.01
    assert max(level.hidden for level in LEVELS) <= 0.25


def test_segments_are_those_of_the_published_table():
    for digit, bits in enumerate(PUBLISHED):
        lit = "".join(name for place, name in enumerate("abcdefg") if bits >> (6 - place) & 1)
        assert SEGMENTS[str(digit)] == lit


def test_a_dead_segment_leaves_one_reading():
    for digit in SEGMENTS:
        assert may_be_dead(digit)
        for segment in may_be_dead(digit):
            (lit,) = lit_segments(Display(digit, dead=(0, segment)))
            readings = [
                one
                for one, whole in SEGMENTS.items()
                if lit in (whole, *(whole.replace(s, "") for s in whole))
            ]
            assert readings == [digit]
    assert "g" not in may_be_dead("8")
    assert "e" not in may_be_dead("6")


def test_worn_strokes_lose_no_more_than_said():
    whole = len(points_of("8"))
    left = sum(len(part) for part in worn_strokes("8", 0.16, np.random.default_rng(1)))
    kept = len([at for stroke in SIGNS["8"] for at in resampled(stroke, 0.25)])
    assert 0.8 * kept < left < kept <= whole


def test_a_ring_with_two_readings_stands_upright():
    rng = np.random.default_rng(1)
    turned = [ring_of("H08", "plastic", LEVELS[-1], rng).turned for _ in range(40)]
    assert not any(turned)
    assert any(ring_of("SL808", "metal", LEVELS[-1], rng).turned for _ in range(40))


@pytest.mark.parametrize("level", LEVELS, ids=lambda level: level.slug)
def test_rounds_hold_valid_numbers_and_no_drawing_tells_its_number(level):
    forms = {"ring": r"SV\d{5}|SL\d{6}|T\d{4}", "tag": r"999\d{12}", "plastic": r"[A-Z\d]{3}"}
    for seed in range(1, 9):
        round_ = make_round("AB", level, seed, DECLARED)
        assert round_ == make_round("AB", level, seed, DECLARED)
        assert len({one.meant for one in round_.shown}) == len(round_.shown)
        for one in round_.shown:
            assert re.fullmatch(forms[one.mark], one.meant)
            # 38 bits hold a national code (ISO 11784)
            assert one.mark != "tag" or int(one.meant[3:]) < 2**38
            assert one.meant not in one.svg
            assert one.meant not in one.says
            assert "<text" not in one.svg
            assert "http" not in one.svg.replace("http://www.w3.org/2000/svg", "")


def test_declared_series_are_read():
    series = {"own": SimpleNamespace(prefix="XY-", digits=4)}
    declared = SimpleNamespace(settings=DECLARED.settings, rings=SimpleNamespace(series=series))
    round_ = make_round("AB", LEVELS[0], 1, declared, marks=["ring"])
    assert all(re.fullmatch(r"XY-\d{4}", one.meant) for one in round_.shown)
    series["own"] = SimpleNamespace(prefix="Ü", digits=4)
    with pytest.raises(Refusal, match="cannot be drawn"):
        make_round("AB", LEVELS[0], 1, declared, marks=["ring"])


def test_what_was_mistaken_comes_more_often():
    def share(mistaken):
        rounds = [make_round("AB", LEVELS[0], seed, DECLARED, mistaken=mistaken) for seed in range(40)]
        drawn = "".join(one.meant[-4:] for round_ in rounds for one in round_.shown if one.mark != "plastic")
        return drawn.count("6") / len(drawn)

    assert share({"6": 4}) > 1.6 * share({})


def score_of(meant, typed):
    shown = SimpleNamespace(meant=meant, mark="ring", svg="", says="")
    round_ = SimpleNamespace(shown=(shown,), name="reading-AB-clear-1", trainee="AB", level=LEVELS[0])
    return mark_reading(round_, [typed], DECLARED)


@pytest.mark.parametrize(
    ("meant", "typed", "kind", "taken", "wrong"),
    [
        ("SV01263", "sv 01263", "right", (), 0),
        ("SV01263", "", "unread", (), 0),
        ("SV01263", " ? ", "unread", (), 0),
        ("SV01263", "SV01293", "alike", (("6", "9"),), 1),
        ("SV01263", "SV01243", "digit", (("6", "4"),), 1),
        ("SV01263", "SV01236", "neighbours", (), 2),
        ("SV01263", "SV0126", "dropped", (), 1),
        ("SV01263", "SV012633", "extra", (), 1),
        ("SV01169", "SV69110", "turned", (), 4),
        ("000123456789012", "123456789012", "zeros_lost", (), 3),
        ("SV01233", "SV01244", "twin", (("3", "4"), ("3", "4")), 2),
    ],
)
def test_answers_are_classed(meant, typed, kind, taken, wrong):
    (read,) = score_of(meant, typed).read
    assert (read.kind, read.taken) == (kind, taken)
    if kind != "turned":
        assert read.wrong_signs == wrong


@settings(max_examples=40, deadline=None)
@given(st.text(alphabet="SV0123456789?", max_size=12))
def test_any_answer_is_counted_once_and_agrees_with_the_channel(typed):
    meant = "SV01869"
    score = score_of(meant, typed)
    (read,) = score.read
    assert score.right + score.unread + sum(score.kinds.values()) == 1
    assert score.numbers.trials == 1 - score.unread
    assert score.signs.trials == len(meant) * score.numbers.trials
    assert 0 <= score.signs.hits <= score.signs.trials
    assert (score.signs.hits > 0) == (score.numbers.hits > 0)
    if read.kind not in ("right", "unread", "alike", "turned"):
        assert read.kind == (DECLARED.slips.channel().kind(typed, meant) or "unknown")


def answered(practice):
    """Answers of a round with one sign alike, one lost, one not read."""
    told = [one.meant for one in practice.round.shown]
    place = next(place for place, meant in enumerate(told) if "6" in meant or "9" in meant)
    told[place] = told[place].translate(str.maketrans("6", "9")) if "6" in told[place] else told[place][:-1]
    told[(place + 1) % len(told)] = told[(place + 1) % len(told)][:-1]
    told[(place + 2) % len(told)] = "?"
    return told


def test_a_round_is_told_kept_and_seen_by_the_trainer(tmp_path):
    path = tmp_path / "practice.progress.jsonl"
    practice = audit.read_practice("MK", level="worn", seed=5, progress=path)
    back = practice.answer(answered(practice))
    again = practice.answer([one.meant for one in practice.round.shown])
    assert again.score.right == len(practice.round.shown)
    (record,) = read_progress(path).drills
    assert (record.drill, record.asked, record.right) == ("reading", 8, 5)
    told = repr(audit.practice_overview(path))
    assert "Reading drill: 1 round, misread" in told
    assert "Reading drill: 1 round" in audit.practice_overview(path)._repr_html_()
    hold_against_golden("practice_reading.txt", f"{practice!r}\n\n{back!r}\n\n{told}\n")


def test_files_come_out_the_same_and_the_key_lies_apart(tmp_path):
    practice = audit.read_practice("AB", level="hard", seed=2, numbers=4)
    written = practice.write(tmp_path / "one")
    assert [path.relative_to(tmp_path / "one").as_posix() for path in written] == [
        "reading-AB-hard-2.html",
        "reading-AB-hard-2.pdf",
        "reading-AB-hard-2.answers.csv",
        "keys/reading-AB-hard-2.key.html",
        "keys/reading-AB-hard-2.key.pdf",
    ]
    other = practice.write(tmp_path / "two")
    assert [path.read_bytes() for path in written] == [path.read_bytes() for path in other]
    page, key = (written[place].read_text(encoding="utf-8") for place in (0, 3))
    assert all(one.meant not in page and one.meant in key for one in practice.round.shown)
    assert page.count("<svg") == 4


def test_the_same_ring_gives_the_same_bytes():
    drawn = [
        draw_ring(Ring("SV01263", "metal", worn=0.1, dirt=3), np.random.default_rng(4)) for _ in range(2)
    ]
    assert drawn[0] == drawn[1]
    assert 'aria-label="A metal ring, laid flat, worn, dirty; 7 signs to read."' in drawn[0]


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        ({"level": 9}, "no level '9'"),
        ({"numbers": 0}, "cannot hold 0"),
        ({"marks": ["wing"]}, "no mark 'wing'"),
        ({"marks": []}, "no mark"),
    ],
)
def test_what_cannot_be_made_is_refused(wish, said):
    with pytest.raises(Refusal, match=said):
        audit.read_practice("AB", **wish)


def test_as_many_answers_as_numbers():
    practice = audit.read_practice("AB", seed=1)
    with pytest.raises(Refusal, match="8 numbers, but 2 answers"):
        practice.answer(["1", "2"])
