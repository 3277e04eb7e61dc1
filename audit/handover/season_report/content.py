"""What the report says, before it becomes a page or a print: headings, words, lists, tables, pictures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["NAME", "Block", "Contents", "Drawing", "Heading", "Items", "Rows", "Tone", "Words"]

#: Signs of a name of a person, species or box that are told.
NAME = 40

Tone = Literal["plain", "lead", "quiet", "caution"]


@dataclass(frozen=True, slots=True)
class Heading:
    """Heading of a section."""

    text: str


@dataclass(frozen=True, slots=True)
class Words:
    """One paragraph.

    Attributes
    ----------
    tone : {'plain', 'lead', 'quiet', 'caution'}
        Of what weight.
    start : str
        Set bold in front of the text.
    """

    text: str
    tone: Tone = "plain"
    start: str = ""


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Rows:
    """A table.

    Attributes
    ----------
    caption : str
        What it holds.
    heads : tuple of str
        One for each column.
    lines : tuple of tuple of str
        As many texts each as there are heads.
    numbers, codes : frozenset of int
        Columns that are set to the right, and those that are never broken.
    total : bool
        Whether the last line is a sum.
    """

    caption: str
    heads: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    codes: frozenset[int] = frozenset()
    total: bool = False


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture.

    Attributes
    ----------
    svg : str
        As still SVG text, its identities told apart from those of all other pictures.
    told : str
        The same in words.
    """

    svg: str
    told: str


Block = Heading | Words | Items | Rows | Drawing


@dataclass(frozen=True, slots=True)
class Contents:
    """The whole report.

    Attributes
    ----------
    title : str
        Of the season.
    blocks : tuple of Block
        In the order of reading.
    """

    title: str
    blocks: tuple[Block, ...]
