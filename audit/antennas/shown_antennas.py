"""When each antenna could be trusted, and how well it heard, as pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.passages.passages_record import ANTENNAS, STATES
from audit.models.paired_antennas import paired

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.charts.antenna_calendar import Spell
    from audit.charts.antenna_hearing import HeardShare
    from audit.charts.living import Living
    from audit.handover.passages.passages_record import PassagesRecord

__all__ = ["shown_calendar", "shown_hearing"]


def shown_calendar(record: PassagesRecord) -> Living:
    """Draw when each antenna could be trusted."""
    from audit.charts.antenna_calendar import chart
    from audit.charts.living import Living

    return Living(chart(list(_spells(record))), "No antenna logged anything.")


def shown_hearing(record: PassagesRecord) -> Living:
    """Draw how well each antenna heard the crossings that the other one heard."""
    from audit.charts.antenna_hearing import chart
    from audit.charts.living import Living

    drawn = chart(list(_heard_shares(record)), record.confidence)
    return Living(drawn, "Nothing tells how well the antennas of any box heard.")


def _spells(record: PassagesRecord) -> Iterator[Spell]:
    from audit.charts.antenna_calendar import Spell

    spells = record.spells
    columns = (spells.box, spells.antenna, spells.start, spells.end, spells.state, spells.efficiency)
    for box, antenna, start, end, state, heard in zip(*(one.tolist() for one in columns), strict=True):
        yield Spell(record.boxes[box], ANTENNAS[antenna], start, end, STATES[state], heard)


def _heard_shares(record: PassagesRecord) -> Iterator[HeardShare]:
    from audit.charts.antenna_hearing import HeardShare

    if record.crossings is None:
        return
    for box, pair in paired(record.crossings, record.confidence).items():
        for antenna, share in zip(ANTENNAS, (pair.outer_share, pair.inner_share), strict=True):
            if share.trials:
                yield HeardShare(record.boxes[box], antenna, share.value, share.low, share.high, share.trials)
