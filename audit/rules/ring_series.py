"""Does each ring number have the form of its series? Every outcome is about one number."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, join_ring, split_ring
from audit.models.tag_text import canonical
from audit.rules.case import At
from audit.rules.heeded import RINGINGS, together
from audit.rules.ringings import ringings_of
from audit.rules.rule import Rule
from audit.rules.series.forms import forms_of
from audit.rules.series.no_ring import rows_without_ring
from audit.rules.series.odd_numbers import odd_number
from audit.rules.series.species import species_of_series

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.series.forms import SeriesForms

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find numbers that no ring of this season can bear."""
    rings = ringings_of(case)
    yield from _wrongly_declared(case, rings)
    forms = forms_of(case, rings)
    found: dict[int, Finding] = {}
    mended: dict[str, str] = {}
    for i, exchanged in _columns_exchanged(case, rings, forms):
        found[i] = exchanged
        mended[str(rings.labels[i])] = exchanged.suspects[0].suggested
    if mended:
        rings = ringings_of(case, mended)
        forms = forms_of(case, rings)
    open_rows = [i for i in np.flatnonzero(rings.ring != "").tolist() if not _plain(rings, forms, i)]
    two = False
    while open_rows:
        # a ring that could be mended tells where the string has got to, so the others are looked at once more
        before = len(mended)
        for i in open_rows:
            finding = odd_number(case, rings, forms, i, set(mended.values()), two=two)
            if finding:
                found[i] = finding
                suspect = finding.suspects[0]
                if suspect.suggested:
                    mended[suspect.cell.label] = suspect.suggested
        open_rows = [i for i in open_rows if str(rings.labels[i]) not in mended]
        if len(mended) == before and two:
            break
        # two slips at once are thought of last
        two = len(mended) == before
        rings = ringings_of(case, mended)
    yield from found.values()
    yield from rows_without_ring(case, rings)
    yield from species_of_series(case, rings, set(found))


def _plain(rings: Ringings, forms: SeriesForms, i: int) -> bool:
    stem = forms.stems.get(rings.key[i])
    return stem is not None and stem == rings.stem[i]


def _columns_exchanged(case: Case, rings: Ringings, forms: SeriesForms) -> Iterator[tuple[int, Finding]]:
    """Find rows in which ring and tag stand in each other's column."""
    if not case.season.has("handlings", "tag"):
        return
    tags = case.sure("handlings")["tag"].fillna("").to_numpy(dtype=object)
    for i in np.flatnonzero(tags != "").tolist():
        ring, tag = str(rings.ring[i]), str(tags[i])
        stem, digits = split_ring(tag)
        key = (bare(stem), len(digits))
        if key not in forms.stems or not digits or canonical(ring) is None or canonical(tag) is not None:
            continue
        meant = join_ring(forms.stems[key], int(digits), key[1])
        label = str(rings.labels[i])
        message = f"Ring {ring} and tag {tag} stand in each other's column."
        yield i, case.blame("columns", [At(label, "ring", meant), At(label, "tag", ring)], message)


def _wrongly_declared(case: Case, rings: Ringings) -> Iterator[NotRun]:
    """Say where a team's declaration and nearly all of its rings disagree: then the declaration is wrong."""
    for series in case.declared.rings.series.values():
        prefix = bare(series.prefix)
        if not prefix:
            continue
        widths = Counter(
            len(text) - len(prefix)
            for text in (bare(str(ring)) for ring in rings.ring)
            if text.startswith(prefix) and text[len(prefix) :].isdecimal()
        )
        if not widths:
            continue
        width, n = widths.most_common(1)[0]
        if width != series.digits and n >= case.limit("form_least"):
            yield case.not_run(
                "digits",
                f"series '{series.slug}' is declared with {series.digits} digits, but {n} of "
                f"{widths.total()} rings beginning with {series.prefix} have {width}: mend rings.yaml",
            )


RULE = Rule(
    "ring_series",
    {"handlings": ("ring", "box", "date")},
    check,
    heeds=together(RINGINGS, {"handlings": ("species", "tag", "condition", "remarks")}),
)
