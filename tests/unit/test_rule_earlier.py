"""Birds met again beside what earlier seasons say of them: slips, and what is no slip."""

from __future__ import annotations

import pytest
from typed_season import ask, blamed, typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.rules.case import Case
from audit.rules.earlier import RULE
from audit.rules.earlier_accounts import Account, weigh
from audit.rules.earlier_birds import earlier_birds, earlier_rings, earlier_tags

DECLARED = load_declarations()
TAGS = [f"9990001234{n:05d}" for n in range(10_000, 10_900, 37)]


def then(n, **changes):
    """One nestling of last year: ring SV01001 and up, two to a box."""
    return {
        "date": "2025-06-10",
        "box": f"SL-{(n + 1) // 2:02d}",
        "species": "barn_owl",
        "ring": f"SV{1000 + n:05d}",
        "tag": TAGS[n],
        "age": "1",
        "event": "ringed",
        **changes,
    }


def now(n, **changes):
    """A female that was a nestling last year and breeds in the same box."""
    row = {**then(n), "date": "2026-06-01", "age": "5", "event": "re-encountered", "sex": "F", **changes}
    return {key: value for key, value in row.items() if value is not None}


def young(n, **changes):
    """A nestling of this year."""
    return {**then(1), "date": "2026-06-01", "ring": f"SV{2000 + n:05d}", "tag": TAGS[-n], **changes}


def season_of(*rows, earlier=None):
    early = earlier or [then(n) for n in range(1, 17)]
    mates = [now(n, box=f"SL-{(n + 1) // 2:02d}") for n in range(9, 17)]
    return typed_season(DECLARED, handlings=[*rows, *mates], earlier=early)


def findings(season):
    return [answer for answer in ask(RULE, season, DECLARED) if hasattr(answer, "suspects")]


def one(*rows, **given):
    found = findings(season_of(*rows, **given))
    assert len(found) == 1, [finding.message for finding in found]
    return found[0]


# --- nothing wrong


@pytest.mark.parametrize(
    "row",
    [
        now(1),
        now(1, box="SL-09"),
        now(1, age="4"),
        now(1, tag=None),
        now(1, event=None),
        now(1, species=None, sex=None, age=None),
        # tagged again, and said so
        now(1, tag="999000999999999", remarks="tag lost, new tag fitted"),
        # rings that earlier seasons do not hold: of others, of an older series, of another scheme
        now(1, ring="GH12345", tag=None),
        now(1, ring="4073211", tag="999000777777777"),
        now(1, ring="SV00217", tag=None),
        now(1, ring="SV09876", tag=None),
        # one slip from an earlier ring, but a nestling that is ringed now
        young(1, ring="SV01101"),
        now(1, ring="SV02345", event="ringed", age="4", remarks="re-ringed, old ring worn"),
        # the ring of then is named, whatever the words
        now(1, ring="SV02345", event="re-encountered", age="4", remarks="SV 01001 ersetzt durch SV 02345"),
    ],
)
def test_a_bird_met_again_is_no_slip(row):
    assert findings(season_of(row)) == []


def test_without_earlier_seasons_the_rule_says_so():
    season = typed_season(DECLARED, handlings=[now(1)])
    assert RULE.missing(season) == "no earlier season was given"


def test_a_bird_that_had_no_tag_may_get_one():
    early = [then(n) for n in range(2, 17)] + [then(1, tag=None)]
    assert findings(season_of(now(1), earlier=early)) == []


def test_a_new_tag_without_a_remark_is_a_note():
    finding = one(now(1, tag="999000999999999"))
    assert (finding.rule, finding.severity) == ("earlier.new_tag", "note")
    assert finding.message == (
        f"Ring SV01001 had tag {TAGS[1]} on 2025-06-10 and has 999000999999999 now, and no remark says that "
        "it was tagged again."
    )


# --- ring and tag


def test_a_misread_ring_is_mended_by_the_tag():
    finding = one(now(1, ring="SV01801"))
    assert (finding.rule, finding.severity) == ("earlier.ring", "error")
    assert [(s.cell.label, s.cell.field, s.suggested) for s in finding.suspects] == [
        ("handlings!2", "ring", "SV01001")
    ]
    assert finding.suspects[0].p_error > 0.85
    assert finding.message.startswith(
        f"Tag {TAGS[1]} was on ring SV01001 on 2025-06-10, not on SV01801: SV01001 was probably meant."
    )
    assert {cell.label for cell in finding.witnesses} == {"earlier!2"}


def test_a_ring_with_a_lost_digit_is_mended_by_the_tag():
    season = season_of(now(1, ring="SV0101"))
    suggested = {
        (suspect.cell.field, suspect.suggested)
        for finding in check(season, schemas=DECLARED).above_notes
        for suspect in finding.suspects
        if finding.rule == "earlier.ring"
    }
    assert suggested == {("ring", "SV01001")}


def test_a_mistyped_tag_is_mended_by_the_ring():
    slipped = TAGS[1][:7] + "7" + TAGS[1][8:]
    finding = one(now(1, tag=slipped))
    assert (finding.rule, finding.suspects[0].suggested) == ("earlier.tag", TAGS[1])
    assert finding.suspects[0].p_error > 0.85


def test_two_earlier_birds_of_one_box_told_apart_by_the_tag():
    # ring of the one, tag of the other, and their rings are one digit apart
    finding = one(now(1, ring="SV01002"))
    assert finding.rule == "earlier.other_tag"
    assert finding.suspects[0].cell.field == "ring"
    assert finding.suspects[0].suggested == "SV01001"


def test_what_the_reader_stored_that_day_stands():
    # last year's tag was mistyped then, and this year's is the one that was read
    slipped = TAGS[1][:7] + "7" + TAGS[1][8:]
    rows = [now(1, tag=slipped), *(now(n) for n in range(9, 17))]
    reads = [{"read_at": "2026-06-01 10:00", "tag": row["tag"], "reader": "H1"} for row in rows]
    early = [then(n) for n in range(1, 17)]
    season = typed_season(DECLARED, handlings=rows, earlier=early, tag_reads=reads)
    assert findings(season) == []


def test_an_unknown_ring_one_slip_from_an_earlier_bird_of_the_box():
    finding = one(now(1, ring="SV01801", tag=None), earlier=[then(n, tag=None) for n in range(1, 17)])
    assert (finding.rule, finding.severity) == ("earlier.ring_unknown", "suspect")
    assert finding.suspects[0].suggested == "SV01001"
    assert finding.message.startswith(
        "Ring SV01801 is not known from earlier seasons, which hold most rings of its series that are met "
        "again; SV01001, one slip away, was met in box SL-01 on 2025-06-10"
    )


def test_where_few_are_known_an_unknown_ring_tells_nothing():
    strangers = [now(1, box=f"SL-{40 + n}", ring=f"SV0{6000 + 137 * n}", tag=None) for n in range(20)]
    season = season_of(
        now(1, ring="SV01801", tag=None), *strangers, earlier=[then(n, tag=None) for n in range(1, 17)]
    )
    assert findings(season) == []


def test_a_ring_that_two_visits_show_is_no_slip():
    rows = [now(1, ring="SV01801", tag=None, date=date) for date in ("2026-06-01", "2026-06-12")]
    assert findings(season_of(*rows, earlier=[then(n, tag=None) for n in range(1, 17)])) == []


# --- what the bird was


def test_a_ring_of_last_year_is_not_put_on_again():
    finding = one(now(1, event="ringed"))
    assert (finding.rule, finding.suspects[0].suggested) == ("earlier.event", "re-encountered")
    assert finding.message.startswith(
        "Ring SV01001 is said to be put on now, but was on a bird on 2025-06-10, in box SL-01: event "
        "re-encountered was probably meant."
    )


def test_a_nestling_with_a_ring_of_last_year_has_another_ring():
    rows = [young(n) for n in (1, 2, 4, 5)]
    finding = one(
        rows[0], rows[1], young(3, ring="SV01003"), *rows[2:], earlier=[then(n) for n in range(1, 17)]
    )
    assert finding.rule == "earlier.event"
    assert [(s.cell.field, s.suggested) for s in finding.suspects] == [("ring", "SV02003")]


def test_a_team_that_writes_ringed_for_all():
    rows = [now(n, event="ringed") for n in range(1, 9)]
    season = typed_season(DECLARED, handlings=rows, earlier=[then(n) for n in range(1, 17)])
    answers = ask(RULE, season, DECLARED)
    assert [answer.rule for answer in answers] == ["earlier.event"]
    assert not hasattr(answers[0], "suspects")


def test_a_bird_of_last_year_is_no_nestling():
    finding = one(now(1, age="1"))
    assert finding.rule == "earlier.nestling"
    assert [(s.cell.field, s.suggested) for s in finding.suspects] == [("age", "5")]


def test_the_age_of_a_bird_ringed_as_a_nestling_is_known():
    finding = one(now(1, age="6"))
    assert (finding.rule, finding.suspects[0].suggested) == ("earlier.age", "5")
    assert finding.message.startswith("Ring SV01001: age 6 now, but 1 on 2025-06-10, and both cannot be true")


def test_of_two_ages_by_feathers_either_may_be_wrong():
    early = [then(n) for n in range(2, 17)] + [then(1, age="6")]
    assert one(now(1, age="5"), earlier=early).severity == "note"


def test_another_species():
    finding = one(now(1, species="common_kestrel"))
    assert [(s.cell.field, s.suggested) for s in finding.suspects] == [("species", "barn_owl")]


def test_another_sex_is_a_note_after_one_meeting_and_a_suspect_after_two():
    once = then(1, age="4", sex="M", event="re-encountered")
    early = [then(n) for n in range(2, 17)] + [once]
    finding = one(now(1, age="6"), earlier=early)
    assert (finding.rule, finding.severity) == ("earlier.sex_other", "note")
    finding = one(now(1, age="6"), earlier=[*early, {**once, "date": "2025-07-02"}])
    assert (finding.rule, finding.severity) == ("earlier.sex", "suspect")
    assert finding.suspects[0].suggested == "M"


def test_a_wing_that_another_season_denies():
    early = [then(n) for n in range(2, 17)] + [then(1, age="4", wing_mm=290.0)]
    finding = one(now(1, age="6", wing_mm=250.0), earlier=early)
    assert (finding.rule, finding.suspects[0].cell.field) == ("earlier.wing", "wing_mm")
    assert findings(season_of(now(1, age="6", wing_mm=284.0), earlier=early)) == []
    # then it was the earlier one
    early[-1]["wing_mm"] = 250.0
    assert findings(season_of(now(1, age="6", wing_mm=290.0), earlier=early)) == []


def test_a_day_before_the_bird_was_ringed():
    finding = one(now(1, date="2025-06-01"), *(now(n, box="SL-09") for n in range(1, 9)), *[now(9)] * 12)
    assert finding.rule == "earlier.before"
    assert {suspect.cell.field for suspect in finding.suspects} <= {"date", "ring"}


# --- evidence for others


def test_no_cell_of_an_earlier_season_is_blamed():
    early = [then(n, ring="SV0100l", tag="x", age="Z", species="?") for n in range(1, 17)]
    report = check(season_of(now(1), earlier=early), schemas=DECLARED)
    assert all(s.cell.sheet != "earlier" for finding in report.findings for s in finding.suspects)


def test_rings_and_tags_that_were_on_birds():
    case = Case(season_of(now(1)), DECLARED, DECLARED.rules["earlier"])
    assert "SV01001" in earlier_rings(case)
    assert TAGS[1] in earlier_tags(case)
    assert [meeting.date for meeting in earlier_birds(case).of_ring["SV01001"]] == ["2025-06-10"]
    bare_case = Case(typed_season(DECLARED, handlings=[now(1)]), DECLARED, DECLARED.rules["earlier"])
    assert earlier_rings(bare_case) == earlier_tags(bare_case) == frozenset()


SCENES = {
    "date": [now(1, age="6")],
    "box": [now(1, ring="SV01801", tag=None)],
    "species": [now(1, species="common_kestrel")],
    "ring": [now(1, age="6")],
    "tag": [now(1, ring="SV01801")],
    "age": [now(1, age="6")],
    "event": [now(1, ring="SV01801", tag=None)],
    "sex": [now(1, age="6", sex="F")],
    "wing_mm": [now(1, age="6", wing_mm=250.0)],
}


@pytest.mark.parametrize("field", sorted(SCENES))
def test_every_earlier_column_matters(field):
    early = [then(n, tag=None if n > 1 else TAGS[n]) for n in range(2, 17)]
    early.append(then(1, age="4" if field in ("sex", "wing_mm") else "1", sex="M", wing_mm=290.0))
    if field in ("box", "event"):
        early[-1]["tag"] = None
    without = [{key: value for key, value in row.items() if key != field} for row in early]
    if field == "event":
        without = [{**row, "event": "re-encountered"} for row in early]
    # the date and the ring are needed; mix them up instead
    if field in ("date", "ring"):
        turned = [*early[1:], early[0]]
        without = [{**row, field: other[field]} for row, other in zip(early, turned, strict=True)]
        without = [{**row, "date": "2020-06-10"} for row in early] if field == "date" else without

    def told(rows):
        found = findings(season_of(*SCENES[field], earlier=rows))
        return [
            (finding.message, [(s.cell.label, s.suggested, s.p_error) for s in finding.suspects])
            for finding in found
        ]

    assert told(early) != told(without)


def test_no_other_column_of_either_season_matters():
    extra = {"ring_leg": "R", "tag_leg": "L", "net_g": 350.0, "ringer": "AB", "remarks": "all well"}
    rows = [now(1, ring="SV01801"), now(2, age="6"), now(3, event="ringed"), now(4, tag="999000999999999")]
    early = [then(n) for n in range(1, 17)]
    answers = [
        [(finding.message, [s.p_error for s in finding.suspects]) for finding in findings(season)]
        for season in (
            season_of(*rows, earlier=early),
            season_of(*rows, earlier=[{**row, **extra} for row in early]),
        )
    ]
    assert len(answers[0]) > 3
    assert answers[0] == answers[1]
    assert heeded_of_earlier() == {"date", "box", "species", "ring", "tag", "age", "event", "sex", "wing_mm"}


def heeded_of_earlier():
    return set(RULE.heeds["earlier"])


def test_accounts_are_weighed_by_bayes():
    # 3 : 1 : 1
    verdict = weigh([Account(3.0, "ring", "A"), Account(1.0, "ring", "B"), Account(1.0, why="nothing")])
    assert verdict.wrong == {"ring": pytest.approx(0.8)}
    assert verdict.meant["ring"] == {"A": pytest.approx(0.6), "B": pytest.approx(0.2)}
    assert weigh([]).wrong == {}


def test_a_blamed_cell_is_no_witness():
    season = season_of(now(1, tag=TAGS[1][:7] + "7" + TAGS[1][8:]))
    assert blamed(ask(RULE, season, DECLARED)) != {}
    assert blamed(ask(RULE, season, DECLARED, frozenset({("handlings!2", "tag")}))) == {}


def test_a_nestling_whose_ringing_is_nowhere_is_no_bird_of_years_ago():
    # its ring is one slip from one of last year, but that bird is full-grown by now
    nestling = {"ring": "SV01101", "tag": None, "age": "1", "sex": None, "wing_mm": 150}
    assert findings(season_of(now(1, **nestling))) == []
    grown = now(1, **nestling | {"age": "5", "wing_mm": None})
    assert [finding.rule for finding in findings(season_of(grown))] == ["earlier.ring_unknown"]
