"""After one edited cell: what is asked again and what is kept say the same as a whole check."""

from __future__ import annotations

import pytest
from dirty_seasons import declared, dirty_season
from odd_edits import edits_of
from typed_season import typed_season

from audit.checked import Stopped, check_closely, recheck, recheck_all
from audit.checking import check
from audit.declarations import load_declarations
from audit.explain.neighbourhood import neighbourhood
from audit.refusal import Refusal
from audit.rules import RULES
from audit.rules.case import At
from audit.rules.layouts import Layouts
from audit.rules.round import ask, ask_all
from audit.rules.rule import Rule

#: Rows that are not weighed again may differ by so much in a probability: the season has moved a little.
MOST = 0.02
#: Edits one upon the other in each of the seasons.
EDITS = 6
#: Cells edited at once, one lot upon the other.
AT_ONCE = (2, 17, 40)
SEASONS = (
    ("first", 31, 10, ""),
    ("first", 32, 14, ""),
    ("other", 33, 10, "mixed"),
    ("other", 34, 12, "two_species"),
    ("other", 35, 10, "mixed"),
)


def typed_in(season, label, field):
    return season.tables[season.table_of(label)].typed.at[label, field]


def told(finding):
    return finding.rule, finding.severity, frozenset((s.cell.label, s.cell.field) for s in finding.suspects)


def chances(finding):
    return [p for s in finding.suspects for p in (s.p_error, s.p_fix) if p is not None]


def shown(finding):
    return [(s.cell, s.suggested) for s in finding.suspects]


def differences(again, whole, near):
    """What a recheck says otherwise than a whole check."""
    wrong = []
    if (again.not_run, again.rules_run) != (whole.not_run, whole.rules_run):
        wrong.append(("not run", again.not_run, whole.not_run))
    was, now = ({told(finding): finding for finding in report.findings} for report in (whole, again))
    wrong += [("lost" if key in was else "made", key) for key in was.keys() ^ now.keys()]
    for key in was.keys() & now.keys():
        one, other = was[key], now[key]
        close = chances(one) == pytest.approx(chances(other), abs=MOST)
        same = [(s.cell, s.suggested) for s in one.suspects] == [
            (s.cell, s.suggested) for s in other.suspects
        ]
        if not (close and same) or one.witnesses != other.witnesses:
            wrong.append(("otherwise", one, other))
        elif any(label in near for label, _ in key[2]) and one != other:
            wrong.append(("near", one, other))
    return wrong


@pytest.mark.parametrize("place", range(len(SEASONS)))
def test_an_edited_cell_is_seen_as_by_a_whole_check(place):
    checked = check_closely(dirty_season(*SEASONS[place]), declared(), RULES)
    edits = edits_of(checked.season, place)
    for _ in range(EDITS):
        label, field, text = next(edits)
        before, was = checked.season, checked
        checked = recheck(checked, label, field, text)
        if checked is was:
            continue
        whole = check(checked.season, schemas=declared())
        table = checked.season.table_of(label)
        weighed = any(rule.minds({(table, field)}) for rule in RULES if rule.slug in ("tare", "growth"))
        near = neighbourhood((before, checked.season), {label}) if weighed else frozenset()
        assert differences(checked.report, whole, near) == [], (label, field, text)


@pytest.mark.parametrize("place", range(len(SEASONS)))
def test_cells_edited_at_once_are_seen_as_by_a_whole_check_and_taken_back(place):
    first = checked = check_closely(dirty_season(*SEASONS[place]), declared(), RULES)
    edits = edits_of(checked.season, place + 50)
    undo = []
    for number in AT_ONCE:
        some = [next(edits) for _ in range(number)]
        undo += [(label, field, typed_in(first.season, label, field)) for label, field, _ in some]
        checked = recheck_all(checked, some)
        assert differences(checked.report, check(checked.season, schemas=declared()), ()) == [], some
    again = recheck_all(checked, undo)
    assert again.season.readings == first.season.readings
    assert differences(again.report, first.report, ()) == []
    assert [answer.findings for answer in again.answers] == [answer.findings for answer in first.answers]


def test_an_edit_taken_back_gives_the_former_report():
    first = check_closely(dirty_season(*SEASONS[1]), declared(), RULES)
    edits = edits_of(first.season, 3)
    for _ in range(8):
        label, field, text = next(edits)
        there = recheck(first, label, field, text)
        back = recheck(there, label, field, typed_in(first.season, label, field))
        assert differences(back.report, first.report, ()) == [], (label, field, text)


def test_edits_at_once_are_as_edits_one_after_the_other():
    checked = check_closely(dirty_season(*SEASONS[0]), declared(), RULES)
    edits = edits_of(checked.season, 77)
    some = [next(edits) for _ in range(6)]
    one_by_one = checked
    for edit in some:
        one_by_one = recheck(one_by_one, *edit)
    at_once = recheck_all(checked, some)
    assert differences(at_once.report, one_by_one.report, ()) == []
    assert [answer.findings for answer in at_once.answers] == [
        answer.findings for answer in one_by_one.answers
    ]


def test_a_whole_check_is_the_same_as_before():
    season = dirty_season(*SEASONS[0])
    assert check_closely(season, declared(), RULES).report == check(season, schemas=declared())


@pytest.mark.parametrize("place", range(len(SEASONS)))
def test_what_rules_lay_out_together_they_would_have_laid_out_alone(place):
    season = dirty_season(*SEASONS[place])
    doubted: frozenset[tuple[str, str]] = frozenset()
    for rule, answer in zip(RULES, ask_all(season, declared(), RULES, Layouts()), strict=True):
        assert ask(rule, season, declared(), doubted) == answer
        doubted = answer.doubted


def test_nothing_is_asked_again_about_a_cell_that_stays_as_it_is():
    checked = check_closely(dirty_season(*SEASONS[0]), declared(), RULES)
    label = checked.season.frame("handlings").index[0]
    text = checked.season.tables["handlings"].typed.loc[label, "net_g"]
    assert recheck(checked, label, "net_g", text) is checked


def row(**cells):
    return {"date": "2026-06-01", "box": "SL-01", **cells}


def asked_rules(heeds, blames=None):
    """Rules that note when they are asked; ``tare`` blames a net of 3 g, as long as it stands there."""
    asked: list[str] = []

    def noting(slug):
        def check_it(case):
            asked.append(slug)
            frame = case.frame("handlings")
            for label in frame.index[frame["net_g"] == 3] if slug == "tare" else ():
                yield case.blame("arithmetic", [At(label, blames)], "Three is odd.")

        return check_it

    return asked, [Rule(slug, {}, noting(slug), {"handlings": fields}) for slug, fields in heeds.items()]


def closely(rows, rules):
    return check_closely(typed_season(handlings=rows), declared(), rules)


def test_only_rules_that_heed_the_column_are_asked_again():
    asked, rules = asked_rules({"weekday": ("date",), "brood": ("net_g", "date"), "digits": ("net_g",)})
    checked = closely([row(ring="SV1", net_g=5.0)], rules)
    assert asked == ["weekday", "brood", "digits"]
    asked.clear()
    checked = recheck(checked, "handlings!2", "net_g", "4")
    assert asked == ["brood", "digits"]
    assert [answer.rule for answer in checked.answers] == ["weekday", "brood", "digits"]
    asked.clear()
    recheck(checked, "handlings!2", "ring", "SV2")
    assert asked == []


def test_a_rule_is_asked_again_when_a_cell_that_it_heeds_comes_into_doubt():
    heeds = {"weekday": ("box",), "tare": ("net_g",), "brood": ("box",), "digits": ("age",)}
    asked, rules = asked_rules(heeds, blames="box")
    checked = closely([row(ring="SV1", age="1", net_g=5.0)], rules)
    asked.clear()
    checked = recheck(checked, "handlings!2", "net_g", "3")
    assert asked == ["tare", "brood"]
    assert [answer.doubted for answer in checked.answers] == [
        frozenset(),
        *[frozenset({("handlings!2", "box")})] * 3,
    ]
    asked.clear()
    checked = recheck(checked, "handlings!2", "net_g", "5")
    assert asked == ["tare", "brood"]
    assert not any(answer.doubted for answer in checked.answers)


def test_cells_in_doubt_follow_through_rules_that_are_not_asked():
    heeds = {"weekday": ("date",), "tare": ("net_g",), "brood": ("ring",), "digits": ("box",)}
    asked, rules = asked_rules(heeds, blames="box")
    checked = closely([row(ring="SV1", net_g=3.0)], rules)
    asked.clear()
    checked = recheck(checked, "handlings!2", "ring", "SV2")
    assert asked == ["brood"]
    assert [len(answer.doubted) for answer in checked.answers] == [0, 1, 1, 1]


def test_each_rule_is_asked_once_about_many_edits():
    heeds = {"weekday": ("date",), "tare": ("net_g",), "brood": ("ring",), "digits": ("box",)}
    asked, rules = asked_rules(heeds, blames="box")
    checked = closely([row(ring="SV1", net_g=5.0), row(ring="SV2", net_g=4.0)], rules)
    asked.clear()
    edits = [("handlings!2", "net_g", "3"), ("handlings!3", "net_g", "3"), ("handlings!2", "ring", "SV3")]
    checked = recheck_all(checked, edits)
    assert asked == ["tare", "brood", "digits"]
    assert len(checked.report.findings) == 2
    asked.clear()
    assert recheck_all(checked, []) is checked
    assert recheck_all(checked, [*edits, ("handlings!2", "ring", "SV9"), edits[2]]) is checked
    assert asked == []


def test_progress_is_told_and_an_audit_can_be_stopped():
    season = dirty_season(*SEASONS[0])
    told_of = []

    def note(what, done, number):
        told_of.append((what, done, number))

    checked = check_closely(season, declared(), RULES, note)
    number = len(RULES) + 1
    questions = [declared().rules[rule.slug].question for rule in RULES]
    weighing = ("Which slip accounts for the measures?", number - 1, number)
    assert told_of[: number - 1] == [(asked, i, number) for i, asked in enumerate(questions)]
    assert set(told_of[number - 1 :]) == {weighing}
    whole = list(told_of)
    told_of.clear()
    assert check(season, schemas=declared(), progress=note) == checked.report
    assert told_of == whole

    label = season.frame("handlings").index[0]
    again = recheck(checked, label, "net_g", "7")
    for at in (0, 20, number - 1):

        def stop(_what, done, _number, at=at):
            if done == at:
                raise Stopped

        with pytest.raises(Stopped):
            recheck_all(checked, [(label, "net_g", "7")], stop)
        with pytest.raises(Stopped):
            check(season, schemas=declared(), progress=stop)
        assert recheck(checked, label, "net_g", "7").report == again.report


def test_marks_of_the_edited_row_are_shown_as_they_are_now():
    asked, rules = asked_rules({"tare": ("net_g",)}, blames="net_g")
    checked = closely([row(ring="SV1", net_g=3.0)], rules)
    asked.clear()
    checked = recheck(checked, "handlings!2", "ring", "SV2")
    assert asked == []
    (finding,) = checked.report.findings
    assert finding.suspects[0].cell.marks.ring == "SV2"


def test_a_row_that_is_not_there_is_refused():
    checked = check_closely(dirty_season(*SEASONS[0]), declared(), RULES)
    with pytest.raises(Refusal):
        recheck(checked, "handlings!99999", "net_g", "1")


def test_a_row_has_to_do_with_its_day_box_bird_and_tag():
    rows = [
        {"date": "2026-06-01", "box": "SL-01", "ring": "SV1", "tag": "T1"},
        {"date": "2026-06-09", "box": "SL-09", "ring": "SV2", "tag": "T2"},
        {"date": "2026-06-01", "box": "SL-02", "ring": "SV3", "tag": "T3"},
        {"date": "2026-06-10", "box": "SL-07", "ring": "SV9", "tag": "T9"},
        {"date": "2026-06-11", "box": "SL-06", "ring": "SV1", "tag": "T8"},
        {"date": "2026-06-12", "box": "SL-01", "ring": "SV7", "tag": "T7"},
        {"date": "2026-06-13", "box": "SL-08", "ring": "SV8", "tag": "T1"},
    ]
    reads = [{"read_at": "2026-06-01 10:00", "tag": "T5"}, {"read_at": "2026-06-02 10:00", "tag": "T5"}]
    season = typed_season(handlings=rows, tag_reads=reads)
    near = {f"handlings!{n}" for n in (2, 3, 4, 6, 7, 8)} | {"tag_reads!2"}
    assert neighbourhood((season,), {"handlings!2"}) == near


def rechecked(tmp_path, **limits):
    """Edit the mass of one row, under limits of its own: before, after, and as a whole check has it."""
    folder = tmp_path / "-".join(f"{name}{value}" for name, value in limits.items())
    folder.mkdir()
    text = "".join(f"  {name}: {{value: {value}}}\n" for name, value in limits.items())
    (folder / "explain.yaml").write_text(f"recheck:\n{text}", encoding="utf-8")
    before = check_closely(dirty_season(*SEASONS[0]), load_declarations(folder), RULES)
    label = list(before.explained.verdicts)[-1]
    again = recheck(before, label, "gross_g", "77")
    return before, again, check_closely(again.season, before.declared, RULES)


def test_where_many_rows_are_edited_all_measures_are_weighed_anew(tmp_path):
    _, again, whole = rechecked(tmp_path, anew_from=0)
    assert again.explained == whole.explained


@pytest.mark.parametrize(("share", "settled"), [(0, {True}), (1.01, {False}), (0.98, {True, False})])
def test_accounts_are_settled_from_the_declared_share_on(tmp_path, share, settled):
    before, *_ = rechecked(tmp_path, settled_from=share)
    assert {verdict.settled for verdict in before.explained.verdicts.values()} == settled


def test_so_many_rows_that_are_not_settled_are_weighed_again(tmp_path):
    _, none, _ = rechecked(tmp_path, settled_from=1.01, again_most=0)
    _, two, _ = rechecked(tmp_path, settled_from=1.01, again_most=2)
    # what was weighed last stands last
    assert next(iter(two.explained.verdicts)) == list(none.explained.verdicts)[2]
