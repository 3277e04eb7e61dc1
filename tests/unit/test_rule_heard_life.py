"""Does each tag lead the life of its bird at the antennas? Each outcome, each innocent look-alike."""

from __future__ import annotations

import datetime as dt

import pytest
from heard_season import BOX, DAY, OTHER, brood, heard, heard_season, tag
from typed_season import ask, blamed

from audit.findings import NotRun
from audit.rules.heard_life import RULE

MISTYPED = "999104000000910"


def findings(season, doubted=frozenset()):
    return [answer for answer in ask(RULE, season, doubted=doubted) if not isinstance(answer, NotRun)]


def home(*numbers, box=BOX, **also):
    return [line for number in numbers for line in heard(tag(number), box, **also)]


def test_a_brood_heard_at_home_is_innocent(declared):
    assert findings(heard_season(declared, brood(4), home(10, 11, 12, 13))) == []


def test_without_a_log_the_rule_says_so(declared):
    assert [part.reason for part in ask(RULE, heard_season(declared, brood(2), []))] == [
        "there is no log of box antennas"
    ]


def test_the_tag_that_is_heard_instead_is_suggested(declared):
    rows = brood(4)
    rows[0]["tag"] = MISTYPED
    season = heard_season(declared, rows, home(10, 11, 12, 13))
    (finding,) = findings(season)
    assert blamed([finding]) == {("handlings!2", "tag"): ("heard_life.another_heard", tag(10))}
    assert finding.message == (
        f"Tag {MISTYPED} was never heard at box SL-01, where 3 of 3 others of that time were heard, on 10 "
        "nights; "
        f"{tag(10)} was heard there on 10 nights from 2026-06-03 on, is in stock and stands on no row."
    )
    assert finding.suspects[0].p_error > 0.95


def test_from_the_reads_it_is_the_same(declared):
    rows = brood(4)
    rows[0]["tag"] = MISTYPED
    nights = heard_season(declared, rows, home(10, 11, 12, 13))
    reads = heard_season(declared, rows, home(10, 11, 12, 13), as_reads=True)
    (one,), (other,) = findings(nights), findings(reads)
    assert (one.message, one.suspects) == (other.message, other.suspects)


def test_a_tag_that_another_rule_doubts_is_confirmed(declared):
    rows = brood(4)
    rows[0]["tag"] = MISTYPED
    season = heard_season(declared, rows, home(10, 11, 12, 13))
    (finding,) = findings(season, frozenset({("handlings!2", "tag")}))
    assert finding.suspects[0].suggested == tag(10)


def test_a_tag_that_is_never_heard_is_worth_a_note_only(declared):
    (finding,) = findings(heard_season(declared, brood(4), home(11, 12, 13)))
    assert (finding.rule, finding.severity) == ("heard_life.never", "note")
    assert finding.message == (
        f"Tag {tag(10)} was never heard at box SL-01, where 3 of 3 others of that time were heard, on 10 "
        "nights; "
        "the bird may have died, or lost its tag."
    )


def test_where_nobody_is_heard_the_antennas_may_have_been_dead(declared):
    assert findings(heard_season(declared, brood(4), home(11, nights=2))) == []


def test_an_old_bird_need_not_come_back(declared):
    rows = brood(4)
    rows[0]["age"] = "4"
    assert findings(heard_season(declared, rows, home(11, 12, 13))) == []


def test_a_stranger_is_not_taken_for_a_sibling(declared):
    stranger = heard("528140000795552", BOX)
    (finding,) = findings(heard_season(declared, brood(4), [*home(11, 12, 13), *stranger]))
    assert finding.rule == "heard_life.never"


def test_a_tag_left_out_is_found(declared):
    rows = brood(4)
    rows[2]["tag"] = None
    (finding,) = findings(heard_season(declared, rows, home(10, 11, 12, 13)))
    assert blamed([finding]) == {("handlings!4", "tag"): ("heard_life.left_out", tag(12))}
    assert finding.message == (
        f"No tag is given, but tag {tag(12)} was heard at box SL-01 on 10 nights from 2026-06-03 on, is in "
        "stock "
        "and stands on no row."
    )


def test_a_tag_heard_elsewhere_before_it_was_fitted(declared):
    early = heard(tag(10), OTHER, since=-20)
    (finding,) = findings(heard_season(declared, brood(4), [*home(11, 12, 13), *early]))
    assert blamed([finding]) == {("handlings!2", "tag"): ("heard_life.before_tag", "")}
    assert finding.message == (
        f"Tag {tag(10)} was heard at box SL-02 on 10 nights from 2026-05-14 on, before it was fitted at box "
        "SL-01 "
        "on 2026-06-03."
    )


def test_heard_at_home_too_early_the_date_is_wrong(declared):
    rows = brood(4)
    rows[0]["date"] = DAY + dt.timedelta(days=10)
    (finding,) = findings(heard_season(declared, rows, home(10, 11, 12, 13)))
    assert blamed([finding]) == {("handlings!2", "date"): ("heard_life.before_date", "2026-06-03")}
    assert finding.message == (
        f"Tag {tag(10)} was heard at its box SL-01 on 9 nights from 2026-06-03 on, before it was fitted on "
        "2026-06-13, when 3 others of its box were ringed on 2026-06-03."
    )


@pytest.mark.parametrize("since", [-1, 0])
def test_a_tag_may_be_tried_or_a_clock_be_an_hour_off(declared, since):
    assert findings(heard_season(declared, brood(4), home(10, 11, 12, 13, since=since))) == []


def test_one_night_earlier_is_a_tag_tried_out(declared):
    tried = heard(tag(10), BOX, since=-14, nights=1)
    assert findings(heard_season(declared, brood(4), [*home(10, 11, 12, 13), *tried])) == []


def test_a_bird_that_had_its_tag_before_may_be_heard_before(declared):
    rows = brood(4)
    rows[0] |= {"event": "re-encountered", "age": "4"}
    before = heard(tag(10), BOX, since=-20)
    assert findings(heard_season(declared, rows, [*home(10, 11, 12, 13), *before])) == []


def test_most_of_a_box_too_early_is_its_clock(declared):
    (finding,) = findings(heard_season(declared, brood(4), home(10, 11, 12, 13, since=-30)))
    assert (finding.rule, finding.severity) == ("heard_life.all_early", "note")
    assert finding.message == (
        "4 tags of box SL-01 are heard there up to 30 days before they were fitted on 2026-06-03, the first "
        "on "
        "2026-05-04: the logger's clock was wrong, or the day of that visit is."
    )


def test_a_nestling_heard_at_another_box_only(declared):
    away = heard(tag(10), OTHER, since=3)
    (finding,) = findings(heard_season(declared, brood(4), [*home(11, 12, 13), *away]))
    assert finding.rule == "heard_life.elsewhere_only"
    assert blamed([finding]) == {("handlings!2", "tag"): ("heard_life.elsewhere_only", "")}
    both = [*brood(4), *brood(1, box=OTHER, first=30)]
    (finding,) = findings(heard_season(declared, both, [*home(11, 12, 13), *away, *home(30, box=OTHER)]))
    assert blamed([finding])["handlings!2", "box"] == ("heard_life.elsewhere_only", OTHER)


def test_a_nestling_that_was_moved_with_a_remark_is_innocent(declared):
    rows = brood(4)
    rows[0]["remarks"] = f"moved to {OTHER}"
    away = heard(tag(10), OTHER, since=3)
    assert findings(heard_season(declared, rows, [*home(11, 12, 13), *away])) == []


def test_who_wanders_after_its_first_flight_is_worth_a_note(declared):
    away = heard(tag(10), OTHER, since=12, nights=3)
    (finding,) = findings(heard_season(declared, brood(4), [*home(10, 11, 12, 13), *away]))
    assert (finding.rule, finding.severity) == ("heard_life.also_elsewhere", "note")
    assert finding.message == (
        f"Tag {tag(10)} of box SL-01 was also heard at box SL-02 on 3 nights from 2026-06-15 on."
    )


def test_two_tags_each_at_the_others_box_were_exchanged(declared):
    rows = [*brood(4), *brood(4, box=OTHER, first=30)]
    rows[0]["tag"], rows[4]["tag"] = rows[4]["tag"], rows[0]["tag"]
    lines = [*home(10, 11, 12, 13), *home(30, 31, 32, 33, box=OTHER)]
    (finding,) = findings(heard_season(declared, rows, lines))
    assert blamed([finding]) == {
        ("handlings!2", "tag"): ("heard_life.exchanged", tag(10)),
        ("handlings!6", "tag"): ("heard_life.exchanged", tag(30)),
    }


def test_a_brood_heard_at_another_box_is_a_log_of_another_name(declared):
    (finding,) = findings(heard_season(declared, brood(4), home(10, 11, 12, 13, box=OTHER)))
    assert (finding.rule, finding.severity) == ("heard_life.log_elsewhere", "note")
    assert finding.suspects[0].cell.field == "box"


def test_noise_and_markers_are_nobody(declared):
    rows = brood(4)
    rows[0]["tag"] = MISTYPED
    noise = heard(tag(10), BOX, nights=1, reads=1)
    (finding,) = findings(heard_season(declared, rows, [*home(11, 12, 13), *noise]))
    assert finding.rule == "heard_life.never"
    marked = [line | {"what": "marker"} for line in home(10)]
    (finding,) = findings(heard_season(declared, rows, [*home(11, 12, 13), *marked]))
    assert finding.rule == "heard_life.never"


def test_one_heard_tag_is_on_one_bird_only(declared):
    """Two wrong tags and one heard: by chance's rules it cannot be of both with more than one half each."""
    rows = brood(5)
    rows[0]["tag"], rows[1]["tag"] = "999104000000910", "999104000000911"
    season = heard_season(declared, rows, home(10, 12, 13, 14))
    claims = [
        suspect.p_fix or 0.0
        for finding in findings(season)
        for suspect in finding.suspects
        if suspect.suggested == tag(10)
    ]
    assert claims
    assert sum(claims) <= 1 + 1e-9
