"""Rings of a series that is used for another species: the ring or the species is wrong."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from audit.declarations.species import species_index
from audit.models.ring_number import bare
from audit.rules.case import At
from audit.rules.expected_rings import mend_ring
from audit.rules.species_text import as_written

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["species_of_series"]


def species_of_series(case: Case, rings: Ringings, doubtful: set[int]) -> Iterator[Finding | NotRun]:
    """Find birds whose species is not that of the other birds with rings of the series."""
    if not case.season.has("handlings", "species"):
        yield case.not_run("species", "'handlings' has no column 'species'")
        return
    named = _species_of(case)
    fitting = {
        (bare(series.prefix), series.digits): series.species
        for series in case.declared.rings.series.values()
        if series.species
    }
    for key, rows in rings.of_series.items():
        told = [i for i in rows.tolist() if named[i]]
        counts = Counter(named[i] for i in told)
        if key in fitting:
            wrong, usual = set(counts) - set(fitting[key]), " or ".join(fitting[key])
        else:
            if len(told) < case.limit("species_least") or len(counts) == 1:
                continue
            usual, n = counts.most_common(1)[0]
            wrong = set(counts) - {usual} if n >= case.limit("species_share") * len(told) else set()
        for i in told:
            if named[i] in wrong and i not in doubtful:
                mates = {named[j] for j in rings.mates(i) if named[j]}
                yield _odd_species(case, rings, i, (named[i], usual, counts[usual]), mates)


def _species_of(case: Case) -> list[str]:
    """Species of each row: slug where the name is known, else the text; empty where missing or in doubt."""
    index = species_index(case.declared.species)
    texts = case.sure("handlings")["species"].fillna("").to_numpy(dtype=object).tolist()
    names = {text: index.resolve(text) or str(text) for text in set(texts)}
    return [names[text] for text in texts]


def _odd_species(
    case: Case, rings: Ringings, i: int, species: tuple[str, str, int], mates: set[str]
) -> Finding:
    odd, usual, n = species
    # a series that fits several species names none
    meant = "" if " or " in usual else as_written(case, usual)
    label, text = str(rings.labels[i]), str(rings.ring[i])
    begins = f"beginning with {rings.stem[i]}" if rings.stem[i] else "of this series"
    odd, usual = odd.replace("_", " "), usual.replace("_", " ")
    habit = f"Ring {text} is on {odd}, but {n} rings {begins} are on {usual}"
    mend = mend_ring(rings, i, text) if not rings.at_home[i] else None
    if mend:
        message = f"{habit}: {mend.clause} from {mend.ring}."
        return case.blame("species", [At(label, "ring", mend.ring, case.limit("p_of_one"))], message)
    witnesses = [(str(rings.labels[j]), "species") for j in rings.mates(i)]
    if mates == {species[1]}:
        message = f"{habit}, and so are the other birds of this visit."
        return case.blame(
            "species", [At(label, "species", meant, case.limit("p_of_one"))], message, witnesses
        )
    message = f"{habit}: the ring or the species is wrong, or the bird got an unusual size."
    return case.blame("species", [At(label, "ring"), At(label, "species", meant)], message, witnesses)
