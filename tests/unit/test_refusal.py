"""A refusal is addressed to a person: in a notebook, too, it comes without a traceback."""

from __future__ import annotations

import pickle

import pytest
from IPython.core.interactiveshell import InteractiveShell

from audit.refusal import GateRefusal, Refusal, SeasonRefusal


@pytest.fixture
def shell(tmp_path, monkeypatch):
    # no trace left in anybody's history
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path))
    yield InteractiveShell.instance()
    InteractiveShell.clear_instance()


def test_a_notebook_shows_what_where_and_how_to_mend_it(shell, capsys):
    shell.run_cell(
        "from audit.refusal import Refusal\n"
        "raise Refusal('There is no box.', where='Ringing!17', cure='Write the box.')"
    )
    said = capsys.readouterr().out
    assert said.split("\n")[-4:-1] == [
        "There is no box.",
        "  where: Ringing!17",
        "  cure:  Write the box.",
    ]
    assert "Traceback" not in said


@pytest.mark.parametrize("kind", [Refusal, SeasonRefusal, GateRefusal])
def test_it_passes_from_one_process_to_another(kind):
    one = pickle.loads(pickle.dumps(kind("No.", where="here", cure="Mend it.")))  # noqa: S301 - our own
    assert (type(one), one.what, one.where, one.cure) == (kind, "No.", "here", "Mend it.")
