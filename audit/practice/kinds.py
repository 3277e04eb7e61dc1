"""The kinds of slip: what each is called, which columns it befalls, and how it is made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.practice.choice_slips import near_miss, other_box, other_choice, other_species
from audit.practice.code_slips import (
    above,
    digit,
    exchanged,
    letter,
    nought_lost,
    power,
    rounded,
    series,
    sibling,
    slid,
    stroke,
)
from audit.practice.date_slips import date, other_digit, other_year, same_week, turned
from audit.practice.measure_slips import carried, last_visit, off_by_ten, whole_row, worked_out

if TYPE_CHECKING:
    from audit.practice.hand import Make

__all__ = ["KINDS", "Kind", "Way", "ways_of"]

CODES = ("ring", "tag")
MASSES = ("gross_g", "bag_g", "net_g")
NUMBERS = (*MASSES, "wing_mm")


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of slip.

    Attributes
    ----------
    name : str
        Short name, such as ``neighbours``.
    fields : tuple of str
        Columns that it befalls.
    says : str
        What happened, for a ringer.
    make : callable
        Gives the cells to type, the one that the slip is named after first; none where it cannot be done.
    needs : tuple of str
        Other columns that it needs.
    """

    name: str
    fields: tuple[str, ...]
    says: str
    make: Make
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Way:
    """A kind of slip in one column."""

    kind: Kind
    field: str

    @property
    def name(self) -> str:
        """Column and kind: ``tag.neighbours``."""
        return f"{self.field}.{self.kind.name}"

    @property
    def needs(self) -> tuple[str, ...]:
        """Every column that must be there."""
        return tuple(dict.fromkeys((self.field, *self.kind.needs)))


#: Every kind of slip, code columns first.
KINDS: tuple[Kind, ...] = (
    Kind("digit", (*CODES, *NUMBERS, "box", "brood_size", "age"), "one digit wrong", digit),
    Kind("neighbours", (*CODES, *NUMBERS), "two neighbouring digits exchanged", stroke("neighbours")),
    Kind("dropped", (*CODES, *NUMBERS), "a digit left out", stroke("dropped")),
    Kind("doubled", (*CODES, *NUMBERS), "a digit typed twice", stroke("doubled")),
    Kind("extra", (*CODES, *NUMBERS), "a digit too many", stroke("extra")),
    Kind("jump", CODES, "two digits exchanged across a third (acb for bca)", stroke("jump")),
    Kind("twin", CODES, "a pair of like digits typed as another pair (bb for aa)", stroke("twin")),
    Kind("jump_twin", CODES, "like digits around a third typed as others (bcb for aca)", stroke("jump_twin")),
    Kind("phonetic", CODES, "thirteen heard for thirty, or the like (1a for a0)", stroke("phonetic")),
    Kind("two_edits", CODES, "two strokes wrong at once", stroke("two_edits")),
    Kind("letter", CODES, "a letter for a digit", letter),
    Kind("above", (*CODES, *NUMBERS), "copied from the row above", above),
    Kind("series", CODES, "drawn down as a series, one more in each row", series),
    Kind("sibling", CODES, "exchanged with a sibling of the same visit", sibling),
    Kind("slid", CODES, "the column of a visit slid by one row", slid),
    Kind("exchanged_with_tag", ("ring",), "ring and tag in each other's column", exchanged("tag"), ("tag",)),
    Kind("nought_lost", ("tag",), "leading noughts dropped by a spreadsheet", nought_lost),
    Kind("rounded", ("tag",), "last digits rounded away by a spreadsheet", rounded),
    Kind("power", ("tag",), "turned into a power of ten by a spreadsheet", power),
    Kind("tenfold", NUMBERS, "ten times too large", worked_out(lambda row, _: row[""] * 10)),
    Kind("tenth", MASSES, "ten times too small", worked_out(lambda row, _: row[""] / 10)),
    Kind("centimetres", ("wing_mm",), "centimetres for millimetres", worked_out(lambda row, _: row[""] / 10)),
    Kind("kilograms", MASSES, "kilograms for grams", worked_out(lambda row, _: row[""] / 1000)),
    Kind(
        "whole_row",
        ("gross_g",),
        "gross, bag and net out by ten, or in kilograms",
        whole_row,
        ("bag_g", "net_g"),
    ),
    Kind("last_visit", ("gross_g", "net_g", "wing_mm"), "copied from the bird's last visit", last_visit),
    Kind(
        "carried",
        ("gross_g",),
        "balance misread, and the net worked out from it",
        carried,
        ("bag_g", "net_g"),
    ),
    Kind("exchanged_with_bag", ("gross_g",), "gross and bag exchanged", exchanged("bag_g"), ("bag_g",)),
    Kind("exchanged_with_net", ("gross_g",), "gross and net exchanged", exchanged("net_g"), ("net_g",)),
    Kind("exchanged_with_net", ("bag_g",), "bag and net exchanged", exchanged("net_g"), ("net_g",)),
    Kind("exchanged_with_wing", ("net_g",), "net and wing exchanged", exchanged("wing_mm"), ("wing_mm",)),
    Kind(
        "not_subtracted",
        ("net_g",),
        "bag not subtracted",
        worked_out(lambda row, _: row["gross_g"], "gross_g", "bag_g"),
        ("gross_g", "bag_g"),
    ),
    Kind(
        "subtracted_twice",
        ("net_g",),
        "bag subtracted twice",
        worked_out(lambda row, _: row["gross_g"] - 2 * row["bag_g"], "gross_g", "bag_g"),
        ("gross_g", "bag_g"),
    ),
    Kind(
        "added",
        ("net_g",),
        "bag added",
        worked_out(lambda row, _: row["gross_g"] + row["bag_g"], "gross_g", "bag_g"),
        ("gross_g", "bag_g"),
    ),
    Kind(
        "off_by_ten",
        ("net_g",),
        "a ten or a hundred lost or gained in subtracting",
        worked_out(off_by_ten, "gross_g", "bag_g"),
        ("gross_g", "bag_g"),
    ),
    Kind("day_month", ("date",), "day and month exchanged", date(options=turned)),
    Kind("year", ("date",), "another year", date(options=other_year)),
    Kind("digit", ("date",), "one digit of day or month wrong", date(options=other_digit)),
    Kind("weekday", ("date",), "another day of the same week", date(options=same_week)),
    Kind("other", ("box",), "another box of the round", other_box),
    Kind("near_miss", ("box",), "a sign too many or too few, a label of no box", near_miss),
    Kind("other", ("species",), "another species", other_species),
    Kind("other", ("sex", "ring_leg", "tag_leg", "event"), "the other of the two", other_choice),
)


def ways_of(names: tuple[str, ...] | None = None) -> tuple[Way, ...]:
    """List the ways in which a slip can be made.

    Parameters
    ----------
    names : tuple of str, optional
        Names of kinds (``digit``), columns (``tag``) or both (``tag.digit``); all of them by default.

    Raises
    ------
    ValueError
        A name is unknown.
    """
    every = tuple(Way(kind, field) for kind in KINDS for field in kind.fields)
    if names is None:
        return every
    known = {way.name: {way.name, way.field, way.kind.name} for way in every}
    for name in names:
        if not any(name in words for words in known.values()):
            raise ValueError(f"No kind of slip and no column is called '{name}'.")
    return tuple(way for way in every if known[way.name] & set(names))
