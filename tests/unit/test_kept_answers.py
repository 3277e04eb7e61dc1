"""What is taken over from an earlier audit: the report is, to the byte, that of an audit without it."""

from __future__ import annotations

import json
from functools import cache
from itertools import cycle, islice

import pytest
from dirty_seasons import declared, dirty_season
from odd_edits import edits_of

from audit.checked import check_closely
from audit.handover.findings_files import write_csv, write_json
from audit.intake.amending import amend_all
from audit.rules import RULES
from audit.rules.kept.content import Content
from audit.rules.kept.kept_answers import KeptAnswers
from audit.rules.rule import EVERYTHING

SEASON = ("other", 62, 4, "mixed")
#: Edits one upon the other.
EDITS = 2


def audited(season, known=None):
    """Audit a season, with what is known from an earlier audit, and as if from a file."""
    kept = KeptAnswers(season, "one program", json.loads(json.dumps(known or {})))
    return check_closely(season, declared(), RULES, kept=kept).report, kept


@cache
def first():
    season = dirty_season(*SEASON)
    return season, *audited(season)


def written(report, folder):
    folder.mkdir(exist_ok=True)
    for write, name in ((write_csv, "findings.csv"), (write_json, "findings.json")):
        write(report, folder / name)
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_edits_are_seen_as_by_an_audit_that_knows_nothing(tmp_path):
    season, _, kept = first()
    known = kept.fresh
    for edit in islice(edits_of(season, 71), EDITS):
        season = amend_all(season, declared(), [edit])
        report, kept = audited(season, known)
        anew = check_closely(season, declared(), RULES).report
        assert report == anew, edit
        assert written(report, tmp_path / "again") == written(anew, tmp_path / "anew")
        known = kept.fresh


def test_nothing_is_asked_of_a_season_that_stayed_as_it_was(monkeypatch):
    season, report, kept = first()
    monkeypatch.setattr("audit.rules.round.ask", pytest.fail)
    monkeypatch.setattr("audit.explain.explaining.surroundings_of", pytest.fail)
    again, other = audited(season, kept.fresh)
    assert again == report
    assert other.taken == len(RULES) + 1
    assert other.fresh == kept.fresh


def test_answers_of_another_program_or_declaration_are_not_taken():
    season, _, kept = first()
    other = KeptAnswers(season, "another program", kept.fresh)
    assert all(other.recall(other.key(rule.heeds, (), rule.slug), list) is None for rule in RULES)


def test_values_that_are_none_of_ours_are_as_if_they_were_not_there():
    season, report, kept = first()
    odd = cycle([None, 3, [], {}, [True, [["x"]], []], [True, [[1] * 9], []], [3, {}], [1, {"x": 1}]])
    again, other = audited(season, dict(zip(kept.fresh, odd, strict=False)))
    assert again == report
    assert other.fresh == kept.fresh
    assert not other.taken


def test_a_checksum_tells_a_cell_a_reading_a_doubt_and_a_row_apart():
    season = dirty_season(*SEASON)
    heeds = {"handlings": ("ring", "date")}
    label = str(season.frame("handlings").index[3])
    ring, tag = (amend_all(season, declared(), [(label, name, "X1")]) for name in ("ring", "tag"))
    seen = Content(season).seen(heeds, ())
    assert Content(ring).seen(heeds, ()) != seen
    assert Content(tag).seen(heeds, ()) == seen
    assert Content(tag).seen(EVERYTHING, ()) != Content(season).seen(EVERYTHING, ())
    assert Content(season).seen(heeds, [(label, "ring")]) != seen
    assert Content(season).seen(heeds, [(label, "tag")]) == seen
