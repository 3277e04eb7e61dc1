"""Repeated measures from the sheet to the sentence: what is read, told, drawn, written and refused."""

from __future__ import annotations

import csv

import numpy as np
import pandas as pd
import pytest
from openpyxl import Workbook

import audit
from audit.charts.still import description_of
from audit.cli import main
from audit.declarations import load_declarations
from audit.practice.measuring.advice import reached
from audit.practice.measuring.figures import COLUMNS
from audit.refusal import Refusal

BIRDS = [f"SV{number:05d}" for number in range(1, 15)]


@pytest.fixture(scope="module")
def declared():
    return load_declarations()


def long_sheet(seed=4, people=(("AB", 1.6, 1.0), ("MK", 0.0, 0.8)), rounds=1, birds=BIRDS):
    rng = np.random.default_rng(seed)
    true = rng.normal(190, 25, len(birds))
    rows = [
        {
            "ring": bird,
            "observer": who,
            "repeat": time,
            "wing_mm": round(true[i] + bias + rng.normal(0, error)),
        }
        for time in range(1, rounds + 1)
        for who, bias, error in people
        for i, bird in enumerate(birds)
    ]
    return pd.DataFrame(rows)


@pytest.fixture(scope="module")
def three(declared):
    people = (("AB", 2.4, 0.7), ("IP", 0.0, 3.2), ("MK", 0.0, 0.7))
    return audit.measuring(long_sheet(9, people, rounds=2), trainer="MK", schemas=declared)


@pytest.fixture(scope="module")
def pair(declared):
    return audit.measuring(long_sheet(), schemas=declared)


def wide_sheet(first, second, heads=("wing AB", "wing MK")):
    birds = [f"SV{number:05d}" for number in range(1, len(first) + 1)]
    return pd.DataFrame({"ring": birds, heads[0]: first, heads[1]: second})


FIRST, SECOND = [201, 188, 175, 210, 199, 166], [200, 186, 174, 209, 196, 165]


# what is read


@pytest.mark.parametrize(
    "heads",
    [
        ("bird", "observer", "wing"),
        ("Ringnummer", "gemessen von", "Flügellänge (mm)"),
        ("n° bague", "mesuré par", "aile pliée"),
        ("anilla", "medido por", "cuerda máxima"),
        ("ringnr", "gemeten door", "vleugellengte"),
    ],
)
def test_headers_in_five_languages(heads, declared):
    frame = long_sheet().drop(columns="repeat").set_axis(heads, axis=1)
    told = audit.measuring(frame, schemas=declared)
    (one,) = told.accounts
    assert one.repeats.measure.field == "wing_mm"
    assert one.repeats.observers == ("AB", "MK")
    assert one.repeats.again == 14


def test_a_column_for_each_person_is_read_as_rows(declared):
    one = audit.measuring(wide_sheet(FIRST, SECOND), schemas=declared).of("wing_mm")
    assert [bias.value for bias in one.biases] == pytest.approx([np.mean(np.subtract(FIRST, SECOND))])
    assert one.repeats.places[0] == "measured B2"
    assert one.repeats.places[6] == "measured C2"


def test_a_column_for_each_repeat_is_one_persons(declared):
    one = audit.measuring(
        wide_sheet(FIRST, SECOND, ("Flügel 1 (mm)", "Flügel 2 (mm)")), schemas=declared
    ).of()
    assert one.biases == ()
    assert [pairs.who for pairs in one.comparisons] == ["people not named"]
    assert one.comparisons[0].limits.bias.value == pytest.approx(np.mean(np.subtract(FIRST, SECOND)))


def test_a_column_for_each_person_and_repeat(declared):
    frame = wide_sheet(FIRST, SECOND, ("wing AB 1", "wing AB 2"))
    frame = frame.assign(**{"wing MK 1": SECOND, "wing MK 2": FIRST})
    one = audit.measuring(frame, schemas=declared).of()
    assert [(name, error.birds) for name, error in one.own] == [("AB", 6), ("MK", 6)]
    assert one.biases[0].value == pytest.approx(0)


def test_left_and_right_are_no_people(declared):
    with pytest.raises(Refusal, match="No column holds a measure"):
        audit.measuring(wide_sheet(FIRST, SECOND, ("wing L", "wing R")), schemas=declared)


def test_initials_in_small_letters_are_the_same_person(declared):
    frame = long_sheet(rounds=2)
    again = frame["repeat"] == 2
    frame["observer"] = frame["observer"].mask(again, frame["observer"].str.lower())
    told = audit.measuring(frame, trainer="mk", schemas=declared)
    assert told.of().repeats.observers == ("AB", "MK")
    assert told.trainer == "MK"


def test_a_column_that_names_nobody_counts_once(declared):
    frame = wide_sheet(FIRST, SECOND).assign(**{"bill (mm)": [20.1] * 6})
    told = audit.measuring(frame, schemas=declared)
    assert [one.repeats.measure.field for one in told.accounts] == ["wing_mm"]
    assert "Never measured twice, and so left out: bill." in repr(told)


def test_a_measure_of_the_teams_own_needs_its_unit(declared):
    frame = wide_sheet(FIRST, SECOND, ("wing AB", "spare")).drop(columns=["wing AB", "spare"])
    frame = pd.concat([frame, frame]).assign(
        **{"bill (mm)": [20.1, 19, 21, 22, 23, 18, 20.2, 19, 21.1, 22, 23, 18.3]}
    )
    one = audit.measuring(frame, schemas=declared).of()
    assert (one.repeats.measure.title, one.repeats.measure.unit, one.step) == ("bill", "mm", 0.1)
    assert any("No goal is declared" in said for said in _practise(one, declared))


def test_sheets_of_one_person_each(tmp_path, declared):
    book = Workbook()
    for sheet, values in (("AB", FIRST), ("MK", SECOND)):
        page = book.create_sheet(sheet)
        page.append(["ring", "wing"])
        for number, value in enumerate(values, 1):
            page.append([f"SV{number:05d}", value])
    del book["Sheet"]
    book.save(tmp_path / "wings.xlsx")
    told = audit.measuring(tmp_path / "wings.xlsx", schemas=declared)
    assert told.of().repeats.observers == ("AB", "MK")
    assert "each sheet was taken as one person's: AB and MK." in repr(told)


def test_numbers_of_repeats_order_them(declared):
    rows = [("SV00001", 2, 190), ("SV00001", 1, 200), ("SV00002", 1, 180), ("SV00002", 2, 170)]
    rows += [("SV00003", 1, 150), ("SV00003", 2, 140)]
    frame = pd.DataFrame(rows, columns=["ring", "repeat", "wing"])
    assert audit.measuring(frame, schemas=declared).of().comparisons[0].difference.tolist() == [10, 10, 10]


def test_cells_that_are_no_number_are_told(declared):
    frame = wide_sheet(FIRST, [*SECOND[:5], "long"])
    told = audit.measuring(frame, schemas=declared)
    assert "measured C7: 'long' was not read as a number and is left out." in repr(told)
    assert "Wing length: 1 measure stands alone, left out of the figures." in repr(told)


# days


def days(gap):
    frame = wide_sheet(FIRST, SECOND).melt("ring", value_name="wing", var_name="who")
    day = np.where(frame["who"] == "wing AB", "2026-06-01", gap)
    return frame.drop(columns="who").assign(date=day)


def test_a_nestling_of_another_day_is_no_repeat(declared):
    assert audit.measuring(days("2026-06-01"), schemas=declared).of().error.birds == 6
    with pytest.raises(Refusal, match="twice on one day") as refused:
        audit.measuring(days("2026-06-08"), schemas=declared)
    assert "across_days=True" in refused.value.cure
    assert audit.measuring(days("2026-06-08"), across_days=True, schemas=declared).of().error.birds == 6


def season(rows, declared):
    frame = pd.DataFrame(rows, columns=["date", "box", "ring", "ringer", "wing_mm", "net_g"])
    return audit.read_season({"handlings": frame}, schemas=declared)


def test_birds_of_a_season_measured_twice_on_a_day(declared):
    rows = [
        ("2026-06-01", "SL-01", ring, who, wing, 300)
        for who, wings in (("AB", FIRST), ("MK", SECOND))
        for ring, wing in zip(BIRDS, wings, strict=False)
    ]
    rows += [("2026-06-09", "SL-01", BIRDS[0], "AB", 240, 310)]
    # typed twice, not measured twice
    rows += [("2026-06-01", "SL-02", BIRDS[9], "AB", 190, 300)] * 2
    told = audit.measuring(season(rows, declared), schemas=declared)
    one = told.of("wing_mm")
    assert (one.error.birds, one.error.dof) == (6, 6)
    assert "1 row repeats another one in every column and counted as typed twice" in repr(told).replace(
        "\n", " "
    )
    assert one.repeats.birds[0] == "SV00001 on 2026-06-01"


def test_a_season_without_repeats_is_refused(declared):
    rows = [("2026-06-01", "SL-01", ring, "AB", wing, 300) for ring, wing in zip(BIRDS, FIRST, strict=False)]
    with pytest.raises(Refusal, match="measured twice on one day") as refused:
        audit.measuring(season(rows, declared), schemas=declared)
    assert "licence" in refused.value.cure


# what is told


def _practise(one, declared):
    from audit.practice.measuring.told import told_of

    return told_of(one, declared).practise


def test_who_measures_more_is_one_plain_sentence(three, declared):
    first, *_ = _practise(three.of("wing_mm"), declared)
    assert first == (
        "AB's wings are 2.4 mm longer than MK's (1.4 to 3.4 mm; 14 birds): measure the same few birds side "
        "by side until both read alike. A wing reads too long where the carpal joint does not touch the stop "
        "of the rule, too short where it is not quite flattened and straightened: AB's wings are the longer "
        "ones."
    )


def test_whose_repeats_lie_too_far_apart(three, declared):
    said = _practise(three.of(), declared)
    assert [one.split(":")[0] for one in said if "too far apart" in one] == ["IP"]
    goals = "\n".join(said for said in repr(three).splitlines() if "at most" in said)
    assert "Error of AB at most 1.5 mm: reached." in goals
    assert "Error of IP at most 1.5 mm: missed." in goals


@pytest.mark.parametrize(
    ("low", "high", "goal", "how"),
    [(0.5, 1.0, 1.0, "reached"), (0.9, 1.1, 1.0, "not sure yet"), (1.01, 2, 1.0, "missed")],
)
def test_a_goal_is_only_reached_when_the_interval_says_so(low, high, goal, how):
    assert reached(low, high, goal) == how


def test_a_slip_stands_out_and_stays_in_the_figures(declared):
    clean = long_sheet()
    spoilt = clean.copy()
    at = spoilt.index[(spoilt.ring == "SV00006") & (spoilt.observer == "MK")][0]
    right = int(spoilt.loc[at, "wing_mm"])
    spoilt.loc[at, "wing_mm"] = right + 100
    beside = int(spoilt.loc[(spoilt.ring == "SV00006") & (spoilt.observer == "AB"), "wing_mm"].iloc[0])
    told = audit.measuring(spoilt, schemas=declared)
    one = told.of()
    (odd,) = one.odd
    assert odd.bird == "SV00006"
    # of two values either may be the wrong one: both are named
    assert [(slip.kind, slip.typed) for slip in odd.slips] == [("digit", beside), ("digit", right + 100)]
    assert odd.slips[1].meant == pytest.approx(right, abs=5)
    # in the figures, and beside them without it
    assert one.error.birds == 14
    assert one.without_odd.error.birds == 13
    text = " ".join(repr(told).split())
    assert "mm with one wrong digit, or " in text
    assert "Look at the field sheet." in text
    assert "Without SV00006: AB's wings are" in text
    # what to practise is not the slip
    assert "First look up on the field sheet what stands out" in text
    assert audit.measuring(clean, schemas=declared).of().odd == ()
    assert set(told.pairs().query("stands_out == 'yes'")["bird"]) == {"SV00006"}


def test_last_digits_of_a_hand_that_rounds(declared):
    rng = np.random.default_rng(3)
    birds = [f"SV{number:05d}" for number in range(40)]
    true = rng.normal(190, 25, 40)
    rows = [
        (bird, who, 5 * round(size / 5) if who == "AB" else round(size))
        for who in ("AB", "MK")
        for _ in range(2)
        for bird, size in zip(birds, true + rng.normal(0, 1, 40), strict=True)
    ]
    told = audit.measuring(pd.DataFrame(rows, columns=["ring", "observer", "wing"]), schemas=declared)
    (said,) = [one for one in _practise(told.of(), declared) if "end in" in one]
    assert said == (
        "AB: of 80 wings, 80 end in 0 or 5 where about 16 would be expected. Read the last digit as it "
        "stands, without rounding."
    )
    assert "does AB favour last digits?" in told.last_digits().chart.title.text


def test_one_stray_point_makes_no_sheet_of_tenths(declared):
    rng = np.random.default_rng(6)
    birds = [f"SV{number:05d}" for number in range(60)]
    true = rng.normal(190, 25, 60)
    first, second = (np.rint(true + rng.normal(0, 0.8, 60)) for _ in range(2))
    first[3] = 20.1
    frame = pd.DataFrame({"ring": birds, "wing AB": first, "wing MK": second})
    one = audit.measuring(frame, schemas=declared).of()
    assert one.step == 1
    assert [said for said in _practise(one, declared) if "end in" in said] == []


def test_a_balance_marked_in_fives_is_no_habit(declared):
    rng = np.random.default_rng(6)
    true = rng.normal(300, 40, 60)
    frame = pd.DataFrame({"ring": [f"SV{number:05d}" for number in range(60)]})
    for who in ("AB", "MK"):
        frame[f"net {who} (g)"] = 5 * np.rint((true + rng.normal(0, 2, 60)) / 5)
    one = audit.measuring(frame, schemas=declared).of("net_g")
    assert one.digits == ()


def test_one_bird_says_nothing_of_a_hand(declared):
    frame = pd.concat([wide_sheet(FIRST, SECOND).iloc[:1], wide_sheet(FIRST, SECOND).iloc[1:, :2]])
    frame.iloc[0, 2] = 180
    told = audit.measuring(frame, schemas=declared)
    assert [one[:40] for one in _practise(told.of(), declared)] == [
        "1 bird measured again is a first look: w"
    ]
    assert "let the audit look at it first" in " ".join(repr(told).split())


def test_differences_that_grow_with_size(declared):
    rng = np.random.default_rng(2)
    true = np.linspace(100, 260, 20)
    frame = wide_sheet((true * 1.05).round(), (true + rng.normal(0, 0.7, 20)).round())
    text = " ".join(repr(audit.measuring(frame, schemas=declared)).split())
    assert "AB less MK: the difference grows with size, by 4." in text


def test_repeats_that_never_differ_are_doubted(declared):
    frame = wide_sheet(FIRST, FIRST, ("wing 1", "wing 2"))
    text = " ".join(repr(audit.measuring(frame, schemas=declared)).split())
    assert "All repeats of a bird are equal: the error is smaller than a step of 1 mm can show" in text
    assert "nan" not in text


@pytest.mark.parametrize(
    ("first", "second", "why"),
    [
        ([201], [200], "Only one bird was measured again"),
        ([200, 200, 200], [200, 200, 200], "All values are equal"),
    ],
)
def test_what_cannot_be_told_is_said(first, second, why, declared):
    told = audit.measuring(wide_sheet(first, second), schemas=declared)
    assert why in " ".join(repr(told).split())
    assert not told.table()["value"].isna().any()


def test_repeats_that_differ_more_than_birds(declared):
    frame = wide_sheet([190, 199, 191, 198], [199, 190, 198, 191])
    text = " ".join(repr(audit.measuring(frame, schemas=declared)).split())
    assert "No repeatability is seen: repeats of a bird differ more than birds do" in text
    assert "averaging them makes up for nothing" in text


def test_observers_without_a_common_bird(declared):
    rows = [
        ("SV00001", "AB", 1, 200),
        ("SV00001", "AB", 2, 201),
        ("SV00002", "MK", 1, 180),
        ("SV00002", "MK", 2, 181),
    ]
    rows += [("SV00003", "IP", 1, 190), ("SV00003", "AB", 1, 191)]
    frame = pd.DataFrame(rows, columns=["ring", "observer", "repeat", "wing"])
    one = audit.measuring(frame, schemas=declared).of()
    assert one.refused == ()
    rows += [("SV00004", "MK", 1, 170), ("SV00004", "XY", 1, 172)]
    frame = pd.DataFrame(rows, columns=["ring", "observer", "repeat", "wing"])
    (why,) = audit.measuring(frame, schemas=declared).of().refused
    assert why.startswith("Some observers have no bird in common with the others")


def test_few_birds_are_a_first_look(declared):
    said = _practise(audit.measuring(wide_sheet(FIRST, SECOND), schemas=declared).of(), declared)
    assert "6 birds measured again are a first look: with 10 or more the figures can be relied on." in said


def test_cautions_stand_everywhere(pair, tmp_path):
    pair.write(tmp_path)
    for text in (repr(pair), pair._repr_html_(), (tmp_path / "measuring.html").read_text(encoding="utf-8")):
        assert "No bird is handled longer for the sake of practice." in " ".join(text.split())
        assert "licence" in text
        assert text.index("In short") < text.index("What to practise")


# masses


def weighings(rows):
    return pd.DataFrame(rows, columns=["bird", "observer", "gross (g)", "bag (g)", "net (g)"])


def test_a_net_that_is_no_gross_less_bag_is_told_with_its_reason(declared):
    rng = np.random.default_rng(7)
    rows = [
        (bird, who, 300 + 9 * bird + off, 22, 278 + 9 * bird + off)
        for who in ("AB", "MK")
        for bird in range(1, 13)
        for off in rng.integers(-1, 2, 1).tolist()
    ]
    bird, who, gross, bag, _ = rows[3]
    rows[3] = (bird, who, gross, bag, gross)
    told = audit.measuring(weighings(rows), schemas=declared)
    text = " ".join(repr(told).split())
    assert (
        f"measured E5: {gross} g less 22 g is {gross - 22} g, but the net mass there is {gross} g, as the "
        "gross mass: was the bag not subtracted?"
    ) in text
    (odd,) = told.of("net_g").odd
    assert [(slip.typed, slip.meant, slip.kind) for slip in odd.slips] == [(gross, gross - 22, "bag")]
    assert f"Bird 4: {gross} g by AB (measured E5)" in text
    assert f"{gross} may be {gross - 22} g with the bag not subtracted" in text
    assert "Without bird 4:" in text


def test_many_wrong_sums_are_counted(declared):
    rows = [(bird, who, 300, 20, 200 + bird) for who in ("AB", "MK") for bird in range(1, 8)]
    notices = audit.measuring(weighings(rows), schemas=declared).sheet.notices
    assert len(notices) == 6
    assert notices[-1] == "9 more net masses are not gross less bag."


def test_gross_masses_in_other_bags_are_not_compared(declared):
    rows = [
        (bird, who, 300 + bird + bag, bag, 300 + bird)
        for who, bag in (("AB", 20), ("MK", 26))
        for bird in range(5)
    ]
    told = audit.measuring(weighings(rows), schemas=declared)
    assert [one.repeats.measure.field for one in told.accounts] == ["net_g"]
    assert "gross masses are left out of what follows" in " ".join(repr(told).split())
    alone = audit.measuring(weighings(rows).drop(columns="net (g)"), schemas=declared)
    assert [one.repeats.measure.field for one in alone.accounts] == ["gross_g"]
    assert "write net masses beside them" in " ".join(repr(alone).split())


def test_equal_repeats_are_no_proof_of_a_good_hand(declared):
    rows = [(bird, who, 300 + 9 * bird, 20, 280 + 9 * bird) for who in ("AB", "MK") for bird in range(1, 13)]
    told = audit.measuring(weighings(rows), schemas=declared)
    text = " ".join(repr(told).split())
    assert "before that is trusted, measure the same birds once more with nobody seeing" in text
    assert "AB less MK: all 12 differences are 0.0 g." in text
    assert "AB's net masses and MK's are equal on average (12 birds)." in text
    assert "Error of one measure at most 2.0 g: reached." in text


def test_a_bias_of_one_of_three_is_no_unsteady_hand(declared):
    people = (("AB", 4.0, 0.5), ("IP", 0.0, 0.5), ("MK", 0.0, 0.5))
    one = audit.measuring(long_sheet(21, people), schemas=declared).of()
    said = _practise(one, declared)
    assert any(told.startswith("AB's wings are") for told in said)
    assert not [told for told in said if "too far apart" in told]
    assert one.biases[0].error == pytest.approx(0.5, abs=0.25)


# what is refused


@pytest.mark.parametrize(
    ("frame", "what"),
    [
        (pd.DataFrame({"ring": ["SV00001"], "observer": ["AB"]}), "No column holds a measure"),
        (pd.DataFrame({"wing": [200, 201]}), "no column for bird"),
        (pd.DataFrame({"ring": ["SV00001", "SV00002"], "wing": [200, 201]}), "No bird was measured twice"),
    ],
)
def test_sheets_that_say_nothing(frame, what, declared):
    with pytest.raises(Refusal, match=what) as refused:
        audit.measuring(frame, schemas=declared)
    assert refused.value.cure


def test_a_trainer_whom_nobody_knows(declared):
    with pytest.raises(Refusal, match="Nobody in this sheet is called 'XY'") as refused:
        audit.measuring(wide_sheet(FIRST, SECOND), trainer="XY", schemas=declared)
    assert refused.value.cure == "Name one of AB and MK."


def test_a_measure_that_is_not_there(three):
    with pytest.raises(Refusal, match="There is no measure 'net_g'"):
        three.of("net_g")


# what is drawn and written


def test_pictures_say_what_they_show(three):
    assert "differences of 14 pairs, AB less MK" in description_of(three.differences().chart)
    assert "AB against MK +2.4" in description_of(three.biases().chart)
    assert "14 birds less the mean of the bird, in mm, by 3 observers" in description_of(
        three.repeats().chart
    )
    assert three.differences(number=99).chart is None
    assert three.last_digits().chart is None


def test_files_are_whole_and_the_same_each_time(pair, tmp_path):
    written = pair.write(tmp_path / "one")
    assert [path.name for path in written] == ["measuring.html", "measuring.csv", "pairs.csv"]
    again = pair.write(tmp_path / "two")
    assert [path.read_bytes() for path in written] == [path.read_bytes() for path in again]
    with written[1].open(encoding="utf-8", newline="") as stream:
        head, *rows = csv.reader(stream)
    assert tuple(head) == COLUMNS
    assert {"repeatability", "technical_error", "bias", "lower_limit", "slope", "icc_2_1", "icc_3_1"} <= {
        row[1] for row in rows
    }
    page = written[0].read_text(encoding="utf-8")
    assert page.count("<figure>") == 3
    assert "<script" not in page
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert "https://" not in page


def test_typed_words_are_escaped(declared, tmp_path):
    frame = long_sheet(people=(("<b>A", 0, 1), ("MK", 0, 1)))
    told = audit.measuring(frame, schemas=declared)
    (page, *_) = told.write(tmp_path)
    assert "<b>A" not in page.read_text(encoding="utf-8")
    assert "<b>A" not in told._repr_html_()


def test_from_the_command_line(tmp_path, capsys):
    sheet = tmp_path / "wings.csv"
    long_sheet().to_csv(sheet, index=False)
    before = sheet.read_bytes()
    assert main(["measuring", str(sheet), "--trainer", "MK", "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    assert "AB's wings are" in said
    assert "measuring.html" in said
    assert sheet.read_bytes() == before
    assert main(["measuring", str(tmp_path / "none.csv"), "--out", str(tmp_path / "out")]) == 2
    assert "cure:" in capsys.readouterr().err


def test_results_never_replace_the_sheet(tmp_path, declared):
    sheet = tmp_path / "pairs.csv"
    long_sheet().to_csv(sheet, index=False)
    told = audit.measuring(sheet, schemas=declared)
    with pytest.raises(Refusal, match="would replace"):
        told.write(tmp_path)
