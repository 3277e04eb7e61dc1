"""Headers that do not say enough: the other headers and the cells below decide, and a person is told."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.intake.headers import fold

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from audit.declarations import Declarations
    from audit.intake.grid import RawCell
    from audit.intake.headers import Unit, Vocabulary
    from audit.intake.layout import Head

__all__ = ["Claim", "VagueWords", "number_in", "settle", "vague_words"]

_DATE = re.compile(r"^\s*\d{1,4}\s*[./-]\s*\d{1,2}\s*[./-]\s*\d{0,4}")
_NUMBER = re.compile(r"^\s*\d+(?:[.,]\d+)?\s*$")


@dataclass(frozen=True, slots=True)
class Claim:
    """A column that means a field.

    Attributes
    ----------
    how : str
        As in `audit.intake.mapping.HeaderMatch`.
    unit : Unit or None
        Unit that the header names.
    """

    head: Head
    field: str
    how: str
    unit: Unit | None = None


@dataclass(frozen=True, slots=True)
class VagueWords:
    """Folded words that mean one of two things; declared in ``reading.yaml``."""

    mass: frozenset[str]
    age: frozenset[str]
    day: frozenset[str]
    event: frozenset[str]
    event_cells: frozenset[str]
    age_days_from: float


def vague_words(declared: Declarations) -> VagueWords:
    """Gather the words that mean one of two things."""
    setting = declared.settings

    def words(name: str) -> frozenset[str]:
        return frozenset(fold(word) for word in setting[f"reading.files.vague.{name}"].value)

    return VagueWords(
        mass=words("mass"),
        age=words("age"),
        day=words("day"),
        event=words("event"),
        event_cells=words("event_cells"),
        age_days_from=setting["reading.files.vague.age_days_from"].value,
    )


def settle(
    claims: Sequence[Claim],
    unclaimed: Sequence[Head],
    fields: Sequence[str],
    cells_below: Callable[[Head], Sequence[RawCell]],
    *,
    vocabulary: Vocabulary,
    vague: VagueWords,
) -> tuple[list[Claim], list[str]]:
    """Settle headers such as *Weight*, *Age*, *Tag* and *Status*.

    Parameters
    ----------
    unclaimed : sequence of Head
        Headers that mean no field so far.
    fields : sequence of str
        Fields of the table.
    cells_below : callable
        Written cells below a head.

    Returns
    -------
    claims : list of Claim
    notices : list of str
    """
    notices: list[str] = []
    settled = list(claims)

    def claimed(field: str) -> list[Claim]:
        return [claim for claim in settled if claim.field == field]

    def is_vague(head: Head, words: frozenset[str]) -> bool:
        return any(fold(vocabulary.bare(text)) in words or fold(text) in words for text in head.readings[-1:])

    def move(claim: Claim, field: str, how: str) -> None:
        settled[settled.index(claim)] = replace(claim, field=field, how=how)

    for claim in [c for c in claimed("tag") if is_vague(c.head, vague.day)]:
        # "Tag" is the German for day.
        if "date" in fields and not claimed("date") and _most(cells_below(claim.head), _is_date):
            move(claim, "date", "by its cells")
            notices.append(f"'{claim.head.text}' was taken as date, because dates stand below it.")

    for claim in [c for c in claimed("age") if is_vague(c.head, vague.age)]:
        days = _most(cells_below(claim.head), lambda cell: number_in(cell) >= vague.age_days_from)
        if "age_days" in fields and not claimed("age_days") and days:
            move(claim, "age_days", "by its cells")
            notices.append(
                f"'{claim.head.text}' was taken as age_days, because the numbers below it are no age codes."
            )

    masses = [c for c in claimed("net_g") if is_vague(c.head, vague.mass)]
    plain = [c for c in claimed("net_g") if c not in masses]
    if len(masses) == 1 and "gross_g" in fields and not claimed("gross_g"):
        text = masses[0].head.text
        if plain:
            move(masses[0], "gross_g", "by the other headers")
            notices.append(f"'{text}' was taken as gross_g, because '{plain[0].head.text}' is net_g.")
        elif claimed("bag_g"):
            notices.append(
                f"'{text}' stands beside '{claimed('bag_g')[0].head.text}' and does not say gross or net; it "
                "was taken as net_g, the bird alone."
            )

    events = [head for head in unclaimed if is_vague(head, vague.event)]
    told = [
        head for head in events if _most(cells_below(head), lambda cell: fold(cell.text) in vague.event_cells)
    ]
    if "event" in fields and not claimed("event") and len(told) == 1:
        settled.append(Claim(told[0], "event", "by its cells"))
        notices.append(f"'{told[0].text}' was taken as event, because of the words below it.")
    return settled, notices


def _most(cells: Sequence[RawCell], test: Callable[[RawCell], bool]) -> bool:
    return bool(cells) and 2 * sum(test(cell) for cell in cells) > len(cells)


def _is_date(cell: RawCell) -> bool:
    return hasattr(cell.value, "year") or (isinstance(cell.value, str) and bool(_DATE.match(cell.value)))


def number_in(cell: RawCell) -> float:
    """Return the plain number in a cell, -1 where there is none."""
    if isinstance(cell.value, (int, float)):
        return float(cell.value)
    return float(cell.text.replace(",", ".")) if _NUMBER.match(cell.text) else -1
