"""What a tag is follows from all boxes of a log, however they are chunked."""

from __future__ import annotations

import numpy as np
import pytest

from audit.antennas import relations
from audit.antennas.followed import without_repeats
from audit.antennas.log import open_log
from audit.antennas.over_boxes import ends_of, ghosts_over, heard_of, markers_over
from audit.declarations import load_declarations
from audit.models.ghosts import find_ghosts
from audit.models.health_beliefs import HealthBeliefs
from audit.passing import passages

DAY, START = 86_400_000, 1_777_000_000_000
BIRDS = ("999000000000104", "999000000000225", "999000000000337", "999000000000448")
MARKER, RARE, SLIP, NOISE = "999000000990001", "999000000715558", "999000000000114", "999000000666016"
FEW = """engine:
  reads_at_once: {value: 700, source: a test, grade: common practice}
  learn_reads: {value: 700, source: a test, grade: common practice}
"""


def _lines():
    """Four boxes with a bird each; what the tags beside them are shows over all boxes only."""
    rng, rows = np.random.default_rng(8), []
    for box, bird in enumerate(BIRDS):
        for at in (START + np.cumsum(rng.integers(120_000, 6_000_000, 300))).tolist():
            sides = ("outer", "inner") if len(rows) % 4 == 0 else ("inner", "outer")
            rows += [(box, sides[0], at, bird), (box, sides[1], at + 900, bird)]
    # it beats at one box, and lay beside another for minutes only
    rows += [(0, "outer", START + beat * 900_000, MARKER) for beat in range(300)]
    rows += [(3, "outer", START + beat * 900_000, MARKER) for beat in range(3)]
    # a visitor that one box heard once, and another by both antennas
    rows += [(1, "inner", START + 5_000_000, RARE)]
    rows += [(2, "outer", START + DAY, RARE), (2, "inner", START + DAY + 700, RARE)]
    # one digit beside the first bird, at its box, and more rarely by far
    rows += [(0, "outer", START + DAY + 777, SLIP), (0, "outer", START + DAY + 1_500, SLIP)]
    # read once in each of two boxes
    rows += [(0, "inner", START + 2 * DAY + 333, NOISE), (3, "inner", START + 3 * DAY + 333, NOISE)]
    return rows


def _write(path, rows):
    moments = np.array([at for _, _, at, _ in rows], dtype="datetime64[ms]").astype(str)
    lines = [
        f"SL-{box + 1:02d},{side},{at},{tag}" for (box, side, _, tag), at in zip(rows, moments, strict=True)
    ]
    path.write_text("\n".join(["box,antenna,detected_at,tag", *lines]) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def few(tmp_path):
    folder = tmp_path / "schemas"
    folder.mkdir()
    (folder / "loggers.yaml").write_text(FEW, encoding="utf-8")
    return folder


def test_the_sums_of_nights_are_what_the_engine_says(tmp_path):
    declared = load_declarations()
    with open_log(_write(tmp_path / "log.csv", _lines()), declared) as log:
        summed = heard_of(log.table(relations.presence(log.relation)))
        asked = log.table(relations.heard(log.relation))
        first, last = ends_of(summed)
        whole = next(log.chunks())
    assert {name: column.tolist() for name, column in summed.items()} == {
        name: column.tolist() for name, column in asked.items()
    }
    edges = [
        (whole.at[whole.box == box].min(), whole.at[whole.box == box].max()) for box in range(len(BIRDS))
    ]
    assert list(zip(first.tolist(), last.tolist(), strict=True)) == edges


@pytest.mark.parametrize("again", [False, True], ids=["once", "two downloads"])
def test_tags_are_told_as_in_one_chunk(tmp_path, few, again):
    rows = _lines()
    logs = tmp_path / "logs"
    logs.mkdir()
    for name in ("a.csv", "b.csv")[: 1 + again]:
        _write(logs / name, rows)
    declared = load_declarations(few)
    with open_log(logs, declared) as log:
        assert log.long
        heard = heard_of(log.table(relations.presence(log.relation)))
        chunks = [without_repeats(chunk) for chunk in log.chunks()]
        assert len(chunks) > 1
        whole = without_repeats(log.of_tags(range(len(log.tags))))
        asked = 10.0, 5, 20.0
        noise = {log.tags[code] for code in ghosts_over(log, heard, *asked)}
        alone = [find_ghosts(log.tags, chunk, *asked).ghost for chunk in chunks]
        beliefs = _beliefs(declared)
        markers = {log.tags[code] for code in markers_over(log, heard, beliefs, 60.0)}
        told = find_ghosts(log.tags, whole, *asked).ghost
        tags = log.tags
    assert noise == {tags[code] for code in np.flatnonzero(told).tolist()} == {SLIP, NOISE}
    # a chunk by itself takes the visitor for noise
    assert any(ghost[tags.index(RARE)] for ghost in alone)
    assert markers == {MARKER}


def test_a_marker_is_no_bird_at_a_box_where_it_was_read_a_few_times(tmp_path, few):
    passed = passages(_write(tmp_path / "log.csv", _lines()), schemas=few)
    record = passed.record
    assert [record.tags[code] for code in record.markers] == [MARKER]
    assert {record.tags[code] for code in record.noise} == {SLIP, NOISE}
    assert MARKER not in {record.tags[code] for code in np.unique(record.passages.tag).tolist()}


@pytest.mark.parametrize("long", [False, True], ids=["one chunk", "chunks"])
def test_a_tag_that_was_given_out_is_no_noise_however_it_is_written(tmp_path, few, long):
    given = [f"{SLIP[:3]} {SLIP[3:]}", NOISE]
    passed = passages(_write(tmp_path / "log.csv", _lines()), schemas=few if long else None, given=given)
    assert not {SLIP, NOISE} & {passed.record.tags[code] for code in passed.record.noise}


def _beliefs(declared):
    names = {
        key.removeprefix("antennas.health."): limit.value
        for key, limit in declared.settings.items()
        if key.startswith("antennas.health.")
    }
    return HealthBeliefs(**{name: names[name] for name in HealthBeliefs.__slots__})
