"""The program as a person runs it, in this process, with an eye on the files that it was given."""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pytest
from end_to_end.season_files import snapshot

from audit.charts import beside
from audit.cli import main

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class Told:
    """What one run printed and wrote."""

    code: int
    out: str
    err: str
    folder: Path

    @property
    def written(self) -> list[str]:
        return sorted(path.name for path in self.folder.iterdir()) if self.folder.is_dir() else []

    @property
    def lines(self) -> list[dict[str, str]]:
        with (self.folder / "findings.csv").open(encoding="utf-8", newline="") as stream:
            return list(csv.DictReader(stream))

    @property
    def tree(self) -> dict[str, Any]:
        return json.loads((self.folder / "findings.json").read_text(encoding="utf-8"))

    @property
    def findings(self) -> list[dict[str, Any]]:
        return self.tree["findings"]

    @property
    def above_notes(self) -> list[dict[str, str]]:
        return [line for line in self.lines if line["severity"] != "note"]


Run = "Callable[..., Told]"


@pytest.fixture(autouse=True)
def drawn_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw in this process: to start another for each command costs four times the command.

    `tests/unit/test_charts_beside.py` holds that pictures are the same wherever they are drawn; what fixtures
    of a module write, and what runs as a process of its own, is drawn beside.
    """
    monkeypatch.setattr(beside, "_started", lambda: None)


@pytest.fixture
def nestproof(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the program with some words; ``exit`` of the parser becomes a code as it would in a shell."""

    def run(*words: object, out: Path) -> Told:
        try:
            code = main([str(word) for word in words])
        except SystemExit as stop:
            code = int(stop.code or 0)
        said = capsys.readouterr()
        return Told(code, said.out, said.err, out)

    return run


@pytest.fixture
def check(nestproof: Run, tmp_path: Path) -> Run:
    """Check a season below `tmp_path` into ``tmp_path/out``; whatever else lies there must stay as it was."""

    def run(season: object, *options: object) -> Told:
        out = tmp_path / "out"
        before = snapshot(tmp_path)
        told = nestproof("check", season, "--out", out, *options, out=out)
        after = {name: file for name, file in snapshot(tmp_path).items() if not name.startswith("out/")}
        assert after == {name: file for name, file in before.items() if not name.startswith("out/")}
        return told

    return run
