"""``nestproof power`` as a person runs it."""

from __future__ import annotations

import csv
import re

import pytest
from end_to_end.season_files import FORMS, small_season, snapshot, three_birds, write_season
from sheets import text_file

COUNT = re.compile(r"^(\d+) slips?, up to (\d+) of each kind in each column", re.MULTILINE)


@pytest.fixture
def power(nestproof, tmp_path):
    """Run a short test: a team that will not wait writes so in its declarations."""
    (tmp_path / "ours").mkdir()
    hasty = "power: {audits_most: {value: 4}}\n"
    (tmp_path / "ours" / "practice.yaml").write_text(hasty, encoding="utf-8")

    def run(season, *options, out=tmp_path / "out"):
        return nestproof("power", season, "--schemas", tmp_path / "ours", *options, out=out)

    return run


@pytest.mark.parametrize("form", FORMS)
def test_every_form_of_file_is_tested(power, tmp_path, form):
    path = write_season(small_season(), tmp_path, form)
    before = snapshot(tmp_path)
    told = power(path, "--each", "1")
    assert (told.code, told.err) == (0, "")
    assert snapshot(tmp_path) == before
    planted, most = map(int, COUNT.search(told.out).groups())
    assert (planted >= 4, most) == (True, 1)
    assert "(4 audits)" in told.out
    assert "the test ended before every kind had its number" in " ".join(told.out.split())
    assert told.out.rstrip().endswith("about what was written down wrongly at the box.")


def test_three_birds_are_enough(power, tmp_path):
    told = power(three_birds(tmp_path), "--each", "1")
    assert (told.code, told.err) == (0, "")
    assert "Self-test of the season round, 3 handlings." in told.out
    assert re.search(r"This sheet has no .*\btag\b", told.out)
    words = " ".join(told.out.split())
    assert "3 of 3 birds were handled once" in words
    assert "Without the strings of rings as issued" in words


def test_the_seed_decides(power, tmp_path):
    path = three_birds(tmp_path)
    one, again, other = (power(path, "--each", "3", "--seed", seed).out for seed in (1, 1, 2))
    assert one == again != other


def test_the_results_are_written(power, tmp_path):
    path, out = three_birds(tmp_path), tmp_path / "out"
    told = power(path, "--each", "1", "--out", out, out=out)
    assert told.code == 0
    assert told.written == ["power.csv", "power.html"]
    assert told.out.rstrip().endswith(f"Written:\n  {out / 'power.csv'}\n  {out / 'power.html'}")
    with (out / "power.csv").open(encoding="utf-8", newline="") as stream:
        lines = list(csv.DictReader(stream))
    assert sum(int(line["planted"]) for line in lines) == int(COUNT.search(told.out)[1])
    page = (out / "power.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert "Season round: what an audit would find" in page


def test_files_of_the_reader_are_read_too(power, tmp_path):
    season = small_season()
    reads = season.pop("tag_reads")
    path = write_season(season, tmp_path)
    text = [["read_at", "tag"], *([row["read_at"].isoformat(sep=" "), row["tag"]] for row in reads)]
    file = text_file(tmp_path / "reader.csv", text)
    without = power(path, "--each", "1")
    given = power(path, "--each", "1", "--reads", file)
    hint = "Without a download of the hand reader"
    assert hint in " ".join(without.out.split())
    assert hint not in " ".join(given.out.split())


# mistakes


@pytest.mark.parametrize("word", ["0", "-3", "many", "1.5"])
@pytest.mark.parametrize("option", ["--each", "--seed"])
def test_a_number_that_is_none_is_refused(power, tmp_path, option, word):
    told = power(three_birds(tmp_path), f"{option}={word}")
    assert told.code == 2
    assert f"'{word}' is no whole number above 0" in told.err
    assert "Traceback" not in told.err


@pytest.mark.parametrize(
    ("options", "place"),
    [
        (("--schemas", "nowhere"), "nowhere"),
        (("--reads", "nowhere.csv"), "nowhere.csv"),
    ],
)
def test_what_is_not_there_is_named(power, tmp_path, options, place, monkeypatch):
    monkeypatch.chdir(tmp_path)
    told = power(three_birds(tmp_path), *options)
    assert told.code == 2
    assert told.out == ""
    assert re.search(rf"where: .*{re.escape(place)}\n  cure:  \w", told.err)


def test_a_missing_season_is_refused(power, tmp_path):
    told = power(power, tmp_path / "none.xlsx")
    assert (told.code, told.out) == (2, "")
    assert "none.xlsx" in told.err


def test_no_result_replaces_what_was_read(power, tmp_path):
    path = text_file(tmp_path / "power.csv", [["date", "box", "ring"], ["2026-06-03", "SL-04", "SV01120"]])
    before = snapshot(tmp_path)
    told = power(path, "--each", "1", "--out", tmp_path)
    assert told.code == 2
    assert "would replace the file as typed" in told.err
    assert snapshot(tmp_path) == before
