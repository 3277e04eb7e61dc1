"""Forms of ring numbers: those of the season's series, of any series, of other schemes."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, join_ring
from audit.models.spelling import SlipIndex

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.rules.case import Case
    from audit.rules.ring_rows import Key, Ringings

__all__ = [
    "SeriesForms",
    "foreign_form",
    "forms_of",
    "general_form",
    "own_but_for_one",
    "respelled",
    "settled",
]


@dataclass(frozen=True)
class SeriesForms:
    """Forms of the season.

    `stems` are the series in use, as written; `usual` the number of digits of each bare stem; `count` how
    many rings have each; `rings` those of a series in use.
    """

    stems: Mapping[Key, str]
    usual: Mapping[str, int]
    count: Counter[Key]
    own: frozenset[str]
    rings: frozenset[str]

    @cached_property
    def index(self) -> SlipIndex:
        """The rings, filed for questions about single slips."""
        return SlipIndex(self.rings)


def forms_of(case: Case, rings: Ringings) -> SeriesForms:
    """Gather the forms of the season's series, by what most of its rings have."""
    rows = np.flatnonzero(rings.ring != "").tolist()
    count = Counter(rings.key[i] for i in rows)
    of_stem: dict[str, Counter[int]] = {}
    for (stem, width), n in count.items():
        of_stem.setdefault(stem, Counter())[width] += n
    told = {string.key for string in rings.stock if not string.fault} | set(rings.declared)
    usual: dict[str, int] = {}
    for stem, widths in of_stem.items():
        width, n = widths.most_common(1)[0]
        if n > case.limit("stray_most") and n >= case.limit("width_share") * widths.total():
            usual[stem] = width
    stems = dict(rings.own)
    first_written: dict[Key, str] = {}
    for i in rows:
        first_written.setdefault(rings.key[i], str(rings.stem[i]))
    for key, n in count.items():
        if n > case.limit("stray_most"):
            stems.setdefault(key, first_written[key])
    stems = {key: stem for key, stem in stems.items() if key in told or usual.get(key[0], key[1]) == key[1]}
    for stem, width in told:
        usual.setdefault(stem, width)
    own = frozenset(stem for stem, width in rings.own if (stem, width) in stems)
    whole = frozenset(str(rings.ring[i]) for i in rows if rings.key[i] in stems)
    return SeriesForms(stems, usual, count, own, whole)


def settled(case: Case, rings: Ringings, forms: SeriesForms, i: int) -> bool:
    """Whether nearly all rings of a series are written with the same stem."""
    rows = rings.of_series.get(rings.key[i], np.zeros(0, dtype=np.int64))
    same = int((rings.stem[rows] == forms.stems[rings.key[i]]).sum())
    others = rows.size - same
    rare = others <= 1 or others <= (1 - case.limit("width_share")) * rows.size
    return bool(same >= case.limit("form_least") and rare)


def respelled(rings: Ringings, forms: SeriesForms, text: str) -> list[str]:
    """Rings of the series in use that look the same once hyphens and look-alikes are left out of account."""
    folded = bare(text).translate(rings.look_alikes)
    found = []
    for (stem, width), written in forms.stems.items():
        front = stem.translate(rings.look_alikes)
        serial = folded[len(front) :]
        if folded.startswith(front) and len(serial) == width and serial.isascii() and serial.isdigit():
            found.append(join_ring(written, int(serial), width))
    # a series that is only a look-alike of the number's own stem gives way to the number as spelled
    exact = [ring for ring in found if bare(ring) == bare(text)]
    return exact or found


def general_form(case: Case, stem: str, width: int) -> bool:
    """Whether stem and number of digits are those of some series."""
    form = case.declared.rings.limits
    separators = len(stem) - len(bare(stem))
    return (
        form["form.digits_least"].value <= width <= form["form.digits_most"].value
        and len(bare(stem)) <= form["form.prefix_most"].value
        and separators <= 1
    )


def foreign_form(case: Case, text: str) -> bool:
    """Whether a number may be that of a ring of another scheme: letters and digits, few separators."""
    signs = bare(text)
    return (
        signs.isascii()
        and signs.isalnum()
        and len(signs) <= case.limit("foreign_most")
        and sum(sign.isdigit() for sign in signs) >= case.limit("foreign_digits_least")
        and len(text) - len(signs) <= case.limit("foreign_separators_most")
    )


def own_but_for_one(forms: SeriesForms, text: str) -> bool:
    """Whether a number is one of an own series but for one sign that is no digit.

    A single letter is the prefix of too many series to tell.
    """
    return any(
        len(stem) > 1
        and bare(text).startswith(stem)
        and len(serial := bare(text)[len(stem) :]) == width
        and sum(not sign.isdigit() for sign in serial) == 1
        for stem, width in forms.stems
    )
