"""What is sent to another process to judge pieces of an archive."""

from __future__ import annotations

import pickle

from audit.archive.pieces import PieceJudge
from audit.declarations import load_declarations


def again(judge):
    return pickle.loads(pickle.dumps(judge))  # noqa: S301 - made here


def test_declarations_are_unpacked_once_for_all_pieces():
    judge = PieceJudge(load_declarations(), {"2019.csv": {"net_g": "Netto"}})
    sent = [again(judge) for _ in range(2)]
    assert sent[0].declared is sent[1].declared
    assert sent[0].declared.tables == judge.declared.tables
    assert sent[1].headers == judge.headers
    other = again(PieceJudge(load_declarations(), {}))
    assert other.declared.tables == judge.declared.tables
    assert other.headers == {}
