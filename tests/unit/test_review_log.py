"""The log: one line a decision, on the disk before it is taken; nothing in it is ever changed."""

from __future__ import annotations

import errno
import json
import os
import stat

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.checking import read_season
from audit.refusal import Refusal
from audit.review import log_disk
from audit.review.decisions import VERBS, DecidedCell, Decision, decide, undo_of
from audit.review.log import DecisionLog, log_path
from audit.review.log_disk import held
from audit.review.log_lines import MARK, LineFault, decision_in, line_of
from audit.review.standing import standing

CELL = DecidedCell(
    "Ringing", 17, "net_g", "395", "373", {"ring": "SV01001", "net_g": "395"}, table="handlings"
)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "sallow.decisions.jsonl"


def ask(identity="", who="AB"):
    made = decide(who, "ask", [CELL], reason="page 4")
    return made if not identity else Decision(identity, made.at, who, "ask", (CELL,))


texts = st.text(max_size=6)
cells = st.builds(
    DecidedCell,
    sheet=texts,
    row=st.integers(0, 10**6),
    field=st.text(min_size=1, max_size=6),
    observed=texts,
    instead=st.none() | texts,
    as_typed=st.dictionaries(texts, texts, max_size=3),
    twin=st.integers(0, 9),
    table=texts,
    empty=st.lists(texts, max_size=2).map(tuple),
    twins=st.integers(0, 9),
    alike=st.integers(0, 9),
    nearest=st.none() | st.integers(0, 9),
)
some_texts = st.lists(texts, max_size=2).map(tuple)
decisions = st.builds(
    Decision,
    identity=st.text(min_size=1, max_size=6),
    at=texts,
    who=texts,
    verb=st.sampled_from([verb for verb in VERBS if verb != "undo"]),
    cells=st.lists(cells, max_size=2).map(tuple),
    reason=texts,
    findings=some_texts,
    rules=some_texts,
    asked=texts,
    replaces=some_texts,
)


@given(decisions)
def test_a_line_says_all_of_a_decision(decision):
    line = line_of(decision)
    assert line.startswith(MARK)
    assert b"\n" not in line
    assert decision_in(line) == decision


@given(decisions, st.data())
def test_a_line_that_is_cut_off_is_never_a_decision(decision, data):
    line = line_of(decision)
    with pytest.raises(LineFault):
        decision_in(line[: data.draw(st.integers(0, len(line) - 1))])


def test_half_a_sign_can_be_written(path):
    log = DecisionLog.open(path)
    log.append(decide("AB", "keep", reason="a\ud83d"))
    assert DecisionLog.open(path).decisions == log.decisions


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"form": 2}, "it was written by a later version of nestproof"),
        ({"verb": "guess"}, "it decides something unknown here: 'guess'"),
        ({"cells": {}}, "'cells' in it is not what it should be"),
        (
            {"cells": [{"field": "a", "observed": "", "row": "17"}]},
            "'row' in it is not what it should be",
        ),
        ({"cells": [{"field": "a", "observed": "", "row": True}]}, "'row' in it is not what it should be"),
        ({"replaces": [1]}, "'replaces' in it is not what it should be"),
        ({"undoes": "x"}, "'undoes' in it is not what it should be"),
        ({"identity": 7}, "it is no decision"),
    ],
)
def test_a_line_that_is_no_decision_says_why(change, why):
    tree = json.loads(line_of(ask("a"))) | change
    with pytest.raises(LineFault, match=why):
        decision_in(json.dumps(tree).encode())


def test_where_the_log_stands(tmp_path, declared):
    row = {"date": ["2026-05-04"], "box": ["SL-01"], "ring": ["SV01001"]}
    (tmp_path / "round").mkdir()
    for file in (tmp_path / "season.csv", tmp_path / "round" / "handlings.csv"):
        pd.DataFrame(row).to_csv(file, index=False)
    assert log_path(read_season(tmp_path / "season.csv", schemas=declared)) == (
        tmp_path / "season.decisions.jsonl"
    )
    assert log_path(read_season(tmp_path / "round", schemas=declared)) == tmp_path / "round.decisions.jsonl"
    assert log_path(read_season({"handlings": pd.DataFrame(row)}, schemas=declared)) is None


def test_nothing_is_written_before_the_first_decision(path):
    log = DecisionLog.open(path)
    assert (log.decisions, log.damaged, log.news(), path.exists()) == ((), (), False, False)


def test_one_write_and_the_disk_is_waited_for(path, monkeypatch):
    done = []
    write, fsync = os.write, os.fsync
    monkeypatch.setattr(os, "write", lambda *a: done.append("write") or write(*a))
    monkeypatch.setattr(
        os,
        "fsync",
        lambda file: (
            done.append("folder" if stat.S_ISDIR(os.fstat(file).st_mode) else "fsync") or fsync(file)
        ),
    )
    log = DecisionLog.open(path)
    log.append(ask())
    log.append(ask())
    assert done == ["write", "fsync", "folder", "write", "fsync"]


def test_without_a_file_all_stays_in_memory():
    log = DecisionLog.open(None)
    one = ask()
    log.append(one)
    log.append(one)
    assert (log.decisions, log.news()) == ((one,), False)


def test_news_of_another_program(path):
    one, other = DecisionLog.open(path), DecisionLog.open(path)
    first, second = ask(), ask()
    one.append(first)
    assert (other.news(), other.news()) == (True, False)
    other.append(second)
    assert one.decisions == (first,)
    assert one.news()
    assert one.decisions == other.decisions == (first, second)


@pytest.mark.parametrize("cut", [1, 5, 40, -1])
def test_a_torn_line_stays_and_harms_nothing(path, cut):
    first, torn, second = ask("a"), ask("b"), ask("c")
    DecisionLog.open(path).append(first)
    before = path.read_bytes() + line_of(torn)[:cut]
    path.write_bytes(before)
    log = DecisionLog.open(path)
    assert log.decisions == (first,)
    assert [(one.line, one.why) for one in log.damaged] == [(2, "it is cut off or was written over")]
    assert str(log.damaged[0]).startswith("Line 2 of sallow.decisions.jsonl was left out: it is cut off")
    log.append(second)
    assert path.read_bytes() == before + b"\n" + line_of(second) + b"\n"
    assert DecisionLog.open(path).decisions == (first, second)
    assert [one.line for one in DecisionLog.open(path).damaged] == [2]


def test_a_whole_line_without_its_end_counts(path):
    path.write_bytes(line_of(ask("a")))
    log = DecisionLog.open(path)
    assert [one.identity for one in log.decisions] == ["a"]
    log.append(ask("b"))
    assert path.read_bytes().count(b"\n") == 2
    assert [one.identity for one in DecisionLog.open(path).decisions] == ["a", "b"]


def test_a_log_edited_elsewhere_is_read(path):
    path.write_bytes(b"\xef\xbb\xbf" + line_of(ask("a")) + b"\r\n\r\n" + line_of(ask("b")) + b"\r\n")
    assert [one.identity for one in DecisionLog.open(path).decisions] == ["a", "b"]


def test_the_same_decision_twice_is_one(path):
    log, one = DecisionLog.open(path), ask()
    log.append(one)
    log.append(one)
    assert path.read_bytes().count(b"\n") == 1
    with pytest.raises(ValueError, match="another decision has the identity"):
        log.append(Decision(one.identity, "", "IP", "keep"))


def test_two_lines_with_one_identity_and_neither_counts(path):
    path.write_bytes(b"\n".join([line_of(ask("a")), line_of(ask("a", "IP")), line_of(ask("b"))]) + b"\n")
    log = DecisionLog.open(path)
    assert [one.identity for one in log.decisions] == ["b"]
    assert [one.line for one in log.damaged] == [2]
    assert "the same identity" in log.damaged[0].why


def test_what_vanished_from_the_file_is_written_again(path):
    log, first, second = DecisionLog.open(path), ask(), ask()
    log.append(first)
    path.write_bytes(b"")
    log.append(second)
    assert {one.identity for one in DecisionLog.open(path).decisions} == {first.identity, second.identity}
    assert log.notices == (
        "1 decision had vanished from sallow.decisions.jsonl and was written into it again.",
    )
    path.unlink()
    log.append(ask())
    assert len(DecisionLog.open(path).decisions) == 3


def test_merging_either_way_means_the_same(tmp_path):
    mine, theirs = tmp_path / "ab.decisions.jsonl", tmp_path / "ip.decisions.jsonl"
    one, other = DecisionLog.open(mine), DecisionLog.open(theirs)
    first = ask()
    one.append(first)
    other.merge(mine)
    one.append(undo_of(first, "AB"))
    other.append(decide("IP", "amend", [CELL], replaces=[first.identity]))
    before = theirs.read_bytes()
    assert one.merge(theirs) == 1
    assert (one.merge(theirs), one.merge(mine)) == (0, 0)
    assert theirs.read_bytes() == before
    assert other.merge(mine) == 1
    assert standing(one.decisions) == standing(other.decisions)
    memory = DecisionLog.open(None)
    assert memory.merge(mine) == 3
    assert standing(memory.decisions) == standing(one.decisions)


def test_merging_keeps_what_a_later_program_wrote(tmp_path, path):
    newer = json.dumps({**json.loads(line_of(ask("a"))), "weather": "rain"}).encode()
    later = json.dumps({**json.loads(line_of(ask("b"))), "form": 2}).encode()
    other = tmp_path / "other.decisions.jsonl"
    other.write_bytes(newer + b"\n" + later + b'\n{"form": 1, "iden')
    log = DecisionLog.open(path)
    assert log.merge(other) == 2
    assert path.read_bytes() == newer + b"\n" + later + b"\n"
    assert [one.identity for one in log.decisions] == ["a"]
    assert [(one.path.name, one.line) for one in log.damaged] == [
        (path.name, 2),
        (other.name, 2),
        (other.name, 3),
    ]


def test_merging_a_dispute_takes_neither_side(tmp_path):
    mine, theirs = tmp_path / "ab.decisions.jsonl", tmp_path / "ip.decisions.jsonl"
    mine.write_bytes(line_of(ask("a")) + b"\n")
    theirs.write_bytes(line_of(ask("a", "IP")) + b"\n")
    one, other = DecisionLog.open(mine), DecisionLog.open(theirs)
    assert one.merge(theirs) == 1
    assert mine.read_bytes().startswith(line_of(ask("a")))
    assert other.merge(mine) == 1
    assert one.decisions == other.decisions == ()
    assert one.damaged
    assert other.damaged
    assert one.merge(theirs) == 0


def test_merging_what_is_not_there(path, tmp_path):
    with pytest.raises(Refusal, match=r"There is no such log") as refused:
        DecisionLog.open(path).merge(tmp_path / "no.jsonl")
    assert refused.value.cure


@pytest.mark.parametrize(
    "content",
    [b"\x00\x01\x02PK" * 50, b"date,box,ring\n2026-05-04,SL-01,SV01001\n", b"\xff\xfe{\x00\n\x00", b"[1]\n"],
)
def test_another_file_in_the_place_of_the_log(path, content):
    path.write_bytes(content)
    with pytest.raises(Refusal, match="is no log of decisions") as refused:
        DecisionLog.open(path)
    assert refused.value.where == str(path)
    assert path.read_bytes() == content


def test_a_folder_in_the_place_of_the_log(path):
    log = DecisionLog.open(path)
    path.mkdir()
    for attempt in (lambda: log.append(ask()), lambda: DecisionLog.open(path)):
        with pytest.raises(Refusal) as refused:
            attempt()
        assert refused.value.cure == "Rename what stands there, then decide again."
    assert log.decisions == ()


def test_a_pipe_in_the_place_of_the_log(path):
    if not hasattr(os, "mkfifo"):
        pytest.skip("the system has no pipes with a name")
    os.mkfifo(path)
    with pytest.raises(Refusal, match="is no file"):
        DecisionLog.open(path)
    with pytest.raises(Refusal, match="is no file"):
        DecisionLog(path).append(ask())


def fail(code):
    def failing(*_):
        raise OSError(code, os.strerror(code))

    return failing


def test_a_full_disk(path, monkeypatch):
    log, one = DecisionLog.open(path), ask()
    write = os.write
    monkeypatch.setattr(log_disk.os, "write", lambda file, data: write(file, data[:20]))
    with pytest.raises(Refusal, match=r"The decision was not taken.*No space left on device") as refused:
        log.append(one)
    assert refused.value.cure == "Make room on the disk, then decide again."
    assert log.decisions == ()
    monkeypatch.undo()
    log.append(one)
    assert (log.decisions, DecisionLog.open(path).decisions) == ((one,), (one,))
    assert len(log.damaged) == 1


def test_a_disk_that_does_not_say_yes(path, monkeypatch):
    log, one = DecisionLog.open(path), ask()
    monkeypatch.setattr(os, "fsync", fail(errno.EIO))
    with pytest.raises(Refusal, match="It is not certain that the decision was kept"):
        log.append(one)
    monkeypatch.undo()
    log.append(one)
    assert path.read_bytes().count(b"\n") == 1


def test_a_folder_that_may_not_be_written_to(path, monkeypatch):
    log = DecisionLog.open(path)
    with monkeypatch.context() as patch:
        patch.setattr(os, "open", fail(errno.EACCES))
        with pytest.raises(Refusal, match=r"Permission denied") as refused:
            log.append(ask())
    assert "another folder" in refused.value.cure
    with pytest.raises(Refusal, match="No such file"):
        DecisionLog.open(path.parent / "gone" / path.name).append(ask())


def test_a_lock_that_nobody_lets_go(path, monkeypatch):
    log = DecisionLog.open(path)
    log.append(ask())
    monkeypatch.setattr(log_disk, "_SECONDS", 0.05)
    with path.open("ab") as stream, held(stream.fileno(), 0.05):
        monkeypatch.setattr("audit.review.log.held", lambda file: held(file, 0.05))
        with pytest.raises(Refusal, match="another program holds it") as refused:
            log.append(ask())
    assert "Close the other notebooks" in refused.value.cure
    assert len(log.decisions) == 1


def test_a_system_without_locks(path, monkeypatch):
    monkeypatch.setattr(log_disk, "_lock", fail(errno.ENOLCK))
    log, one = DecisionLog.open(path), ask()
    log.append(one)
    assert DecisionLog.open(path).decisions == (one,)
