"""Text for a terminal: lines of a width, and nothing that steers it."""

from __future__ import annotations

import textwrap

__all__ = ["on_one_line", "wrapped"]


def wrapped(text: str, width: int, before: str = "") -> list[str]:
    """Break a text into lines, words whole and a number not parted from its percent sign.

    Parameters
    ----------
    width : int
        Longest line in characters.
    before : str
        What the first line begins with; the others are indented as far.
    """
    lines = textwrap.wrap(
        text.replace(" %", "\N{NO-BREAK SPACE}%"),
        width,
        initial_indent=before,
        subsequent_indent=" " * len(before),
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("\N{NO-BREAK SPACE}%", " %") for line in lines]


def on_one_line(text: str) -> str:
    """Keep control characters in typed text from steering the terminal."""
    return "".join(sign if sign.isprintable() else " " for sign in text)
