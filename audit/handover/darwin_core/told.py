"""What a person must know before a public archive leaves the house."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.darwin_core.dataset import known_licence
from audit.handover.darwin_core.measurements import brood_sizes
from audit.handover.darwin_core.plain_text import one_line
from audit.review.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from audit.declarations import Declarations
    from audit.handover.darwin_core.nights import Nights
    from audit.handover.darwin_core.season_rows import SeasonRows

__all__ = ["told_of"]


def told_of(
    season: str,
    rows: SeasonRows,
    nights: Nights,
    events: pd.DataFrame,
    occurrences: pd.DataFrame,
    declared: Declarations,
) -> tuple[str, ...]:
    """Return the sentences, the gravest first."""
    return (
        *_of_terms(declared),
        *_of_places(events, declared),
        *_of_texts(rows, declared),
        *_of_gaps(season, rows, nights, occurrences),
    )


def _of_terms(declared: Declarations) -> Iterator[str]:
    sender = declared.sender
    if not one_line(sender.licence):
        yield (
            "The archive cannot be published as it is, since nobody says what others may do with it: "
            "write the licence, such as CC0-1.0 or CC-BY-4.0, into sender.yaml of your own folder."
        )
    elif known_licence(declared) is None:
        known = ", ".join(declared.darwin_core.licences)
        yield f"The licence goes out as written; who gathers such archives may take only {known}."
    lacking = [
        word
        for word, text in (("title", sender.title), ("team", sender.team), ("contact", sender.contact))
        if not text
    ]
    if lacking:
        them = "it" if len(lacking) == 1 else "them"
        yield (
            f"The description of the archive lacks {listed(lacking)}: write {them} into sender.yaml of your "
            "own folder."
        )
    yield (
        "An archive once published cannot be called back. Your licence, the ringing scheme and local law "
        "say what of protected birds may be made known and when; wait until the young have left."
    )


def _of_places(events: pd.DataFrame, declared: Declarations) -> Iterator[str]:
    placed = events[events["decimalLatitude"] != ""]
    step = float(declared.sender.limits["public_step_deg"].value)
    if len(placed) and not step:
        yield (
            "The co-ordinates of the boxes go out as they are, so that anybody can find the nests. "
            "Unless that is meant, write a step such as 0.1 as coordinates: public_step_deg into "
            "sender.yaml of your own folder."
        )
    elif len(placed):
        radii = placed["coordinateUncertaintyInMeters"].astype(int)
        yield (
            f"Co-ordinates are rounded to {step:g} degree, which leaves each nest within "
            f"{int(radii.max()):,} m of its point. The labels of the boxes are in the archive: a list or "
            "map of yours with the same labels gives the nests away, and other files of this handover "
            "hold the exact places."
        )
    if len(placed) and not declared.sender.limits["uncertainty_m"].value:
        yield (
            "How well the co-ordinates of the boxes are known is not told: write coordinates: "
            "uncertainty_m into sender.yaml of your own folder."
        )
    boxes = events.loc[events["locationID"] != "", ["locationID", "decimalLatitude"]]
    bare = sorted(set(boxes.loc[boxes["decimalLatitude"] == "", "locationID"]))
    if bare:
        shown = ", ".join(bare[:5]) + (" ..." if bare[5:] else "")
        yield (
            f"{counted(len(bare), 'box is', 'boxes are')} without co-ordinates ({shown}): the table boxes "
            "has none for them, or none that are settled."
        )


def _of_texts(rows: SeasonRows, declared: Declarations) -> Iterator[str]:
    terms = declared.darwin_core
    noted = int((rows.handlings["remarks"] != "").sum() + (rows.visits["remarks"] != "").sum())
    if noted and terms.goes_out("remarks"):
        yield (
            f"{counted(noted, 'remark')} of the sheet will be read by everybody: look for names of people "
            "and farms, or write publish: remarks: false into darwin_core.yaml of your own folder."
        )
    if terms.goes_out("observers") and (rows.handlings["ringer"] != "").any():
        yield "The initials of ringers and scribes are in the archive as typed: ask them first."


def _of_gaps(season: str, rows: SeasonRows, nights: Nights, occurrences: pd.DataFrame) -> Iterator[str]:
    if rows.withheld:
        yield (
            f"{counted(rows.withheld, 'value')} left out: still asked about, in conflict, or probably wrong "
            "while nobody has decided."
        )
    told = rows.handlings
    loose = int(((told["date"] == "") | (told["box"] == "")).sum())
    if loose:
        yield (
            f"{counted(loose, 'handling')} without a settled day or box: tied to the season of the box, "
            "or to the whole season, instead of a visit."
        )
    unnamed = int((occurrences["scientificName"] == "").sum())
    if unnamed:
        yield (
            f"{counted(unnamed, 'occurrence')} without a scientific name, since the species is empty or "
            "none of the declared ones; most who gather such archives ask for one."
        )
    _, differing = brood_sizes(season, rows)
    if differing:
        yield f"{counted(differing, 'brood size')} left out, since the rows of one visit differ."
    if nights.strange_reads:
        yield (
            f"{counted(nights.strange_reads, 'read')} of the antennas left out: "
            f"{counted(nights.strange_tags, 'tag')} on no bird of the season by that day, or on more than "
            "one."
        )
