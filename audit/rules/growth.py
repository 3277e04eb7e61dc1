"""Do mass and wing fit the curves of the species? Bird by bird, is nothing wrong or which one cell is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.rules.birds import birds_of
from audit.rules.case import At, Case
from audit.rules.growth_accounts import accounts_of, log_any, odd_decimals
from audit.rules.growth_verdict import judge
from audit.rules.heeded import BIRDS, together
from audit.rules.rule import Rule
from audit.rules.species_outlook import species_outlook

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.findings import Finding, NotRun
    from audit.rules.birds import Birds
    from audit.rules.outlook import Outlook
    from audit.rules.sizes import Sizes


__all__ = ["RULE"]

#: So many birds are weighed together: more take more memory, and no less time.
_TOGETHER = 20


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Weigh, bird by bird, whether nothing is wrong or which one cell is."""
    season = case.season
    if not any(season.has("handlings", name) for name in ("net_g", "gross_g", "wing_mm")):
        yield case.not_run("mass", "there is no column of masses or wings")
        return
    fallback = str(case.setting("season.species.default_species"))
    if not season.has("handlings", "species"):
        yield case.not_run(
            "species", f"there is no species column: every bird was taken for a {_english(case, fallback)}"
        )
    yield from _noughts(case)
    birds = birds_of(case, fallback=fallback)
    yield from _unknown_texts(case, birds)
    slugs = [slug for slug in dict.fromkeys(birds.slug) if slug in case.declared.species]
    places = {slug: np.flatnonzero(birds.slug == slug) for slug in slugs}
    outlooks = {}
    for slug in slugs:
        own = birds.of(places[slug])
        outlooks[slug] = species_outlook(case, slug, own)
        yield from _uncovered(case, outlooks[slug].sizes, own)
    for slug in slugs:
        yield from _ask_species(case, outlooks[slug], outlooks)


def _noughts(case: Case) -> Iterator[Finding | NotRun]:
    """Blame a mass or wing of 0 where it is rare; where it is a habit, say so."""
    frame = case.sure("handlings")
    for field, measure in (("wing_mm", "wing"), ("net_g", "net"), ("gross_g", "gross")):
        if field not in frame.columns:
            continue
        labels = frame.index[(frame[field] == 0).to_numpy(dtype=bool)]
        usual = len(labels) > 1 and len(labels) > case.limit("noughts_usual") * frame[field].notna().sum()
        if usual:
            yield case.not_run(
                "nought", f"0 stands {len(labels)} times for {measure}: it was taken for not measured"
            )
            continue
        for label in labels:
            unit = "mm" if field == "wing_mm" else "g"
            yield case.blame(
                "nought",
                [At(str(label), field)],
                f"{measure.capitalize()} is 0 {unit}: leave the cell empty when it was not measured.",
            )


def _english(case: Case, slug: str) -> str:
    species = case.declared.species.get(slug)
    return species.english if species else slug


def _unknown_texts(case: Case, birds: Birds) -> Iterator[NotRun]:
    if not case.season.has("handlings", "species"):
        return
    unknown = birds.labels[birds.slug == ""]
    if not len(unknown):
        return
    # a species in doubt is missing here, and no unknown word
    texts = case.sure("handlings").loc[list(unknown), "species"].dropna().astype("str")
    if len(texts):
        named = ", ".join(f"'{text}'" for text in texts.unique())
        birds_left = "1 row was" if len(texts) == 1 else f"{len(texts):,} rows were"
        yield case.not_run("species", f"no declared species is called {named}: {birds_left} left out")


def _uncovered(case: Case, sizes: Sizes, birds: Birds) -> Iterator[NotRun]:
    for column, outcome, measure in (("wing_mm", "wing", "wings"), ("mass_g", "mass", "masses")):
        if column not in sizes.species.curves and (birds.grown == 0).any():
            yield case.not_run(
                outcome,
                f"no growth curve is declared for {measure} of the {sizes.species.english}: "
                f"in nestlings they were only held against siblings and the largest adult",
            )


def _ask_species(case: Case, outlook: Outlook, outlooks: Mapping[str, Outlook]) -> Iterator[Finding]:
    birds = outlook.birds
    measured = np.isfinite(birds.wing) | np.isfinite(birds.mass)
    fine, without_wing, without_mass = outlook.as_typed()
    slip = np.log(case.limit("slip"))
    # about the best that a single slip could do
    bounds = [
        slip + log_any(outlook.sizes, "wing_mm", birds.wing) + without_wing,
        slip + log_any(outlook.sizes, "mass_g", birds.mass) + without_mass,
    ]
    # both may be beyond all numbers, and then a look is worth its while
    beyond = float(np.finfo(np.float64).min) / 2
    best = np.maximum(np.max(bounds, axis=0), beyond)
    doubtful = best - np.maximum(fine, beyond) > np.log(case.limit("look_from"))
    rare = float(case.limit("rare_decimals"))
    doubtful |= odd_decimals(birds.wing, rare) | odd_decimals(birds.mass, rare)
    distances = dict(zip(("wing", "mass"), outlook.distances(), strict=True))
    unusual = {cause: np.abs(np.nan_to_num(z)) >= case.limit("unusual_sd") for cause, z in distances.items()}
    doubtful |= unusual["wing"] | unusual["mass"]
    channel = case.declared.slips.channel()
    asked = np.flatnonzero(doubtful & measured).tolist()
    for start in range(0, len(asked), _TOGETHER):
        rows = asked[start : start + _TOGETHER]
        for row, accounts in zip(rows, accounts_of(case, outlook, outlooks, rows, channel), strict=True):
            far = {cause: float(distances[cause][row]) for cause in distances if unusual[cause][row]}
            finding = judge(case, outlook, row, accounts, far)
            if finding is not None:
                yield finding


RULE = Rule(
    slug="growth",
    needs={"handlings": ("date", "box", "ring")},
    check=check,
    heeds=together(BIRDS, {"handlings": ("remarks",)}),
)
