"""A season checked again with the answers of the last time: the same files, to the byte."""

from __future__ import annotations

from end_to_end.season_files import BIRDS, HEADER, three_birds, workbook

KEPT = ".answers.json"


def test_a_changed_season_is_checked_again_as_if_for_the_first_time(nestproof, tmp_path):
    path = three_birds(tmp_path)

    def files(folder, *words):
        told = nestproof("check", path, "--out", tmp_path / folder, *words, out=tmp_path / folder)
        return told.code, {name: (told.folder / name).read_bytes() for name in told.written}

    files("again", "--keep-answers")
    slipped = [f"-{text}" if text.isdigit() else text for text in BIRDS[1]]
    workbook(path, {"handlings": [HEADER, BIRDS[0], slipped, *BIRDS[2:]]})
    code, again = files("again", "--keep-answers")
    assert again.pop(KEPT)
    assert (code, again) == files("anew")
    assert code == 1
