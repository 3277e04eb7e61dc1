"""Age codes of the exchange code as years of hatching."""

from __future__ import annotations

__all__ = ["hatching_years"]

_DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_FULL_GROWN = 2
_FIRST_PAIRS = 3


def hatching_years(code: str, year: int) -> tuple[int | None, int | None]:
    """Tell between which years a bird hatched, both included; None is no bound.

    A nestling (1) hatched in the year itself; 2 is full-grown of any year. From 3 on, an odd code n means
    hatched in the year ``year - (n - 3) / 2``, an even one hatched by ``year - (n - 2) / 2``; letters go on
    after 9.

    Parameters
    ----------
    code : str
        ``0`` to ``9`` or ``A`` to ``Z``; any other text tells nothing.
    year : int
        Year of the encounter.

    References
    ----------
    Exchange code, field age: 3, 4 and 5 were read, the others and the formula are from memory.

    Examples
    --------
    >>> hatching_years("1", 2026), hatching_years("4", 2026), hatching_years("7", 2026)
    ((2026, 2026), (None, 2025), (2024, 2024))
    """
    if len(code) != 1 or code not in _DIGITS or code == "0":
        return None, None
    number = _DIGITS.index(code)
    if number == 1:
        return year, year
    if number == _FULL_GROWN:
        return None, year
    if number % 2:
        return year - (number - _FIRST_PAIRS) // 2, year - (number - _FIRST_PAIRS) // 2
    return None, year - (number - _FULL_GROWN) // 2
