"""Write the small invented log of box antennas again: ``python tests/demo/make_detections.py``.

Two boxes of the Sallow Levels for some weeks: the broods that the demo season has there, under the tags that
they truly bear, and old birds with tags from elsewhere. Young come to the entrance from about their 45th day
on (an assumption) and fly between the 50th and the 60th (accounts of both ages). The smallest young of SL-57
is never heard, the inner antenna there is dead for three nights, and once the logger tells of its battery.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

from logger_files import stamped, table  # noqa: E402 - found only once the folder of tests is on the path
from simulated_detections import SEASON, Sky, by_events  # noqa: E402 - as above

LOG = TESTS.parent / "notebooks" / "demo" / "sallow-levels-2026.antennas.txt"
FIRST = pd.Timestamp("2026-06-13 12:00")
#: Tag by its code in the invented reads, and the evening on which it is first at the entrance; the others are
#: untagged birds. By their wings the young were 32, 31 and 29 days old on 2026-06-20, and 28, 26 and 22 on
#: 2026-06-13.
BEARS = {
    0: ("999104180002745", None),
    3: ("999104190069518", "2026-07-03 12:00"),
    4: ("999104190069101", "2026-07-04 12:00"),
    5: ("999104190069143", "2026-07-06 12:00"),
    6: ("999104180003102", None),
    7: ("999104180003098", None),
    8: ("999104190068577", "2026-06-30 12:00"),
    9: ("999104190068230", "2026-07-02 12:00"),
    10: ("999104190068624", "2026-07-06 12:00"),
}
SKY = Sky(
    seed=2026,
    boxes=2,
    nights=37,
    nestlings=4,
    cycle_s=2.0,
    field_s=3.0,
    transit_s=1.0,
    visit_s=120.0,
    trip_s=6500.0,
    rests=0.01,
    flight_night=0.72,
    dead=((1, 1, 9, 3),),
)


def text() -> str:
    """The log as its files have it."""
    reads = by_events(SKY).reads
    frame = table(reads).assign(
        box=lambda all_: all_["box"].replace("SL-02", "SL-57"),
        detected_at=lambda all_: all_["detected_at"] + (FIRST - pd.to_datetime(SEASON, unit="ms")),
    )
    bird = frame["tag"].str[-4:].astype(int)
    since = bird.map({code: pd.Timestamp(first) for code, (_, first) in BEARS.items() if first})
    frame = frame[bird.isin(list(BEARS)) & ~(frame["detected_at"] < since)]
    frame = frame.assign(tag=bird.map({code: tag for code, (tag, _) in BEARS.items()}))
    frame = frame.assign(detected_at=stamped(frame, "%Y-%m-%d %H:%M:%S"))[
        ["box", "antenna", "detected_at", "tag"]
    ]
    lines = frame.drop_duplicates().to_csv(index=False, lineterminator="\n").splitlines()
    lines.insert(400, "# battery 3.4 V")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    LOG.write_text(text(), encoding="utf-8", newline="\n")
