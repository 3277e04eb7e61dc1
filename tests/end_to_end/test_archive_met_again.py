"""Birds met again in a large archive: what was known of them goes along with what was sieved."""

from __future__ import annotations

import pandas as pd
import pytest
from archive_rows import AGAIN, BIRD

from audit.archiving import audit_archive

TAGS = [f"9990001234{n:05d}" for n in range(10_000, 10_900, 37)]


def ringed(number):
    return {"ring": f"SV{number:05d}", "tag": TAGS[number], "box": f"SL-{number:02d}"}


def met(number, year, **cells):
    told = {**AGAIN, **ringed(number), "date": f"{year}-05-01", "net_g": 320.0, "gross_g": 342.0}
    return told | cells


def found_in(tmp_path, *last, before=()):
    """Each line about an archive of three seasons, of which the second and third end with some rows."""
    seasons = {
        2019: [ringed(number) for number in range(1, 13)],
        2020: [met(number, 2020) for number in range(1, 9)] + list(before),
        2021: [met(number, 2021) for number in range(4, 9)] + list(last),
    }
    folder = tmp_path / "archive"
    folder.mkdir()
    for year, rows in seasons.items():
        pd.DataFrame([{**BIRD, **row} for row in rows]).drop(columns=["scheme"]).to_csv(
            folder / f"{year}.csv", index=False
        )
    lines = audit_archive(folder, tmp_path / "out", whole=False).findings()
    lines = lines if lines.empty else lines[lines["severity"] != "note"]
    return [] if lines.empty else lines[["file", "row", "rule", "field", "suggested"]].to_numpy().tolist()


@pytest.mark.parametrize("number", [1, 10])
def test_a_slip_in_the_tag_of_a_bird_met_again(tmp_path, number):
    typed = TAGS[number][:-3] + "9" + TAGS[number][-2:]
    found = found_in(tmp_path, met(number, 2021, tag=typed))
    assert found == [["2021.csv", "7", "earlier.tag", "tag", TAGS[number]]]


def test_a_bird_met_again_as_it_was_is_left_alone(tmp_path):
    assert found_in(tmp_path, met(1, 2021), met(10, 2021)) == []


def test_a_ring_that_was_misread_in_one_season_is_told_of_once(tmp_path):
    # in its own season, and not again as a tag that is on two rings, with the bird's next meeting
    misread = met(9, 2020, ring="SV00099")
    found = found_in(tmp_path, met(9, 2021), before=[misread])
    assert found == [["2020.csv", "10", "earlier.ring", "ring", "SV00009"]]
