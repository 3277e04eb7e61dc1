"""One night of one box, as a picture."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from audit.handover.passages.passages_record import ANTENNAS, DIRECTIONS, HOW, STATES
from audit.intake.wording import listed
from audit.refusal import Refusal

if TYPE_CHECKING:
    from audit.charts.living import Living
    from audit.handover.passages.passages_record import PassagesRecord

__all__ = ["shown_night"]

_DAY_MS = 86_400_000
_EPOCH = dt.date(1970, 1, 1)
_SHOWN = 6


def shown_night(record: PassagesRecord, box: str = "", night: str = "") -> Living:
    """Draw who went in and out of a box in one night.

    Parameters
    ----------
    box : str
        By default the one with most passages.
    night : str
        The day of the evening, as 2026-05-04; by default the night of that box with most passages.

    Raises
    ------
    audit.refusal.Refusal
        There is no such box, or the night is no day.
    """
    from audit.charts.living import Living
    from audit.charts.night import Crossing, Silence, chart

    found = record.passages
    if not len(found.at):
        return Living(None, "No bird passed.")
    if box and box not in record.boxes:
        known = listed([*record.boxes[:_SHOWN], *(["others"] if len(record.boxes) > _SHOWN else [])])
        raise Refusal("There is no such box in this log.", where=box, cure=f"Name one of these: {known}.")
    code = record.boxes.index(box) if box else int(np.bincount(found.box).argmax())
    mine = np.flatnonzero(found.box == code)
    evenings = (found.at[mine] - _DAY_MS // 2) // _DAY_MS
    if night:
        evening = _day(night)
    else:
        days, counts = np.unique(evenings, return_counts=True)
        evening = int(days[counts.argmax()]) if len(days) else 0
    crossings = [
        Crossing(
            record.tags[found.tag[nr]],
            int(found.at[nr]),
            DIRECTIONS[found.direction[nr]],
            float(found.p[nr]),
            HOW[found.how[nr]] == "inferred",
        )
        for nr in mine[evenings == evening].tolist()
    ]
    spells = record.spells
    silent = np.flatnonzero((spells.box == code) & (spells.state > 0))
    columns = (spells.antenna, spells.state, spells.start, spells.end)
    silences = [
        Silence(ANTENNAS[antenna], STATES[state], start, end)
        for antenna, state, start, end in zip(*(one[silent].tolist() for one in columns), strict=True)
    ]
    drawn = chart(record.boxes[code], evening, crossings, silences)
    return Living(drawn, f"No bird passed at {record.boxes[code]} that night.")


def _day(text: str) -> int:
    try:
        return (dt.date.fromisoformat(text) - _EPOCH).days
    except ValueError:
        raise Refusal("This is no day.", where=text, cure="Write it as 2026-05-04.") from None
