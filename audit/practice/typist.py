"""Texts typed into single cells, read as the intake would read them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from audit.intake.codes import code_reader
from audit.intake.meanings import text_reader
from audit.intake.words import Words
from audit.season import Reading

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations import Declarations
    from audit.declarations.tables import FieldDeclaration
    from audit.intake.answer import Answer
    from audit.intake.codes import CodeReader
    from audit.intake.meanings import TextReader
    from audit.season import Season

__all__ = ["Typist"]


@dataclass(frozen=True, slots=True)
class Typist:
    """Reads what is typed into a cell of the handlings.

    Attributes
    ----------
    fields : mapping of str to FieldDeclaration
        Columns of the season that are declared.
    readers : mapping of str to reader
        How codes and words are understood; numbers and dates are stored as such.
    """

    fields: Mapping[str, FieldDeclaration]
    readers: Mapping[str, CodeReader | TextReader]

    @classmethod
    def at(cls, season: Season, declared: Declarations) -> Typist:
        """Seat a typist before a season."""
        words = Words(declared.settings)
        table = season.tables["handlings"]
        fields = {one.name: one for one in declared.tables["handlings"].fields if one.name in table.frame}
        readers: dict[str, CodeReader | TextReader] = {}
        for name, field in fields.items():
            if field.kind == "code":
                readers[name] = code_reader(field, words, list(table.typed[name]) if name == "tag" else ())
            elif field.kind == "string":
                readers[name] = text_reader(field, words)
        return cls(fields, readers)

    def read(self, label: str, field: str, text: str) -> tuple[object, tuple[Reading, ...]]:
        """Return the value that a text has in a column, and how it was read where it is not plain."""
        kind = self.fields[field].kind
        if kind in ("number", "integer"):
            return (float(text) if kind == "number" else int(text)), ()
        if kind == "date":
            return pd.Timestamp(text), ()
        answer: Answer = self.readers[field].read(text)
        if not answer.kind:
            return answer.value, ()
        return answer.value, (Reading(label, field, answer.kind, text, answer.shown, answer.remark),)

    def value(self, field: str, text: str) -> object:
        """Return the value that a plain text stands for; None where nothing stands."""
        kind = self.fields[field].kind
        if not text:
            return None
        if kind in ("number", "integer"):
            return float(text) if kind == "number" else int(text)
        return pd.Timestamp(text) if kind == "date" else text
