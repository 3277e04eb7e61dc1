"""Occurrences: each bird in the hand, and each bird that the antennas read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from audit.handover.darwin_core.identities import joined, numbered, visit_events
from audit.handover.darwin_core.plain_text import looked_up
from audit.handover.exchange.condition_words import words_that_fit
from audit.models.ring_number import bare

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.handover.darwin_core.nights import Nights
    from audit.handover.darwin_core.organisms import Organisms
    from audit.handover.darwin_core.season_rows import SeasonRows

__all__ = ["OCCURRENCE_COLUMNS", "handled", "occurrences_of"]

#: Columns of ``occurrence.csv``, in order; the first ties a row to its event.
OCCURRENCE_COLUMNS = (
    *("eventID", "occurrenceID", "basisOfRecord", "eventDate", "recordedBy", "organismID", "organismName"),
    *("organismRemarks", "individualCount", "sex", "lifeStage", "vitality", "occurrenceStatus"),
    *("scientificName", "taxonRank", "kingdom", "class", "vernacularName", "verbatimIdentification"),
    "occurrenceRemarks",
)


def handled(season: str, rows: SeasonRows, birds: Organisms) -> pd.DataFrame:
    """Name event and occurrence of each handling: columns ``eventID``, ``occurrenceID``, ``when``.

    An occurrence is named by day, box and ring, else by the tag, else as unmarked.
    """
    told, key = rows.handlings, birds.birds["tag_key"]
    mark = pd.Series([bare(ring).upper() for ring in told["ring"].tolist()], index=told.index, dtype=object)
    mark = mark.where(mark != "", ("tag " + key).where(key != "", "unmarked"))
    day = told["date"].where(told["date"] != "", "undated")
    box = told["box"].where(told["box"] != "", "no box")
    timed = (told["date"] != "") & (told["time"] != "")
    return pd.DataFrame(
        {
            "eventID": visit_events(season, told),
            "occurrenceID": numbered(joined(told.index, "handling", day, box, mark), told),
            "when": told["date"].where(~timed, told["date"] + "T" + told["time"]),
        }
    )


def occurrences_of(
    named: pd.DataFrame, rows: SeasonRows, birds: Organisms, nights: Nights, declared: Declarations
) -> pd.DataFrame:
    """Return all occurrences by name.

    Parameters
    ----------
    named : pandas.DataFrame
        What `handled` returns.
    """
    terms, told = declared.darwin_core, rows.handlings
    made = pd.DataFrame(index=told.index, columns=list(OCCURRENCE_COLUMNS), data="", dtype=object)
    made["eventID"], made["occurrenceID"], made["eventDate"] = (
        named["eventID"],
        named["occurrenceID"],
        named["when"],
    )
    made["basisOfRecord"] = terms.word("words.handled")
    if terms.goes_out("observers"):
        both = (told["ringer"] != "") & (told["scribe"] != "") & (told["ringer"] != told["scribe"])
        one = told["ringer"].where(told["ringer"] != "", told["scribe"])
        made["recordedBy"] = one.where(~both, told["ringer"] + " | " + told["scribe"])
    made["organismID"], made["organismName"] = birds.birds["organism"], told["ring"]
    several = birds.birds["rings"] != ""
    made["organismRemarks"] = ("rings in order of time: " + birds.birds["rings"]).where(several, "")
    made["sex"] = looked_up(told["sex"], {"M": terms.word("words.male"), "F": terms.word("words.female")})
    made["lifeStage"] = looked_up(told["age"].str.upper(), terms.words("ages"))
    made["vitality"] = looked_up(told["condition"], _vitality(told["condition"], declared))
    made["verbatimIdentification"] = told["species"].where(told["slug"] == "", "")
    if terms.goes_out("remarks"):
        made["occurrenceRemarks"] = told["remarks"]
    seen = _seen(nights, made, told, declared)
    slug = pd.concat([told["slug"], seen.pop("slug")], ignore_index=True)
    made = pd.concat([made, seen], ignore_index=True)
    made["individualCount"] = "1"
    made["occurrenceStatus"] = terms.word("words.occurrence_status")
    _name_species(made, slug, declared)
    return made.sort_values("occurrenceID", kind="stable").reset_index(drop=True)[list(OCCURRENCE_COLUMNS)]


def _vitality(conditions: pd.Series, declared: Declarations) -> dict[str, str]:
    """Say of each text whether it means a dead bird or a living one, by the words of the exchange records."""
    known = declared.darwin_core.words("conditions")
    return {
        text: known.get(words_that_fit(text, declared.exchange)) or known.get(text.lower(), "")
        for text in conditions.unique()
    }


def _seen(nights: Nights, made: pd.DataFrame, told: pd.DataFrame, declared: Declarations) -> pd.DataFrame:
    """Lay out birds that the antennas read; species, sex and ring are those of the bird's last handling."""
    known = made.assign(slug=told["slug"], when=told["date"] + told["time"])
    known = known[known["organismID"] != ""].sort_values(["when", "occurrenceID"])
    last = (
        known.replace("", None)
        .groupby("organismID")[["slug", "sex", "organismName", "organismRemarks"]]
        .last()
    )
    seen = pd.DataFrame(columns=[*OCCURRENCE_COLUMNS, "slug"], dtype=object, index=nights.occurrences.index)
    for column in ("eventID", "occurrenceID", "eventDate", "organismID"):
        if column in nights.occurrences.columns:
            seen[column] = nights.occurrences[column]
    for column in last.columns:
        seen[column] = looked_up(seen["organismID"], last[column].to_dict())
    seen["basisOfRecord"] = declared.darwin_core.word("words.detected")
    return seen.fillna("").astype(object)


def _name_species(made: pd.DataFrame, slug: pd.Series, declared: Declarations) -> None:
    species, terms = declared.species, declared.darwin_core
    named = slug.isin(list(species))
    made["scientificName"] = looked_up(slug, {one: body.scientific for one, body in species.items()})
    made["vernacularName"] = looked_up(slug, {one: body.english for one, body in species.items()})
    binomial = made["scientificName"].str.fullmatch(r"[A-Z][a-z]+ [a-z-]+")
    made["taxonRank"] = looked_up(binomial, {True: "species"})
    for column in ("kingdom", "class"):
        made[column] = looked_up(named, {True: terms.word(f"words.{column}")})
