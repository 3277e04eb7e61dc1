"""Write the small invented log of box antennas again: ``python tests/demo/make_detections.py``.

Two boxes of the Sallow Levels for two weeks: a pair and its young at each, the inner antenna of SL-02 dead
for three nights, and a line in which the logger told of its battery.
"""

from __future__ import annotations

import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

# the path to the tests has to be set before
from logger_files import stamped, table  # noqa: E402
from simulated_detections import Sky, by_events  # noqa: E402

LOG = TESTS.parent / "notebooks" / "demo" / "sallow-levels-2026.antennas.txt"
SKY = Sky(
    seed=2026,
    boxes=2,
    nights=14,
    nestlings=2,
    cycle_s=2.0,
    field_s=2.5,
    trip_s=3600.0,
    rests=0.01,
    dead=((1, 1, 6, 3),),
)


def text() -> str:
    frame = table(by_events(SKY).reads)
    frame = frame.assign(detected_at=stamped(frame, "%Y-%m-%d %H:%M:%S"))[
        ["box", "antenna", "detected_at", "tag"]
    ]
    lines = frame.drop_duplicates().to_csv(index=False, lineterminator="\n").splitlines()
    lines.insert(400, "# battery 3.4 V")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    LOG.write_text(text(), encoding="utf-8", newline="\n")
