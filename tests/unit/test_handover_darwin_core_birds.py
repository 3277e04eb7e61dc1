"""Who is who in the public archive: rings replaced, tags fitted later, antenna reads, sheets sorted."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from public_archives import BIRDS, CORE, FACTS, RELATIONS, decided_season, opened, packed, table

from audit.handover.darwin_core.identities import joined, numbered
from audit.handover.darwin_core.tables import darwin_core_tables

if TYPE_CHECKING:
    from random import Random

TAG, OTHER_TAG = "999000000000001", "999000000000002"
BOXES = [{"box": "SL-01", "latitude": "45.01", "longitude": "-30.02"}]


def row(day, ring, **more):
    return {
        "date": day,
        "box": "SL-01",
        "species": "barn owl",
        "ring": ring,
        "event": "ringed",
        "age": "1",
        **more,
    }


def again(day, ring, **more):
    return row(day, ring, event="re-encountered", **more)


def facts_of(made, occurrence):
    here = made.measurements[made.measurements["occurrenceID"] == occurrence]
    return dict(zip(here["measurementType"], here["measurementValue"], strict=True))


def test_a_ring_that_was_replaced_leaves_the_bird_the_same(tmp_path):
    decided = decided_season(
        {
            "handlings": [
                row("2026-06-01", "SV01001", tag=TAG),
                row("2026-06-01", "SV01002"),
                again("2026-06-20", "SV01007", tag=TAG),
            ]
        }
    )
    made = darwin_core_tables(decided)
    birds = made.occurrences.set_index("organismName")["organismID"]
    assert birds["SV01001"] == birds["SV01007"] != birds["SV01002"]
    assert (
        facts_of(made, "handling:2026-06-20:SL-01:SV01007")["what was done with the metal ring"] == "replaced"
    )
    assert (
        facts_of(made, "handling:2026-06-20:SL-01:SV01007")["what was done with the transponder"] == "present"
    )
    assert set(made.occurrences["organismRemarks"]) == {"", "rings in order of time: SV01001 | SV01007"}
    with opened(packed(decided, tmp_path)) as reader:
        (relation,) = table(reader, RELATIONS).to_dict("records")
        assert not any(reader.orphaned_extension_rows().values())
    assert (relation["resourceID"], relation["relationshipOfResource"], relation["relatedResourceID"]) == (
        "SV01007",
        "replaces",
        "SV01001",
    )
    assert relation["relationshipEstablishedDate"] == "2026-06-20"


def test_a_tag_on_two_newly_ringed_birds_does_not_make_them_one():
    decided = decided_season(
        {"handlings": [row("2026-06-01", "SV01001", tag=TAG), row("2026-06-20", "SV01002", tag=TAG)]}
    )
    made = darwin_core_tables(decided)
    assert made.occurrences["organismID"].nunique() == 2
    assert made.relationships.empty


def test_a_bird_known_from_an_earlier_season_keeps_its_identity():
    before = {
        "handlings": pd.DataFrame([{"date": "2025-06-01", "box": "SL-01", "ring": "SV00900", "tag": TAG}])
    }
    now = {"handlings": [again("2026-06-20", "SV01007", tag=TAG, age="4")]}
    alone = darwin_core_tables(decided_season({"handlings": [again("2025-06-01", "SV00900")]}))
    made = darwin_core_tables(decided_season(now, earlier=[before]))
    assert list(made.occurrences["organismID"]) == list(alone.occurrences["organismID"])
    assert len(made.occurrences) == 1
    assert (
        facts_of(made, made.occurrences["occurrenceID"].iloc[0])["what was done with the transponder"]
        == "present"
    )


@pytest.mark.parametrize(
    ("rows", "action"),
    [
        ([row("2026-06-01", "SV01001", tag=TAG)], "fitted"),
        ([row("2026-06-01", "SV01001"), again("2026-06-20", "SV01001", tag=TAG)], "fitted"),
        ([row("2026-06-01", "SV01001", tag=TAG), again("2026-06-20", "SV01001", tag=TAG)], "present"),
        ([row("2026-06-01", "SV01001", tag=OTHER_TAG), again("2026-06-20", "SV01001", tag=TAG)], "replaced"),
        # nobody can say whether it bore the tag when it came
        ([again("2026-06-20", "SV01001", tag=TAG)], None),
    ],
)
def test_what_was_done_with_a_tag_follows_from_what_the_bird_bore_before(rows, action):
    made = darwin_core_tables(decided_season({"handlings": rows}))
    last = made.occurrences["occurrenceID"].iloc[-1]
    assert facts_of(made, last).get("what was done with the transponder") == action


def reads(*moments, tag=TAG, box="SL-01"):
    return [{"box": box, "antenna": "outer", "detected_at": moment, "tag": tag} for moment in moments]


def test_reads_of_one_bird_in_one_night_are_one_occurrence(tmp_path):
    decided = decided_season(
        {
            "handlings": [row("2026-06-01", "SV01001", tag=TAG, sex="F")],
            "boxes": BOXES,
            "detections": [
                *reads("2026-06-10 23:59:58.123", "2026-06-11 00:00:01.000", "2026-06-11 04:10:00.000"),
                *reads("2026-06-11 22:00:00.000"),
                # before the bird bore the tag; a tag of nobody
                *reads("2026-05-30 22:00:00.000"),
                *reads("2026-06-11 22:00:00.000", tag=OTHER_TAG),
            ],
        }
    )
    with opened(packed(decided, tmp_path)) as reader:
        birds, facts, events = (table(reader, name) for name in (BIRDS, FACTS, CORE))
        assert not any(reader.orphaned_extension_rows().values())
    seen = birds[birds["basisOfRecord"] == "MachineObservation"]
    assert list(seen["eventDate"]) == ["2026-06-10T23:59:58/2026-06-11T04:10:00", "2026-06-11T22:00:00"]
    assert set(seen["organismID"]) == set(birds["organismID"])
    assert set(seen["organismName"]) == {"SV01001"}
    assert set(seen["sex"]) == {"female"}
    assert set(seen["lifeStage"]) == {""}
    assert set(seen["individualCount"]) == {"1"}
    counts = facts[facts["measurementType"] == "number of antenna reads"]
    assert list(counts["measurementValue"]) == ["3", "1"]
    nights = events[events["eventType"] == "observation"].set_index("eventID")
    assert nights.loc["night:2026-06-10:SL-01", "eventDate"] == "2026-06-10T12:00:00/2026-06-11T12:00:00"
    assert set(nights["parentEventID"]) <= set(events["eventID"])
    told = [line for line in darwin_core_tables(decided).told if "antennas" in line]
    assert told == [
        "2 reads of the antennas left out: 2 tags on no bird of the season by that day, or on more than one."
    ]


def test_a_tag_written_in_another_way_is_still_the_bird():
    """ISO 11784: 999 is 0x3E7, and the national code 1 is 0000000001; written with a dot by some readers."""
    decided = decided_season(
        {
            "handlings": [row("2026-06-01", "SV01001", tag=TAG)],
            "detections": reads("2026-06-10 23:00:00", tag="3E7.0000000001"),
        }
    )
    made = darwin_core_tables(decided)
    assert len(made.occurrences) == 2
    assert len(set(made.occurrences["organismID"])) == 1


def test_a_visit_joins_what_both_tables_say_of_one_day_and_box():
    decided = decided_season(
        {
            "handlings": [
                row("2026-06-01", "SV01001", time="09:10", brood_size="2"),
                row("2026-06-01", "SV01002", time="09:25", brood_size="2"),
            ],
            "visits": [
                {
                    "date": "2026-06-01",
                    "time": "09:05",
                    "box": "SL-01",
                    "alive": "2",
                    "dead": "1",
                    "eggs": "0",
                },
                {"date": "2026-06-15", "time": "", "box": "SL-02", "alive": "0", "dead": "0", "eggs": "4"},
            ],
        }
    )
    made = darwin_core_tables(decided)
    dates = made.events.set_index("eventID")["eventDate"].to_dict()
    assert dates == {
        "season:2026": "2026-06-01/2026-06-15",
        "season:2026:SL-01": "2026-06-01",
        "season:2026:SL-02": "2026-06-15",
        "visit:2026-06-01:SL-01": "2026-06-01T09:05/2026-06-01T09:25",
        "visit:2026-06-15:SL-02": "2026-06-15",
    }
    of_event = made.measurements[made.measurements["occurrenceID"] == ""]
    found = set(
        zip(of_event["eventID"], of_event["measurementType"], of_event["measurementValue"], strict=True)
    )
    assert ("visit:2026-06-01:SL-01", "number of dead young", "1") in found
    assert ("visit:2026-06-01:SL-01", "brood size", "2") in found
    assert ("visit:2026-06-15:SL-02", "number of eggs", "4") in found


def test_brood_sizes_that_disagree_are_left_out_and_told():
    rows = [row("2026-06-01", "SV01001", brood_size="2"), row("2026-06-01", "SV01002", brood_size="3")]
    made = darwin_core_tables(decided_season({"handlings": rows}))
    assert "brood size" not in set(made.measurements["measurementType"])
    assert "1 brood size left out, since the rows of one visit differ." in made.told


def test_net_that_does_not_follow_from_gross_and_bag_does_not_say_so():
    rows = [
        row("2026-06-01", "SV01001", gross_g="310.5", bag_g="22", net_g="288.5"),
        row("2026-06-01", "SV01002", gross_g="310", bag_g="22", net_g="280"),
        row("2026-06-01", "SV01003", net_g="280"),
    ]
    made = darwin_core_tables(decided_season({"handlings": rows}))
    net = made.measurements[made.measurements["measurementType"] == "body mass"]
    assert list(net["measurementMethod"]) == [
        "gross mass less bag mass",
        "as written on the sheet; gross mass less bag mass is 288 g",
        "as written on the sheet; gross mass and bag mass are not both noted",
    ]


def test_a_handling_without_a_day_or_box_is_tied_to_what_is_known():
    rows = [row("2026-06-01", "SV01001"), row("", "SV01002"), {**row("2026-06-01", "SV01003"), "box": ""}]
    made = darwin_core_tables(decided_season({"handlings": rows}))
    tied = made.occurrences.set_index("organismName")["eventID"].to_dict()
    assert tied == {
        "SV01001": "visit:2026-06-01:SL-01",
        "SV01002": "season:2026:SL-01",
        "SV01003": "season:2026",
    }
    assert set(tied.values()) <= set(made.events["eventID"])
    assert [line for line in made.told if line.startswith("2 handlings without a settled day or box")]


MANY = [
    *(
        row(f"2026-06-0{day}", f"SV0100{number}", wing_mm=str(100 + day))
        for day in (1, 2)
        for number in range(4)
    ),
    *(again("2026-06-20", f"SV0100{number}", tag=f"99900000000000{number}") for number in range(4)),
    # without a mark; two rows that are the same in all that they hold
    *(row("2026-06-03", "", wing_mm=str(wing)) for wing in (88, 92, 92)),
]


@cache
def made_of_many():
    return darwin_core_tables(decided_season({"handlings": MANY}))


@settings(max_examples=6)
@given(st.randoms(use_true_random=False))
def test_a_sheet_sorted_anew_gives_the_same_archive(random: Random):
    shuffled = list(MANY)
    random.shuffle(shuffled)
    one, other = made_of_many(), darwin_core_tables(decided_season({"handlings": shuffled}))
    assert one.files == other.files
    assert one.occurrences["occurrenceID"].is_unique
    assert one.measurements["measurementID"].is_unique


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(st.sampled_from(["a", "b", "a:2", "a:b"]), st.sampled_from(["", "2", "b:2"])), min_size=1
    )
)
def test_names_are_never_shared(pairs):
    parts = [pd.Series(column, dtype=object) for column in zip(*pairs, strict=True)]
    named = joined(parts[0].index, "x", *parts)
    assert named.nunique() == len(set(pairs))
    assert numbered(named, pd.DataFrame({"held": ["same"] * len(pairs)})).is_unique
