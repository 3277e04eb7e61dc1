"""What must not leak, and what a sender must know: places, texts, licence."""

from __future__ import annotations

import math
from dataclasses import replace

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from public_archives import BIRDS, CORE, decided_season, opened, packed, sent_by, table

import audit
from audit.declarations import load_declarations
from audit.findings import Report
from audit.handover.clean.decided_season import DecidedSeason
from audit.handover.darwin_core.dataset import known_licence, licence_of
from audit.handover.darwin_core.part import darwin_core_part
from audit.handover.darwin_core.places import cell_radius, public_places, rounded
from audit.handover.darwin_core.plain_text import one_line
from audit.handover.darwin_core.tables import darwin_core_tables
from audit.review.replay import Replayed

ROW = {"date": "2026-06-01", "box": "SL-01", "species": "barn owl", "ring": "SV01001", "ringer": "AB"}
BOX = {"box": "SL-01", "latitude": "45.0123", "longitude": "-29.9876"}
TABLES = {"handlings": [ROW], "boxes": [BOX]}
#: WGS 84: semi-axes in metres (defining constants a and 1/f = 298.257223563).
SEMI_MAJOR, FLATTENING = 6378137.0, 1 / 298.257223563


def metres(one, other):
    """Length of the chord between two points on the ellipsoid, from its definition: an outside check."""

    def point(latitude, longitude):
        phi, lam = math.radians(latitude), math.radians(longitude)
        squared = FLATTENING * (2 - FLATTENING)
        normal = SEMI_MAJOR / math.sqrt(1 - squared * math.sin(phi) ** 2)
        return (
            normal * math.cos(phi) * math.cos(lam),
            normal * math.cos(phi) * math.sin(lam),
            normal * (1 - squared) * math.sin(phi),
        )

    return math.dist(point(*one), point(*other))


@given(
    st.floats(-90, 90),
    st.floats(-180, 180),
    st.sampled_from([0.01, 0.05, 0.1, 0.25, 0.5, 1.0]),
    st.sampled_from([0, 20, 500]),
)
@settings(max_examples=80)
def test_the_radius_always_reaches_the_nest(declared, latitude, longitude, step, own):
    known = sent_by(declared, step=step, uncertainty=own)
    boxes = pd.DataFrame({"box": ["SL-01"], "latitude": [latitude], "longitude": [longitude]})
    place = public_places(boxes, known.sender, known.darwin_core).loc["SL-01"]
    shown = float(place["decimalLatitude"]), float(place["decimalLongitude"])
    radius = int(place["coordinateUncertaintyInMeters"])
    assert radius >= metres(shown, (latitude, longitude)) + own
    assert -90 <= shown[0] <= 90
    assert -180 <= shown[1] <= 180
    for value in shown:
        assert abs(value / step - round(value / step)) < 1e-6


@pytest.mark.parametrize("latitude", [0, 30, 45, 60, 75, 80, 85, -80])
@pytest.mark.parametrize("step", [0.1, 1.0])
def test_the_radius_reaches_the_corners_of_the_cell_on_its_widest_side(declared, latitude, step):
    inside = step / 2 * (1 - 1e-9)
    for north in (-inside, inside):
        nest = latitude + north, 10 + inside
        radius = cell_radius(latitude, step, declared.darwin_core.number("metres_per_degree"))
        assert radius >= metres((latitude, 10), nest)
        # and is no more than a hundredth longer than it must be
        widest = max(metres((latitude, 10), (latitude + side, 10 + inside)) for side in (-inside, inside))
        assert radius <= widest * 1.01


def test_the_radius_is_half_the_diagonal_of_the_cell():
    # on the equator a cell of one degree is a square: half its diagonal is its side / sqrt 2
    assert cell_radius(0, 1, 111694) == pytest.approx(111694 / math.sqrt(2), rel=1e-4)
    # WGS 84: the longest degree is at the pole, with the polar radius of curvature a / (1 - f)
    assert math.radians(1) * SEMI_MAJOR / (1 - FLATTENING) == pytest.approx(111694, abs=0.5)


def test_rounding_goes_to_the_nearest_and_never_over_the_end():
    assert str(rounded(-29.96, 0.1, 180)) == "-30.0"
    assert str(rounded(-0.01, 0.1, 180)) == "0.0"
    assert float(rounded(89.999, 7, 90)) <= 90


def test_nest_sites_are_rounded_unless_a_team_says_otherwise(tmp_path):
    decided = decided_season(TABLES)
    with opened(packed(decided, tmp_path)) as reader:
        (event,) = table(reader, CORE)[lambda frame: frame["eventID"] == "visit:2026-06-01:SL-01"].to_dict(
            "records"
        )
    assert (event["decimalLatitude"], event["decimalLongitude"]) == ("45.0", "-30.0")
    assert event["coordinatePrecision"] == "0.1"
    assert "rounded to the nearest 0.1 degree" in event["dataGeneralizations"]
    assert event["informationWithheld"] == "exact co-ordinates of the nest box"
    files = b"".join(darwin_core_tables(decided).files.values()).decode()
    assert "45.01" not in files
    assert "29.98" not in files
    told = " ".join(darwin_core_tables(decided).told)
    assert "rounded to 0.1 degree" in told
    assert "anybody can find the nests" not in told


def test_exact_places_go_out_only_with_a_warning(declared):
    made = darwin_core_tables(decided_season(TABLES, sent_by(declared, step=0, uncertainty=20)))
    event = made.events.set_index("eventID").loc["visit:2026-06-01:SL-01"]
    assert (event["decimalLatitude"], event["decimalLongitude"]) == ("45.0123", "-29.9876")
    assert event["coordinateUncertaintyInMeters"] == "20"
    assert event["dataGeneralizations"] == event["informationWithheld"] == ""
    assert [line for line in made.told if "anybody can find the nests" in line]


def test_an_unknown_radius_is_empty_and_never_zero(declared):
    made = darwin_core_tables(decided_season(TABLES, sent_by(declared, step=0, uncertainty=0)))
    assert set(made.events["coordinateUncertaintyInMeters"]) == {""}
    assert [line for line in made.told if "uncertainty_m" in line]


def test_the_name_of_a_single_box_s_place_stays_at_home(declared):
    place = replace(declared.sender.place, name="Sallow Levels")
    boxes = {"SL-01": replace(place, name="Reed Barn")}
    made = darwin_core_tables(decided_season(TABLES, sent_by(declared, place=place, boxes=boxes)))
    assert set(made.events["locality"]) == {"Sallow Levels"}
    assert b"Reed Barn" not in b"".join(made.files.values())


def test_without_a_licence_the_archive_is_written_but_cannot_be_published(declared, tmp_path):
    decided = decided_season(TABLES, declared)
    part = darwin_core_part(decided)
    assert "cannot be published" in part.told[0]
    assert [line for line in part.told if "lacks title, team and contact" in line]
    assert [name.rpartition("/")[2] for name in part.files] == ["season-dwca.zip"]
    with opened(packed(decided, tmp_path)) as reader:
        assert reader.metadata.find("dataset/intellectualRights") is None
        assert reader.metadata.findtext("dataset/contact/organizationName") == "not told"
        assert "license" not in table(reader, CORE).columns


@pytest.mark.parametrize(
    "written",
    [
        "CC-BY-4.0",
        "cc by 4.0",
        "https://spdx.org/licenses/CC-BY-4.0.html",
        # the addresses that Creative Commons itself gives
        "https://creativecommons.org/licenses/by/4.0/",
        "https://creativecommons.org/licenses/by/4.0/deed.en",
        "http://creativecommons.org/licenses/by/4.0/legalcode",
    ],
)
def test_a_known_licence_is_known_however_it_is_written(declared, written):
    known = sent_by(declared, licence=written)
    assert known_licence(known)[0] == "CC-BY-4.0"
    assert licence_of(known) == "http://creativecommons.org/licenses/by/4.0/legalcode"


def test_a_licence_in_other_words_goes_out_as_written(declared):
    made = darwin_core_tables(decided_season(TABLES, sent_by(declared, licence="ask us first")))
    assert b"ask us first" in made.files["eml.xml"]
    assert [line for line in made.told if "CC0-1.0, CC-BY-4.0" in line]


HOSTILE = [
    '=cmd|" /C calc"!A0',
    'she said "9", twice',
    "a,b;c",
    "tab\there",
    "line\nbreak\r\nand more",
    "emoji \U0001f989 and \u200frtl \u202eoverride",
    "nul \x00 and bell \x07",
    "next line \x85 and \u2028 separator",
    "& <b> ]]> &amp;",
    "'quoted'",
    "\\N",
    "NA",
]


def test_typed_texts_arrive_as_typed_on_one_line(tmp_path, declared):
    rows = [{**ROW, "ring": f"SV010{n:02d}", "remarks": text} for n, text in enumerate(HOSTILE)]
    everything = " ".join(HOSTILE)
    decided = decided_season(
        {**TABLES, "handlings": rows},
        sent_by(declared, title=everything, team=everything, contact=everything),
    )
    with opened(packed(decided, tmp_path)) as reader:
        birds = table(reader, BIRDS).set_index("organismName")["occurrenceRemarks"]
        title = reader.metadata.findtext("dataset/title")
        events = table(reader, CORE)
        # the library's own way of reading, beside the one of pandas
        core = [line.data["http://rs.tdwg.org/dwc/terms/eventID"] for line in reader]
    typed = decided.clean.frame("handlings").set_index("ring")["remarks"]
    assert typed.notna().sum() >= len(HOSTILE) - 1
    for ring, text in typed.items():
        meant = one_line(text) if isinstance(text, str) else ""
        assert birds[ring] == meant
        assert not set("\t\n\r\x00\x07\x85\u2028") & set(meant)
    assert title == one_line(everything)
    assert set(events["rightsHolder"]) == {one_line(everything)}
    assert core == list(events["eventID"])


@given(st.text())
def test_one_line_holds_nothing_that_breaks_a_line_or_xml(text):
    line = one_line(text)
    assert len(line.splitlines()) <= 1 or any(sign in line for sign in "\x1c\x1d\x1e")
    assert not set(line) & {
        chr(code) for code in (*range(32), *range(127, 160), 0x2028, 0x2029, 0xFFFE, 0xFFFF)
    }
    assert one_line(line) == line


def test_remarks_and_initials_stay_at_home_where_a_team_says_so(declared):
    own = dict(declared.darwin_core.limits)
    for key in ("publish.remarks", "publish.observers"):
        own[key] = replace(own[key], value=False)
    quiet = replace(declared, darwin_core=replace(declared.darwin_core, limits=own))
    row = {**ROW, "remarks": "barn of the Reed farm", "scribe": "MK"}
    visit = {"date": "2026-06-01", "box": "SL-01", "ringer": "AB", "alive": "1", "remarks": "Reed farm"}
    open_, shut = (
        darwin_core_tables(decided_season({"handlings": [row], "visits": [visit]}, known))
        for known in (declared, quiet)
    )
    assert b"Reed" in b"".join(open_.files.values())
    assert [line for line in open_.told if "2 remarks" in line]
    assert b"Reed" not in b"".join(shut.files.values())
    assert set(shut.occurrences["recordedBy"]) == {""}
    assert set(shut.measurements["measurementDeterminedBy"]) == {""}
    assert not [line for line in shut.told if "initials" in line or "remark" in line]


def test_a_species_that_nobody_declared_goes_out_as_typed_and_is_told():
    made = darwin_core_tables(decided_season({"handlings": [{**ROW, "species": "marsh warbler"}]}))
    (bird,) = made.occurrences.to_dict("records")
    assert bird["scientificName"] == bird["kingdom"] == bird["taxonRank"] == ""
    assert bird["verbatimIdentification"] == "marsh warbler"
    assert [line for line in made.told if line.startswith("1 occurrence without a scientific name")]


def test_declared_words_have_a_source_and_a_grade():
    terms = load_declarations().darwin_core
    assert {one.grade for one in terms.limits.values()} <= {"read", "computed", "common practice", "memory"}
    assert all(one.source for one in terms.limits.values())


def test_an_empty_season_makes_an_archive_with_one_event(tmp_path):
    decided = decided_season({"handlings": [{**ROW, "date": "", "box": "", "ring": "", "ringer": ""}]})
    with opened(packed(decided, tmp_path)) as reader:
        events = table(reader, CORE)
        assert list(events["eventID"]) == ["season"]
        assert not any(reader.orphaned_extension_rows().values())


def test_boxes_without_a_place_are_named_in_a_whole_sentence(declared):
    tables = {"handlings": [ROW, {**ROW, "box": "SL-09", "ring": "SV01002"}], "boxes": [BOX]}
    told = darwin_core_tables(decided_season(tables, declared)).told
    assert (
        "1 box is without co-ordinates (SL-09): the table boxes has none for them, or none that are settled."
        in told
    )
    assert all(sentence.endswith(".") for sentence in told)


def test_a_season_without_a_row_has_an_archive_of_one_event(declared):
    season = audit.read_season({"handlings": pd.DataFrame(columns=list(ROW), dtype="str")}, schemas=declared)
    made = darwin_core_tables(DecidedSeason(season, Replayed(season), (), Report(season.name, ()), declared))
    assert (len(made.events), len(made.occurrences)) == (1, 0)


@pytest.mark.parametrize(
    ("text", "vitality"),
    [("Found dead.", "dead"), ("tot", "dead"), ("injured", "alive"), ("2", ""), ("good", "")],
)
def test_a_dead_bird_is_dead_here_as_in_the_records_for_the_scheme(declared, text, vitality):
    made = darwin_core_tables(decided_season({"handlings": [{**ROW, "condition": text}]}, declared))
    assert made.occurrences["vitality"].tolist() == [vitality]
