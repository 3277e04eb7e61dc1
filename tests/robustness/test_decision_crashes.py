"""Decisions survive: random sequences with crashes in between, two programs at one log, a killed process."""

from __future__ import annotations

import errno
import os
import random
import signal
import subprocess
import sys
from functools import cache

import pandas as pd
import pytest

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.refusal import Refusal
from audit.review.decisions import decide, text_of, undo_of
from audit.review.log import DecisionLog
from audit.review.places import decided_cell
from audit.review.replay import replay
from audit.review.standing import standing

RUNS = 1000
STEPS = 14
CELLS = [(f"handlings!{row}", field) for row in range(2, 6) for field in ("net_g", "wing_mm")]
VALUES = ("288", "289", "290")

declared = cache(load_declarations)


@cache
def season():
    birds = [
        ("2026-05-04", "SL-01", "SV01001", "288", "201"),
        ("2026-05-04", "SL-01", "SV01002", "288", "199"),
        ("2026-05-05", "SL-02", "SV01003", "301", "188"),
        ("2026-05-06", "SL-03", "SV01004", "290", "190"),
    ]
    frame = pd.DataFrame(birds, columns=["date", "box", "ring", "net_g", "wing_mm"], dtype="str")
    return read_season({"handlings": frame}, schemas=declared())


@cache
def cell(label, field, instead):
    return decided_cell(season(), label, field, instead)


def key(one):
    return one.row, one.field


class Killed(BaseException):
    """The program is gone."""


class Person:
    """One person at one log: what was acknowledged, and what may or may not stand in the file."""

    def __init__(self, path, rng, who):
        self.path, self.rng, self.who = path, rng, who
        path.touch()
        self.logs = [DecisionLog.open(path), DecisionLog.open(path)]
        self.acknowledged = {}
        self.doubtful = {}

    def step(self, disk, others):
        at = self.rng.randrange(2)
        log = self.logs[at]
        known = log.decisions if self.rng.random() < 0.7 else ()
        action = self.rng.choice(["decide", "decide", "undo", "again", "merge", "news", "torn", "reopen"])
        if action == "merge":
            self.merge(log, self.rng.choice(others))
        elif action == "news":
            log.news()
        elif action == "reopen":
            self.logs[at] = DecisionLog.open(self.path)
        elif action == "torn":
            self.cut_last_line()
        elif action == "again" and self.doubtful:
            self.take(at, self.rng.choice(list(self.doubtful.values())), disk)
        elif action == "undo" and log.decisions:
            self.take(at, undo_of(self.rng.choice(log.decisions), self.who), disk)
        else:
            self.take(at, self.decision(known), disk)

    def decision(self, known):
        verb = self.rng.choice(("accept", "amend", "keep", "ask"))
        fields = self.rng.sample(CELLS, self.rng.choice((1, 1, 1, 2, 3)))
        cells = [
            cell(*one, self.rng.choice(VALUES) if verb in ("accept", "amend") else None) for one in fields
        ]
        about = {key(one) for one in cells}
        replaces = [d.identity for d in known if about & {key(one) for one in d.cells}]
        return decide(self.who, verb, cells, replaces=replaces)

    def take(self, at, decision, disk):
        """Take a decision, on a disk that may fail."""
        disk.fault = self.rng.choice([None, None, None, "full", "unsynced", "killed", "killed unsynced"])
        disk.rng = self.rng
        before = self.path.read_bytes()
        try:
            self.logs[at].append(decision)
        except Refusal:
            self.doubtful.setdefault(decision.identity, decision)
        except Killed:
            if disk.fault == "killed unsynced" and self.rng.random() < 0.5:
                # What had not reached the disk is gone after a power cut, from any byte on.
                now = self.path.read_bytes()
                self.path.write_bytes(now[: self.rng.randrange(len(before), len(now) + 1)])
            self.doubtful.setdefault(decision.identity, decision)
            self.logs[at] = DecisionLog.open(self.path)
        else:
            self.acknowledged[decision.identity] = decision
            self.doubtful.pop(decision.identity, None)
        finally:
            disk.fault = None

    def merge(self, log, other):
        log.merge(other.path)
        self.acknowledged |= other.acknowledged
        for identity, decision in other.doubtful.items():
            if identity not in self.acknowledged:
                self.doubtful[identity] = decision

    def cut_last_line(self):
        """Append the beginning of a line, as a program leaves it that is killed while it writes."""
        line = f'{{"form": 1, "identity": "cut {self.rng.random()}", "at": "", "who": "\xdcx"'.encode()
        before = self.path.read_bytes()
        if before and not before.endswith(b"\n"):
            line = b"\n" + line
        with self.path.open("ab") as stream:
            stream.write(line[: self.rng.randrange(1, len(line))])

    def holds(self):
        """Check that no decision is lost, none doubled, and none stands that was never taken."""
        read = DecisionLog.open(self.path).decisions
        stand = {decision.identity: decision for decision in read}
        assert len(stand) == len(read)
        assert {i: stand.get(i) for i in self.acknowledged} == self.acknowledged
        assert stand.keys() <= self.acknowledged.keys() | self.doubtful.keys()
        for log in self.logs:
            log.news()
            assert {decision.identity: decision for decision in log.decisions} == stand

    def read(self):
        return {decision.identity: decision for decision in DecisionLog.open(self.path).decisions}


class Disk:
    """A disk that fails when told to."""

    fault = None
    rng = None

    def add(self, file, data):
        if self.fault == "killed" and data:
            os.write(file, data[: self.rng.randrange(len(data) + 1)])
            raise Killed
        if self.fault == "full" and data:
            os.write(file, data[: self.rng.randrange(len(data))])
            raise OSError(errno.ENOSPC, "No space left on device")
        if data:
            os.write(file, data)

    def fsync(self, _):
        if self.fault == "unsynced":
            raise OSError(errno.EIO, "Input/output error")
        if self.fault == "killed unsynced":
            raise Killed


def plainly(decisions):
    """Work out by the definitions alone what stands on each cell: decision -> text, None is a question."""
    every = {decision.identity: decision for decision in decisions}

    def undone(identity):
        return any(d.undoes == identity and not undone(d.identity) for d in every.values())

    def taken_over(identity, place):
        return any(
            identity in d.replaces
            and place in map(key, d.cells)
            and (not undone(d.identity) or taken_over(d.identity, place))
            for d in every.values()
        )

    stand = {}
    for decision in every.values():
        for one in decision.cells:
            if not undone(decision.identity) and not taken_over(decision.identity, key(one)):
                stand.setdefault(key(one), {})[decision.identity] = text_of(decision, one)
    return stand


def clean_texts(stand):
    """Texts of the clean season by those definitions."""
    fought = set()
    for texts in stand.values():
        answers = {i: text for i, text in texts.items() if text is not None}
        if len(set(answers.values())) > 1:
            fought |= answers.keys()
    out = {}
    for label, field in CELLS:
        place = int(label.rpartition("!")[2]), field
        free = {t for i, t in stand.get(place, {}).items() if t is not None and i not in fought}
        out[label, field] = free.pop() if free else season().tables["handlings"].typed.loc[label, field]
    return out


@pytest.mark.parametrize("part", range(10))
def test_no_decision_is_lost_or_doubled(part, tmp_path, monkeypatch):
    disk = Disk()
    monkeypatch.setattr("audit.review.log.add", disk.add)
    monkeypatch.setattr("audit.review.log.os.fsync", disk.fsync)
    taken = 0
    for run in range(part * RUNS // 10, (part + 1) * RUNS // 10):
        rng = random.Random(run)  # noqa: S311 - draws trials, keeps no secret
        people = [Person(tmp_path / f"{run}-{who}.decisions.jsonl", rng, who) for who in ("AB", "IP")]
        for _ in range(STEPS):
            person = rng.choice(people)
            person.step(disk, [other for other in people if other is not person])
            person.holds()
        ends(people)
        taken += sum(len(person.acknowledged) for person in people)
    assert taken > RUNS / 10 * 5


def ends(people):
    """Merge both ways, and replay."""
    one, other = people
    one.merge(one.logs[0], other)
    other.merge(other.logs[0], one)
    assert one.logs[0].merge(other.path) == 0
    assert one.read() == other.read()
    stands = [standing(person.logs[0].decisions) for person in people]
    assert stands[0] == stands[1]
    replayed = [replay(season(), declared(), person.logs[0].decisions) for person in people]
    typed = [one.season.tables["handlings"].typed for one in replayed]
    pd.testing.assert_frame_equal(*typed)
    expected = clean_texts(plainly(one.read().values()))
    assert {place: typed[0].loc[place] for place in CELLS} == expected
    assert replayed[0].orphans == ()


#: Takes decisions for ever, or so many, and says so after each.
TAKING = """
import sys
from pathlib import Path
from audit.review.decisions import DecidedCell, decide
from audit.review.log import DecisionLog

log = DecisionLog.open(Path(sys.argv[1]))
cell = DecidedCell("handlings", 2, "net_g", "288", "289", {"ring": "SV01001", "remarks": "x" * 3000})
for _ in range(int(sys.argv[2])):
    decision = decide(sys.argv[3], "amend", [cell])
    log.append(decision)
    print(decision.identity, flush=True)
"""


def taking(path, number, who):
    return subprocess.Popen(
        [sys.executable, "-c", TAKING, str(path), str(number), who], stdout=subprocess.PIPE, text=True
    )


@pytest.mark.parametrize("after", [1, 7, 30])
def test_a_killed_process_loses_nothing_that_it_had_acknowledged(after, tmp_path):
    path = tmp_path / "sallow.decisions.jsonl"
    with taking(path, 10**6, "AB") as process:
        said = [process.stdout.readline().strip() for _ in range(after)]
        os.kill(process.pid, signal.SIGKILL)
        # a line of the pipe that was cut off was not acknowledged
        said += [line.strip() for line in process.stdout.read().splitlines(keepends=True) if line[-1] == "\n"]
    log = DecisionLog.open(path)
    there = [decision.identity for decision in log.decisions]
    assert len(said) >= after
    assert there[: len(said)] == said
    assert len(there) <= len(said) + 1
    log.append(decide("IP", "ask"))
    assert len(DecisionLog.open(path).decisions) == len(there) + 1


def test_two_programs_at_one_log_lose_and_mix_nothing(tmp_path):
    path = tmp_path / "sallow.decisions.jsonl"
    with taking(path, 60, "AB") as one, taking(path, 60, "IP") as other:
        log = DecisionLog.open(path)
        for _ in range(20):
            log.append(decide("MK", "ask"))
        said = [line.strip() for process in (one, other) for line in process.stdout]
    assert log.news() or len(log.decisions) == 140
    there = [decision.identity for decision in log.decisions]
    assert log.damaged == ()
    assert len(there) == len(set(there)) == 140
    assert set(said) <= set(there)
    assert path.read_bytes().count(b"\n") == 140
