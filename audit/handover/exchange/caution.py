"""What a person should look at before a record goes out."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Caution", "LeftOut"]


@dataclass(frozen=True, slots=True)
class Caution:
    """One question to a record; it is written all the same.

    Attributes
    ----------
    check : str
        Which check asks; its grounds are declared in ``schemas/exchange.yaml``.
    label, reference : str
        Row of the season, and the record; empty where unknown.
    field : str
        Field of the record.
    said : str
        One sentence.
    """

    check: str
    label: str
    reference: str
    field: str
    said: str


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A handling of which no record was made.

    Attributes
    ----------
    label : str
        Row of the season.
    box, date, ring : str
        What it is found by.
    why : str
        One sentence.
    """

    label: str
    box: str
    date: str
    ring: str
    why: str
