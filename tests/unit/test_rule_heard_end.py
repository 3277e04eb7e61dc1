"""Is any tag heard after its bird was found dead?"""

from __future__ import annotations

import datetime as dt

from heard_season import BOX, DAY, OTHER, brood, heard, heard_season, tag
from typed_season import ask, blamed

from audit.rules.heard_end import RULE


def dead(rows, days, **said):
    """The first bird of a brood, found dead so many days later."""
    found = rows[0] | {"date": DAY + dt.timedelta(days=days), "event": "re-encountered"} | said
    return [*rows, found]


def test_heard_long_after_it_was_dead(declared):
    rows = dead(brood(3), 2, condition="dead")
    (finding,) = ask(RULE, heard_season(declared, rows, heard(tag(10), BOX, nights=12)))
    assert blamed([finding]) == {("handlings!2", "tag"): ("heard_end.after_death", "")}
    assert [(cell.label, cell.field) for cell in finding.witnesses] == [("handlings!5", "date")]
    assert finding.message == (
        f"Tag {tag(10)} is heard at box SL-01 on 9 nights up to 2026-06-14, although its bird was found "
        "dead on "
        "2026-06-05: another bird died, or the tag is another's."
    )


def test_a_carcass_beside_the_antenna_is_worth_a_note(declared):
    rows = dead(brood(3), 8, remarks="found dead in the box")
    (finding,) = ask(RULE, heard_season(declared, rows, heard(tag(10), BOX, nights=11)))
    assert (finding.rule, finding.severity) == ("heard_end.carcass", "note")


def test_heard_until_the_day_is_innocent(declared):
    rows = dead(brood(3), 9, condition="dead")
    assert ask(RULE, heard_season(declared, rows, heard(tag(10), BOX))) == []


def test_a_tag_taken_off_and_fitted_again_is_innocent(declared):
    rows = dead(brood(3), 2, condition="dead")
    rows.append(
        rows[1] | {"ring": "SV02000", "tag": tag(10), "box": OTHER, "date": DAY + dt.timedelta(days=4)}
    )
    assert ask(RULE, heard_season(declared, rows, heard(tag(10), OTHER, since=5))) == []


def test_a_lost_tag_in_the_nest_is_worth_a_note(declared):
    rows = brood(3)
    rows.append(
        rows[0] | {"tag": tag(20), "event": "re-encountered", "date": DAY + dt.timedelta(days=4)},
    )
    (finding,) = ask(RULE, heard_season(declared, rows, heard(tag(10), BOX)))
    assert (finding.rule, finding.severity) == ("heard_end.old_tag", "note")
    assert finding.message == (
        f"Tag {tag(10)} is heard at box SL-01 on 5 nights up to 2026-06-12, although its bird had another "
        "tag from "
        "2026-06-07 on; a tag lost in the nest is read on."
    )


def test_without_a_log_there_is_nothing_to_say(declared):
    assert ask(RULE, heard_season(declared, brood(2), [])) == []
