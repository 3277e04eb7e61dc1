"""What the cells of two typings mean, written so that two cells that mean the same are equal."""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.declarations.species import species_index
from audit.rules.case import Case
from audit.rules.plain import plain_text
from audit.rules.tag_keys import keys_of
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from audit.declarations import Declarations
    from audit.declarations.tables import FieldDeclaration
    from audit.season import Season

__all__ = ["Meanings", "meanings_of"]

_JOINTS = re.compile(r"[\W_]+")
_BLANKS = re.compile(r"\s+")
_NOUGHTS = re.compile(r"(?<!\d)0+(?=\d)")
#: So many decimals of a number are looked at: a spreadsheet may have worked it out.
_DECIMALS = 6
#: Marks a text in which nothing could be read, so that it equals no value.
_UNREAD = "\x00"


@dataclass(frozen=True, slots=True)
class Meanings:
    """One column of both typings.

    Attributes
    ----------
    field, kind : str
        Canonical column and its kind.
    free : bool
        Whether any text may stand there, as for remarks.
    first, second : list of str
        What each cell means; empty where nothing stands, equal where both mean the same.
    first_typed, second_typed : list of str
        The texts as typed.
    """

    field: str
    kind: str
    free: bool
    first: list[str]
    second: list[str]
    first_typed: list[str]
    second_typed: list[str]

    def same_writing(self, i: int, j: int) -> bool:
        """Whether the texts are the same but for blanks at their ends."""
        return self.first_typed[i].strip() == self.second_typed[j].strip()


def meanings_of(first: Season, second: Season, table: str, declared: Declarations) -> tuple[Meanings, ...]:
    """Write out what every cell of a table means, for the columns that both typings have.

    Parameters
    ----------
    first, second : Season
        Both with the table.

    Returns
    -------
    tuple of Meanings
        In the order in which the columns are declared.
    """
    found = []
    tag_keys = _tag_keys(first, second, declared) if table == "handlings" else ({}, {})
    unread = [_without_value(season) for season in (first, second)]
    for field in declared.tables[table].fields:
        typed = [season.tables[table].typed for season in (first, second)]
        if not all(field.name in one for one in typed):
            continue
        texts = [[str(text) for text in one[field.name].tolist()] for one in typed]
        columns = []
        for season, keys, at, column in zip((first, second), tag_keys, unread, texts, strict=True):
            write = _writer(field, declared, keys)
            columns.append(_column(season, table, field.name, write, at[field.name], column))
        free = field.kind == "string" and not field.allowed and field.name == "remarks"
        found.append(Meanings(field.name, field.kind, free, *columns, *texts))
    return tuple(found)


def _column(
    season: Season,
    table: str,
    field: str,
    write: Callable[[object], str],
    unread: set[str],
    texts: Sequence[str],
) -> list[str]:
    frame = season.frame(table)
    values = frame[field].tolist() if field in frame.columns else texts
    known: dict[object, str] = {}
    meant = []
    for label, value, text in zip(frame.index, values, texts, strict=True):
        if value not in known:
            known[value] = write(value)
        # a mark for nothing, such as a dash, means nothing; what could not be read is its text
        meant.append(known[value] or (_UNREAD + _folded(text) if text.strip() and label in unread else ""))
    return meant


def _writer(
    field: FieldDeclaration, declared: Declarations, tag_keys: dict[str, str]
) -> Callable[[object], str]:
    if field.kind in ("number", "integer"):
        return _number
    if field.name == "species":
        index = species_index(declared.species)
        return lambda value: index.resolve(value) or _folded(plain_text(value))
    if field.name == "tag":
        return lambda value: tag_keys.get(plain_text(value)) or _joined(plain_text(value))
    if field.name == "box":
        # SL-1 is SL-01
        return lambda value: _NOUGHTS.sub("", _joined(plain_text(value)))
    if field.kind == "code":
        return lambda value: _joined(plain_text(value))
    return lambda value: _folded(plain_text(value))


def _number(value: object) -> str:
    text = plain_text(value)
    return text and plain_text(round(float(text), _DECIMALS))


def _joined(text: str) -> str:
    """Capitals, and no joints: ``sl 01`` is SL-01."""
    return _JOINTS.sub("", text.upper())


def _folded(text: str) -> str:
    return _BLANKS.sub(" ", unicodedata.normalize("NFKC", text)).strip().rstrip(".;,").casefold()


def _tag_keys(first: Season, second: Season, declared: Declarations) -> tuple[dict[str, str], dict[str, str]]:
    """Give the tags of both typings one key each, however either writes them."""
    case = Case(first, declared, declared.rules["tag_code"])
    one, other = (texts_in(season.frame("handlings"), "tag") for season in (first, second))
    _, (keys, others, _) = keys_of(case, one, other, [])
    return keys, others


def _without_value(season: Season) -> dict[str, set[str]]:
    """Labels of cells in which something stands and nothing could be read, by column."""
    found: dict[str, set[str]] = defaultdict(set)
    for reading in season.readings:
        if not reading.value:
            found[reading.field].add(reading.label)
    return found
