"""``eml.xml``: what the archive is, whose, what others may do with it, where, when, of what and how.

References
----------
Ecological Metadata Language 2.2.0 (order of elements) in the profile of GBIF, version 1.3, as its own
template writes it.
"""

from __future__ import annotations

import re
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lxml import etree

from audit.handover.darwin_core.plain_text import one_line
from audit.review.wording import counted

if TYPE_CHECKING:
    import pandas as pd
    from lxml.etree import _Element as Element

    from audit.declarations import Declarations
    from audit.declarations.darwin_core import Licence

__all__ = ["Coverage", "coverage_of", "dataset_title", "known_licence", "licence_of", "metadata_file"]

_EML = "https://eml.ecoinformatics.org/eml-2.2.0"
_SCHEMA = "http://www.w3.org/2001/XMLSchema-instance"
_XML = "http://www.w3.org/XML/1998/namespace"
_PROFILE = "https://rs.gbif.org/schema/eml-gbif-profile/1.3/eml.xsd"
UNTOLD = "not told"
_TIMES = (
    "Times are local, as written on the sheet or kept by the logger. Of one bird at one box, all reads of an "
    "antenna from noon to noon are one occurrence."
)


@dataclass(frozen=True, slots=True)
class Coverage:
    """What the archive covers.

    Attributes
    ----------
    bounds : tuple of float
        West, east, north, south: of the points as they go out, with the cells they stand for; empty where
        none.
    first, last : str
        Days.
    species : tuple of (str, str)
        Scientific and English name.
    """

    bounds: tuple[float, ...]
    first: str
    last: str
    species: tuple[tuple[str, str], ...]


def coverage_of(events: pd.DataFrame, occurrences: pd.DataFrame) -> Coverage:
    """Read the coverage off the tables that go out, so that it tells no more than they do."""
    placed = events[events["decimalLatitude"] != ""]
    bounds: tuple[float, ...] = ()
    if len(placed):
        half = placed["coordinatePrecision"].replace("", "0").astype(float) / 2
        north, east = placed["decimalLatitude"].astype(float), placed["decimalLongitude"].astype(float)
        edges = (
            (max((east - half).min(), -180), min((east + half).max(), 180)),
            (min((north + half).max(), 90), max((north - half).min(), -90)),
        )
        bounds = tuple(round(float(edge), 6) for pair in edges for edge in pair)
    days = str(events["eventDate"].iloc[0]).split("/") if len(events) else [""]
    named = occurrences[occurrences["scientificName"] != ""][["scientificName", "vernacularName"]]
    pairs = sorted(set(named.itertuples(index=False, name=None)))
    return Coverage(bounds, days[0], days[-1], tuple(pairs))


def dataset_title(season: str, declared: Declarations) -> str:
    """Name the archive: as the team does, else by the season."""
    return one_line(declared.sender.title) or f"Nest boxes, season {one_line(season)}"


def known_licence(declared: Declarations) -> tuple[str, Licence] | None:
    """Find the declared licence that the team means by its short name or one of its addresses."""
    told = _plain(declared.sender.licence)
    for name, licence in declared.darwin_core.licences.items():
        if told in {_plain(name), _plain(licence.legal), _plain(licence.url)}:
            return name, licence
    return None


def _plain(licence: str) -> str:
    """Leave out in what names or addresses of one licence may differ: case, blanks, kind of page."""
    told = re.sub(r"[\s_]+", "-", one_line(licence)).casefold()
    return re.sub(r"^https?://(www\.)?|(/(deed|legalcode)(\.[a-z_-]+)?)?/*$", "", told)


def licence_of(declared: Declarations) -> str:
    """Return the address of the licence, or the team's own words for it; empty where there is none."""
    known = known_licence(declared)
    return known[1].legal if known else one_line(declared.sender.licence)


def metadata_file(
    season: str,
    declared: Declarations,
    coverage: Coverage,
    *,
    fingerprint: str,
    decisions: int,
) -> bytes:
    """Write the description of the archive.

    Parameters
    ----------
    fingerprint : str
        Digest of the tables: the identity of this very archive is made of it.
    decisions : int
        How many cells a person has decided.

    Returns
    -------
    bytes
        XML, UTF-8.
    """
    sender = declared.sender
    title = dataset_title(season, declared)
    root = etree.Element(f"{{{_EML}}}eml", nsmap={"eml": _EML, "xsi": _SCHEMA})
    root.set(f"{{{_SCHEMA}}}schemaLocation", f"{_EML} {_PROFILE}")
    root.set("packageId", f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_OID, fingerprint)}")
    root.set("system", "https://www.ietf.org/rfc/rfc4122.txt")
    root.set("scope", "system")
    root.set(f"{{{_XML}}}lang", "en")
    dataset = etree.SubElement(root, "dataset")
    _add(dataset, "title", title)
    for role in ("creator", "metadataProvider"):
        _party(dataset, role, declared)
    _add(dataset, "language", "en")
    _add(dataset, "abstract/para", _abstract(coverage))
    keywords = _add(dataset, "keywordSet")
    for word in ("Samplingevent", "Observation"):
        _add(keywords, "keyword", word)
    _add(keywords, "keywordThesaurus", "GBIF dataset type and subtype vocabularies")
    _rights(dataset, declared)
    _cover(dataset, coverage, one_line(sender.place.name))
    _party(dataset, "contact", declared)
    _methods(dataset, declared, decisions)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)


def _add(parent: Element, path: str, text: str = "") -> Element:
    """Add one element below another, and with ``/`` in the path what lies between."""
    for name in path.split("/"):
        parent = etree.SubElement(parent, name)
    if text:
        parent.text = one_line(text)
    return parent


def _party(dataset: Element, role: str, declared: Declarations) -> None:
    sender = declared.sender
    party = _add(dataset, role)
    if role == "contact" and one_line(sender.contact):
        _add(party, "individualName/surName", sender.contact)
    _add(party, "organizationName", one_line(sender.team) or UNTOLD)
    if one_line(sender.email):
        _add(party, "electronicMailAddress", sender.email)


def _abstract(coverage: Coverage) -> str:
    birds = ", ".join(f"{english} ({scientific})" for scientific, english in coverage.species)
    between = f" between {coverage.first} and {coverage.last}" if coverage.first else ""
    return (
        f"Visits to nest boxes{between}, the birds ringed and met again in them"
        f"{f': {birds}' if birds else ''}, and their measures. Each box in the season is an event, and so "
        "is each visit to it; each bird in the hand is an occurrence. The season was audited before it "
        "was written; values that are not settled are left out."
    )


def _rights(dataset: Element, declared: Declarations) -> None:
    told = one_line(declared.sender.licence)
    if not told:
        return
    found = known_licence(declared)
    para = _add(dataset, "intellectualRights/para")
    if found is None:
        para.text = told
        return
    name, known = found
    para.text = "This work is licensed under a "
    link = etree.SubElement(para, "ulink", url=known.legal)
    _add(link, "citetitle", known.name)
    link.tail = "."
    licensed = _add(dataset, "licensed")
    for part, text in (("licenseName", known.name), ("url", known.url), ("identifier", name)):
        _add(licensed, part, text)


def _cover(dataset: Element, coverage: Coverage, place: str) -> None:
    if not (coverage.bounds or coverage.first or coverage.species):
        return
    body = _add(dataset, "coverage")
    if coverage.bounds:
        where = _add(body, "geographicCoverage")
        _add(where, "geographicDescription", place or "Area of the nest boxes")
        bounds = _add(where, "boundingCoordinates")
        for side, value in zip(("west", "east", "north", "south"), coverage.bounds, strict=True):
            _add(bounds, f"{side}BoundingCoordinate", f"{value:g}")
    if coverage.first:
        span = _add(body, "temporalCoverage/rangeOfDates")
        _add(span, "beginDate/calendarDate", coverage.first)
        _add(span, "endDate/calendarDate", coverage.last)
    if coverage.species:
        taxa = _add(body, "taxonomicCoverage")
        for scientific, english in coverage.species:
            taxon = _add(taxa, "taxonomicClassification")
            _add(taxon, "taxonRankName", "species")
            _add(taxon, "taxonRankValue", scientific)
            _add(taxon, "commonName", english)


def _methods(dataset: Element, declared: Declarations, decisions: int) -> None:
    terms = declared.darwin_core
    body = _add(dataset, "methods")
    measured = [one for one in terms.measures.values() if one.unit]
    steps = [
        f"{terms.word('protocols.visit')}.",
        "; ".join(f"{one.title} ({one.unit}): {one.method}" for one in measured) + ".",
        _TIMES,
    ]
    for text in steps:
        _add(body, "methodStep/description/para", text)
    _add(
        body,
        "qualityControl/description/para",
        "Each cell of the sheet was checked by rules and weighed against the rest of the season. "
        f"{counted(decisions, 'cell')} decided by a person; the log of these decisions stays with the team.",
    )
