"""Rule ``declared``: each declared check, its sentence and its suggestion, and the innocent look-alikes."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.findings import Finding
from audit.rules.declared import RULE

DECLARED = load_declarations()


def handling(**cells):
    return {"date": "2026-06-01", "box": "SL-01", "ring": "SV01001", **cells}


def box(label, **cells):
    return {"box": label, **cells}


def answers(declared=DECLARED, **tables):
    return ask(RULE, typed_season(declared, **tables), declared)


def one(declared=DECLARED, **tables):
    (finding,) = answers(declared, **tables)
    return finding


def told(finding):
    (suspect,) = finding.suspects
    return finding.message, suspect.cell.label, suspect.suggested


def declared_with(table, field, **changes):
    """The shipped declarations with one column declared otherwise, as a team would."""
    old = DECLARED.tables[table]
    fields = tuple(dataclasses.replace(f, **changes) if f.name == field else f for f in old.fields)
    tables = {**DECLARED.tables, table: dataclasses.replace(old, fields=fields)}
    return dataclasses.replace(DECLARED, tables=tables)


def test_an_innocent_season():
    season = {
        "handlings": [
            handling(gross_g=0.0, brood_size=0, sex="M", ring_leg="L", event="ringed"),
            handling(ring=None, sex=None, event="re-encountered"),
        ],
        "visits": [{"date": "2026-06-01", "box": "SL-01", "eggs": 0, "cleaned": True}],
        "boxes": [box("SL-01", latitude=-90.0, longitude=180.0), box("SL-02", latitude=90.0)],
        "ring_losses": [{"ring": "SV01009", "fate": "passed on"}],
        "detections": [
            {"box": "SL-01", "antenna": "outer", "detected_at": "2026-06-01 21:00:00.5", "tag": "999"}
        ],
    }
    assert answers(**season) == []


def test_a_box_that_no_list_names_is_left_to_another_rule():
    assert answers(handlings=[handling(box="SL-77")], boxes=[box("SL-01")]) == []


def test_a_missing_ring_is_left_to_another_rule():
    assert answers(handlings=[handling(ring=None)]) == []


# missing


def test_missing_between_equal_neighbours():
    finding = one(handlings=[handling(), handling(box=None), handling()])
    assert finding.rule == "declared.missing"
    assert finding.severity == "error"
    assert told(finding) == (
        "The column 'box' may not be empty; the rows above and below both say SL-01.",
        "handlings!3",
        "SL-01",
    )
    assert (finding.suspects[0].p_error, finding.suspects[0].p_fix) == (1, 0.9)


def test_missing_date_goes_with_the_row_of_the_same_box():
    rows = [handling(), handling(date=None), handling(date="2026-06-02", box="SL-02")]
    assert told(one(handlings=rows)) == (
        "The column 'date' may not be empty; the row above, with the same box, says 2026-06-01.",
        "handlings!3",
        "2026-06-01",
    )


def test_missing_with_nothing_to_go_by():
    rows = [handling(), handling(date=None, box="SL-07"), handling(date="2026-06-02", box="SL-02")]
    assert told(one(handlings=rows)) == ("The column 'date' may not be empty.", "handlings!3", "")
    assert one(handlings=rows).suspects[0].p_fix is None


def test_the_last_row_of_another_sheet_is_no_neighbour():
    season = typed_season(DECLARED, handlings=[handling(), handling(box=None), handling()])
    table = season.tables["handlings"]
    labels = ["May!40", "June!2", "June!3"]
    columns = {(sheet, field): at for (_, field), at in table.columns.items() for sheet in ("May", "June")}
    table = dataclasses.replace(
        table, frame=table.frame.set_axis(labels), typed=table.typed.set_axis(labels), columns=columns
    )
    (finding,) = ask(RULE, dataclasses.replace(season, tables={"handlings": table}), DECLARED)
    assert told(finding) == ("The column 'box' may not be empty.", "June!2", "")


def test_several_empty_cells_under_each_other_look_to_the_same_rows():
    rows = [handling(), handling(box=None), handling(box=None), handling(date="2026-06-02", box="SL-02")]
    assert [told(finding) for finding in answers(handlings=rows)] == [
        (
            "The column 'box' may not be empty; the row above, with the same date, says SL-01.",
            f"handlings!{row}",
            "SL-01",
        )
        for row in (3, 4)
    ]


def test_full_grown_birds_caught_away_from_any_box():
    away = [handling(box=None, ring=f"SV0100{i}", age="4", date="2026-02-10") for i in range(3)]
    at_a_box = [handling(age="1", ring="SV01009"), handling(age="4", ring="SV01010")]
    finding = one(handlings=[*away, *at_a_box])
    assert (finding.rule, finding.severity) == ("declared.away", "note")
    assert finding.message == (
        "3 full-grown birds have no box, on days on which nothing was done at a nest: "
        "caught away from the boxes?"
    )
    # on a day at the boxes, for a nestling, or without an age, a box is missing
    for lacking in ({"date": "2026-06-01"}, {"age": "1"}, {"age": None}, {"brood_size": 4}):
        rows = [*at_a_box, {**away[0], **lacking}]
        assert one(handlings=rows).rule == "declared.missing"


def test_missing_in_the_first_and_last_row():
    rows = [handling(box=None), handling(), handling(box=None)]
    assert [told(finding)[2] for finding in answers(handlings=rows)] == ["", ""]


# range


def test_a_stray_minus_sign():
    rows = [handling(gross_g=mass) for mass in (380.0, 400.0, 395.0)]
    finding = one(handlings=[*rows, handling(gross_g=-390.0)])
    assert finding.rule == "declared.range"
    assert told(finding) == (
        "The column 'gross_g' says -390 g, below the least that is possible, 0 g; 390 g was probably meant.",
        "handlings!5",
        "390",
    )


def test_a_lost_decimal_point():
    rows = [box(f"SL-0{i}", latitude=52.0 + i / 10) for i in range(1, 5)]
    finding = one(boxes=[*rows, box("SL-05", latitude=52251.0)])
    assert told(finding) == (
        (
            "The column 'latitude' says 52251 degree, above the most that is possible, 90 degree; "
            "52.251 degree was probably meant."
        ),
        "boxes!6",
        "52.251",
    )


def test_out_of_range_with_nothing_to_go_by():
    assert told(one(boxes=[box("SL-01", latitude=520.0)])) == (
        "The column 'latitude' says 520 degree, above the most that is possible, 90 degree.",
        "boxes!2",
        "",
    )


def test_a_count_is_never_suggested_as_a_fraction():
    rows = [handling(brood_size=n) for n in (3, 4, 5)]
    declared = declared_with("handlings", "brood_size", maximum=20)
    assert told(one(declared, handlings=[*rows, handling(brood_size=45)]))[2] == ""
    assert told(one(declared, handlings=[*rows, handling(brood_size=40)]))[2] == "4"


def test_a_negative_net_with_its_tare_is_left_to_another_rule():
    assert answers(handlings=[handling(gross_g=22.0, bag_g=395.0, net_g=-373.0)]) == []
    assert told(one(handlings=[handling(gross_g=22.0, net_g=-373.0)]))[1] == "handlings!2"


def weighed(**cells):
    rows = [
        handling(gross_g=g, bag_g=b, net_g=g - b) for g, b in ((395.0, 20.0), (380.0, 22.0), (410.0, 24.0))
    ]
    return [*rows, handling(**({"gross_g": 390.0, "bag_g": 21.0, "net_g": 369.0} | cells))]


@pytest.mark.parametrize("cells", [{"gross_g": -390.0}, {"bag_g": -21.0}, {"net_g": -369.0}])
def test_a_stray_sign_that_upsets_the_tare_is_left_to_another_rule(cells):
    assert answers(handlings=weighed(**cells)) == []


def test_a_lost_point_above_a_declared_maximum_with_its_tare():
    declared = declared_with("handlings", "gross_g", minimum=0.0, maximum=600.0)
    assert answers(declared, handlings=weighed(gross_g=3900.0)) == []
    finding = one(declared, handlings=weighed(gross_g=3900.0, net_g=3879.0))
    assert [(s.cell.field, s.suggested) for s in finding.suspects] == [("gross_g", "390"), ("net_g", "369")]
    assert told(one(declared, handlings=weighed(gross_g=601.0, net_g=580.0)))[2] == ""


def test_a_stray_sign_that_net_was_worked_out_from():
    finding = one(handlings=weighed(gross_g=-390.0, net_g=-411.0))
    assert finding.message == (
        "The column 'gross_g' says -390 g, below the least that is possible, 0 g; "
        "390 g was probably meant, and net 369 g."
    )
    assert [(s.cell.field, s.suggested) for s in finding.suspects] == [("gross_g", "390"), ("net_g", "369")]
    finding = one(handlings=weighed(bag_g=-21.0, net_g=411.0))
    assert [(s.cell.field, s.suggested) for s in finding.suspects] == [("bag_g", "21"), ("net_g", "369")]


# set


@pytest.mark.parametrize(
    ("field", "typed", "meant"),
    [
        ("sex", "m", "M"),
        ("sex", "F.", "F"),
        ("sex", "male", "M"),
        ("sex", "Unknown", "U"),
        ("ring_leg", "left", "L"),
        ("ring_leg", "LL", "L"),
        ("ring_leg", "LR", ""),
        ("event", "rnged", "ringed"),
        ("event", "Ringed", "ringed"),
        ("event", "reencountered", "re-encountered"),
        ("event", "re-enc", "re-encountered"),
        ("event", "r", ""),
        ("event", "dead", ""),
        ("sex", "?", ""),
        ("sex", "X", ""),
        ("sex", "3", ""),
    ],
)
def test_the_nearest_word(field, typed, meant):
    finding = one(handlings=[handling(**{field: typed})])
    assert finding.rule == "declared.set"
    assert finding.suspects[0].suggested == meant


def test_the_sentence_of_a_word():
    assert told(one(handlings=[handling(sex="male")])) == (
        "The column 'sex' takes M, F, U; 'male' is none of them, M was probably meant.",
        "handlings!2",
        "M",
    )
    assert (
        told(one(handlings=[handling(sex="X")]))[0] == "The column 'sex' takes M, F, U; 'X' is none of them."
    )


def test_a_word_of_the_team_is_asked_about_once():
    rows = [handling(ring=f"SV0100{i}", sex="X" if i < 5 else "q") for i in range(6)]
    often, once = answers(handlings=rows)
    assert often.rule == "declared.own_word"
    assert [suspect.suggested for suspect in often.suspects] == [""] * 5
    assert often.message == (
        "The column 'sex' takes M, F, U; 'X' is none of them and stands in 5 rows: type one of them, or say "
        "what it means in reading.yaml of your own folder of declarations."
    )
    assert once.rule == "declared.set"
    # less often it may be a slip, and what is near a word is one
    assert {one.rule for one in answers(handlings=rows[1:])} == {"declared.set"}
    near = [handling(ring=f"SV0100{i}", sex="male") for i in range(6)]
    assert {one.rule for one in answers(handlings=near)} == {"declared.set"}


def test_a_word_between_two_words():
    declared = declared_with("ring_losses", "fate", allowed=("lost", "last", "broken"))
    rows = [{"ring": "SV1", "fate": "lest"}, {"ring": "SV2", "fate": "brokn"}]
    assert [told(finding)[2] for finding in answers(declared, ring_losses=rows)] == ["", "broken"]


def test_a_number_of_a_set():
    declared = declared_with("boxes", "antennas", allowed=("0", "1", "2"))
    finding = one(declared, boxes=[box("SL-01", antennas=2), box("SL-02", antennas=3)])
    assert told(finding) == ("The column 'antennas' takes 0, 1, 2; '3' is none of them.", "boxes!3", "")


# pattern


def test_a_form_that_a_team_declares():
    declared = declared_with("handlings", "box", pattern="SL-[0-9]{2}")
    rows = [handling(box=label) for label in ("SL-01", "SL-02", "SL02")]
    finding = one(declared, handlings=rows)
    assert finding.rule == "declared.pattern"
    assert told(finding) == (
        (
            "The column 'box' says 'SL02', which does not have the declared form SL-[0-9]{2}; "
            "SL-02 was probably meant."
        ),
        "handlings!4",
        "SL-02",
    )


def test_the_whole_text_must_have_the_form():
    declared = declared_with("handlings", "box", pattern="SL-[0-9]{2}")
    assert [told(f)[1:] for f in answers(declared, handlings=[handling(box="SL-011")])] == [
        ("handlings!2", "")
    ]


# unique


def test_a_label_that_stands_where_another_is_missing():
    finding = one(boxes=[box("SL-01"), box("SL-02"), box("SL-02", capacity=7), box("SL-04")])
    assert finding.rule == "declared.unique"
    assert told(finding) == (
        (
            "The column 'box' may say SL-02 once, but it stands in rows 3 and 4; by the order of the rows, "
            "row 4 should say SL-03."
        ),
        "boxes!4",
        "SL-03",
    )
    assert [cell.label for cell in finding.witnesses] == ["boxes!3"]
    assert finding.suspects[0].p_error == 0.85


def test_two_labels_of_which_either_may_be_wrong():
    finding = one(boxes=[box("SL-02", capacity=6), box("SL-09"), box("SL-02", capacity=7)])
    assert [suspect.cell.label for suspect in finding.suspects] == ["boxes!2", "boxes!4"]
    assert [suspect.p_error for suspect in finding.suspects] == [0.5, 0.5]
    assert finding.message == "The column 'box' may say SL-02 once, but it stands in rows 2 and 4."


def test_three_labels_of_which_one_may_be_right():
    finding = one(boxes=[box("SL-02", capacity=n) for n in (5, 6, 7)])
    assert [round(suspect.p_error, 3) for suspect in finding.suspects] == [0.667] * 3
    assert finding.message.endswith("rows 2, 3 and 4.")


def test_a_row_typed_twice():
    finding = one(boxes=[box("SL-02", capacity=6), box("SL-09"), box("SL-02", capacity=6)])
    assert finding.rule == "declared.repeated"
    assert told(finding) == (
        "This row repeats row 2 in every column; box SL-02 may stand once.",
        "boxes!4",
        "",
    )
    assert [cell.label for cell in finding.witnesses] == ["boxes!2"]


def test_two_empty_labels_are_missing_not_repeated():
    rows = [box(None, capacity=5), box(None, capacity=6)]
    assert [finding.rule for finding in answers(boxes=rows)] == ["declared.missing"] * 2


# doubt, order and speed


def test_a_cell_already_in_doubt_is_not_blamed_again():
    season = typed_season(DECLARED, handlings=[handling(box=None, sex="x")])
    doubted = frozenset({("handlings!2", "box")})
    assert set(blamed(ask(RULE, season, DECLARED, doubted))) == {("handlings!2", "sex")}


@settings(max_examples=25, deadline=None)
@given(st.permutations(range(5)))
def test_the_order_of_the_rows_changes_no_blame(order):
    rows = [handling(ring=f"SV0100{i}") for i in range(5)]
    rows[1] |= {"sex": "x"}
    rows[2] |= {"box": None}
    rows[3] |= {"gross_g": -4.0, "brood_size": -1}
    found = blamed(answers(handlings=[rows[i] for i in order]))
    assert {(order[int(label.rpartition("!")[2]) - 2], field) for label, field in found} == {
        (1, "sex"),
        (2, "box"),
        (3, "gross_g"),
        (3, "brood_size"),
    }


def many_birds(number: int = 80) -> list[dict[str, object]]:
    return [
        {
            "date": dt.date(2026, 6, 6),
            "box": f"SL-{1 + i // 4:02d}",
            "ring": f"SV{1000 + i:05d}",
            "ring_leg": "L",
            "age": "1",
            "event": "ringed",
            "gross_g": 330.0,
            "bag_g": 30.0,
            "net_g": 300.0,
            "brood_size": 4,
        }
        for i in range(number)
    ]


@pytest.mark.parametrize("field", ["ring_leg", "age", "event", "gross_g", "net_g", "brood_size"])
def test_a_cell_left_out_where_all_other_birds_have_one(field: str) -> None:
    rows = many_birds()
    rows[30][field] = None
    (finding,) = ask(RULE, typed_season(handlings=rows))
    assert isinstance(finding, Finding)
    assert (finding.rule, finding.severity) == ("declared.left_out", "suspect")
    assert (finding.suspects[0].cell.label, finding.suspects[0].cell.field) == ("handlings!32", field)
    assert finding.message == f"The column '{field}' is empty here, but filled for 79 birds of this kind."


def test_cells_left_empty_for_a_reason() -> None:
    rows = many_birds()
    # too small for a ring, and one that was not weighed at all
    rows[30].update(ring=None, ring_leg=None, event=None)
    rows[40].update(gross_g=None, bag_g=None, net_g=None)
    assert ask(RULE, typed_season(handlings=rows)) == []


def test_the_brood_of_a_young_bird_that_was_put_to_others() -> None:
    rows = many_birds()
    rows[30].update(brood_size=None, remarks="fostered from SL-02")
    assert ask(RULE, typed_season(handlings=rows)) == []
    # what every bird has it ought to have, too
    rows[30].update(brood_size=4, ring_leg=None)
    assert [answer.rule for answer in ask(RULE, typed_season(handlings=rows))] == ["declared.left_out"]


def test_columns_that_are_often_left_empty_and_short_sheets() -> None:
    rows = many_birds()
    for row in rows[::9]:
        row["brood_size"] = None
    assert ask(RULE, typed_season(handlings=rows)) == []
    few = many_birds(50)
    few[30]["brood_size"] = None
    assert ask(RULE, typed_season(handlings=few)) == []


def test_a_full_grown_bird_caught_away_whose_date_cannot_be_read() -> None:
    rows = many_birds(4)
    rows += [
        {"date": dt.date(2026, 3, 1), "box": None, "ring": f"SV{2000 + i:05d}", "age": "4"} for i in range(3)
    ]
    rows[5]["date"] = None
    answers = ask(RULE, typed_season(handlings=rows))
    assert [(a.rule, a.severity) for a in answers if isinstance(a, Finding) and "box" in a.message] == [
        ("declared.away", "note")
    ]
