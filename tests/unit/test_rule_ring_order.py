"""Do the rings of a visit follow the string?"""

from __future__ import annotations

import pytest
from clean_round import broods, clean_round, old_birds, seen_again
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from typed_season import ask, blamed, reported, typed_season

from audit.declarations import load_declarations
from audit.findings import Finding
from audit.rules import boxes, dates, ring_leg, ring_order, ring_series, ring_stock, ring_twice
from audit.rules.ring_order import RULE


def change(rows: list[dict], index: int, **cells: object) -> list[dict]:
    return [{**row, **cells} if i == index else row for i, row in enumerate(rows)]


def messages(answers: list) -> list[str]:
    return [answer.message for answer in answers if isinstance(answer, Finding)]


@pytest.mark.parametrize("typed", ["SV01063", "SV01936", "SV91036", "SV10036", "SV03016", "SZ01036"])
def test_a_ring_that_breaks_the_run_is_mended(typed: str) -> None:
    answers = ask(RULE, typed_season(handlings=change(broods(3, 5, 4), 5, ring=typed)))
    assert blamed(answers) == {("handlings!7", "ring"): ("ring_order.out_of_string", "SV01036")}


def test_the_sentence_names_the_neighbours() -> None:
    answers = ask(RULE, typed_season(handlings=change(broods(3, 5, 4), 5, ring="SV01063")))
    (message,) = messages(answers)
    assert message == (
        "Ring SV01063 is not in line with SV01035 and SV01037: "
        "two neighbours are exchanged from SV01036, which is on no other bird."
    )


def test_the_last_ring_of_a_string_before_the_next_string_is_no_slip() -> None:
    # 01041 to 01050 end a string of 50; 01150 belongs to another ringer, who has not come to it yet
    old = broods(5, 5, start=1031)
    ends = change(broods(1, start=1050), 0, box="SL-09", date=old[-1]["date"].replace(day=6))
    new = [{**row, "box": "SL-09", "date": ends[0]["date"]} for row in broods(3, start=1151)]
    stock = [
        {"prefix": "SV", "first": first, "last": last, "issued_to": who}
        for first, last, who in (("01001", "01050", "AB"), ("01101", "01150", "IP"), ("01151", "01200", "AB"))
    ]
    for tables in ({}, {"ring_stock": stock}):
        assert blamed(ask(RULE, typed_season(handlings=[*old, *ends, *new], **tables))) == {}
    # within a string it is one
    slip = change(new, 1, ring="SV01052")
    assert blamed(ask(RULE, typed_season(handlings=[*old, *ends, *slip], ring_stock=stock)))


def test_a_single_young_is_told_by_the_visits_before_and_after() -> None:
    answers = ask(RULE, typed_season(handlings=change(broods(3, 1, 4), 3, ring="SV01934")))
    assert blamed(answers) == {("handlings!5", "ring"): ("ring_order.out_of_string", "SV01034")}


def test_a_ring_out_of_turn() -> None:
    rows = change(broods(3, 4), 5, ring="SV01038")
    rows = change(rows, 6, ring="SV01037")
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!7", "ring"): ("ring_order.out_of_turn", "SV01036")}


def test_a_bird_seen_again_bears_a_ring_of_its_brood() -> None:
    rows = broods(3, 5, 4)
    rows += change(seen_again(rows), 5, ring="SV01836")
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!19", "ring"): ("ring_order.unknown_in_brood", "SV01036")}
    (message,) = messages(answers)
    assert message == (
        "No bird of this brood got ring SV01836: one character differs from SV01036, "
        "which is missing from this visit."
    )


@pytest.mark.parametrize("typed", ["SV01856", "SV0106", "SV10836", "SV0103"])
def test_two_slips_in_a_ring_seen_again_are_mended(typed: str) -> None:
    rows = broods(3, 5, 4)
    rows += change(seen_again(rows), 5, ring=typed)
    answers = ask(RULE, typed_season(handlings=rows))
    assert set(blamed(answers)) <= {("handlings!19", "ring")}
    tagged = [{**row, "tag": f"9990000000{int(row['ring'][2:]) * 37 % 99991:05d}"} for row in broods(3, 5, 4)]
    again = change(seen_again(tagged), 5, ring=typed)
    answers = ask(RULE, typed_season(handlings=[*tagged, *again]))
    assert blamed(answers) == {("handlings!19", "ring"): ("ring_order.unknown_in_brood", "SV01036")}


def test_the_tag_tells_a_ring_that_no_slip_explains() -> None:
    rows = [{**row, "tag": f"9990000000{int(row['ring'][2:]) * 37 % 99991:05d}"} for row in broods(3, 5, 4)]
    rows += change(seen_again(rows), 5, ring="SV58214")
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!19", "ring"): ("ring_order.unknown_in_brood", "SV01036")}
    (message,) = messages(answers)
    assert message == (
        "No bird of this brood got ring SV58214: this is rather SV01036, "
        f"which is missing from this visit and has the tag {rows[5]['tag']}."
    )
    # without tags it may be any bird
    untagged = [{name: value for name, value in row.items() if name != "tag"} for row in rows]
    assert blamed(ask(RULE, typed_season(handlings=untagged))) == {}


def test_wings_part_two_siblings_that_may_both_be_meant() -> None:
    # 01031 and 01032 are missing; 01037 is one slip from either
    wings = {"SV01031": 120.0, "SV01032": 60.0, "SV01033": 90.0, "SV01034": 100.0, "SV01035": 80.0}
    rows = [{**row, "wing_mm": wings.get(row["ring"], 90.0)} for row in broods(5, 4, 4)]
    # every wing is 60 mm longer two weeks on
    again = seen_again(rows)
    for missing, other in ((0, 1), (1, 0)):
        seen = change(again, missing, ring="SV01037")
        del seen[other]
        # 01037 is on a bird of another box
        answers = ask(RULE, typed_season(handlings=[*rows, *seen]))
        meant = rows[missing]["ring"]
        assert blamed(answers) == {
            (f"handlings!{len(rows) + 2}", "ring"): ("ring_order.unknown_in_brood", meant)
        }


def test_a_first_ring_out_of_line_is_told_by_the_ring_met_later() -> None:
    rows = broods(3, 5, 4)
    again = seen_again(rows)
    rows = change(rows, 5, ring="SV58214")
    answers = ask(RULE, typed_season(handlings=[*rows, *again]))
    assert blamed(answers) == {("handlings!7", "ring"): ("ring_order.out_of_string", "SV01036")}
    day = again[5]["date"].isoformat()
    (message,) = messages(answers)
    assert message == (
        "Ring SV58214 is not in line with SV01035 and SV01037: SV01036 would be, "
        f"and is on a bird of this brood on {day} though nobody put it on."
    )


def test_a_ring_right_beside_its_brood_may_have_been_left_out_at_the_first_visit() -> None:
    # 01043 comes after the last brood and is on no bird: as likely the first visit is wrong
    rows = broods(3, 5, 4)
    rows += change(seen_again(rows), 11, ring="SV01043")
    assert blamed(ask(RULE, typed_season(handlings=rows))) == {}


@pytest.mark.parametrize("remark", ["re-ringed, old one worn", "Ring ersetzt", "nouvelle bague"])
def test_a_bird_with_another_ring_and_a_remark_is_no_slip(remark: str) -> None:
    rows = broods(3, 5, 4)
    rows += change(seen_again(rows), 5, ring="SV01836")
    told = change(rows, 17, remarks=remark)
    assert blamed(ask(RULE, typed_season(handlings=told))) == {}


def test_a_ring_taken_off_and_written_down_is_no_slip() -> None:
    rows = broods(3, 5, 4)
    rows += change(seen_again(rows), 5, ring="SV01836")
    lost = [{"ring": "SV01036", "fate": "destroyed", "date": rows[17]["date"]}]
    assert blamed(ask(RULE, typed_season(handlings=rows, ring_losses=lost))) == {}
    # before the bird had it, it tells nothing of that
    lost[0]["date"] = rows[5]["date"].replace(month=1)
    assert blamed(ask(RULE, typed_season(handlings=rows, ring_losses=lost)))


def test_a_chick_from_another_box_with_a_remark_is_no_slip() -> None:
    rows = broods(3, 5, 4)
    rows += change(seen_again(rows), 5, ring="SV01836")
    told = change(rows, 17, remarks="foster chick, from SL-30")
    assert blamed(ask(RULE, typed_season(handlings=told))) == {}


def test_a_gap_is_a_note_unless_the_losses_tell_it() -> None:
    rows = [row for i, row in enumerate(broods(3, 5, 4)) if i != 5]
    (answer,) = ask(RULE, typed_season(handlings=rows))
    assert isinstance(answer, Finding)
    assert (answer.rule, answer.severity) == ("ring_order.gap", "note")
    assert answer.message == (
        "Ring SV01036 is on no bird and not among the losses, though SV01035 and SV01037 were used."
    )
    assert ask(RULE, typed_season(handlings=rows, ring_losses=[{"ring": "SV01036", "fate": "lost"}])) == []


def test_siblings_in_another_order_are_innocent() -> None:
    rows = broods(3, 5, 4)
    rows[4], rows[6] = {**rows[4], "ring": rows[6]["ring"]}, {**rows[6], "ring": rows[4]["ring"]}
    assert ask(RULE, typed_season(handlings=rows)) == []


def test_a_string_that_ends_within_a_brood_is_innocent() -> None:
    # the last ring of a string has another hundreds digit: ...99, ...00, and the next string begins elsewhere
    rows = broods(3, 5, 4, start=1094)
    for i, ring in enumerate(("SV01099", "SV01100", "SV01401", "SV01402", "SV01403"), start=5):
        rows = change(rows, i, ring=ring)
    for i, number in enumerate(range(1404, 1406), start=10):
        rows = change(rows, i, ring=f"SV0{number}")
    assert ask(RULE, typed_season(handlings=rows[:12])) == []


def test_a_new_string_with_a_single_ring_is_innocent() -> None:
    rows = change(broods(3, 3, start=1095), 5, ring="SV01201")
    assert blamed(ask(RULE, typed_season(handlings=rows))) == {}


@pytest.mark.parametrize("options", [{}, {"event": False}, {"visits": 3}, {"prefix": "", "digits": 7}])
@pytest.mark.parametrize("seed", [1])
def test_a_clean_round_is_innocent(options: dict, seed: int) -> None:
    tables = clean_round(30, seed=seed, **options)
    rows = old_birds(tables["handlings"])
    for handlings in (
        rows,
        sorted(rows, key=lambda row: row["ring"]),
        sorted(rows, key=lambda row: (row["box"], row["date"])),
    ):
        answers = ask(RULE, typed_season(handlings=handlings, ring_losses=tables["ring_losses"]))
        assert blamed(answers) == {}


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_a_slip_in_one_digit_is_mended_or_passed_over_but_never_blamed_on_another_cell(
    data: st.DataObject,
) -> None:
    sizes = data.draw(st.lists(st.integers(1, 7), min_size=60, max_size=60))
    rows = broods(*sizes)
    index = data.draw(st.integers(0, len(rows) - 1))
    true = rows[index]["ring"]
    place = data.draw(st.integers(2, len(true) - 1))
    digit = data.draw(st.sampled_from([d for d in "0123456789" if d != true[place]]))
    rows = change(rows, index, ring=true[:place] + digit + true[place + 1 :])
    rules = (boxes.RULE, dates.RULE, ring_series.RULE, ring_twice.RULE, ring_order.RULE)
    report = reported(typed_season(handlings=rows), load_declarations(), rules)
    found = {
        (s.cell.label, s.cell.field): s.suggested for finding in report.above_notes for s in finding.suspects
    }
    cell = (f"handlings!{index + 2}", "ring")
    assert found in ({}, {cell: true}, {cell: ""})


def test_five_thousand_clean_rows_are_innocent() -> None:
    tables = clean_round(700, digits=6)
    season = typed_season(**tables)
    assert len(tables["handlings"]) > 4500
    for module in (boxes, dates, ring_series, ring_twice, ring_order, ring_stock, ring_leg):
        assert blamed(ask(module.RULE, season)) == {}


def test_an_old_bird_in_another_box_is_no_sibling_misread() -> None:
    rows = broods(3, 5, 4)
    last_year = [{**row, "date": row["date"].replace(year=2025)} for row in broods(1, start=1836)]
    rows += change(seen_again(rows), 5, ring="SV01836")
    assert blamed(ask(RULE, typed_season(handlings=rows)))
    assert blamed(ask(RULE, typed_season(handlings=[*last_year, *rows]))) == {}
