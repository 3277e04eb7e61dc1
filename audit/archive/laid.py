"""An archive laid out for all questions: every column with one type, and what birds are known by."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import chain, islice
from string import whitespace
from typing import TYPE_CHECKING, Any

from audit.archive.laid_out import laid_out
from audit.archive.marks import Words, marked
from audit.archive.row_checks import stored_as_declared
from audit.declarations.species import species_index
from audit.intake import words as intake_words
from audit.models.iso_words import decimals_of
from audit.rules.tag_keys import keys_alone

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import pandas as pd
    from narwhals import LazyFrame

    from audit.archive.engine import Engine, Raw
    from audit.declarations import Declarations
    from audit.declarations.tables import TableDeclaration

__all__ = ["Laid", "lay_out", "words_of"]

#: Columns whose words mean few values.
_WORDS = ("event", "age", "sex")
#: Digits of a tag in decimal digits (ISO 11784), which needs no other key.
_DECIMAL = 15
#: So many of the tags of one meaning tell how others are written here.
_HABIT = 1000


@dataclass(frozen=True, slots=True)
class Laid:
    """The rows of an archive, with one type for each column.

    Attributes
    ----------
    raw : Raw
        As they are stored.
    rows : narwhals.LazyFrame
        Of `laid_out.laid_out`.
    table : TableDeclaration
    typed : bool
        They are stored with the types that they ought to have, so that they are quickly laid out; else they
        are kept as they were laid out.
    known : mapping of str to sequence of str
        By column, the texts that mean one of its values, in whatever language.
    """

    raw: Raw
    rows: LazyFrame[Any]
    table: TableDeclaration
    typed: bool
    known: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def some(self, few: LazyFrame[Any]) -> LazyFrame[Any]:
        """Lay a few rows out, of which ``at`` is told."""
        if not self.typed:
            return self.rows.join(few, on="at", how="semi")
        return laid_out(self.raw.rows.join(few, on="at", how="semi"), self.raw.stored, self.table)


def words_of(
    texts: Sequence[str], declared: Declarations, told: Mapping[str, Iterable[str]] | None = None
) -> Words:
    """Tell what the words of an archive mean.

    Parameters
    ----------
    texts : sequence of str
        All texts of its column ``species``.
    declared : Declarations
    told : mapping of str to iterable of str, optional
        Texts of other columns, in whatever language.
    """
    rules, index = declared.rules, species_index(declared.species)
    species: dict[str, list[str]] = {}
    for text in sorted(texts):
        slug = index.resolve(text)
        if slug is not None:
            species.setdefault(slug, []).append(text)

    def words(rule: str, limit: str) -> list[str]:
        return [str(word).lower() for word in rules[rule].limits[limit].value]

    return Words(
        pullus=[str(code) for code in rules["growth"].limits["pullus_codes"].value],
        dead=words("history", "dead_words"),
        ring=words("earlier", "ring_words"),
        tag=words("earlier", "tag_words"),
        moved=words("ring_twice", "moved_words"),
        species=species,
        meant={name: _meanings(name, some, declared) for name, some in (told or {}).items()},
    )


def _meanings(name: str, texts: Iterable[str], declared: Declarations) -> dict[str, list[str]]:
    """Sort texts by the value that they mean, as a season is read; a text that is its value stays out."""
    known = intake_words.Words(declared.settings).meanings(name)
    found: dict[str, list[str]] = {}
    for text in sorted(texts):
        value = known.get(intake_words.fold(text))
        if value is not None and value != text:
            found.setdefault(value, []).append(text)
    return found


def _with_keys(engine: Engine, marks: LazyFrame[Any], declared: Declarations) -> LazyFrame[Any]:
    """Give each tag the key that all ways of writing it share, as in a season."""
    import narwhals as nw
    import pandas as pd

    tag = nw.col("tag")
    odd = engine.frame(marks.filter(tag.str.len_chars() != _DECIMAL).select("tag").unique())["tag"]
    texts = sorted(odd.dropna())
    # words of sixteen hex digits may be millions, and few of them have two meanings
    keys = decimals_of(texts)
    rest = [text for text in texts if text not in keys]
    keys |= keys_alone([*rest, *islice(keys, _HABIT)] if rest else [], declared.tags.limits)
    other = {text: key for text, key in keys.items() if text != key}
    if not other:
        return marks
    table = engine.table(pd.DataFrame({"tag": list(other), "tag_key": list(other.values())}), "tag_keys")
    keyed = marks.join(table, on="tag", how="left")
    return keyed.with_columns(nw.coalesce("tag_key", "tag").alias("tag")).drop("tag_key")


def _texts(column: pd.Series) -> set[str]:
    """Collect the texts of a column, as they are laid out."""
    return {bare for text in column.dropna() if (bare := str(text).strip(whitespace))}


def lay_out(engine: Engine, raw: Raw, declared: Declarations) -> tuple[Laid, LazyFrame[Any]]:
    """Give every column of an archive its type, and keep what birds are known by.

    Returns
    -------
    Laid
    narwhals.LazyFrame
        Of `marks.marked`, kept by the engine.
    """
    table = declared.tables["handlings"]
    rows, typed = laid_out(raw.rows, raw.stored, table), stored_as_declared(table, raw.stored)
    if not typed:
        rows = engine.keep(rows, "laid")
    # columns of few words are quickly gone through as they are stored, one by one
    cells = raw.rows if typed else rows
    of_words = [one.name for one in table.fields if one.name in _WORDS or one.allowed is not None]
    there = [name for name in ("species", *of_words) if name in raw.stored]
    told = {name: _texts(engine.frame(cells.select(name).unique())[name]) for name in there}
    words = words_of(sorted(told.pop("species", ())), declared, told)
    marks = _with_keys(engine, marked(rows, words), declared)
    known = {name: [*chain(*meant.values())] for name, meant in words.meant.items()}
    return Laid(raw, rows, table, typed, known), engine.keep(marks, "marks")
