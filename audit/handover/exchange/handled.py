"""Rows of the clean season as plain values: what a record is made from, and held against once written."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.declarations.species import species_index
from audit.models.ring_number import bare
from audit.models.tag_text import comparable
from audit.season import texts_in

if TYPE_CHECKING:
    import pandas as pd

    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["RINGED", "Handled", "handled_rows", "texts_of"]

#: What the sheet says of a bird that got its ring.
RINGED = "ringed"


@dataclass(frozen=True, slots=True)
class Handled:
    """One bird in the hand.

    Attributes
    ----------
    label : str
        Row label.
    day : datetime.date or None
    time : str
        As understood, such as ``09:30``.
    named : str
        Species as typed.
    species : str
        Its slug; empty where the text names none that is declared.
    ring, ring_key : str
        As understood, and without separators.
    tag, tag_key : str
        As understood, and so that all ways of writing one tag are equal.
    box, age, event, sex, condition, remarks : str
        Empty where missing.
    brood_size : int or None
        Live young in the box.
    wing, mass : float or None
        mm; net mass in g, the bag taken off where only gross and bag were written.
    age_days : float or None
        As estimated in the field.
    hatched : datetime.date or None
        As observed.
    """

    label: str
    day: dt.date | None
    time: str
    box: str
    named: str
    species: str
    ring: str
    ring_key: str
    tag: str
    tag_key: str
    age: str
    event: str
    sex: str
    condition: str
    remarks: str
    brood_size: int | None
    wing: float | None
    mass: float | None
    age_days: float | None
    hatched: dt.date | None

    @property
    def when(self) -> tuple[dt.date, str]:
        """Day and time, for sorting; an unknown day comes last.

        Of one day a ringing at an unknown time comes first, and any other handling last.
        """
        return self.day or dt.date.max, self.time or ("" if self.event == RINGED else _LATE)


def handled_rows(season: Season, declared: Declarations, table: str = "handlings") -> list[Handled]:
    """Lay out the rows of ``handlings`` or ``earlier`` in sheet order; none where the table is missing."""
    if not season.has(table):
        return []
    frame = season.frame(table)
    index = species_index(declared.species)
    if "species" in frame.columns:
        named = texts_of(frame, "species")
    else:
        # a sheet without such a column is of the one species that the settings name
        named = [str(declared.settings["season.species.default_species"].value)] * len(frame)
    slugs = {text: index.resolve(text) or "" for text in set(named)}
    rings, tags = texts_of(frame, "ring"), texts_of(frame, "tag")
    gross, bag, net = (_numbers(frame, name) for name in ("gross_g", "bag_g", "net_g"))
    return [
        Handled(
            label=str(label),
            day=day,
            time=time,
            box=box,
            named=text,
            species=slugs[text],
            ring=ring,
            ring_key=bare("".join(ring.split())).upper(),
            tag=tag,
            tag_key=comparable(tag.upper()) if tag else "",
            age=age.upper(),
            event=event,
            sex=sex.upper(),
            condition=condition,
            remarks=remarks,
            brood_size=None if size is None else int(size),
            wing=wing,
            mass=_net(whole, tare) if mass is None else mass,
            age_days=days,
            hatched=hatched,
        )
        for (
            label, day, time, box, text, ring, tag, age, event, sex, condition, remarks, size, wing, whole,
            tare, mass, days, hatched,
        ) in zip(
            frame.index.tolist(), _days(frame, "date"), texts_of(frame, "time"), texts_of(frame, "box"),
            named, rings, tags, texts_of(frame, "age"), texts_of(frame, "event"), texts_of(frame, "sex"),
            texts_of(frame, "condition"), texts_of(frame, "remarks"), _numbers(frame, "brood_size"),
            _numbers(frame, "wing_mm"), gross, bag, net, _numbers(frame, "age_days"),
            _days(frame, "hatch_date"),
            strict=True,
        )
    ]  # fmt: skip


def texts_of(frame: pd.DataFrame, name: str) -> list[str]:
    """Return the texts of a column, empty where missing."""
    return [text.strip() for text in texts_in(frame, name)]


def _numbers(frame: pd.DataFrame, name: str) -> list[float | None]:
    if name not in frame.columns:
        return [None] * len(frame)
    values = frame[name].to_numpy(dtype="float64", na_value=math.nan).tolist()
    return [value if math.isfinite(value) else None for value in values]


def _days(frame: pd.DataFrame, name: str) -> list[dt.date | None]:
    if name not in frame.columns:
        return [None] * len(frame)
    return [_day(value) for value in frame[name].tolist()]


def _day(value: Any) -> dt.date | None:  # noqa: ANN401 - a timestamp, or what stands for a missing one
    # a missing date is unequal to itself
    if isinstance(value, dt.datetime) and value == value:  # noqa: PLR0124 - see above
        return value.date()
    return None


#: Sorts behind every time of a day.
_LATE = "24:00"
#: Decimals of a difference of masses: what lies beyond comes from binary fractions.
_DECIMALS = 6


def _net(gross: float | None, bag: float | None) -> float | None:
    return None if gross is None or bag is None else round(gross - bag, _DECIMALS)
