"""Answers kept among the results: of this program and these declarations only, whole, never in the way."""

from __future__ import annotations

import pytest
from typed_season import typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.handover.kept_file import kept_path, read_kept, write_kept
from audit.rules import RULES

ROW = {"date": "2026-05-04", "box": "SL-01", "ring": "SV01001", "gross_g": "395", "bag_g": "22"}


@pytest.fixture
def season():
    return typed_season(handlings=[{**ROW, "net_g": "395"}])


@pytest.fixture
def out(tmp_path, season, declared):
    folder = tmp_path / "out"
    folder.mkdir()
    kept = read_kept(folder, season, declared)
    check(season, schemas=declared, kept=kept)
    assert not kept.taken
    write_kept(folder, kept, declared)
    return folder


def taken(out, season, declared):
    """Count the answers of rules that are taken over; nothing is weighed."""
    kept = read_kept(out, season, declared)
    for rule in RULES:
        kept.recall(kept.key(rule.heeds, (), rule.slug), list)
    return kept.taken


def test_the_next_audit_takes_all_of_it(out, season, declared):
    assert taken(out, season, declared)
    kept = read_kept(out, season, declared)
    assert check(season, schemas=declared, kept=kept) == check(season, schemas=declared)
    assert kept.taken == len(RULES) + 1
    assert [path.name for path in out.iterdir()] == [".answers.json"]
    assert kept_path(out).read_text(encoding="utf-8").isascii()


def test_other_declarations_take_nothing(out, season, tmp_path):
    own = tmp_path / "own"
    own.mkdir()
    (own / "season.yaml").write_text("# nothing of our own yet\n", encoding="utf-8")
    assert taken(out, season, load_declarations(own)) == 0


def test_another_version_takes_nothing(out, season, declared, monkeypatch):
    monkeypatch.setattr("sys.version", "another one")
    assert taken(out, season, declared) == 0


def test_a_torn_file_is_as_none(out, season, declared):
    path = kept_path(out)
    whole = path.read_bytes()
    for left in (whole[:-1], b"", b"\xff\xfe", b"{}", b"[1]\n{}"):
        path.write_bytes(left)
        assert taken(out, season, declared) == 0


def test_what_cannot_be_kept_is_no_fault(season, declared, tmp_path):
    out = tmp_path / "out"
    kept_path(out).mkdir(parents=True)
    kept = read_kept(out, season, declared)
    check(season, schemas=declared, kept=kept)
    write_kept(out, kept, declared)
    write_kept(tmp_path / "nowhere", kept, declared)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert list(out.iterdir()) == [kept_path(out)]


def test_what_changed_while_it_was_audited_is_not_kept(season, tmp_path):
    out, own = tmp_path / "out", tmp_path / "own"
    own.mkdir()
    (own / "season.yaml").write_text("# as it was\n", encoding="utf-8")
    declared = load_declarations(own)
    kept = read_kept(out, season, declared)
    (own / "season.yaml").write_text("# as it is\n", encoding="utf-8")
    out.mkdir()
    write_kept(out, kept, declared)
    assert not kept_path(out).exists()
