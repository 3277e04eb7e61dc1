"""The number on a ring in ten characters, and back."""

from __future__ import annotations

import re

from audit.models.ring_number import bare, split_ring
from audit.refusal import Refusal

__all__ = ["FILLER", "padded", "unpadded"]

#: Fills the place between letters and digits.
FILLER = "."
_SIGNS = re.compile(r"[0-9A-Z]+", re.ASCII)


def padded(ring: str, width: int) -> str:
    """Write the number on a ring: letters of the series left, digits right, dots between.

    Digits alone stand at the right. Hyphens and blanks are left out.

    Parameters
    ----------
    ring : str
        As in the clean season.
    width : int
        Characters of the field.

    Raises
    ------
    Refusal
        The number is too long, has no digits at its end, or signs that the code does not know.

    Examples
    --------
    >>> padded("SV03001", 10), padded("1234567", 10), padded("2N-5354", 10)
    ('SV...03001', '...1234567', '2N....5354')
    """
    plain = bare("".join(ring.split())).upper()
    stem, digits = split_ring(plain)
    if not _SIGNS.fullmatch(plain):
        why = "has signs other than letters A to Z and digits" if plain else "has no letter and no digit"
    elif not digits:
        why = "does not end in digits"
    elif len(plain) > width:
        why = f"has {len(plain)} characters, and the code holds {width}"
    else:
        return f"{stem}{FILLER * (width - len(plain))}{digits}"
    raise Refusal(
        f"The ring '{ring}' {why}.",
        where=ring,
        cure="Read it again; ask the scheme how such a ring is written.",
    )


def unpadded(text: str) -> str:
    """Give the number on a ring without the dots.

    Examples
    --------
    >>> unpadded("SV...03001"), unpadded("..........")
    ('SV03001', '')
    """
    return text.replace(FILLER, "")
