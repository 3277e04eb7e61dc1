"""``nestproof ledger`` as a person runs it."""

from __future__ import annotations

import csv

import pytest
from end_to_end.season_files import FORMS, small_season, snapshot, three_birds, write_season
from sheets import text_file

FILES = ["ledger.html", "ring-ledger.csv", "tag-ledger.csv"]


@pytest.fixture
def ledger(nestproof, tmp_path):
    def run(season, *options, out=tmp_path / "out"):
        return nestproof("ledger", season, "--out", out, *options, out=out)

    return run


def lines(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.mark.parametrize("form", FORMS)
def test_every_form_of_file_has_a_ledger(ledger, tmp_path, form):
    path = write_season(small_season(), tmp_path, form)
    before = snapshot(tmp_path)
    told = ledger(path)
    assert (told.code, told.err, told.written) == (0, "", FILES)
    after = {name: file for name, file in snapshot(tmp_path).items() if not name.startswith("out/")}
    assert after == before
    assert told.out.startswith("Ledger of the season ")
    assert told.out.rstrip().endswith(
        f"Written:\n  {told.folder / FILES[1]}\n  {told.folder / FILES[2]}\n  {told.folder / FILES[0]}"
    )
    rings = lines(told.folder / "ring-ledger.csv")
    if form == "text file":
        assert "There is no table of the strings issued (ring stock)" in told.out
        assert {line["fate"] for line in rings} == {"on a bird"}
    else:
        assert "No question is left." in told.out
        assert {line["fate"] for line in rings} <= {"on a bird", "lost", "destroyed", "in hand"}


def test_three_birds_are_enough(ledger, tmp_path):
    told = ledger(three_birds(tmp_path))
    assert (told.code, told.err, told.written) == (0, "", FILES)
    assert "put on" in told.out
    assert [line["fate"] for line in lines(told.folder / "ring-ledger.csv")] == ["on a bird"] * 3
    assert lines(told.folder / "tag-ledger.csv") == []


def test_a_slip_is_a_question_and_ends_with_0_too(ledger, tmp_path):
    season = small_season()
    lost = season["handlings"][3]["ring"]
    season["ring_losses"] = [{"ring": lost, "fate": "returned", "date": season["handlings"][3]["date"]}]
    told = ledger(write_season(season, tmp_path))
    assert told.code == 0
    assert f"Ring {lost}" in told.out
    assert "among the losses: returned" in " ".join(told.out.split())


def test_the_download_beside_the_season_is_read_and_never_replaced(ledger, tmp_path):
    season = small_season()
    reads = season.pop("tag_reads")
    tag = season["tag_stock"][-1]["tag"]
    path = write_season(season, tmp_path)
    rows = [["read_at", "tag"], *([r["read_at"].isoformat(sep=" "), r["tag"]] for r in reads)]
    download = text_file(tmp_path / "tag-ledger.csv", [*rows, [rows[-1][0], tag]])
    told = ledger(path, "--reads", download)
    assert told.code == 0
    assert [row["fate"] for row in lines(told.folder / "tag-ledger.csv") if row["tag"] == tag] == [
        "read, on no row"
    ]
    before = snapshot(tmp_path)
    told = ledger(path, "--reads", download, out=tmp_path)
    assert told.code == 2
    assert "would replace the file as typed" in told.err
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["ledger"], "the following arguments are required: SEASON, --out"),
        (["ledger", "round.xlsx"], "the following arguments are required: --out"),
    ],
)
def test_a_call_that_is_not_understood_ends_with_2(nestproof, tmp_path, words, said):
    told = nestproof(*words, out=tmp_path / "out")
    assert told.code == 2
    assert said in told.err


def test_what_cannot_be_read_ends_with_2(ledger, tmp_path):
    told = ledger(tmp_path / "none.xlsx")
    assert (told.code, told.out, told.written) == (2, "", [])
    assert told.err.startswith("nestproof: There is no such file or folder.")


def test_help_shows_an_example(nestproof, tmp_path):
    told = nestproof("ledger", "--help", out=tmp_path)
    assert told.code == 0
    assert "Example: nestproof ledger season.xlsx --out ledger" in " ".join(told.out.split())


@pytest.mark.parametrize(
    "stock",
    [
        [["prefix", "first", "last", "issued"], ["SV", "1", "99999999999999999999", "soon"]],
        [["prefix", "first", "last"], ["", "²", "٣٤"], ["", "-", "-"], ["SV", "", ""]],
        [["first", "last"], ["SV00001", "SV00100"], ["SV00001", "SV00100"], ["SV00050", "SV00149"]],
        [["first", "last"], ["SV00001", "SV20000"]],
    ],
)
def test_an_odd_stock_has_a_ledger(ledger, tmp_path, stock):
    folder = tmp_path / "round"
    folder.mkdir()
    text_file(folder / "ring_stock.csv", stock)
    birds = [
        ["date", "box", "ring"],
        ["2026-06-01", "SL-01", "SV00001"],
        ["", "", "-"],
        ["2026-06-01", "", "²"],
    ]
    text_file(folder / "handlings.csv", birds)
    text_file(
        folder / "ring_losses.csv", [["ring", "fate", "date"], ["SV00001", "gone", "x"], ["9" * 40, "", ""]]
    )
    told = ledger(folder)
    assert (told.code, told.err, told.written) == (0, "", FILES)


def test_a_stock_that_a_ledger_has_no_room_for(ledger, tmp_path):
    folder = tmp_path / "round"
    folder.mkdir()
    text_file(folder / "ring_stock.csv", [["first", "last"], *([["SV00001", "SV00100"]] * 12)])
    text_file(folder / "handlings.csv", [["date", "box", "ring"], ["2026-06-01", "SL-01", "SV00001"]])
    own = tmp_path / "schemas"
    own.mkdir()
    (own / "ledger.yaml").write_text("most_rings: {value: 1050}\n", encoding="utf-8")
    told = ledger(folder, "--schemas", own)
    assert (told.code, told.err, told.written) == (0, "", FILES)
    # ten of twelve strings are laid out ring by ring
    rings = [line["ring"] for line in lines(told.folder / "ring-ledger.csv")]
    assert rings.count("SV00100") == 10
