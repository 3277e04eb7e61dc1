"""Log and sheet give the clean season, each time the same, bit for bit."""

from __future__ import annotations

from functools import cache

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import audit
from audit.checking import read_season
from audit.cli import main
from audit.declarations import load_declarations
from audit.intake.amending import amend_all
from audit.review.decisions import decide, undo_of
from audit.review.log import DecisionLog
from audit.review.places import decided_cell
from audit.review.replay import replay

declared = cache(load_declarations)

BIRDS = {
    "Date": ["4.5.2026", "4.5.2026", "5.5.2026", "17.5.2026"],
    "Box": ["SL-01", "SL-01", "SL-02", "SL-03"],
    "Ring": ["SV01001", "SV01002", "SV01003", "SV01004"],
    "Gross": ["310,5", "395", "402", "288"],
    "Bag": ["22", "22", "22", "22"],
    "Net": ["288,5", "373", "380", "266?"],
    "Wing (cm)": ["20,5", "18.2", "19", "20.1"],
}


def read(columns, sheet="handlings"):
    return read_season({sheet: pd.DataFrame(columns, dtype="str")}, schemas=declared())


def decided(season, verb, *cells, who="AB", replaces=()):
    made = [decided_cell(season, f"handlings!{row}", field, instead) for row, field, instead in cells]
    return decide(who, verb, made, replaces=[one.identity for one in replaces])


def same(one, other):
    for name in one.tables:
        pd.testing.assert_frame_equal(one.frame(name), other.frame(name))
        pd.testing.assert_frame_equal(one.tables[name].typed, other.tables[name].typed)
    assert one.readings == other.readings


def texts(season, field):
    return season.tables["handlings"].typed[field].to_list()


def test_the_clean_season_is_the_sheet_with_what_was_decided():
    season = read(BIRDS)
    log = [decided(season, "amend", (2, "net_g", "288")), decided(season, "accept", (5, "wing_mm", "20,2"))]
    kept = decided(season, "keep", (5, "net_g", None))
    replayed = replay(season, declared(), [*log, kept])
    same(
        replayed.season,
        amend_all(season, declared(), [("handlings!2", "net_g", "288"), ("handlings!5", "wing_mm", "20,2")]),
    )
    same(replay(season, declared(), [kept, *log[::-1]]).season, replayed.season)
    assert [(one.label, one.field) for one in replayed.applied] == [
        ("handlings!2", "net_g"),
        ("handlings!5", "wing_mm"),
    ]
    assert [one.label for one in replayed.kept] == ["handlings!5"]
    assert replayed.is_settled
    same(season, read(BIRDS))


@given(st.randoms(use_true_random=False))
@settings(max_examples=20, deadline=None)
def test_a_sorted_sheet_gives_the_same_rows(rng):
    season = read(BIRDS)
    log = [
        decided(season, rng.choice(("amend", "accept")), (row, field, rng.choice(("7", "301"))))
        for row in range(2, 6)
        for field in ("net_g", "gross_g")
        if rng.random() < 0.6
    ]
    order = rng.sample(range(4), 4)
    moved = read({name: [column[at] for at in order] for name, column in BIRDS.items()}, "May")
    clean, again = (replay(one, declared(), log).season for one in (season, moved))
    for part in ("frame", "typed"):
        first, second = (getattr(one.tables["handlings"], part) for one in (clean, again))
        pd.testing.assert_frame_equal(first.iloc[order].reset_index(drop=True), second.reset_index(drop=True))


def test_a_conflict_holds_the_whole_decision_back():
    season = read(BIRDS)
    swap = decided(season, "accept", (2, "ring", "SV01002"), (3, "ring", "SV01001"))
    other = decided(season, "amend", (2, "ring", "SV01009"), who="IP")
    replayed = replay(season, declared(), [swap, other])
    same(replayed.season, season)
    assert [(one.label, one.cell.field) for one in replayed.conflicts] == [("handlings!2", "ring")]
    assert [one.label for one in replayed.held] == ["handlings!3"]
    settled = decided(season, "keep", (2, "ring", None), replaces=[swap, other])
    replayed = replay(season, declared(), [swap, other, settled])
    assert texts(replayed.season, "ring") == ["SV01001", "SV01001", "SV01003", "SV01004"]
    assert replayed.conflicts == ()


def test_one_cell_is_one_cell_when_its_row_was_mended_in_between():
    season = read(BIRDS)
    first = decided(season, "amend", (2, "net_g", "288"))
    mended = read(BIRDS | {"Bag": ["22,5", "22", "22", "22"]})
    second = decided(mended, "amend", (2, "net_g", "287"), replaces=[first])
    replayed = replay(mended, declared(), [first, second])
    assert replayed.conflicts == ()
    assert texts(replayed.season, "net_g")[0] == "287"
    unknowing = decided(mended, "amend", (2, "net_g", "287"), who="IP")
    assert len(replay(mended, declared(), [first, unknowing]).conflicts) == 1


def test_orphans_questions_and_what_is_already_so():
    season = read(BIRDS)
    log = [
        decided(season, "amend", (2, "net_g", "288")),
        decided(season, "amend", (3, "net_g", "374")),
        decided(season, "ask", (4, "ring", None)),
        decided(season, "amend", (5, "net_g", "266")),
    ]
    now = {name: column[:3] for name, column in BIRDS.items()} | {"Net": ["288", "375", "380"]}
    replayed = replay(read(now), declared(), log)
    assert [(one.label, one.already) for one in replayed.applied] == [("handlings!2", True)]
    assert [one.label for one in replayed.asked] == ["handlings!4"]
    assert [one.decision.identity for one in replayed.orphans] == [log[1].identity, log[3].identity]
    assert not replayed.is_settled
    assert texts(replayed.season, "net_g") == ["288", "375", "380"]
    undone = [*log, *(undo_of(log[at], "AB") for at in (1, 2, 3))]
    assert replay(read(now), declared(), undone).is_settled


def test_keep_never_touches_a_cell():
    season = read(BIRDS)
    kept = decided(season, "keep", (3, "net_g", None))
    now = read(BIRDS | {"Net": ["288,5", " 373", "380", "266?"]})
    assert texts(replay(now, declared(), [kept]).season, "net_g")[1] == " 373"


@pytest.fixture
def files(tmp_path):
    source = tmp_path / "season.csv"
    pd.DataFrame(BIRDS).to_csv(source, index=False)
    season = read_season(source, schemas=declared())
    log = DecisionLog.open(tmp_path / "season.decisions.jsonl")
    log.append(decide("AB", "amend", [decided_cell(season, "season!2", "net_g", "288")], reason="<bag>"))
    return source, season, log


def test_the_clean_tables(files, tmp_path, capsys):
    source, season, log = files
    before = source.read_bytes(), log.path.read_bytes()
    assert main(["clean", str(source), "--out", str(tmp_path / "clean")]) == 0
    assert "1 cell changed, 0 kept as typed. No decision is left to settle." in capsys.readouterr().out
    clean = pd.read_csv(tmp_path / "clean" / "handlings.csv", dtype="str")
    expected = pd.DataFrame(BIRDS | {"Net": ["288", *BIRDS["Net"][1:]]}, dtype="str")
    pd.testing.assert_frame_equal(clean, expected)
    page = (tmp_path / "clean" / "decisions.html").read_text(encoding="utf-8")
    assert "&lt;bag&gt;" in page
    assert (source.read_bytes(), log.path.read_bytes()) == before
    again = read_season(tmp_path / "clean" / "handlings.csv", schemas=declared())
    replayed = replay(season, declared(), log.decisions).season
    pd.testing.assert_frame_equal(
        again.frame("handlings").reset_index(drop=True), replayed.frame("handlings").reset_index(drop=True)
    )


def test_what_is_left_to_settle_gives_another_exit_code(files, tmp_path, capsys):
    source, season, log = files
    other = DecisionLog.open(tmp_path / "ip.decisions.jsonl")
    other.append(decide("IP", "amend", [decided_cell(season, "season!2", "net_g", "287")]))
    named = ["--decisions", str(log.path), "--decisions", str(other.path)]
    assert main(["clean", str(source), *named, "--out", str(tmp_path / "clean")]) == 1
    assert "Left to settle: 1 conflict." in capsys.readouterr().out
    assert main(["merge", str(log.path), str(other.path)]) == 1
    said = capsys.readouterr().out
    assert "1 decision added" in said
    assert "1 cell on which people differ" in said
    shown = audit.decisions(season, schemas=declared())
    assert isinstance(shown, audit.Decisions)
    assert "In conflict" in repr(shown.conflicts())
    assert "288" in shown._repr_html_()
    assert "No decision is left to settle" in repr(shown.orphans())


def test_what_is_refused(files, tmp_path, capsys):
    source, _, log = files
    log.path.rename(tmp_path / "handlings.csv")
    assert main(["clean", str(source), "--out", str(tmp_path / "clean")]) == 2
    assert "Nothing was decided about this season yet." in capsys.readouterr().err
    named = ["--decisions", str(tmp_path / "handlings.csv")]
    assert main(["clean", str(source), *named, "--out", str(tmp_path)]) == 2
    assert "would replace the file as typed" in capsys.readouterr().err
    assert main(["merge", str(source), str(tmp_path / "handlings.csv")]) == 2
    assert "This file is no log of decisions." in capsys.readouterr().err
    assert main(["merge", str(tmp_path / "no.jsonl"), str(source)]) == 2


def test_sheets_of_one_table_are_files_of_their_own(tmp_path):
    may, june = (
        pd.DataFrame(BIRDS),
        pd.DataFrame(BIRDS | {"Ring": ["SV02001", "SV02002", "SV02003", "SV02004"]}),
    )
    june = june.rename(columns={"Wing (cm)": "Wing"})
    season = read_season({"May": may, "June/2": june}, schemas=declared())
    done = audit.decisions(season, DecisionLog.open(None), schemas=declared())
    written = done.write(tmp_path)
    assert [path.name for path in written if path.suffix == ".csv"] == [
        "handlings May.csv",
        "handlings June-2.csv",
    ]
    assert "Wing (cm)" in written[0].read_text(encoding="utf-8")
