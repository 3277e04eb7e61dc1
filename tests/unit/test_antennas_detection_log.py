"""A log in its engine: which boxes are handed on together, and from which is learnt."""

from __future__ import annotations

import pytest

from audit.antennas.log import open_log
from audit.declarations import load_declarations

#: Reads of each of six boxes.
COUNTS = (3, 3, 8, 1, 2, 4)


@pytest.fixture
def opened(tmp_path):
    """Open the log with limits of its engine."""
    log = tmp_path / "log.csv"
    lines = [
        f"SL-0{box + 1},outer,2025-06-0{1 + k} 21:14:0{k},99900000000{102 + box:04}"
        for box, count in enumerate(COUNTS)
        for k in range(count)
    ]
    log.write_text("\n".join(["box,antenna,detected_at,tag", *lines]) + "\n", encoding="utf-8")

    def opening(**limits):
        folder = tmp_path / "-".join(f"{name}{value}" for name, value in limits.items())
        folder.mkdir()
        text = "".join(f"  {name}: {{value: {value}}}\n" for name, value in limits.items())
        (folder / "loggers.yaml").write_text(f"engine:\n{text}", encoding="utf-8")
        return open_log(log, load_declarations(folder))

    return opening


@pytest.mark.parametrize(
    ("at_once", "ranges"),
    [
        # a box is never parted, and neighbours go together up to the very number
        (6, [(0, 1), (2, 2), (3, 4), (5, 5)]),
        (7, [(0, 1), (2, 2), (3, 5)]),
        (1, [(nr, nr) for nr in range(6)]),
        (21, [(0, 5)]),
        (20, [(0, 4), (5, 5)]),
    ],
)
def test_neighbouring_boxes_are_handed_on_together(opened, at_once, ranges):
    with opened(reads_at_once=at_once) as log:
        assert log.ranges() == ranges
        assert [len(reads.at) for reads in log.chunks()] == [sum(COUNTS[a : b + 1]) for a, b in ranges]
        assert log.long is (at_once < 21)


@pytest.mark.parametrize(
    ("limits", "boxes"),
    [
        ({"reads_at_once": 21, "learn_reads": 1}, None),
        ({"reads_at_once": 20, "learn_reads": 7, "learn_boxes": 1}, {0, 5}),
        # four boxes show what boxes have in common, though they have more reads than are asked for
        ({"reads_at_once": 20, "learn_reads": 7, "learn_boxes": 4}, {0, 2, 3, 5}),
        # where they have no room, fewer do
        ({"reads_at_once": 15, "learn_reads": 7, "learn_boxes": 4}, {0, 2, 5}),
    ],
)
def test_boxes_are_learnt_from_that_lie_evenly(opened, limits, boxes):
    with opened(**limits) as log:
        some = log.sample()
    assert (None if some is None else set(some.box.tolist())) == boxes
