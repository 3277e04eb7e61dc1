"""What the other cells of a row and the other sheets say against a text: sums, days, boxes, species."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from audit.declarations.species import species_index
from audit.intake.answer import plainly
from audit.review.shelves import shelves_of
from audit.review.typed_cell import Objection

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.review.typed_cell import TypedCell

__all__ = ["of_box", "of_day", "of_species", "of_sum"]

_SUM = ("gross_g", "bag_g", "net_g")
#: Grams are written with two decimals at most.
_DECIMALS = 2
#: Days of visits that a message names.
_NAMED = 4


def of_sum(cell: TypedCell) -> Iterator[Objection]:
    """Object to a mass with which gross less bag is not net."""
    if cell.field not in _SUM:
        return
    gross, bag, net = (cell.beside(field) for field in _SUM)
    if gross is None or bag is None or net is None:
        return
    left = round(float(gross) - float(bag), _DECIMALS)
    if left != round(float(net), _DECIMALS):
        yield Objection(
            "suspect",
            f"Gross {plainly(float(gross))} g less bag {plainly(float(bag))} g is {plainly(left)} g, "
            f"but net says {plainly(float(net))} g: another of the three is wrong, or this one.",
        )


def of_day(cell: TypedCell) -> Iterator[Objection]:
    """Object to a day that has not come yet, that is out of the season, or without a visit of the box."""
    if cell.table not in ("handlings", "visits") or cell.field not in ("date", "box"):
        return
    day, box = cell.said("date"), cell.said("box")
    if cell.field == "date" and day:
        yield from _of_calendar(cell, dt.date.fromisoformat(day))
    # a box that nobody knows has no visits either, and is objected to as such
    known = not list(of_box(cell))
    if cell.table == "handlings" and day and box and known:
        yield from _of_visits(cell, box, day)


def _of_calendar(cell: TypedCell, day: dt.date) -> Iterator[Objection]:
    days = cell.season.tables[cell.table].frame["date"].drop(cell.label).dropna()
    told = str(cell.declared.settings["season.clock.today"].value)
    today = dt.date.today() if told == "today" else dt.date.fromisoformat(told)  # noqa: DTZ011 - the ringer's own day
    # where most days are still to come, it is the clock of the computer that is wrong
    if day > today and (days.dt.date <= today).mean() * 2 >= 1:
        yield Objection("error", f"{day} is later than today, {today}: look the date up in the notebook.")
        return
    years = days.dt.year
    if len(years) and day.year not in set(years):
        usual = int(years.mode().iloc[0])
        yield Objection(
            "suspect", f"No other row has a day of {day.year:04}; most have one of {usual}: look again."
        )
        return
    first, last = (
        int(cell.declared.settings[f"season.window.{end}_month"].value) for end in ("first", "last")
    )
    if not first <= day.month <= last:
        yield Objection(
            "suspect",
            f"{day} lies outside the months {first} to {last} in which boxes are visited: look again.",
        )


def _of_visits(cell: TypedCell, box: str, day: str) -> Iterator[Objection]:
    shelves = shelves_of(cell.season, cell.declared)
    if shelves.has("visits", "box", "date"):
        days, noun = shelves.days_of_box("visits", box), "visits"
        if day in days:
            return
    else:
        days, noun = shelves.days_of_box("handlings", box), "birds"
        labels = shelves.labels("handlings")
        others = [row for row in shelves.visits("handlings").get((box, day), ()) if labels[row] != cell.label]
        if others:
            return
    if not days:
        yield Objection("suspect", f"No {noun} of box {box} are written down for any day: look again.")
        return
    near = sorted(days, key=lambda other: abs(dt.date.fromisoformat(other) - dt.date.fromisoformat(day)))
    named = ", ".join(sorted(near[:_NAMED]))
    yield Objection(
        "suspect", f"No {noun} of box {box} are written down for {day}, but for {named}: look again."
    )


def of_box(cell: TypedCell) -> Iterator[Objection]:
    """Object to a box that the table of boxes does not have."""
    keys = cell.declared.tables[cell.table].foreign_keys
    if not any((key.field, key.table) == (cell.field, "boxes") for key in keys) or not cell.text:
        return
    shelves = shelves_of(cell.season, cell.declared)
    if shelves.has("boxes", "box") and not shelves.of_box(cell.text):
        near = [
            shelves.understood(shelves.labels("boxes")[row], "box") for row in shelves.boxes_near(cell.text)
        ]
        meant = f"; {' or '.join(near[:_NAMED])} would be one" if near else ""
        yield Objection("suspect", f"There is no box {cell.shown} in the table of boxes{meant}: look again.")


def of_species(cell: TypedCell) -> Iterator[Objection]:
    """Object to a species that nobody has declared."""
    if cell.field != "species" or not cell.text:
        return
    if species_index(cell.declared.species).resolve(cell.text) is None:
        yield Objection(
            "suspect",
            f"{cell.quoted} is the name of no declared species: look again, or declare the species.",
        )
