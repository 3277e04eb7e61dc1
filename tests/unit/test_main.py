"""The program as a process: what it spares the interpreter, and that its exit code is that of the command."""

from __future__ import annotations

import gc
import sys

import pytest

import audit.cli
from audit.__main__ import run


@pytest.fixture(autouse=True)
def _as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gc, "set_threshold", lambda *_: None)
    monkeypatch.setattr(sys, "modules", dict(sys.modules))


@pytest.mark.parametrize("code", [0, 1, 2])
def test_the_exit_code_is_that_of_the_command_and_nothing_is_looked_through_at_the_end(
    code: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []

    def command() -> int:
        done.append("command")
        return code

    monkeypatch.setattr(audit.cli, "main", command)
    monkeypatch.setattr(gc, "freeze", lambda: done.append("freeze"))
    assert run() == code
    assert done == ["command", "freeze"]


def test_wrong_arguments_end_the_program_as_they_do_without_it(monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    monkeypatch.setattr(gc, "freeze", lambda: done.append("freeze"))
    monkeypatch.setattr(sys, "argv", ["nestproof", "no such verb"])
    with pytest.raises(SystemExit) as ended:
        run()
    assert ended.value.code == 2
    assert done == ["freeze"]


def test_who_stops_it_gets_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def command() -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(audit.cli, "main", command)
    monkeypatch.setattr(gc, "freeze", lambda: None)
    assert run() == 130
    assert capsys.readouterr().err == (
        "nestproof: Stopped before it was done. No file that was read was changed.\n"
    )
