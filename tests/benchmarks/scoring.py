"""What became of slips and of innocent cells: records of one season, and figures over many. No audit here."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence

__all__ = [
    "Blame",
    "BlamedCell",
    "Fate",
    "Place",
    "calibration_error",
    "fate_of",
    "grouped",
    "judge_cells",
    "reliability",
    "same_value",
    "share",
    "summed",
]

Place = tuple[str, str]


@dataclass(frozen=True)
class Blame:
    """One suspect cell of one finding."""

    rule: str
    severity: str
    place: Place
    p_error: float
    p_fix: float | None
    suggested: str
    group: str
    message: str
    witnesses: frozenset[Place] = frozenset()


@dataclass(frozen=True)
class Fate:
    """What became of one slip."""

    found: bool
    touched: bool
    right_cell: bool
    first_right: bool
    mended: bool
    blamed: tuple[Blame, ...] = ()


@dataclass(frozen=True)
class BlamedCell:
    """One blamed cell: the blame with the highest probability, and whether it was right."""

    blame: Blame
    wrong: bool
    fix_right: bool
    row_innocent: bool


def same_value(one: str, other: str) -> bool:
    """Whether two texts say the same: numbers as numbers, codes without regard to case and blanks.

    Examples
    --------
    >>> same_value("373.0", "373"), same_value("sv 1", "SV1"), same_value("0373", "373")
    (True, True, False)
    """
    one, other = one.replace(" ", "").upper(), other.replace(" ", "").upper()
    if one == other:
        return True
    if not one or not other or one[0] == "0" or other[0] == "0" or len(one) > 8:
        return _decimal(one) is not None and "." in one + other and _decimal(one) == _decimal(other)
    return _decimal(one) is not None and _decimal(one) == _decimal(other)


def _decimal(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _worst(blames: Iterable[Blame]) -> Blame | None:
    """Return the likeliest error; of equals the surer suggestion, then the first listed."""
    return max(blames, key=lambda blame: (blame.p_error, blame.p_fix or 0.0), default=None)


def fate_of(truth: Mapping[Place, str], blames: Sequence[Blame]) -> Fate:
    """Say what became of one slip.

    Parameters
    ----------
    truth : mapping of place to text
        Every cell that the slip changed, and its true value.
    blames : sequence of Blame
        All blames above notes of the season.

    A group of findings touches the slip when it blames one of its cells, or failing that, when one of its
    cells is a witness against another cell of the same row.
    """
    direct = {blame.group for blame in blames if blame.place in truth}
    if direct:
        groups = direct
    else:
        rows = {label for label, _ in truth}
        groups = {
            blame.group for blame in blames if blame.witnesses & truth.keys() and blame.place[0] in rows
        }
    touching = [blame for blame in blames if blame.group in groups]
    first = _worst(touching)
    right = first is not None and first.place in truth
    best = {place: _worst(b for b in touching if b.place == place) for place in truth}
    mended = all(blame is not None and same_value(blame.suggested, truth[p]) for p, blame in best.items())
    return Fate(
        found=bool(direct),
        touched=bool(groups),
        right_cell=right,
        first_right=right and first is not None and same_value(first.suggested, truth[first.place]),
        mended=mended,
        blamed=tuple(touching),
    )


def judge_cells(blames: Iterable[Blame], truth: Mapping[Place, str], guilty: set[str]) -> list[BlamedCell]:
    """Judge every blamed cell once, by its likeliest blame.

    Parameters
    ----------
    truth : mapping of place to text
        All changed cells of the season.
    guilty : set of str
        Labels of rows with a changed cell.
    """
    by_place: dict[Place, list[Blame]] = defaultdict(list)
    for blame in blames:
        by_place[blame.place].append(blame)
    judged = []
    for place, several in by_place.items():
        blame = _worst(several)
        if blame is None:
            continue
        wrong = place in truth
        fixed = wrong and bool(blame.suggested) and same_value(blame.suggested, truth[place])
        judged.append(BlamedCell(blame, wrong, fixed, place[0] not in guilty))
    return judged


def share(part: float, whole: float) -> float | None:
    """Part of the whole; None of nothing."""
    return part / whole if whole else None


def reliability(p: Sequence[float], outcome: Sequence[bool], bins: int) -> list[dict[str, float]]:
    """Compare probabilities with outcomes in bins of equal width over 0 to 1.

    A value on an edge belongs to the bin above it, 1 to the last. Empty bins are left out.

    Returns
    -------
    list of dict
        Keys low, high, n, said (mean probability), seen (share of outcomes).
    """
    said, seen = np.asarray(p, dtype=float), np.asarray(outcome, dtype=float)
    # a hair upwards, or 0.3 * 10 would fall into the bin below 0.3
    place = np.minimum((said * bins + 1e-9).astype(int), bins - 1)
    table = []
    for number in range(bins):
        inside = place == number
        if inside.any():
            table.append(
                {
                    "low": number / bins,
                    "high": (number + 1) / bins,
                    "n": int(inside.sum()),
                    "said": float(said[inside].mean()),
                    "seen": float(seen[inside].mean()),
                }
            )
    return table


def calibration_error(p: Sequence[float], outcome: Sequence[bool], bins: int) -> float | None:
    """Expected calibration error: mean of abs(said - seen) over bins, weighted by their numbers.

    References
    ----------
    Naeini, Cooper & Hauskrecht 2015, Obtaining well calibrated probabilities using Bayesian binning, AAAI
    (definition from memory).
    """
    table = reliability(p, outcome, bins)
    n = sum(line["n"] for line in table)
    return sum(line["n"] * abs(line["said"] - line["seen"]) for line in table) / n if n else None


def grouped(records: Iterable[Any], key: Callable[[Any], Hashable]) -> dict[Any, list[Any]]:
    """Records by key, in the order in which the keys first appear."""
    groups: dict[Any, list[Any]] = {}
    for record in records:
        groups.setdefault(key(record), []).append(record)
    return groups


def summed(fates: Iterable[Mapping[str, Any]]) -> dict[str, float | None]:
    """Figures over slips: each a share of all of them, with the first suggestion also of those found."""
    listed = list(fates)
    n = len(listed)
    count = {
        name: sum(bool(fate[name]) for fate in listed)
        for name in ("found", "touched", "right_cell", "first_right", "mended")
    }
    return {
        "n": n,
        "recall": share(count["found"], n),
        "right_cell": share(count["right_cell"], n),
        "right_cell_of_touched": share(count["right_cell"], count["touched"]),
        "first_right": share(count["first_right"], n),
        "first_right_of_found": share(
            sum(bool(fate["first_right"] and fate["found"]) for fate in listed), count["found"]
        ),
        "mended": share(count["mended"], n),
    }
