"""Declarations kept beside the bytecode: the same as read anew, and only of the very same files."""

from __future__ import annotations

import re
import shutil
import sys
from contextlib import contextmanager

import pytest

from audit.declarations import load
from audit.declarations.kept_trees import keep_trees, kept_trees, reading_of
from audit.declarations.load import load_declarations
from audit.declarations.locate import schemas_folder
from audit.refusal import DeclarationRefusal


@pytest.fixture
def beside(monkeypatch, tmp_path):
    """Where bytecode is written now."""
    place = tmp_path / "bytecode"
    monkeypatch.setattr(sys, "pycache_prefix", str(place))
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    return place


@pytest.fixture
def schemas(monkeypatch, tmp_path):
    """A copy of the shipped declarations that may be spoilt."""
    folder = tmp_path / "schemas"
    shutil.copytree(schemas_folder(), folder)
    monkeypatch.setattr(load, "schemas_folder", lambda: folder)
    return folder


@contextmanager
def reads(monkeypatch):
    """List the files that are read as YAML."""
    seen = []
    with monkeypatch.context() as patch:
        patch.setattr(
            load, "read_document", lambda path, real=load.read_document: seen.append(path) or real(path)
        )
        load._load.cache_clear()
        yield seen
        load._load.cache_clear()


def files_in(place):
    return [path for path in place.rglob("*") if path.is_file()]


@pytest.mark.usefixtures("beside")
def test_what_was_kept_is_what_is_read(schemas, monkeypatch):
    with reads(monkeypatch) as first:
        anew = load_declarations()
    with reads(monkeypatch) as second:
        again = load_declarations()
    assert first
    assert not second
    assert again == anew
    assert repr(again) == repr(anew)
    # another number in a file, of the same length and as old
    path = schemas / "season.yaml"
    told, stat = path.read_text(encoding="utf-8"), path.stat()
    at = re.search(r"value: (?=[0-9]\n)", told).end()
    path.write_text(f"{told[:at]}{9 - int(told[at])}{told[at + 1 :]}", encoding="utf-8")
    assert path.stat().st_size == stat.st_size
    with reads(monkeypatch) as third:
        changed = load_declarations()
    assert third
    assert changed.settings != anew.settings


@pytest.mark.usefixtures("beside")
def test_a_wrong_file_is_refused_though_a_right_one_was_kept(schemas, monkeypatch):
    with reads(monkeypatch):
        load_declarations()
    path = schemas / "gate.yaml"
    path.write_text(path.read_text(encoding="utf-8") + "odd: 1\n", encoding="utf-8")
    with reads(monkeypatch), pytest.raises(DeclarationRefusal, match="odd"):
        load_declarations()


def test_a_torn_file_is_as_none(beside):
    keep_trees("one", {"season": {"a": 1.5}})
    (path,) = files_in(beside)
    whole = path.read_bytes()
    assert kept_trees("one") == {"season": {"a": 1.5}}
    assert kept_trees("another") is None
    for left in (whole[:-1], whole.replace(b"1.5", b"1.6"), b"", b"\xff", b"one\n{}"):
        path.write_bytes(left)
        assert kept_trees("one") is None


def test_nothing_is_kept_where_nothing_may_be_written(beside, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(sys, "dont_write_bytecode", True)
        keep_trees("one", {})
    assert not beside.exists()
    beside.write_text("a file where the folder would be", encoding="utf-8")
    keep_trees("one", {})
    assert kept_trees("one") is None


def test_the_program_is_part_of_the_reading(schemas, monkeypatch):
    before = reading_of(schemas)
    monkeypatch.setattr(sys, "version", "another one")
    assert reading_of(schemas) != before
