"""Compare text with a golden file; a file that is not there yet is written, and the test fails once."""

from __future__ import annotations

from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "golden"


def hold_against_golden(name: str, text: str) -> None:
    path = FOLDER / name
    if not path.exists():
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
        pytest.fail(f"{name} was not there: read what was written, then run again")
    assert text == path.read_text(encoding="utf-8")
