"""Is each ring on one bird, once?"""

from __future__ import annotations

import pytest
from clean_round import broods, clean_round, old_birds, seen_again
from typed_season import ask, blamed, typed_season

from audit.findings import Finding
from audit.rules.ring_twice import RULE


def change(rows: list[dict], index: int, **cells: object) -> list[dict]:
    return [{**row, **cells} if i == index else row for i, row in enumerate(rows)]


def messages(answers: list) -> list[str]:
    return [answer.message for answer in answers if isinstance(answer, Finding)]


def test_of_two_first_ringings_the_one_that_breaks_its_run_is_wrong() -> None:
    rows = change(broods(3, 5, 4), 5, ring="SV01039")
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!7", "ring"): ("ring_twice.ringed_twice", "SV01036")}
    (message,) = messages(answers)
    assert message == (
        "Ring SV01039 was put on a bird in box SL-03 on 2026-06-03 too, and SV01036 is missing here: "
        "one character differs from SV01036."
    )


def test_a_ring_copied_from_the_row_above_is_the_lower_one() -> None:
    rows = change(broods(3, 5, 4), 5, ring="SV01035")
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!7", "ring"): ("ring_twice.in_visit", "SV01036")}


def test_the_tag_tells_which_of_two_equal_rings_is_wrong() -> None:
    rows = broods(3, 5, 4)
    rows = [{**row, "tag": f"99900000000{1000 + i}"} for i, row in enumerate(rows)]
    rows += change(seen_again(rows), 3, ring="SV01036")
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!17", "ring"): ("ring_twice.in_visit", "SV01034")}


def test_a_row_typed_twice_is_told_from_a_ring_typed_twice() -> None:
    rows = broods(3, 5, 4)
    rows.insert(6, dict(rows[5]))
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!8", "ring"): ("ring_twice.row_twice", "")}
    assert messages(answers) == ["This row repeats row 7 in every cell."]


def test_a_visit_typed_again_in_other_words_is_no_second_measure() -> None:
    rows = [{**row, "tag": f"99900000000{1000 + i}"} for i, row in enumerate(broods(3, 5, 4))]
    rows.insert(8, {**rows[5], "remarks": "lively"})
    (answer,) = ask(RULE, typed_season(handlings=rows))
    assert (answer.rule, answer.severity) == ("ring_twice.row_twice", "error")
    assert answer.message == (
        "This row has ring, tag and every measure of row 7 of the same visit: it was typed twice."
    )
    assert answer.suspects[0].cell.label == "handlings!10"
    # one measure alone may come out the same
    few = [{key: value for key, value in row.items() if key not in ("gross_g", "net_g")} for row in rows]
    (note,) = ask(RULE, typed_season(handlings=few))
    assert note.rule == "ring_twice.measured_twice"


@pytest.mark.parametrize("absent", [(), (8,)])
def test_of_birds_met_again_in_order_the_row_that_breaks_it_is_wrong(absent: tuple[int, ...]) -> None:
    rows = broods(3, 9, 4)
    again = change(seen_again(rows), 4, ring="SV01037")
    # SV01039, a digit away from SV01037 as SV01035 is, was not met again
    again = [row for i, row in enumerate(again) if i not in absent]
    answers = ask(RULE, typed_season(handlings=rows + again))
    label = f"handlings!{len(rows) + 4 + 2}"
    assert blamed(answers) == {(label, "ring"): ("ring_twice.in_visit", "SV01035")}


def test_a_bird_measured_twice_is_only_a_note() -> None:
    rows = [{**row, "tag": f"99900000000{1000 + i}"} for i, row in enumerate(broods(3, 5, 4))]
    rows.insert(6, {**rows[5], "wing_mm": 91})
    (answer,) = ask(RULE, typed_season(handlings=rows))
    assert isinstance(answer, Finding)
    assert (answer.rule, answer.severity) == ("ring_twice.measured_twice", "note")


def test_a_brood_ringed_again_is_seen_again() -> None:
    rows = broods(3, 5, 4)
    again = [{**row, "event": "ringed"} for row in seen_again(rows[3:8])]
    answers = ask(RULE, typed_season(handlings=rows + again))
    found = blamed(answers)
    assert set(found) == {(f"handlings!{row}", "event") for row in range(14, 19)}
    assert set(found.values()) == {("ring_twice.ringed_again", "re-encountered")}
    assert len(messages(answers)) == 1


def test_a_bird_ringed_again_from_a_box_in_doubt_is_told_by_its_tag() -> None:
    rows = [{**row, "tag": f"99910400000{i:04d}"} for i, row in enumerate(broods(3, 5, 4))]
    rows[3] = {**rows[3], "box": None}
    seen = {**rows[3], "event": "ringed", "box": "SL-02", "date": rows[-1]["date"]}
    answers = ask(RULE, typed_season(handlings=[*rows, seen]))
    assert blamed(answers) == {("handlings!14", "event"): ("ring_twice.ringed_again", "re-encountered")}
    (message,) = messages(answers)
    assert "was put on at a visit whose box is in doubt already: on" in message


def test_a_bird_first_ringed_among_its_nest_mates_was_not_seen_again() -> None:
    rows = change(broods(3, 5, 4), 5, event="re-encountered")
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!7", "event"): ("ring_twice.never_ringed", "ringed")}


def test_a_bird_met_before_may_get_a_ring_of_this_day() -> None:
    # 01036 is met again on the day of the next brood and gets a ring of its string
    rows = [{**row, "tag": f"99900000000{row['ring'][2:]}9"[:15]} for row in broods(3, 5, 4)]
    again = {**rows[5], "date": rows[8]["date"], "event": "re-encountered", "ring": "SV01043"}
    joined = [*rows, again, {**rows[8], "box": rows[5]["box"], "ring": "SV01044", "tag": None}]
    silent = [{**row, "tag": None} for row in joined]
    assert ("handlings!14", "event") in blamed(ask(RULE, typed_season(handlings=silent)))
    assert blamed(ask(RULE, typed_season(handlings=joined))) == {}
    told = change(silent, 12, remarks="worn, new ring")
    assert blamed(ask(RULE, typed_season(handlings=told))) == {}


def test_events_exchanged_between_two_visits() -> None:
    rows = broods(3, 5, 4)
    rows += seen_again(rows)
    rows = change(change(rows, 5, event="re-encountered"), 17, event="ringed")
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {
        ("handlings!7", "event"): ("ring_twice.seen_before_ringed", "ringed"),
        ("handlings!19", "event"): ("ring_twice.seen_before_ringed", "re-encountered"),
    }


def test_one_bird_in_two_boxes_on_one_day() -> None:
    rows = broods(3, 5, 4)
    again = seen_again(rows, days=20)
    again = [{**row, "date": again[0]["date"]} for row in again]
    answers = ask(RULE, typed_season(handlings=rows + change(again, 8, ring="SV01037")))
    assert blamed(answers) == {("handlings!22", "ring"): ("ring_twice.two_boxes", "SV01039")}


def test_a_chick_that_was_moved_to_another_box_may_be_in_both_on_one_day() -> None:
    rows = broods(3, 5, 4)
    again = seen_again(rows, days=20)
    again = [{**row, "date": again[0]["date"]} for row in again]

    def rules(remark: str) -> set[str]:
        typed = rows + change(again, 8, ring="SV01037", remarks=remark)
        return {rule for rule, _ in blamed(ask(RULE, typed_season(handlings=typed))).values()}

    assert rules("Fostered, from SL-03") == rules("was moved to a smaller brood") == set()
    assert rules("a tick removed") == {"ring_twice.two_boxes"}


def test_two_rings_that_nothing_tells_apart_share_the_blame() -> None:
    rows = change(broods(1, 1, 1, 1, 1, 1, 1), 0, ring="SV07777")
    rows = change(rows, 5, ring="SV07777")
    answers = ask(RULE, typed_season(handlings=rows))
    (finding,) = [a for a in answers if isinstance(a, Finding)]
    assert sum(s.p_error for s in finding.suspects) == pytest.approx(1)


@pytest.mark.parametrize(
    ("seed", "options"), [(1, {}), (2, {"event": False}), (3, {"visits": 3}), (4, {"ringers": 1})]
)
def test_a_clean_round_is_innocent(options: dict, seed: int) -> None:
    tables = clean_round(30, seed=seed, **options)
    rows = old_birds(tables["handlings"])
    for handlings in (rows, sorted(rows, key=lambda row: (row["box"], row["ring"]))):
        answers = ask(RULE, typed_season(handlings=handlings, ring_losses=tables["ring_losses"]))
        assert blamed(answers) == {}


def test_without_events_an_old_bird_in_another_box_was_not_ringed_there() -> None:
    rows = broods(3, 5, 4, 2, 3)
    last_year = [{**row, "date": row["date"].replace(year=2025)} for row in broods(1, start=1938)]
    old = change(rows, 7, ring="SV01938", age="5")
    typed = [{k: v for k, v in row.items() if k != "event"} for row in [*last_year, *old]]
    assert blamed(ask(RULE, typed_season(handlings=typed))) == {}
