"""Is every box one of ours?"""

from __future__ import annotations

import datetime as dt

import pytest
from clean_round import broods, clean_round, old_birds, seen_again
from typed_season import ask, blamed, typed_season

from audit.findings import Finding, NotRun
from audit.rules.boxes import RULE

SIZES = (3, 4, 5, 3, 4)
BOXES = [{"box": f"SL-{k:02d}"} for k in range(1, 21)]


def change(rows: list[dict], *indices: int, **cells: object) -> list[dict]:
    return [{**row, **cells} if i in indices else row for i, row in enumerate(rows)]


def findings(**tables: list[dict]) -> list[Finding]:
    return [answer for answer in ask(RULE, typed_season(**tables)) if isinstance(answer, Finding)]


@pytest.mark.parametrize("typed", ["SL-3", "SL03", "SL_03", "SL 03", "SL-003"])
def test_a_label_that_the_table_writes_otherwise(typed: str) -> None:
    found = findings(handlings=change(broods(*SIZES), 9, box=typed), boxes=BOXES)
    assert blamed(found) == {("handlings!11", "box"): ("boxes.otherwise", "SL-03")}
    assert found[0].severity == "suspect"
    assert found[0].message == f"Box {typed} is written SL-03 in the table of boxes."


@pytest.mark.parametrize("typed", ["SL-O3", "SK-03"])
def test_a_label_that_is_not_listed(typed: str) -> None:
    found = findings(handlings=change(broods(*SIZES), 9, box=typed), boxes=BOXES)
    assert blamed(found) == {("handlings!11", "box"): ("boxes.unknown", "SL-03")}
    assert found[0].message == f"There is no box {typed} in the table of boxes: SL-03 was probably meant."


def test_the_page_tells_more_than_the_spelling() -> None:
    rows = [{**row, "box": f"SL-{40 + i // 5}"} for i, row in enumerate(broods(5, 5, 5, 5))]
    rows[17] = {**rows[17], "box": "SL-3"}
    boxes = [{"box": f"SL-{i:02d}"} for i in range(1, 60)]
    (finding,) = findings(handlings=rows, boxes=boxes)
    assert blamed([finding]) == {("handlings!19", "box"): ("boxes.unknown", "SL-43")}


def test_birds_of_other_visits_tell_the_box_of_an_unlisted_one() -> None:
    rows = broods(*SIZES)
    rows += seen_again(rows)
    found = findings(handlings=change(rows, *range(26, 31), box="SL-43"), boxes=BOXES)
    assert {suggested for _, suggested in blamed(found).values()} == {"SL-03"}


@pytest.mark.parametrize("typed", ["SL-3", "SL03", "SL_03", "SL-O3"])
def test_without_a_list_an_unusual_spelling_is_found(typed: str) -> None:
    found = findings(handlings=change(broods(*SIZES), 9, box=typed))
    assert blamed(found) == {("handlings!11", "box"): ("boxes.spelling", "SL-03")}
    assert found[0].message == f"Box {typed} is written SL-03 on 4 other rows."


def test_two_ways_of_joining_letters_and_figures_are_one_box() -> None:
    # the second way is common enough to be one of the team, and is still no other box
    rows = broods(*SIZES * 3)
    odd = [i for i, row in enumerate(rows) if row["box"] in {f"SL-{k:02d}" for k in range(3, 9)}]
    some = [i for i in odd if rows[i]["box"] != rows[i - 1]["box"]]
    typed = [{**row, "box": row["box"].replace("-", "")} if i in some else row for i, row in enumerate(rows)]
    found = findings(handlings=typed)
    assert {rule for rule, _ in blamed(found).values()} == {"boxes.spelling"}
    assert len(blamed(found)) == len(some) == 6
    count = sum(row["box"] == "SL-03" for row in typed)
    assert found[0].message == f"Box SL03 is written SL-03 on {count} other rows."


def test_without_a_list_the_rule_says_so() -> None:
    answers = ask(RULE, typed_season(handlings=broods(*SIZES)))
    assert [type(a) for a in answers] == [NotRun]


def test_one_row_of_a_brood_with_another_box() -> None:
    found = findings(handlings=change(broods(*SIZES), 9, box="SL-13"), boxes=BOXES)
    assert blamed(found) == {("handlings!11", "box"): ("boxes.among_others", "SL-03")}
    assert found[0].message == (
        "This row says box SL-13, but it stands with the brood of box SL-03 and its ring belongs there."
    )


def test_the_last_row_of_a_brood_is_told_by_the_brood_size() -> None:
    found = findings(handlings=change(broods(*SIZES), 11, box="SL-13"), boxes=BOXES)
    assert blamed(found) == {("handlings!13", "box"): ("boxes.among_others", "SL-03")}


def test_a_single_young_in_the_next_box_is_innocent() -> None:
    rows = broods(3, 1, 5)
    rows = [{**row, "date": rows[0]["date"]} for row in rows]
    assert findings(handlings=rows, boxes=BOXES) == []


def test_a_visit_under_the_box_of_another_brood() -> None:
    rows = broods(*SIZES)
    rows += seen_again(rows) + seen_again(rows, days=28)
    found = findings(handlings=change(rows, *range(26, 31), box="SL-04"), boxes=BOXES)
    (finding,) = found
    assert set(blamed(found)) == {(f"handlings!{row}", "box") for row in range(28, 33)}
    assert {s.suggested for s in finding.suspects} == {"SL-03"}
    assert finding.message == "All 5 birds of this visit to box SL-04 were ringed in box SL-03."


def test_a_ringing_visit_under_a_wrong_box_is_told_by_the_later_ones() -> None:
    rows = broods(*SIZES)
    rows += seen_again(rows) + seen_again(rows, days=28)
    found = findings(handlings=change(rows, *range(7, 12), box="SL-13"), boxes=BOXES)
    assert set(blamed(found)) == {(f"handlings!{row}", "box") for row in range(9, 14)}


def test_a_young_bird_in_another_box_is_a_note() -> None:
    rows = broods(*SIZES)
    rows += change(seen_again(rows), 9, box="SL-04")
    found = findings(handlings=rows[:28] + rows[29:] + [rows[28]], boxes=BOXES)
    assert {(finding.rule, finding.severity) for finding in found} == {("boxes.moved", "note")}
    assert found[0].message == (
        "The young bird SV01040 was ringed in box SL-03 14 days before it was seen in box SL-04."
    )
    seen = {**rows[28], "remarks": "aus SL-03 umgesetzt"}
    (said,) = findings(handlings=rows[:28] + rows[29:] + [seen], boxes=BOXES)
    assert (said.rule, said.severity) == ("boxes.moved_said", "note")
    assert said.message == (
        "The young bird SV01040 was ringed in box SL-03 14 days before it was seen in box SL-04; "
        'the remark "aus SL-03 umgesetzt" accounts for that.'
    )


def test_a_whole_brood_that_a_remark_moves_is_not_under_a_wrong_box() -> None:
    rows = broods(*SIZES)
    rows += seen_again(rows) + seen_again(rows, days=28)
    moved = change(rows, *range(26, 31), box="SL-04", remarks="moved from SL-03")
    assert {one.rule for one in findings(handlings=moved, boxes=BOXES)} == {"boxes.moved_said"}


def test_a_box_before_it_was_put_up_and_after_it_was_taken_down() -> None:
    boxes = [{**box, "since": None, "until": None} for box in BOXES]
    late = change(boxes, 2, since=dt.date(2026, 7, 1))
    found = findings(handlings=broods(*SIZES), boxes=late)
    assert len(found) == 1
    assert found[0].message == (
        "Box SL-03 was put up on 2026-07-01 only, but birds were handled there on 2026-06-03."
    )
    gone = change(boxes, 2, until=dt.date(2026, 5, 1))
    assert len(findings(handlings=broods(*SIZES), boxes=gone)) == 1


@pytest.mark.parametrize("options", [{}, {"event": False}, {"visits": 3}])
@pytest.mark.parametrize("seed", [1])
def test_a_clean_round_is_innocent(options: dict, seed: int) -> None:
    tables = clean_round(30, seed=seed, **options)
    rows = old_birds(tables["handlings"])
    for handlings in (
        rows,
        sorted(rows, key=lambda row: row["ring"]),
        sorted(rows, key=lambda row: (row["box"], row["date"])),
    ):
        assert findings(handlings=handlings) == []
        assert findings(handlings=handlings, visits=tables["visits"], boxes=tables["boxes"]) == []


def test_labels_made_of_letters_and_digits_that_look_alike_are_boxes_of_their_own() -> None:
    rows = broods(3, 4, 5, 3, 4, 5, 3, 4)
    names = dict(
        zip((f"SL-{k:02d}" for k in range(1, 9)), ("5", "8", "0", "1", "S", "B", "O", "I"), strict=True)
    )
    assert findings(handlings=[{**row, "box": names[row["box"]]} for row in rows]) == []


def test_two_visits_to_two_boxes_that_nothing_tells_apart_share_the_blame() -> None:
    rows = broods(*SIZES)
    rows += change(seen_again(rows), *range(7, 12), box="SL-13")
    rows += change(seen_again(broods(3, start=2031)), 0, 1, 2, box="SL-12")
    rows += change(seen_again(broods(3, start=2131)), 0, 1, 2, box="SL-14")
    found = findings(handlings=rows, boxes=BOXES)
    (finding,) = found
    assert {s.p_error for s in finding.suspects} == {0.5}
    assert len(finding.suspects) == 10
    assert finding.message == (
        "All 5 birds of this visit to box SL-13 were ringed in box SL-03: one of the two boxes is wrong."
    )


def test_a_table_of_boxes_without_a_single_label() -> None:
    boxes = [{"box": None, "since": None, "until": None, "capacity": 11}]
    assert findings(handlings=broods(3), boxes=boxes) == []


def visits_of(rows: list[dict], **times: str) -> list[dict]:
    places = list(dict.fromkeys((row["date"], row["box"]) for row in rows))
    count = {place: sum((row["date"], row["box"]) == place for row in rows) for place in places}
    return [
        {"date": day, "box": box, "alive": count[day, box], "time": times.get(box.replace("-", ""))}
        for day, box in places
    ]


def test_a_page_under_another_box_is_told_by_the_table_of_visits() -> None:
    rows = broods(*SIZES, 4, 5, 3, 4, 5, 3)
    typed = change(rows, *range(7, 12), box="SL-18")
    (finding,) = findings(handlings=typed, boxes=BOXES, visits=visits_of(rows))
    assert blamed([finding]) == {(f"handlings!{row}", "box"): ("boxes.page", "SL-03") for row in range(9, 14)}
    assert finding.message == (
        "No visit to box SL-18 is listed on 2026-06-03, but one to box SL-03, of which no bird is written: "
        "the 5 rows probably belong there."
    )
    # where no bird is written for two visits of the day, and nothing else tells, none is named
    other = {"date": rows[7]["date"], "box": "SL-20", "alive": 5}
    assert findings(handlings=typed, boxes=BOXES, visits=[*visits_of(rows), other]) == []


def test_a_box_that_was_visited_but_had_nothing_to_ring_is_innocent() -> None:
    rows = broods(*SIZES, 4, 5, 3, 4, 5, 3)
    more = [{"date": rows[7]["date"], "box": "SL-18", "alive": 2}]
    assert findings(handlings=rows, boxes=BOXES, visits=[*visits_of(rows), *more]) == []
    listed = [visit for visit in visits_of(rows) if visit["box"] != "SL-03"]
    assert findings(handlings=rows, boxes=BOXES, visits=listed) == []


def on_one_day(rows: list[dict]) -> list[dict]:
    """Visit the third and the fourth brood on one day."""
    return [{**row, "date": dt.date(2026, 6, 4) if row["box"] == "SL-03" else row["date"]} for row in rows]


def test_two_broods_of_one_day_under_each_others_box_are_one_finding() -> None:
    rows = on_one_day(broods(*SIZES))
    later = seen_again(rows)
    later = [{**row, "date": row["date"] + dt.timedelta(days=row["box"] == "SL-04")} for row in later]
    third = [i for i, row in enumerate(rows) if row["box"] == "SL-03"]
    fourth = [i for i, row in enumerate(rows) if row["box"] == "SL-04"]
    typed = change(change(rows, *third, box="SL-04"), *fourth, box="SL-03")
    (finding,) = findings(handlings=[*typed, *later], boxes=BOXES)
    found = blamed([finding])
    assert found == {
        (f"handlings!{i + 2}", "box"): ("boxes.exchanged", rows[i]["box"]) for i in third + fourth
    }
    assert (
        finding.message == "The broods of boxes SL-03 and SL-04 stand under each other's box on 2026-06-04."
    )
    assert min(suspect.p_error for suspect in finding.suspects) > 0.9
    assert findings(handlings=[*rows, *later], boxes=BOXES) == []


def test_a_wrong_ring_does_not_hide_two_exchanged_broods() -> None:
    rows = on_one_day(broods(*SIZES, 4))
    swap = {"SL-03": "SL-04", "SL-04": "SL-03"}
    later = [{**row, "box": swap.get(row["box"], row["box"])} for row in seen_again(rows)]
    third = [i for i, row in enumerate(rows) if row["box"] == "SL-03"]
    elsewhere = next(row["ring"] for row in rows if row["box"] == "SL-05")

    def exchanged(*wrong: int) -> list[str]:
        found = findings(handlings=[*rows, *change(later, *wrong, ring=elsewhere)], boxes=BOXES)
        return [finding.message for finding in found if finding.rule == "boxes.exchanged"]

    # the first visit, of which all birds that were met again tell, is not blamed alone
    both = "The broods of boxes SL-03 and SL-04 stand under each other's box on 2026-06-04 or on 2026-06-18."
    assert exchanged() == exchanged(third[1]) == exchanged(*third[1:4]) == [both]
    # birds that were never in the other box tell nothing
    assert exchanged(*third) == []


def test_where_both_visits_to_two_boxes_fell_on_the_same_days_both_are_named() -> None:
    rows = on_one_day(broods(*SIZES))
    later = seen_again(rows)
    swap = {"SL-03": "SL-04", "SL-04": "SL-03"}
    typed = [{**row, "box": swap.get(row["box"], row["box"])} for row in rows]
    (finding,) = findings(handlings=[*typed, *later], boxes=BOXES)
    assert finding.message == (
        "The broods of boxes SL-03 and SL-04 stand under each other's box on 2026-06-04 or on 2026-06-18."
    )
    assert max(suspect.p_error for suspect in finding.suspects) < 0.6


def test_a_bird_without_a_ring_has_no_home() -> None:
    rows = [{**row, "ring": None} for row in broods(3, 3)]
    assert findings(handlings=[*rows, *seen_again(broods(3, 3))], boxes=BOXES) == []
