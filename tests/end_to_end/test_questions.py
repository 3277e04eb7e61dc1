"""Ask, look up, answer: the commands `questions` and `answers` on a season file."""

from __future__ import annotations

import csv
import sys

import pytest
from asked_season import asks, rows
from query_files import fill, rows_of, write_csv, write_ods
from sheets import workbook

import audit
from audit.cli import main
from audit.handover.query.words import ANSWER, SAME, UNREADABLE
from audit.review.log import DecisionLog

NET, RING = ("handlings!3", "net_g"), ("handlings!7", "ring")


@pytest.fixture
def asked(tmp_path):
    """Write a season with two questions in the log beside it."""
    lines = rows()
    heads = [*lines[0], "remarks"]
    path = workbook(
        tmp_path / "round.xlsx",
        {"handlings": [heads, *([row.get(head, "") for head in heads] for row in lines)]},
    )
    log = DecisionLog.open(tmp_path / "round.decisions.jsonl")
    for decision in asks(audit.read_season(path), [NET], [RING]):
        log.append(decision)
    return path


def test_questions_are_written_answered_and_gone(asked, tmp_path, capsys):
    before = asked.read_bytes()
    assert main(["questions", str(asked), "--out", str(tmp_path / "q")]) == 0
    said = capsys.readouterr().out
    assert "2 questions on 2 pages of the field notebook." in said
    assert "2. bird 2 of 3, ring SV01002, 11:04, between SV01001 and SV01003: net_g 302" in said
    names = sorted(path.name for path in (tmp_path / "q").iterdir())
    assert names == [f"round.questions.{end}" for end in ("html", "pdf", "xlsx")]

    lines = rows_of(tmp_path / "q" / "round.questions.xlsx")
    back = write_ods(tmp_path / "back.ods", fill(lines, {"ask1#1": {ANSWER: "278"}, "ask2#1": {SAME: "yes"}}))
    assert main(["answers", str(asked), str(back), "--who", "IP"]) == 0
    assert capsys.readouterr().out == "2 answers taken over.\n"
    assert main(["answers", str(asked), str(back), "--who", "IP"]) == 0
    assert "2 answers had been read before; nothing is doubled." in capsys.readouterr().out

    log = DecisionLog.open(tmp_path / "round.decisions.jsonl")
    assert len(log.decisions) == 4
    main(["questions", str(asked), "--out", str(tmp_path / "q")])
    assert "No question is open." in capsys.readouterr().out
    assert asked.read_bytes() == before


def test_the_answers_make_the_clean_season(asked, tmp_path):
    from audit.declarations import load_declarations
    from audit.review.replay import replay

    season = audit.read_season(asked)
    log = tmp_path / "round.decisions.jsonl"
    sheet = audit.query_sheet(season, log)
    sheet.write(tmp_path / "q")
    lines = rows_of(tmp_path / "q" / "round.questions.xlsx")
    back = write_csv(tmp_path / "back.csv", fill(lines, {"ask1#1": {ANSWER: "278"}}, for_all="IP"))
    taken = audit.read_answers(season, back, log)
    assert len(taken.decisions) == 1
    clean = replay(season, load_declarations(), DecisionLog.open(log).decisions).season
    assert clean.frame("handlings").at[NET] == 278


def test_all_open_findings_can_be_asked_and_answered(asked, tmp_path, capsys):
    (tmp_path / "round.decisions.jsonl").unlink()
    main(["questions", str(asked), "--out", str(tmp_path / "q")])
    assert "No question is open.\nListed is what was asked about at the desk." in capsys.readouterr().out
    main(["questions", str(asked), "--out", str(tmp_path / "q"), "--all"])
    said = capsys.readouterr().out
    assert "net_g 302" in said
    assert "--all" not in said
    lines = rows_of(tmp_path / "q" / "round.questions.xlsx")
    (identity,) = [line[-1] for line in lines if line[3] == "net_g"]
    back = write_csv(tmp_path / "back.csv", fill(lines, {identity: {ANSWER: "278"}}, for_all="IP"))
    assert main(["answers", str(asked), str(back)]) == 0
    assert main(["answers", str(asked), str(back)]) == 0
    assert "1 answer had been read before" in capsys.readouterr().out
    assert len(DecisionLog.open(tmp_path / "round.decisions.jsonl").decisions) == 1


def test_what_is_not_taken_is_told_with_cell_and_cure(asked, tmp_path, capsys):
    main(["questions", str(asked), "--out", str(tmp_path / "q")])
    lines = rows_of(tmp_path / "q" / "round.questions.xlsx")
    filled = fill(
        lines, {"ask1#1": {ANSWER: "27 8 0 x"}, "ask2#1": {SAME: "yes", UNREADABLE: "yes"}}, for_all="IP"
    )
    back = write_csv(tmp_path / "back.csv", filled)
    capsys.readouterr()
    assert main(["answers", str(asked), str(back)]) == 1
    said = capsys.readouterr().out
    assert "No new answer was found.\nNot taken over:\n" in said
    assert "back G5: The line says both same as typed and cannot be read. Leave one of them." in said
    assert "back G6: " in said
    assert len(DecisionLog.open(tmp_path / "round.decisions.jsonl").decisions) == 2


def test_another_file_is_refused_with_a_cure(asked, capsys):
    assert main(["answers", str(asked), str(asked)]) == 2
    said = capsys.readouterr().err
    assert "This is no query sheet" in said
    assert "cure:" in said
    assert "Traceback" not in said


def test_results_never_replace_the_season_or_the_log(asked, tmp_path, capsys):
    copy = asked.rename(tmp_path / "x.questions.xlsx")
    with (tmp_path / "x.csv").open("w", newline="") as stream:
        csv.writer(stream).writerows([["date", "box", "ring"], ["2026-06-13", "SL-01", "SV01001"]])
    assert main(["questions", str(tmp_path / "x.csv"), "--out", str(tmp_path), "--decisions", str(copy)]) == 2
    assert capsys.readouterr().err


def test_nothing_is_fetched(asked, tmp_path, monkeypatch):
    """Without a network the same files come out."""
    import socket

    def no_network(*_args, **_more):
        raise AssertionError("a network was asked for")

    monkeypatch.setattr(socket.socket, "connect", no_network)
    assert main(["questions", str(asked), "--out", str(tmp_path / "q")]) == 0
    assert "typst" in sys.modules
