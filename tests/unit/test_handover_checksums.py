"""Checksums: held against the standard's own example and against the program that reads the list."""

from __future__ import annotations

import shutil
import subprocess

import pandas as pd
import pytest

from audit.checking import read_season
from audit.handover.checksums import checksum_list, checksums_in, refuse_changed
from audit.handover.open_elsewhere import refuse_open_elsewhere
from audit.intake.fingerprint import fingerprint, fingerprints
from audit.refusal import Refusal

#: FIPS 180-4, example of NIST for the message "abc" (Cryptographic Standards and Guidelines, SHA256.pdf).
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

ROWS = "date,box,ring\n2026-06-13,SL-01,SV01001\n"


def test_the_example_of_the_standard(tmp_path):
    (tmp_path / "abc").write_bytes(b"abc")
    one = fingerprint(tmp_path / "abc")
    assert (one.sha256, one.size) == (ABC, 3)


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="the program is not on every system")
def test_the_list_is_read_by_sha256sum(tmp_path):
    (tmp_path / "tables").mkdir()
    (tmp_path / "tables" / "a b.csv").write_text("a\n", encoding="utf-8")
    (tmp_path / "c").write_text("c\n", encoding="utf-8")
    (tmp_path / "sums").write_text(checksum_list(checksums_in(tmp_path)), encoding="utf-8")
    called = ["sha256sum", "--check", "--strict", "--quiet", "sums"]
    assert subprocess.run(called, cwd=tmp_path, check=False).returncode == 0
    (tmp_path / "c").write_text("d\n", encoding="utf-8")
    assert subprocess.run(called, cwd=tmp_path, check=False, capture_output=True).returncode != 0


def test_a_season_knows_what_it_was_read_from(tmp_path):
    (tmp_path / "round.csv").write_text(ROWS, encoding="utf-8")
    (tmp_path / "round.mapping.yaml").write_text("sheets: {}\n", encoding="utf-8")
    season = read_season(tmp_path / "round.csv")
    assert season.files == fingerprints(tmp_path / "round.csv", tmp_path / "round.mapping.yaml")
    refuse_changed(season.files)
    folder = tmp_path / "folder"
    folder.mkdir()
    shutil.copy(tmp_path / "round.csv", folder / "handlings.csv")
    assert [one.path for one in read_season(folder).files] == [str(folder / "handlings.csv")]
    frame = pd.DataFrame([{"date": "2026-06-13", "box": "1", "ring": "SV1"}])
    assert read_season({"handlings": frame}).files == ()


def test_a_file_that_was_changed_or_is_gone_is_refused(tmp_path):
    path = tmp_path / "round.csv"
    path.write_text(ROWS, encoding="utf-8")
    season = read_season(path)
    path.write_text(ROWS.replace("01001", "01002"), encoding="utf-8")
    with pytest.raises(Refusal, match="changed since it was read"):
        refuse_changed(season.files)
    path.unlink()
    with pytest.raises(Refusal, match="cannot be read any more"):
        refuse_changed(season.files)


@pytest.mark.parametrize("lock", ["~$round.csv", ".~lock.round.csv#", "~$und.csv"])
def test_an_open_workbook_is_refused(tmp_path, lock):
    path = tmp_path / "round.csv"
    path.write_text(ROWS, encoding="utf-8")
    files = read_season(path).files
    refuse_open_elsewhere(files)
    (tmp_path / lock).write_text("AB", encoding="utf-8")
    with pytest.raises(Refusal, match="open in a spreadsheet program") as refused:
        refuse_open_elsewhere(files)
    assert lock in refused.value.cure
