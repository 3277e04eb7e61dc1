"""Forms of logger files as a team declares them."""

from __future__ import annotations

import duckdb
import pytest

from audit.antennas.clock import Clocks
from audit.declarations import load_declarations
from audit.refusal import DeclarationRefusal


def declared(tmp_path, text):
    (tmp_path / "loggers.yaml").write_text(text, encoding="utf-8")
    return load_declarations(tmp_path).loggers


def test_the_first_form_whose_names_fit_is_taken(tmp_path):
    loggers = declared(tmp_path, 'forms: {old: {files: "*.TXT"}, other: {files: "*"}}')
    assert loggers.form_of("box3.txt").name == "old"
    assert loggers.form_of("box3.csv").name == "other"
    assert load_declarations().loggers.form_of("box3.csv") is None


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ("{files: '*', columns: {detected_at: 1, time: 2}}", "declared twice"),
        ("{files: '*', box_in_name: '(SL'}", "cannot be used"),
        ("{files: '*', box_in_name: 'SL-[0-9]+'}", "0 pairs of brackets"),
        ("{files: '*', antennas: {'1': upper}}", "upper"),
        ("{columns: {tag: 1}}", "files"),
        ("{files: '*', colums: {tag: 1}}", "colums"),
    ],
)
def test_a_form_that_cannot_be_used_is_refused_with_its_line(form, says, tmp_path):
    with pytest.raises(DeclarationRefusal) as refusal:
        declared(tmp_path, f"forms:\n  own: {form}\n")
    assert says in str(refusal.value)
    assert "loggers.yaml, line 2" in refusal.value.where


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        *[("yes", "yes"), ("'yes'", "yes"), ("true", "yes")],
        *[("no", "no"), ("'no'", "no"), ("false", "no"), ("weigh", "weigh")],
    ],
)
def test_whether_markers_beat_on_the_round_is_answered_in_words(written, meant, tmp_path):
    declared(tmp_path, f"reading: {{marker_on_the_round: {{value: {written}}}}}\n")
    engine = duckdb.connect()
    engine.sql("attach ':memory:' as held")
    columns = "box int, file int, antenna tinyint, tag int, stamp bigint, row bigint"
    engine.sql(f"create table held.reads ({columns})")
    assert Clocks(load_declarations(tmp_path), engine, (), ()).rounds.declared == meant


@pytest.mark.parametrize("written", ["maybe", "yess", "1", "[yes]"])
def test_another_word_for_markers_on_the_round_is_refused_with_its_line(written, tmp_path):
    with pytest.raises(DeclarationRefusal) as refusal:
        declared(tmp_path, f"reading:\n  marker_on_the_round:\n    value: {written}\n")
    assert "loggers.yaml, line 3" in refusal.value.where
    assert "Allowed: yes, no, weigh, true, false." in refusal.value.cure


def test_moments_of_marker_tags_are_of_all_or_by_tag(tmp_path):
    told = declared(tmp_path, "reading: {marker_moments: {value: [13:37, '1:37']}}\n").moments
    assert (told.of_all, told.by_tag) == ((5820, 49020), {})
    by_tag = "{999000000109999: ['13:37:20']}"
    told = declared(tmp_path, f"reading: {{marker_moments: {{value: {by_tag}}}}}\n").moments
    assert (told.of_all, told.by_tag) == ((), {"999000000109999": (49040,)})
    assert load_declarations().loggers.moments.of_all == ()


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("['25:00']", "'25:00' is no moment of the day"),
        ("['13.37']", "'13.37' is no moment of the day"),
        ("[1337]", "1337"),
        ("'13:37'", "13:37"),
        ("['06:00', '13:37']", "do not lie at even intervals"),
        ("['06:00', '06:00']", "do not lie at even intervals"),
        ("{marker: ['13:37']}", "'marker' is no tag"),
        ("{999000000109999: '13:37'}", "13:37"),
        ("{999000000109999: []}", "999000000109999"),
    ],
)
def test_moments_that_are_none_are_refused_with_their_line(written, says, tmp_path):
    with pytest.raises(DeclarationRefusal) as refusal:
        declared(tmp_path, f"reading:\n  marker_moments:\n    value: {written}\n")
    assert says in str(refusal.value)
    assert "loggers.yaml, line 3" in refusal.value.where


def test_every_number_has_source_and_grade():
    assert all(limit.source and limit.grade for limit in load_declarations().loggers.limits.values())
