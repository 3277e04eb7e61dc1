"""The last sections: cautions, where limits come from, and what the report was made from and with."""

from __future__ import annotations

import platform
from collections import Counter
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING

from audit.handover.season_report.content import Heading, Rows, Words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.season_report.content import Block

__all__ = ["cautions", "origins"]

_CAUTION = (
    "Your licence, your scheme's rules and local law come before anything in this report. No bird and no box "
    "is visited for a typing error: what can only be settled in the field stays as typed, or waits for a "
    "visit that is due and allowed anyway. At such a visit stop when a bird is distressed, keep young warm "
    "and in the dark, work at height in pairs, and wear gloves and a mask against nest dust."
)
_PLACES = (
    "Nests of protected birds are safest when few know of them: think of who will read this before passing "
    "on labels of boxes with their days. Co-ordinates are not in it."
)
#: Libraries that have a part in what stands here.
_LIBRARIES = ("nestproof", "numpy", "pandas", "scipy", "pandera", "altair", "vl-convert-python", "typst")
_GRADES = ("read", "computed", "common practice", "memory")


def cautions(decided: DecidedSeason) -> Iterator[Block]:
    """Say what comes before this report."""
    from audit.charts.mass_wing import species_present

    yield Heading("Before anybody goes back to a box")
    yield Words(_CAUTION, "caution")
    yield Words(_PLACES, "caution")
    by_text: dict[str, list[str]] = {}
    for slug in species_present(decided.clean, decided.declared):
        one = decided.declared.species[slug]
        if one.caution:
            by_text.setdefault(one.caution, []).append(one.english)
    for text, names in by_text.items():
        yield Words(text, "caution", f"{', '.join(names).capitalize()}.")


def origins(decided: DecidedSeason, inputs: Sequence[tuple[str, str]]) -> Iterator[Block]:
    """Say where limits come from, and what the report was made from and with."""
    declared = decided.declared
    yield Heading("Where this comes from")
    if inputs:
        yield Rows(
            "Files that were read, with their checksums (SHA-256)",
            ("file", "SHA-256"),
            tuple((Path(name).name or name, digest) for name, digest in inputs),
            codes=frozenset((1,)),
        )
    else:
        yield Words("Which files were read was not told to this report.")
    yield Rows(
        "How well the numbers are known that the audit's rules used",
        ("rule", "numbers", *_GRADES),
        tuple(_grades(decided)),
        numbers=frozenset(range(1, len(_GRADES) + 2)),
        total=True,
    )
    own = ", ".join(path.name for path in declared.sources[1:])
    laid = (
        f"those shipped with nestproof, and laid over them those of the folder {own}"
        if own
        else ("those shipped with nestproof")
    )
    yield Words(
        "Each number stands in the declarations with its source and with how well it is known: read in a "
        f"named source, computed, common practice, or from memory. Declarations used: {laid}. The page of "
        "findings lists every number with its source."
    )
    yield Rows("Made with", ("what", "version"), tuple(_versions()))


def _grades(decided: DecidedSeason) -> Iterator[tuple[str, ...]]:
    total: Counter[str] = Counter()
    for slug in sorted(decided.report.rules_run):
        known = decided.declared.rules.get(slug)
        if known is None or not known.limits:
            continue
        counts = Counter(limit.grade for limit in known.limits.values())
        total.update(counts)
        yield (slug, f"{sum(counts.values()):,}", *(f"{counts[grade]:,}" for grade in _GRADES))
    yield ("all", f"{sum(total.values()):,}", *(f"{total[grade]:,}" for grade in _GRADES))


def _versions() -> Iterator[tuple[str, str]]:
    for name in _LIBRARIES:
        try:
            yield name, version(name)
        except PackageNotFoundError:
            continue
    yield "python", platform.python_version()
