"""When can the antennas of each box be trusted? One line for each antenna, from day to day."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import altair as alt
import numpy as np

from audit.charts.layers import dressed
from audit.charts.palette import BAND, INK, PLAIN, TONES
from audit.charts.wording import counted
from audit.models.box_label import natural_order

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Spell", "chart"]

_WIDTH, _STEP, _MOST = 680, 16, 40
#: Colour, height and word of each state: none is told by colour alone.
_LOOKS = {
    "awake": (BAND, 12, ""),
    "asleep": (PLAIN, 3, ""),
    "dead": (TONES["error"].fill, 12, "dead"),
    "unknown": (TONES["suspect"].fill, 12, "?"),
}


@dataclass(frozen=True, slots=True)
class Spell:
    """One piece of the life of an antenna: milliseconds since 1970, the state, and how well it heard."""

    box: str
    antenna: str
    start: int
    end: int
    state: str
    efficiency: float


def chart(spells: Sequence[Spell], *, most: int = _MOST) -> alt.LayerChart | None:
    """Draw when each antenna was awake, asleep, dead, or nobody knows.

    Parameters
    ----------
    most : int
        Antennas that are drawn; those with dead spells come first, and the rest is counted.

    Returns
    -------
    altair.LayerChart or None
        None where nothing is known.
    """
    if not spells:
        return None
    names = {(one.box, one.antenna): f"{one.box} {one.antenna}" for one in spells}
    dead = {(one.box, one.antenna) for one in spells if one.state == "dead"}

    def order(pair: tuple[str, str]) -> tuple[Any, ...]:
        return natural_order(pair[0]), pair[0], pair[1] == "inner"

    chosen = sorted(sorted(names, key=order), key=lambda pair: pair not in dead)[:most]
    lines = [names[pair] for pair in sorted(chosen, key=order)]
    kept = [one for one in spells if names[one.box, one.antenna] in set(lines)]
    rows = [
        {
            "line": names[one.box, one.antenna],
            "x": one.start,
            "x2": one.end,
            "state": one.state,
            "from": _day(one.start),
            "to": _day(one.end),
            "heard": "" if np.isnan(one.efficiency) else f"{one.efficiency:.2f}",
            "word": _LOOKS[one.state][2],
        }
        for one in kept
    ]
    x = alt.X("x:T", title="day", scale=alt.Scale(type="utc"), axis=alt.Axis(format="%d %b"))
    y = alt.Y("line:N", title=None, sort=lines, scale=alt.Scale(domain=lines))
    tips = [alt.Tooltip(f"{name}:N") for name in ("line", "state", "from", "to", "heard")]
    layers: list[alt.Chart] = []
    for state, (colour, height, _) in _LOOKS.items():
        some = [row for row in rows if row["state"] == state]
        if some:
            bars = alt.Chart(alt.InlineData(values=some)).mark_bar(height=height, color=colour, aria=False)
            layers.append(bars.encode(x=x, x2="x2:T", y=y, tooltip=tips))
    worded = [row for row in rows if row["word"]]
    if worded:
        words = alt.Chart(alt.InlineData(values=worded)).mark_text(
            align="left", dx=3, color=INK, fontSize=10, aria=False
        )
        layers.append(words.encode(x=x, y=y, text="word:N"))
    spans = [one for one in kept if one.state == "dead"]
    below = [
        f"{counted(len(names), 'antenna')}, {counted(len(spans), 'dead spell')}",
        "thick: awake; thin line: asleep every night; with a word: dead, or ? for not known",
    ]
    if len(names) > len(lines):
        below.append(f"{counted(len(names) - len(lines), 'more antenna')} not drawn")
    told = [f"{one.box} {one.antenna} dead from {_day(one.start)} to {_day(one.end)}" for one in spans]
    title = "When can the antennas be trusted?"
    description = f"{title} {below[0]}. {'; '.join(told)}".strip()
    return dressed(layers, title, below, description, _WIDTH, _STEP * (len(lines) + 1))


def _day(at: int) -> str:
    moment = dt.datetime(1970, 1, 1) + dt.timedelta(milliseconds=at)  # noqa: DTZ001 - the clock of the logger
    return moment.strftime("%Y-%m-%d %H:%M")
