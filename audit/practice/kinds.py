"""The kinds of slip: what each is called, which columns it befalls, and how it is made."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.practice.strokes import STROKES, letter_for_digit, pick, wrong_digit
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.practice.hand import Hand

__all__ = ["KINDS", "Kind", "Typed", "Way", "ways_of"]

#: A row, a column, and the text that is now typed there.
Typed = tuple[int, str, str]

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
    make: Callable[[Hand, int, str], tuple[Typed, ...]]
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


def _stroke(name: str) -> Callable[[Hand, int, str], tuple[Typed, ...]]:
    def make(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
        return ((i, field, STROKES[name](hand.sheet.text(i, field), hand.rng)),)

    return make


def _digit(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    return ((i, field, wrong_digit(hand.sheet.text(i, field), hand.rng, hand.swaps)),)


def _letter(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    return ((i, field, letter_for_digit(hand.sheet.text(i, field), hand.rng, hand.letters)),)


def _above(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    above = hand.sheet.above(i)
    return () if above is None else ((i, field, hand.sheet.text(above, field)),)


def _series(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Draw the code of a row down over the rest of the visit, so that the spreadsheet counts on."""
    below = [k for k in hand.sheet.visit(i) if k > i]
    rows = [k for step, k in enumerate(below, 1) if k == i + step and hand.sheet.text(k, field)]
    first = re.fullmatch(r"(.*?)(\d+)", hand.sheet.text(i, field))
    if first is None or not rows:
        return ()
    front, digits = first.groups()
    counted = ((k, f"{front}{int(digits) + step:0{len(digits)}d}") for step, k in enumerate(rows, 1))
    return tuple((k, field, text) for k, text in counted if text != hand.sheet.text(k, field))


def _sibling(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    others = [k for k in hand.sheet.visit(i) if k != i and hand.sheet.text(k, field)]
    if not others:
        return ()
    other = others[int(hand.rng.integers(len(others)))]
    return (i, field, hand.sheet.text(other, field)), (other, field, hand.sheet.text(i, field))


def _slid(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Move the codes of a visit by one row; the odd one lands in the free cell."""
    rows = [k for k in hand.sheet.visit(i) if hand.sheet.text(k, field)]
    if len(rows) <= 2:  # noqa: PLR2004 - two codes that change places are another kind
        return ()
    turned = [*rows[1:], rows[0]] if hand.rng.integers(2) else [rows[-1], *rows[:-1]]
    return tuple((k, field, hand.sheet.text(other, field)) for k, other in zip(rows, turned, strict=True))


def _exchanged(other: str) -> Callable[[Hand, int, str], tuple[Typed, ...]]:
    def make(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
        return (i, field, hand.sheet.text(i, other)), (i, other, hand.sheet.text(i, field))

    return make


def _nought_lost(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    text = hand.sheet.text(i, field)
    return ((i, field, text.lstrip("0")),) if text.isdigit() else ()


def _rounded(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    text = hand.sheet.text(i, field)
    return ((i, field, f"{float(_as_power(text)):.0f}"),) if text.isdigit() else ()


def _power(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    text = hand.sheet.text(i, field)
    return ((i, field, _as_power(text)),) if text.isdigit() else ()


def _as_power(digits: str) -> str:
    """Write a long number as a narrow column of a spreadsheet shows it: ``9.99104E+14``."""
    return f"{int(digits):.5E}"


def _worked_out(
    formula: Callable[[dict[str, float], Hand], float], *columns: str
) -> Callable[[Hand, int, str], tuple[Typed, ...]]:
    """Type another number, worked out from the numbers of the row."""

    def make(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
        numbers = {name: hand.sheet.number(i, name) for name in (field, *columns)}
        known = {name: number for name, number in numbers.items() if number is not None}
        if len(known) < len(numbers):
            return ()
        wrong = _tidy(formula({**known, "": known[field]}, hand))
        return ((i, field, wrong),) if wrong else ()

    return make


def _tidy(number: float) -> str:
    """Write a number to the ten-thousandth; nobody types a mass or length below nought."""
    return plain_text(round(number, 4)) if number > 0 else ""


def _off_by_ten(numbers: dict[str, float], hand: Hand) -> float:
    step = 10 if hand.rng.integers(2) else 100
    return numbers[""] + (step if hand.rng.integers(2) else -step)


#: Ten times too large, ten times too small, kilograms.
_SCALES = (10, 1 / 10, 1 / 1000)


def _whole_row(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Read a balance with another unit, or another scale of it, for the whole weighing."""
    times = _SCALES[int(hand.rng.integers(len(_SCALES)))]
    numbers = {name: hand.sheet.number(i, name) for name in (field, "bag_g", "net_g")}
    scaled = tuple((i, name, _tidy(number * times)) for name, number in numbers.items() if number is not None)
    return scaled if len(scaled) == len(numbers) and all(text for _, _, text in scaled) else ()


def _last_visit(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    earlier = hand.sheet.last_visit(i)
    return () if earlier is None else ((i, field, hand.sheet.text(earlier, field)),)


def _carried(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Misread the balance, and work out the net from what was read."""
    bag = hand.sheet.number(i, "bag_g")
    stroke = STROKES["digit" if hand.rng.integers(2) else "neighbours"]
    wrong = stroke(hand.sheet.text(i, field), hand.rng)
    if bag is None or not wrong or not hand.sheet.text(i, "net_g"):
        return ()
    net = _tidy(float(wrong) - bag)
    return ((i, field, plain_text(float(wrong))), (i, "net_g", net)) if net else ()


def _date(*, options: Callable[[dt.date], list[dt.date]]) -> Callable[[Hand, int, str], tuple[Typed, ...]]:
    def make(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
        text = hand.sheet.text(i, field)
        days = [day.isoformat() for day in options(dt.date.fromisoformat(text))] if text else []
        return ((i, field, pick(days, hand.rng)),)

    return make


def _turned(day: dt.date) -> list[dt.date]:
    return _days((day.year, day.day, day.month))


def _other_year(day: dt.date) -> list[dt.date]:
    return _days(*((day.year + step, day.month, day.day) for step in (-10, -1, 1, 10)))


def _other_digit(day: dt.date) -> list[dt.date]:
    texts = (f"{day.day:02d}", f"{day.month:02d}")
    days, months = (
        [int(text[:i] + digit + text[i + 1 :]) for i in range(len(text)) for digit in "0123456789"]
        for text in texts
    )
    near = _days(*((day.year, day.month, n) for n in days), *((day.year, n, day.day) for n in months))
    return [other for other in near if other != day]


def _same_week(day: dt.date) -> list[dt.date]:
    monday = day - dt.timedelta(days=day.weekday())
    week = [monday + dt.timedelta(days=step) for step in range(len("MTWTFSS"))]
    return [other for other in week if other != day]


def _days(*parts: tuple[int, int, int]) -> list[dt.date]:
    found = []
    for year, month, day in parts:
        try:
            found.append(dt.date(year, month, day))
        except ValueError:
            continue
    return found


def _other_box(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    own = hand.sheet.text(i, field)
    return ((i, field, pick([box for box in hand.boxes if box != own], hand.rng)),)


def _near_miss(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    own = hand.sheet.text(i, field)
    wrong = [own[:k] + own[k + 1 :] for k in range(len(own))] + [
        own[: k + 1] + own[k:] for k in range(len(own))
    ]
    return ((i, field, pick([label for label in wrong if label and label not in hand.boxes], hand.rng)),)


def _other_species(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    own = hand.species.get(hand.sheet.text(i, field))
    others = [text for text, slug in hand.species.items() if slug != own]
    return ((i, field, pick(others, hand.rng)),) if own else ()


def _other_choice(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
    """Pick another of the few values that a column may hold, but for the one that says nothing is known."""
    known = [word for word in hand.choices.get(field, ()) if word != _UNKNOWN]
    own = hand.sheet.text(i, field)
    return ((i, field, pick([word for word in known if word != own], hand.rng)),) if own in known else ()


_UNKNOWN = "U"

#: Every kind of slip, code columns first.
KINDS: tuple[Kind, ...] = (
    Kind("digit", (*CODES, *NUMBERS, "box", "brood_size", "age"), "one digit wrong", _digit),
    Kind("neighbours", (*CODES, *NUMBERS), "two neighbouring digits exchanged", _stroke("neighbours")),
    Kind("dropped", (*CODES, *NUMBERS), "a digit left out", _stroke("dropped")),
    Kind("doubled", (*CODES, *NUMBERS), "a digit typed twice", _stroke("doubled")),
    Kind("extra", (*CODES, *NUMBERS), "a digit too many", _stroke("extra")),
    Kind("jump", CODES, "two digits exchanged across a third (acb for bca)", _stroke("jump")),
    Kind("twin", CODES, "a pair of like digits typed as another pair (bb for aa)", _stroke("twin")),
    Kind(
        "jump_twin", CODES, "like digits around a third typed as others (bcb for aca)", _stroke("jump_twin")
    ),
    Kind("phonetic", CODES, "thirteen heard for thirty, or the like (1a for a0)", _stroke("phonetic")),
    Kind("two_edits", CODES, "two strokes wrong at once", _stroke("two_edits")),
    Kind("letter", CODES, "a letter for a digit", _letter),
    Kind("above", (*CODES, *NUMBERS), "copied from the row above", _above),
    Kind("series", CODES, "drawn down as a series, one more in each row", _series),
    Kind("sibling", CODES, "exchanged with a sibling of the same visit", _sibling),
    Kind("slid", CODES, "the column of a visit slid by one row", _slid),
    Kind("exchanged_with_tag", ("ring",), "ring and tag in each other's column", _exchanged("tag"), ("tag",)),
    Kind("nought_lost", ("tag",), "leading noughts dropped by a spreadsheet", _nought_lost),
    Kind("rounded", ("tag",), "last digits rounded away by a spreadsheet", _rounded),
    Kind("power", ("tag",), "turned into a power of ten by a spreadsheet", _power),
    Kind("tenfold", NUMBERS, "ten times too large", _worked_out(lambda row, _: row[""] * 10)),
    Kind("tenth", MASSES, "ten times too small", _worked_out(lambda row, _: row[""] / 10)),
    Kind(
        "centimetres", ("wing_mm",), "centimetres for millimetres", _worked_out(lambda row, _: row[""] / 10)
    ),
    Kind("kilograms", MASSES, "kilograms for grams", _worked_out(lambda row, _: row[""] / 1000)),
    Kind(
        "whole_row",
        ("gross_g",),
        "gross, bag and net out by ten, or in kilograms",
        _whole_row,
        ("bag_g", "net_g"),
    ),
    Kind("last_visit", ("gross_g", "net_g", "wing_mm"), "copied from the bird's last visit", _last_visit),
    Kind(
        "carried",
        ("gross_g",),
        "balance misread, and the net worked out from it",
        _carried,
        ("bag_g", "net_g"),
    ),
    Kind("exchanged_with_bag", ("gross_g",), "gross and bag exchanged", _exchanged("bag_g"), ("bag_g",)),
    Kind("exchanged_with_net", ("gross_g",), "gross and net exchanged", _exchanged("net_g"), ("net_g",)),
    Kind("exchanged_with_net", ("bag_g",), "bag and net exchanged", _exchanged("net_g"), ("net_g",)),
    Kind("exchanged_with_wing", ("net_g",), "net and wing exchanged", _exchanged("wing_mm"), ("wing_mm",)),
    Kind(
        "not_subtracted",
        ("net_g",),
        "bag not subtracted",
        _worked_out(lambda row, _: row["gross_g"], "gross_g", "bag_g"),
        ("gross_g", "bag_g"),
    ),
    Kind(
        "subtracted_twice",
        ("net_g",),
        "bag subtracted twice",
        _worked_out(lambda row, _: row["gross_g"] - 2 * row["bag_g"], "gross_g", "bag_g"),
        ("gross_g", "bag_g"),
    ),
    Kind(
        "added",
        ("net_g",),
        "bag added",
        _worked_out(lambda row, _: row["gross_g"] + row["bag_g"], "gross_g", "bag_g"),
        ("gross_g", "bag_g"),
    ),
    Kind(
        "off_by_ten",
        ("net_g",),
        "a ten or a hundred lost or gained in subtracting",
        _worked_out(_off_by_ten, "gross_g", "bag_g"),
        ("gross_g", "bag_g"),
    ),
    Kind("day_month", ("date",), "day and month exchanged", _date(options=_turned)),
    Kind("year", ("date",), "another year", _date(options=_other_year)),
    Kind("digit", ("date",), "one digit of day or month wrong", _date(options=_other_digit)),
    Kind("weekday", ("date",), "another day of the same week", _date(options=_same_week)),
    Kind("other", ("box",), "another box of the round", _other_box),
    Kind("near_miss", ("box",), "a sign too many or too few, a label of no box", _near_miss),
    Kind("other", ("species",), "another species", _other_species),
    Kind("other", ("sex", "ring_leg", "tag_leg", "event"), "the other of the two", _other_choice),
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
