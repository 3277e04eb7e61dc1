"""The code of a round: all that it takes to make it again, and whether it came out the same."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol, TypeVar

from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

__all__ = ["Coded", "RoundCode", "code_for", "made_again"]

_CODE = re.compile(r"(\w+)\.([\w-]{1,12})\.(\d{1,6})\.([\w.-]*)\.([0-9a-f]{6})", re.ASCII)
_TRAINEE = re.compile(r"\w+\.([^.]{1,12})\.")


class Coded(Protocol):
    """A round that can be made again."""

    @property
    def trainee(self) -> str:
        """Initials of the trainee."""

    @property
    def name(self) -> str:
        """Stem of its files."""

    @property
    def code(self) -> str:
        """Its code."""


_Round = TypeVar("_Round", bound=Coded)


@dataclass(frozen=True, slots=True)
class RoundCode:
    """A code taken apart.

    Attributes
    ----------
    trainee : str
    number : int
    wishes : tuple of str
        Whatever else the drill needs, such as species, level and mix.
    """

    trainee: str
    number: int
    wishes: tuple[str, ...]


def code_for(drill: str, trainee: str, number: int, wishes: Sequence[str], told: object) -> str:
    """Write a code.

    Parameters
    ----------
    wishes : sequence of str
        Of letters, digits, hyphens and underscores.
    told : object
        What the round came out as: six digits of its `repr` end the code.
    """
    digest = hashlib.blake2b(repr(told).encode(), digest_size=3).hexdigest()
    return ".".join((drill, trainee, str(number), *wishes, digest))


def made_again(code: str, drill: str, wishes: int, make: Callable[[RoundCode], _Round]) -> _Round:
    """Make a round again from its code.

    Parameters
    ----------
    drill : str
        Name of the drill.
    wishes : int
        How many wishes a code of this drill holds.
    make : callable
        From the code taken apart to the round; a `ValueError` says that it is none.

    Raises
    ------
    audit.refusal.Refusal
        It is no code, or the declarations have changed since, so that the round comes out otherwise.
    """
    plain = code.strip()
    trainee = _TRAINEE.match(plain)
    # initials may hold letters of any language, the rest of a code does not
    found = _CODE.fullmatch(plain if trainee is None else plain.replace(f".{trainee[1]}.", ".x.", 1))
    parts = found[4].split(".") if found is not None else []
    if found is None or trainee is None or found[1] != drill or len(parts) != wishes:
        raise _no_code(plain, drill)
    try:
        made = make(RoundCode(trainee[1], int(found[3]), tuple(parts)))
    except ValueError as fault:
        raise _no_code(plain, drill) from fault
    if made.code != plain:
        raise Refusal(
            "This round comes out otherwise than when it was made.",
            where=plain,
            cure="Mark it with the declarations and the version of nestproof that it was made with.",
        )
    return made


def _no_code(code: str, drill: str) -> Refusal:
    return Refusal(
        f"'{code}' is no code of a round of the {drill} drill.",
        where="code",
        cure="Take the code from the answer sheet of the round as it was written.",
    )
