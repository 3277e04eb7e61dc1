"""Rounds of a drill, made again from the code on their answer sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, TypeVar

from audit.refusal import Refusal

if TYPE_CHECKING:
    import re
    from collections.abc import Callable

__all__ = ["round_again"]


class _Coded(Protocol):
    @property
    def code(self) -> str: ...


_Round = TypeVar("_Round", bound=_Coded)


def round_again(
    code: str, form: re.Pattern[str], drill: str, make: Callable[[str, int, str, list[int]], _Round]
) -> _Round:
    """Make a round again from its code.

    Parameters
    ----------
    code : str
    form : re.Pattern
        With groups for the trainee, the number, the species, the numbers of the mix, and the digest.
    drill : str
        With its article, as in ``an ageing``.
    make : callable
        From all but the digest to the round.

    Raises
    ------
    audit.refusal.Refusal
        It is no code, or the declarations have changed since, so that the round comes out otherwise.
    """
    found = form.fullmatch(code.strip())
    if found is None:
        raise Refusal(
            f"'{code}' is no code of {drill} round.",
            where="code",
            cure="Take the code from the answer sheet of the round as it was written.",
        )
    trainee, number, species, *mix, _ = found.groups()
    made = make(trainee, int(number), species, [int(times) for times in mix])
    if made.code != code.strip():
        raise Refusal(
            "This round comes out otherwise than when it was made.",
            where=code,
            cure="Mark it with the declarations and the version of nestproof that it was made with.",
        )
    return made
