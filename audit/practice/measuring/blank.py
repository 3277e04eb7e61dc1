"""A round of measuring to come: who measures which birds in which order, blind to the others."""

from __future__ import annotations

import re
from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING

import numpy as np

from audit.practice.measuring.sheet import NO_MEASURE, measured_table
from audit.refusal import Refusal
from audit.review.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.declarations import Declarations
    from audit.declarations.tables import FieldDeclaration

__all__ = ["GIVEN", "Blank", "BlankPage", "make_blank"]

#: Columns that say whose measure it is, filled in beforehand.
GIVEN = ("bird", "observer", "repeat")
_INITIALS = re.compile(r"\w[\w-]{0,11}")
_MOST_REPEATS = 9
#: Turns in which an order is sought that nobody has had before.
_TURNS = 50
_DIGITS = 6


@dataclass(frozen=True, slots=True)
class BlankPage:
    """One person's page: each bird once.

    Attributes
    ----------
    observer : str
        Initials.
    repeat : int
        Round of this person over the same birds, from 1.
    birds : tuple of str
        In the order in which they are measured.
    """

    observer: str
    repeat: int
    birds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Blank:
    """A round of measuring that is still to come.

    Attributes
    ----------
    pages : tuple of BlankPage
        All first measures, then all second ones.
    fields : tuple of FieldDeclaration
        What is measured.
    most : int
        Measures that a living bird should bear at most.
    """

    pages: tuple[BlankPage, ...]
    fields: tuple[FieldDeclaration, ...]
    most: int

    @property
    def code(self) -> str:
        """The same for the same round alone: pages belong to the workbook of their code."""
        told = repr((self.pages, [field.name for field in self.fields]))
        return sha256(told.encode()).hexdigest()[:_DIGITS]

    @property
    def name(self) -> str:
        """Stem of the files."""
        return f"measure-again-{self.code}"

    @property
    def observers(self) -> tuple[str, ...]:
        """Who measures."""
        return tuple(dict.fromkeys(page.observer for page in self.pages))

    @property
    def birds(self) -> int:
        """How many birds are measured."""
        return len(self.pages[0].birds)

    @property
    def is_much(self) -> bool:
        """Whether a living bird would be measured more often than it should be."""
        return len(self.pages) > self.most


def make_blank(
    birds: int | Sequence[str],
    observers: Sequence[str],
    declared: Declarations,
    *,
    repeats: int = 1,
    measures: Sequence[str] = (),
    seed: int = 1,
) -> Blank:
    """Plan a round; the same wishes give the same round.

    Parameters
    ----------
    birds : int or sequence of str
        How many, then numbered from 1; or their rings or numbers.
    observers : sequence of str
        Initials; each gets pages of their own, each page an order of its own.
    repeats : int
        How often each person measures each bird.
    measures : sequence of str
        Columns such as ``wing_mm``; by default those declared.
    seed : int
        Another number, other orders.

    Raises
    ------
    audit.refusal.Refusal
        Nothing could be told from such a round.
    """
    labels = _labels(birds, declared)
    people = _people(observers)
    if not 1 <= repeats <= _MOST_REPEATS:
        raise _refusal(
            f"{counted(repeats, 'measure')} of each bird by each person cannot be planned.",
            f"Name a number from 1 to {_MOST_REPEATS}.",
        )
    if len(people) * repeats == 1:
        raise _refusal(
            "One person who measures each bird once tells nothing of repeats.",
            "Name a second person, or let the same one measure twice (repeats=2, on the command line "
            "--repeats 2).",
        )
    orders = _orders(labels, len(people) * repeats, seed)
    pages = tuple(BlankPage(who, time, next(orders)) for time in range(1, repeats + 1) for who in people)
    most = int(declared.settings["practice.measuring.most_repeats"].value)
    return Blank(pages, _fields(measures, declared), most)


def _labels(birds: int | Sequence[str], declared: Declarations) -> tuple[str, ...]:
    fewest = int(declared.settings["practice.measuring.birds_fewest"].value)
    most = int(declared.settings["practice.measuring.blank.most_birds"].value)
    many = birds if isinstance(birds, int) else len(birds)
    if not fewest <= many <= most:
        raise _refusal(
            f"A round of {counted(many, 'bird')} cannot be planned.",
            f"Take {fewest} to {most} birds; give their number, or their rings one by one.",
        )
    if isinstance(birds, int):
        return tuple(str(number) for number in range(1, birds + 1))
    labels = tuple(str(bird).strip() for bird in birds)
    twice = [label for label in dict.fromkeys(labels) if labels.count(label) > 1]
    if twice or not all(labels):
        raise _refusal(
            f"{listed(twice)} stands twice among the birds."
            if twice
            else "A bird without a number is named.",
            "Name each bird once.",
        )
    return labels


def _people(observers: Sequence[str]) -> tuple[str, ...]:
    if not observers:
        raise _refusal("Nobody is named who measures.", "Name who measures, such as AB and MK.")
    people = tuple(who.strip() for who in observers)
    for who in people:
        if not _INITIALS.fullmatch(who):
            raise _refusal(
                f"'{who}' are no initials.", "Name each person by up to twelve letters or digits, such as AB."
            )
    if len({who.casefold() for who in people}) < len(people):
        raise _refusal(
            "One person is named twice among those who measure.",
            "Name each person once; how often each measures is said by repeats.",
        )
    return people


def _fields(measures: Sequence[str], declared: Declarations) -> tuple[FieldDeclaration, ...]:
    table = measured_table(declared)
    known = {field.name: field for field in table.fields if field.kind == "number"}
    wanted = tuple(measures) or tuple(declared.settings["practice.measuring.blank.measures"].value)
    for name in wanted:
        if name not in known:
            raise _refusal(f"There is no measure '{name}'.", f"Known: {listed(list(known))}.")
    if all(name in NO_MEASURE for name in wanted):
        raise _refusal(
            "Of the bag alone nothing is told.", "Name a measure of the bird beside it, such as gross_g."
        )
    return tuple(known[name] for name in dict.fromkeys(wanted))


def _orders(labels: Sequence[str], pages: int, seed: int) -> Iterator[tuple[str, ...]]:
    """Shuffle the birds for each page: never as on a page before, nor begun with the bird that came last."""
    chance = np.random.default_rng(seed)
    had: list[tuple[str, ...]] = []
    for _ in range(pages):
        for _ in range(_TURNS):
            order = tuple(labels[place] for place in chance.permutation(len(labels)))
            if order not in had and not (had and order[0] == had[-1][-1]):
                break
        had.append(order)
        yield order


def _refusal(what: str, cure: str) -> Refusal:
    return Refusal(what, where="blank sheet", cure=cure)
