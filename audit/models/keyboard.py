"""Which keys lie beside each other on a keyboard."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["keys_beside"]


def keys_beside(rows: Sequence[str]) -> dict[str, str]:
    """List the keys that touch each key.

    Parameters
    ----------
    rows : sequence of str
        Rows of keys from above, each half a key further to the right than the one before; a blank keeps a
        place free.

    Returns
    -------
    dict of str to str
        Keys beside each key, in lower case, sorted.

    Examples
    --------
    >>> beside = keys_beside(["1234567890", "qwertyuiop"])
    >>> beside["2"], beside["w"]
    ('13qw', '23eq')
    """
    near: dict[str, set[str]] = {key: set() for row in rows for key in row if key != " "}

    def touch(one: str, other: str) -> None:
        near[one].add(other)
        near[other].add(one)

    for row, below in zip(rows, [*rows[1:], ""], strict=True):
        for i, key in enumerate(row):
            for other in (row[i + 1 : i + 2], below[max(i - 1, 0) : i], below[i : i + 1]):
                if other.strip() and key != " ":
                    touch(key, other)
    return {key: "".join(sorted(others)) for key, others in near.items()}
