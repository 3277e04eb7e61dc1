"""Headers as people write them, in five languages, with units, hints and typing slips."""

from __future__ import annotations

import difflib
import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from audit.declarations.once import once_for

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.declarations.tables import TableDeclaration

__all__ = ["How", "Recognised", "SlipLengths", "Unit", "Vocabulary", "fold", "is_slip", "vocabulary_of"]

How = Literal["own name", "known header", "known header and unit", "typing slip"]

# Signs that Unicode does not take apart into a plain letter and a mark; "weight + bag" is not "weight bag".
_PLAIN_LETTERS = str.maketrans(
    {
        "ø": "o",
        "æ": "ae",
        "œ": "oe",
        "ł": "l",
        "đ": "d",
        "°": "o",
        "#": "no",
        "♂": "m",
        "♀": "f",
        "+": "plus",
        "&": "plus",
    }
)
_GERMAN = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})

_BRACKETS = re.compile(r"^(?P<bare>.*?)\s*[(\[{<]\s*(?P<inside>[^)\]}>]*?)\s*[)\]}>]\s*[.:*]*\s*$", re.DOTALL)
_TRAILING = re.compile(
    r"^(?P<bare>.*?[^\s,/_:;-])(?:[\s,/_:;-]|\s+in\s)+(?P<inside>[^\W\d_]+)\.?\s*$", re.DOTALL
)
# Hints such as (dd/mm/yyyy), (tt.mm.jjjj), (hh:mm), (L/R), (0/1).
_HINT = re.compile(
    r"^(?:[dtj]{1,4}\W?m{1,4}\W?[yja]{2,4}|[yja]{2,4}\W?m{1,4}\W?[dtj]{1,4}|\d{0,2}h{1,2}(?:\W?m{2}(?:\W?s{2})?)?|\w(?:\s*[/,|]\s*\w)+)$"
)


@lru_cache(maxsize=50_000)
def fold(text: str) -> str:
    """Reduce a header to its letters and digits: no case, accents, punctuation or blanks.

    Examples
    --------
    >>> fold("Ring-No."), fold("Flügel [mm]"), fold("N° bague")
    ('ringno', 'flugelmm', 'nobague')
    """
    plain = text.casefold().translate(_PLAIN_LETTERS)
    return "".join(sign for sign in unicodedata.normalize("NFKD", plain) if sign.isalnum())


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit that a header may name.

    Attributes
    ----------
    name, of : str
        The unit, and the declared unit that it is turned into: cm of mm.
    factor : float
        Times this, a value in `name` is in `of`.
    largest : float or None
        Largest value, in `name`, that is believed to be in `name`.
    """

    name: str
    of: str
    factor: float
    largest: float | None
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Recognised:
    """A header that means a field."""

    field: str
    how: How
    unit: Unit | None = None


@dataclass(frozen=True, slots=True)
class SlipLengths:
    """Letters that a word needs before a slip of the keys is believed rather than another word.

    Attributes
    ----------
    least, short, long : int
        For any slip; for a letter too many; for one letter in place of another.
    """

    least: int
    short: int
    long: int


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """All headers that are known, table by table, folded.

    Attributes
    ----------
    words : mapping of table to mapping of folded header to field
        Canonical names and synonyms.
    spelled : mapping of table to mapping of folded header to the header as declared
        For messages.
    units : mapping of folded word to Unit
    sheets : mapping of folded sheet name to table
    """

    words: Mapping[str, Mapping[str, str]]
    spelled: Mapping[str, Mapping[str, str]]
    units_of_fields: Mapping[str, Mapping[str, str]]
    units: Mapping[str, Unit]
    sheets: Mapping[str, str]
    slips: SlipLengths
    alike: float

    def recognise(self, text: str, table: str) -> Recognised | None:
        """Say which field of a table a header means, if it is known; typing slips are not tried."""
        words = self.words[table]
        if text.strip() in self.units_of_fields[table]:
            return Recognised(text.strip(), "own name", None)
        bare, unit, hinted = self._take_apart(text)
        field = words.get(fold(text))
        if field is not None:
            fits = unit is not None and unit.of == self.units_of_fields[table][field]
            return Recognised(field, "known header", unit if fits else None)
        if unit is not None:
            return self._with_unit(bare, unit, table)
        # "Number (ring)" and "Leg (ring)" are "ring number" and "ring leg".
        bracketed = _BRACKETS.match(text)
        if bracketed and (field := words.get(fold(f"{bracketed['inside']} {bracketed['bare']}"))) is not None:
            return Recognised(field, "known header")
        if hinted and (field := words.get(fold(bare))) is not None:
            return Recognised(field, "known header")
        return None

    def _with_unit(self, bare: str, unit: Unit, table: str) -> Recognised | None:
        # "Age (weeks)" is not the age code but the age in days, which is known as "age days".
        candidates = [fold(bare), *(fold(f"{bare} {word}") for word in self._words_of(unit.of))]
        for candidate in candidates:
            field = self.words[table].get(candidate)
            if field is not None and self.units_of_fields[table][field] == unit.of:
                return Recognised(field, "known header and unit", unit)
        return None

    def _words_of(self, unit: str) -> tuple[str, ...]:
        return next((known.words for known in self.units.values() if known.name == known.of == unit), ())

    def unit_in(self, text: str) -> Unit | None:
        """Return the unit that a header names."""
        return self._take_apart(text)[1]

    def bare(self, text: str) -> str:
        """Return a header without its unit or hint."""
        bare, unit, hinted = self._take_apart(text)
        return bare if unit or hinted else text

    def _take_apart(self, text: str) -> tuple[str, Unit | None, bool]:
        """Part a header into its name and the unit or hint behind it."""
        match = _BRACKETS.match(text)
        if match:
            inside = match["inside"]
            unit = self.units.get(fold(inside))
            return match["bare"], unit, bool(_HINT.match(inside.casefold()))
        match = _TRAILING.match(text)
        unit = self.units.get(fold(match["inside"])) if match else None
        # Without brackets a single letter may be anything, unless it is the unit's own sign.
        if (
            match
            and unit
            and (fold(match["inside"]) == unit.name or len(match["inside"]) >= self.slips.least)
        ):
            return match["bare"], unit, False
        return text, None, False

    def unit_named(self, text: str) -> Unit | None:
        """Return the unit that a cell below a header names, such as ``(g)``."""
        return self.units.get(fold(text))

    def is_hint(self, text: str) -> bool:
        """Whether a cell below a header only says how to fill the column, such as ``dd/mm/yyyy``."""
        return bool(_HINT.match(text.strip().strip("()[]{}<>").strip().casefold()))

    def slip(self, text: str, table: str, free: Iterable[str]) -> Recognised | None:
        """Name the one free field whose known header differs from `text` by a slip of the keys."""
        bare, unit, hinted = self._take_apart(text)
        found = self._fields_a_slip_away(fold(text), table)
        if not found and (unit or hinted):
            found = self._fields_a_slip_away(fold(bare), table)
            if unit:
                found = {field for field in found if self.units_of_fields[table][field] == unit.of}
        # A word that is one slip away from two fields says neither, even if one of them is taken.
        if len(found) != 1 or not found <= set(free):
            return None
        field = found.pop()
        fits = unit is not None and unit.of == self.units_of_fields[table][field]
        return Recognised(field, "typing slip", unit if fits else None)

    def _fields_a_slip_away(self, typed: str, table: str) -> set[str]:
        return {
            field
            for word, field in self.words[table].items()
            if abs(len(word) - len(typed)) <= 1 and is_slip(typed, word, self.slips)
        }

    def nearest(self, text: str, table: str, fields: Iterable[str] | None = None) -> tuple[str, str] | None:
        """Return the known header most like `text`, as declared, and its field."""
        wanted = None if fields is None else set(fields)
        words = [word for word, field in self.words[table].items() if wanted is None or field in wanted]
        near = difflib.get_close_matches(fold(text), words, n=1, cutoff=self.alike)
        if not near:
            return None
        return self.spelled[table][near[0]], self.words[table][near[0]]


def is_slip(typed: str, word: str, lengths: SlipLengths) -> bool:
    """Whether `typed` is `word` with one slip of the keys that makes no other word likely.

    A letter left out, a letter doubled, two neighbours exchanged and a plural s are taken at any length;
    any other letter too many and one letter for another need longer words.

    Examples
    --------
    >>> lengths = SlipLengths(least=3, short=5, long=7)
    >>> [is_slip(*pair, lengths) for pair in (("wng", "wing"), ("nest", "net"), ("height", "weight"))]
    [True, False, False]
    """
    if typed == word or min(len(typed), len(word)) < lengths.least:
        return False
    start = next(
        (i for i, (a, b) in enumerate(zip(typed, word, strict=False)) if a != b), min(len(typed), len(word))
    )
    if len(typed) + 1 == len(word):
        return typed[start:] == word[start + 1 :]
    if len(typed) == len(word) + 1:
        if typed[start + 1 :] != word[start:]:
            return False
        extra = typed[start]
        doubled = start > 0 and extra == typed[start - 1]
        plural = start == len(word) and extra == "s"
        return doubled or plural or len(word) >= lengths.short
    if len(typed) == len(word):
        rest_typed, rest_word = typed[start:], word[start:]
        if rest_typed[1::-1] == rest_word[:2] and rest_typed[2:] == rest_word[2:]:
            return True
        return len(word) >= lengths.long and rest_typed[1:] == rest_word[1:]
    return False


@once_for
def vocabulary_of(declared: Declarations) -> Vocabulary:
    """Gather all known headers, units and sheet names from the declarations."""
    words: dict[str, dict[str, str]] = {}
    spelled: dict[str, dict[str, str]] = {}
    for name, table in declared.tables.items():
        words[name], spelled[name] = _words_of_table(table)
    setting = declared.settings
    return Vocabulary(
        words=words,
        spelled=spelled,
        units_of_fields={
            name: {field.name: field.unit for field in table.fields}
            for name, table in declared.tables.items()
        },
        units={
            folded: unit for unit in _units(declared) for word in unit.words if (folded := fold(word)) != ""
        },
        sheets={
            folded: name
            for name, table in declared.tables.items()
            for word in (name, *table.sheet_names)
            for folded in _folds(word)
        },
        slips=SlipLengths(
            least=setting["reading.files.header.letters_least"].value,
            short=setting["reading.files.header.letters_short"].value,
            long=setting["reading.files.header.letters_long"].value,
        ),
        alike=setting["reading.files.header.alike"].value,
    )


def _words_of_table(table: TableDeclaration) -> tuple[dict[str, str], dict[str, str]]:
    words: dict[str, str] = {}
    spelled: dict[str, str] = {}
    for field in table.fields:
        for header in (field.name, *field.headers):
            for folded in _folds(header):
                words.setdefault(folded, field.name)
                spelled.setdefault(folded, header)
    return words, spelled


def _folds(word: str) -> Sequence[str]:
    """Fold a word, and its spelling without umlauts: Flügel is typed Fluegel too."""
    german = word.casefold().translate(_GERMAN)
    return (fold(word),) if german == word.casefold() else (fold(word), fold(german))


def _units(declared: Declarations) -> list[Unit]:
    """Units as declared for cells; `largest` tells when a header with another unit than ours is believed."""
    setting = declared.settings
    stem = "reading.units."
    units = []
    for name in dict.fromkeys(
        key.removeprefix(stem).split(".")[0] for key in setting if key.startswith(stem)
    ):
        largest = setting.get(f"reading.files.header_units.{name}.largest")
        factors = {
            key.rpartition(".")[2]: limit.value
            for key, limit in setting.items()
            if key.startswith(f"{stem}{name}.") and not key.endswith(".words")
        }
        words = tuple(setting[f"{stem}{name}.words"].value)
        for of, factor in factors.items():
            units.append(Unit(name, of, factor, None if largest is None else largest.value, words))
    return units
