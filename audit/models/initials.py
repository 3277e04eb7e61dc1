"""Initials of people: how they are compared, and who is meant where one cell names several."""

from __future__ import annotations

import re

__all__ = ["hands_of"]

_JOINTS = re.compile(r"[/+&,;]|\b(?:and|und|et|en)\b", re.IGNORECASE)
_APART = re.compile(r"[\W_]+")


def hands_of(text: str) -> tuple[str, ...]:
    """Tell whom a cell names, each without case, points and blanks.

    Parameters
    ----------
    text : str
        A cell as typed, such as ``IP`` or ``IP/MK``.

    Returns
    -------
    tuple of str
        In the order written, nobody twice; empty for a cell without a letter or figure.

    Examples
    --------
    >>> hands_of("I. P."), hands_of("ip / MK"), hands_of("IP und MK"), hands_of("-")
    (('ip',), ('ip', 'mk'), ('ip', 'mk'), ())
    """
    parts = (_APART.sub("", part).casefold() for part in _JOINTS.split(text))
    return tuple(dict.fromkeys(part for part in parts if part))
