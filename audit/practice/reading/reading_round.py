"""A round of reading: numbers of valid forms, drawn; the same seed gives the same round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.practice.drill.level import level_named
from audit.practice.drill.round_code import code_for, made_again
from audit.practice.reading.display_drawing import display_of, draw_display
from audit.practice.reading.reading_levels import reading_levels
from audit.practice.reading.ring_drawing import draw_ring, ring_of
from audit.practice.reading.signs import SIGNS
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.declarations import Declarations
    from audit.practice.drill.round_code import RoundCode
    from audit.practice.reading.reading_levels import ReadingLevel

__all__ = ["DRILL", "MARKS", "ReadingRound", "Shown", "make_round", "round_of_code"]

#: Name of the drill.
DRILL = "reading"
#: What may be read -> what it is called.
MARKS = {"ring": "metal ring", "tag": "reader's display", "plastic": "plastic ring"}
_DIGITS = "0123456789"
#: Digits of a national code, and what it may not exceed: 38 bits (ISO 11784).
_OWN_DIGITS, _OWN_MOST = 12, 2**38 - 1
_MOST = 60
_MAY_LEAN = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZ" + _DIGITS)


@dataclass(frozen=True, slots=True)
class Shown:
    """One number to read.

    Attributes
    ----------
    mark : {"ring", "tag", "plastic"}
    meant : str
        The number: the key.
    svg, says : str
        The drawing, and what it shows without the number.
    """

    mark: str
    meant: str
    svg: str
    says: str


@dataclass(frozen=True, slots=True)
class ReadingRound:
    """One round.

    Attributes
    ----------
    trainee : str
    level : ReadingLevel
    seed : int
    shown : tuple of Shown
    marks : tuple of str
        Which of `MARKS` come.
    mistaken : tuple of (str, int)
        Signs that come more often, with how often they were misread.
    """

    trainee: str
    level: ReadingLevel
    seed: int
    shown: tuple[Shown, ...]
    marks: tuple[str, ...]
    mistaken: tuple[tuple[str, int], ...] = ()

    @property
    def name(self) -> str:
        """Name of the round in files: trainee, level and seed."""
        return f"reading-{self.trainee}-{self.level.slug}-{self.seed}"

    @property
    def code(self) -> str:
        """All that it takes to make it again, and six digits that tell whether it came out the same."""
        signs = "-".join(f"{sign}{times}" for sign, times in self.mistaken)
        wishes = (self.level.slug, str(len(self.shown)), "-".join(self.marks), signs or "-")
        return code_for(DRILL, self.trainee, self.seed, wishes, [one.meant for one in self.shown])


def make_round(
    trainee: str,
    level: ReadingLevel,
    seed: int,
    declared: Declarations,
    *,
    numbers: int | None = None,
    marks: Sequence[str] = tuple(MARKS),
    mistaken: Mapping[str, int] | None = None,
) -> ReadingRound:
    """Make a round.

    Parameters
    ----------
    numbers : int, optional
        How many numbers; by default as declared.
    marks : sequence of str
        Which of `MARKS` come.
    mistaken : mapping of str to int, optional
        Sign -> how often it was misread: those signs come more often.

    Raises
    ------
    audit.refusal.Refusal
        There is no such mark, no number to show, or a declared series has signs that are not drawn.
    """
    strange = [mark for mark in marks if mark not in MARKS]
    if strange or not marks:
        raise Refusal(
            f"There is no mark '{', '.join(strange)}' to read.",
            where="marks",
            cure=f"Name {', '.join(MARKS)}.",
        )
    many = int(declared.settings["practice.reading.numbers"].value) if numbers is None else numbers
    if not 1 <= many <= _MOST:
        raise Refusal(
            f"A round cannot hold {many} numbers.", where="numbers", cure=f"Name one from 1 to {_MOST}."
        )
    rng = np.random.default_rng([seed, level.number])
    # signs of which there is one only, such as a hyphen, cannot come more often
    again = {sign: times for sign, times in (mistaken or {}).items() if sign in _MAY_LEAN and times}
    odds = _odds(again, float(declared.settings["practice.reading.lean"].value))
    shown: list[Shown] = []
    while len(shown) < many:
        mark = marks[len(shown) % len(marks)]
        number = _number(mark, declared, odds, rng)
        if all(number != one.meant for one in shown):
            shown.append(_drawn(mark, number, level, rng))
    order = rng.permutation(len(shown))
    return ReadingRound(
        trainee,
        level,
        seed,
        tuple(shown[int(place)] for place in order),
        tuple(marks),
        tuple(sorted(again.items())),
    )


def round_of_code(code: str, declared: Declarations) -> ReadingRound:
    """Make a round again from its code.

    Raises
    ------
    audit.refusal.Refusal
        It is no code, or the declarations have changed since, so that the round comes out otherwise.
    """

    def made(told: RoundCode) -> ReadingRound:
        level, numbers, marks, signs = told.wishes
        return make_round(
            told.trainee,
            level_named(reading_levels(declared), level, DRILL),
            told.number,
            declared,
            numbers=int(numbers),
            marks=marks.split("-"),
            mistaken={one[0]: int(one[1:]) for one in signs.split("-") if one},
        )

    return made_again(code, DRILL, 4, made)


def _drawn(mark: str, number: str, level: ReadingLevel, rng: np.random.Generator) -> Shown:
    if mark == "tag":
        display = display_of(number, level, rng)
        return Shown(mark, number, draw_display(display), display.says)
    ring = ring_of(number, "metal" if mark == "ring" else "plastic", level, rng)
    return Shown(mark, number, draw_ring(ring, rng), ring.says)


def _number(mark: str, declared: Declarations, odds: Mapping[str, float], rng: np.random.Generator) -> str:
    settings = declared.settings
    if mark == "tag":
        own = _OWN_MOST + 1
        while own > _OWN_MOST:
            # most national codes in use begin with zeros, and a leading zero is what is lost
            zeros = int(rng.integers(0, _OWN_DIGITS // 2))
            code = "0" * zeros + _signs(_DIGITS, _OWN_DIGITS - zeros, odds, rng)
            own = int(code)
        return f"{settings['practice.reading.tag_start'].value}{code}"
    forms = [
        str(form)
        for form in settings["practice.reading.rings" if mark == "ring" else "practice.reading.plastic"].value
    ]
    if mark == "ring" and declared.rings.series:
        forms = [f"{one.prefix.upper()}{'#' * one.digits}" for one in declared.rings.series.values()]
    form = forms[int(rng.integers(0, len(forms)))]
    letters = str(settings["practice.reading.plastic_letters"].value)
    alphabets = {"#": _DIGITS, "@": letters}
    number = "".join(_signs(alphabets.get(sign, sign), 1, odds, rng) for sign in form)
    strange = sorted(set(number) - set(SIGNS))
    if strange:
        raise Refusal(
            f"A ring with '{''.join(strange)}' on it cannot be drawn.",
            where=f"the ring series '{form}'",
            cure="Practise with a series of capital letters, digits and hyphens.",
        )
    return number


def _odds(mistaken: Mapping[str, int], lean: float) -> dict[str, float]:
    most = max(mistaken.values(), default=0)
    return {sign: 1 + (lean - 1) * times / most for sign, times in mistaken.items() if times}


def _signs(alphabet: str, many: int, odds: Mapping[str, float], rng: np.random.Generator) -> str:
    weights = np.array([odds.get(sign, 1.0) for sign in alphabet])
    ends = np.cumsum(weights / weights.sum())
    places = np.searchsorted(ends, rng.random(many), side="right")
    return "".join(alphabet[min(int(place), len(alphabet) - 1)] for place in places)
