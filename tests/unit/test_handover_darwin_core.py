"""The public archive of the demo season, read back by a library from outside and held against the sheet."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from functools import cache

import numpy as np
import pandas as pd
import pytest
from dwca.darwincore.terms import TERMS
from lxml import etree
from public_archives import BIRDS, CORE, FACTS, opened, packed, settled_demo, table

import audit
from audit.handover.clean.decided_season import DecidedSeason
from audit.handover.darwin_core.open_cells import open_cells
from audit.handover.darwin_core.tables import darwin_core_tables
from audit.models.ring_number import bare
from audit.review.decisions import decide
from audit.review.places import decided_cell
from audit.review.replay import replay

#: Terms that the list of python-dwca-reader 0.17.1 lacks: younger ones, and those of measurements. Each
#: stands in tdwg/dwc, build/dwca_template (event_core_list.csv, occurrence_core_list.csv,
#: measurements_or_facts_list.csv), as stored in August 2026, and among the 828 terms of the PyPI package
#: dwcahandler 1.1.5; both read.
LACKING = {
    *("eventType", "organismName", "organismRemarks", "organismID", "verbatimIdentification", "vitality"),
    *("measurementID", "parentMeasurementID", "measurementType", "measurementValue", "measurementUnit"),
    *("measurementDeterminedBy", "measurementDeterminedDate", "measurementMethod", "measurementRemarks"),
}
ISO_DAY = r"\d{4}-\d\d-\d\d"
ISO_MOMENT = rf"{ISO_DAY}(T\d\d:\d\d(:\d\d)?)?"


demo = cache(settled_demo)


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    with opened(packed(demo(), tmp_path_factory.mktemp("archive"))) as reader:
        yield reader, {name: table(reader, name) for name in (CORE, BIRDS, FACTS)}


def test_the_core_is_made_of_events_and_no_row_of_an_extension_is_an_orphan(archive):
    reader, tables = archive
    assert reader.descriptor.core.type == "http://rs.tdwg.org/dwc/terms/Event"
    assert set(reader.descriptor.extensions_type) == {
        "http://rs.tdwg.org/dwc/terms/Occurrence",
        # rs.gbif.org extension/obis/extended_measurement_or_fact_2023-08-28.xml, read
        "http://rs.iobis.org/obis/terms/ExtendedMeasurementOrFact",
    }
    assert not any(reader.orphaned_extension_rows().values())
    handlings, visits = (demo().clean.frame(name) for name in ("handlings", "visits"))
    met = pd.concat([handlings[["date", "box"]], visits[["date", "box"]]]).drop_duplicates()
    kinds = Counter(tables[CORE]["eventType"])
    assert kinds == {"project": 1, "survey": met["box"].nunique(), "siteVisit": len(met)}
    assert len(tables[BIRDS]) == len(handlings)
    assert len(list(reader)) == len(tables[CORE])


def test_identities_are_unique_and_every_tie_has_its_other_end(archive):
    _, tables = archive
    events, birds, facts = tables[CORE], tables[BIRDS], tables[FACTS]
    for frame, name in ((events, "eventID"), (birds, "occurrenceID"), (facts, "measurementID")):
        assert frame[name].is_unique
        assert (frame[name] != "").all()
    assert set(events["parentEventID"]) - {""} <= set(events["eventID"])
    assert (events["parentEventID"] == "").sum() == 1
    assert set(facts["occurrenceID"]) - {""} <= set(birds["occurrenceID"])
    assert set(facts["parentMeasurementID"]) - {""} <= set(facts["measurementID"])
    event_of = birds.set_index("occurrenceID")["coreid"]
    of_birds = facts[facts["occurrenceID"] != ""]
    assert (of_birds["occurrenceID"].map(event_of) == of_birds["coreid"]).all()
    chain = events.set_index("eventID")["parentEventID"]
    visits = events[events["eventType"] == "siteVisit"]
    assert set(visits["parentEventID"].map(chain)) == {events["eventID"].iloc[0]}


@pytest.mark.parametrize(
    ("field", "kind"),
    [
        ("ring", "metal ring"),
        ("tag", "transponder"),
        ("wing_mm", "wing length"),
        ("gross_g", "gross mass"),
        ("bag_g", "bag mass"),
        ("net_g", "body mass"),
    ],
)
def test_each_value_of_the_clean_season_is_there_once_with_its_bird_and_day(archive, field, kind):
    _, tables = archive
    facts = tables[FACTS][tables[FACTS]["measurementType"] == kind]
    told = facts.merge(tables[BIRDS], on="occurrenceID", validate="one_to_one")
    found = Counter(
        zip(
            told["organismName"],
            told["measurementDeterminedDate"].str[:10],
            told["measurementValue"],
            strict=True,
        )
    )
    clean = demo().clean.frame("handlings")
    shown = clean[clean[field].notna()]
    values = shown[field].map(lambda value: f"{value:.15g}" if isinstance(value, float) else value)
    meant = Counter(zip(shown["ring"], shown["date"].dt.strftime("%Y-%m-%d"), values, strict=True))
    assert found == meant
    assert len(found) > 400


def test_net_is_gross_less_bag_and_groups_them(archive):
    _, tables = archive
    facts = tables[FACTS]
    masses = facts[facts["measurementUnit"] == "g"]
    wide = masses.pivot_table(
        index="occurrenceID", columns="measurementType", values="measurementValue", aggfunc="first"
    )
    whole = wide.dropna().astype(float)
    assert len(whole) > 400
    assert np.allclose(whole["gross mass"] - whole["bag mass"], whole["body mass"], atol=0.05)
    # the standard: a parent is "a broader MeasurementOrFact that groups this and potentially other" ones
    # (dwc measurements_or_facts_2025-07-10.xml, read); so the parts point at the whole
    children = masses[masses["measurementType"] != "body mass"].set_index("measurementID")
    tied = children["parentMeasurementID"].map(masses.set_index("measurementID")["measurementType"])
    assert set(tied.dropna()) == {"body mass"}
    net = masses[masses["measurementType"] == "body mass"].set_index("occurrenceID")
    for occurrence in whole.index:
        remark = net.loc[occurrence, "measurementRemarks"]
        assert f"{occurrence}:gross_g" in remark
        assert f"{occurrence}:bag_g" in remark
        assert net.loc[occurrence, "measurementMethod"] == "gross mass less bag mass"


def test_measurements_of_a_brood_or_a_visit_stand_on_the_event_alone(archive):
    _, tables = archive
    facts = tables[FACTS]
    counts = facts[facts["measurementType"].isin(["brood size", "number of eggs", "number of live young"])]
    assert (counts["occurrenceID"] == "").all()
    handlings = demo().clean.frame("handlings")
    # the same species written in two ways is one species
    species = handlings["species"].str.lower().str.replace("_", " ")
    broods = handlings.groupby(["date", "box", species])["brood_size"].nunique()
    assert (facts["measurementType"] == "brood size").sum() == (broods == 1).sum()


def test_terms_are_those_of_the_standard(archive):
    reader, _ = archive
    used = {
        field["term"]
        for one in [reader.descriptor.core, *reader.descriptor.extensions]
        for field in one.fields
    }
    # outside: the list of terms that comes with python-dwca-reader
    unknown = {term.rsplit("/", 1)[1] for term in used - set(TERMS)}
    assert unknown == LACKING
    assert all(
        term.startswith(("http://rs.tdwg.org/dwc/terms/", "http://purl.org/dc/terms/")) for term in used
    )
    declared = demo().declared.darwin_core.terms
    assert used <= set(declared.values())


def test_dates_are_iso_8601_and_words_are_of_their_lists(archive):
    _, tables = archive
    events, birds = tables[CORE], tables[BIRDS]
    assert events["eventDate"].str.fullmatch(rf"{ISO_MOMENT}(/{ISO_MOMENT})?").all()
    assert birds["eventDate"].str.fullmatch(ISO_MOMENT).all()
    for interval in events["eventDate"]:
        begin, _, end = interval.partition("/")
        assert not end or begin < end
    assert set(birds["basisOfRecord"]) == {"HumanObservation"}
    assert set(birds["occurrenceStatus"]) == {"detected"}
    assert set(birds["sex"]) <= {"", "female", "male"}
    assert set(birds["lifeStage"]) == {"nestling", "adult"}
    assert set(birds["individualCount"]) == {"1"}
    assert set(birds["scientificName"]) == {"Tyto alba", "Parus major", "Falco tinnunculus"}
    assert set(birds["recordedBy"]) == {"IP | MK", "AB | MK"}
    assert (events["coordinateUncertaintyInMeters"] != "0").all()
    assert "country" not in events.columns


def test_one_bird_has_one_identity_that_is_not_its_ring(archive):
    _, tables = archive
    birds = tables[BIRDS]
    per_ring = birds.groupby("organismName")["organismID"].nunique()
    assert (per_ring == 1).all()
    assert birds.groupby("organismID")["organismName"].nunique().max() == 1
    assert birds["organismID"].str.fullmatch(r"bird:[0-9a-f]{16}").all()
    first = hashlib.sha256(b"ring SV03001").hexdigest()[:16]
    assert set(birds.loc[birds["organismName"] == "SV03001", "organismID"]) == {f"bird:{first}"}


def test_marks_are_dated_facts(archive):
    _, tables = archive
    facts = tables[FACTS].merge(tables[BIRDS][["occurrenceID", "organismName"]], on="occurrenceID")
    done = facts[facts["measurementType"] == "what was done with the metal ring"]
    events = demo().clean.frame("handlings")["event"].value_counts()
    assert Counter(done["measurementValue"]) == {
        "fitted": events["ringed"],
        "present": events["re-encountered"],
    }
    tags = facts[facts["measurementType"] == "what was done with the transponder"]
    # the one bird of the demo that lost its tag ring
    (replaced,) = tags[tags["measurementValue"] == "replaced"].itertuples()
    row = demo().clean.frame("handlings").loc[lambda frame: frame["remarks"].notna()].iloc[0]
    assert replaced.organismName == row["ring"]
    assert replaced.measurementDeterminedDate[:10] == row["date"].date().isoformat()
    assert re.fullmatch(r"instead of 999\d{12}", replaced.measurementRemarks)
    legs = facts[facts["measurementType"] == "leg that carries the metal ring"]
    assert set(legs["measurementValue"]) == {"right"}


def test_the_metafile_keeps_the_order_of_the_schema():
    """tdwg_dwc_text.xsd, read: files, then id or coreid, then fields; indices from 0 without a gap."""
    root = etree.fromstring(darwin_core_tables(demo()).files["meta.xml"])
    text = "{http://rs.tdwg.org/dwc/text/}"
    assert root.tag == f"{text}archive"
    assert root.get("metadata") == "eml.xml"
    assert [child.tag for child in root] == [f"{text}core", *[f"{text}extension"] * (len(root) - 1)]
    for number, child in enumerate(root):
        tags = [part.tag.removeprefix(text) for part in child]
        assert tags[:2] == ["files", "coreid" if number else "id"]
        assert set(tags[2:]) == {"field"}
        indices = [int(part.get("index")) for part in child.iter(f"{text}field") if part.get("index")]
        assert indices == list(range(min(1, number), len(indices) + min(1, number)))


def test_the_description_says_who_what_when_and_under_which_licence(archive):
    reader, tables = archive
    root = reader.metadata

    def text(path):
        return root.findtext(path)

    assert text("dataset/title") == "Nest boxes of the Sallow Levels, 2026"
    assert text("dataset/creator/organizationName") == "Sallow Levels box round"
    assert text("dataset/contact/individualName/surName") == "IP"
    assert text("dataset/licensed/identifier") == "CC0-1.0"
    legal = root.find("dataset/intellectualRights/para/ulink").get("url")
    assert legal == "http://creativecommons.org/publicdomain/zero/1.0/legalcode"
    assert set(tables[CORE]["license"]) == {legal}
    assert text(".//beginDate/calendarDate") == min(tables[CORE]["eventDate"])[:10]
    names = {node.text for node in root.iter("taxonRankValue")}
    assert names == {"Tyto alba", "Parus major", "Falco tinnunculus"}
    # EML 2.2.0, eml-resource.xsd and eml-dataset.xsd: order of elements, as the profile's own template has it
    order = [
        *("title", "creator", "metadataProvider", "pubDate", "language", "abstract", "keywordSet"),
        *("intellectualRights", "licensed", "coverage", "contact", "methods"),
    ]
    found = [child.tag for child in root.find("dataset")]
    assert found == sorted(found, key=order.index)


def test_the_description_tells_no_more_of_the_place_than_the_rounded_points(archive):
    reader, tables = archive
    events = tables[CORE][tables[CORE]["decimalLatitude"] != ""]
    west = float(reader.metadata.findtext(".//westBoundingCoordinate"))
    assert west == pytest.approx(events["decimalLongitude"].astype(float).min() - 0.05)
    boxes = demo().clean.frame("boxes")
    exact = {f"{value:.3f}" for value in boxes["longitude"] if round(value, 1) != round(value, 3)}
    assert exact
    shipped = b"".join(darwin_core_tables(demo()).files.values()).decode()
    assert not [value for value in exact if value in shipped]


def test_the_same_season_gives_the_same_bytes(tmp_path):
    one, other = (
        packed(demo(), tmp_path / name) for name in ("one", "other") if (tmp_path / name).mkdir() is None
    )
    assert one.read_bytes() == other.read_bytes()


def test_a_cell_that_is_asked_about_is_left_out_and_told_of():
    season = demo().typed
    frame = demo().clean.frame("handlings")
    label = frame.index[(frame["ring"] == "SV03001")][0]
    asked = decide("AB", "ask", [decided_cell(season, label, "wing_mm", None)])
    decisions = (*demo().decisions, asked)
    replayed = replay(season, demo().declared, decisions)
    decided = DecidedSeason(season, replayed, decisions, demo().report, demo().declared)
    assert (label, "wing_mm") in open_cells(decided)
    before, now = darwin_core_tables(demo()), darwin_core_tables(decided)
    gone = set(before.measurements["measurementID"]) - set(now.measurements["measurementID"])
    assert gone == {"handling:2026-05-27:SL-20:SV03001:wing_mm"}
    assert [line for line in now.told if line.startswith("1 value left out: still asked about")]
    assert not [line for line in before.told if "left out" in line]


def test_a_finding_that_nobody_decided_keeps_its_cells_back():
    season, declared = demo().typed, demo().declared
    report = audit.check(season, schemas=declared)
    decided = DecidedSeason(season, replay(season, declared, ()), (), report, declared)
    open_ones = open_cells(decided)
    sure = {
        (suspect.cell.label, suspect.cell.field)
        for finding in report.above_notes
        for suspect in finding.suspects
        if suspect.p_error >= 0.5
    }
    assert open_ones == sure
    sure = {(label, field) for label, field in sure if label in season.frame("handlings").index}
    rings = {field for _, field in sure}
    assert "ring" in rings
    made = darwin_core_tables(decided)
    hidden = {
        bare(str(season.frame("handlings").loc[label, "ring"])) for label, field in sure if field == "ring"
    }
    shown = set(made.occurrences["organismName"])
    counts = Counter(season.frame("handlings")["ring"])
    assert not {ring for ring in hidden if counts[ring] == 1} & shown


def test_a_notebook_shows_the_counts_and_what_to_know():
    shown = darwin_core_tables(demo())._repr_html_()
    assert "HumanObservation 461" in shown
    assert "wing length" in shown
    assert "co-ordinates" in shown.lower()
