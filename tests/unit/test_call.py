"""The words of a call, before anything is done."""

from __future__ import annotations

import pytest

import audit
from audit.call import parser


@pytest.mark.parametrize("words", [["check", "", "--out", "o"], ["check", "a.xlsx", "--out", " "]])
def test_an_empty_name_is_no_folder(words, capsys):
    # an unset variable of a shell must not mean the folder that one is in
    with pytest.raises(SystemExit) as end:
        parser().parse_args(words)
    assert end.value.code == 2
    assert "this name is empty; name a file or folder" in capsys.readouterr().err


def test_the_version(capsys):
    with pytest.raises(SystemExit) as end:
        parser().parse_args(["--version"])
    assert end.value.code == 0
    assert capsys.readouterr().out == f"nestproof {audit.__version__}\n"
