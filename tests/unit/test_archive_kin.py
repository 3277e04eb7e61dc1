"""Rows that may be of one bird over the years: words and tags in every writing, and rings near others."""

from __future__ import annotations

import pandas as pd
from archive_rows import AGAIN, DECLARED, FrameEngine, frame_of, raw_of, relation, worked_out

from audit.archive.clash_findings import explained, renumbered
from audit.archive.kin import Kin
from audit.archive.laid import lay_out
from audit.archive.near_rings import near_in_archive, near_rings

TAG = "999000000000001"
#: The same in sixteen hexadecimal digits, with the bit that says it is of an animal (ISO 11784).
HEX = f"{1 << 63 | 999 << 38 | 1:016X}"


def test_words_and_tags_mean_the_same_in_every_writing():
    rows = [
        {"tag": TAG, "event": "Erstfang", "age": "pullus"},
        {**AGAIN, "tag": HEX.lower(), "event": "Wiederfang", "sex": "Weibchen"},
        {**AGAIN, "tag": "999 000 000 000 002", "event": "recaptura", "sex": "?"},
    ]
    _, marks = lay_out(FrameEngine(), raw_of(frame_of(*rows), "pandas"), DECLARED)
    told = worked_out(marks)
    assert told["tag"].tolist() == [TAG, TAG, "999000000000002"]
    assert told["event"].tolist() == ["ringed", "re-encountered", "re-encountered"]
    assert told["pullus"].tolist() == [True, False, False]
    assert told["sex"].fillna("").tolist() == ["", "F", ""]


def test_rings_one_slip_away_are_found_with_and_without_all_rings_in_memory():
    rings = ["SV00123", "SV00128", "SV01023", "SV0123", "SV001234", "SK00123", "SV00456"]
    known = near_rings(["SV00123"], rings)
    assert known == {"SV00123": ("SK00123", "SV001234", "SV00128", "SV01023", "SV0123")}
    marks = relation(pd.DataFrame({"ring": rings}), "pandas")
    found = near_in_archive(FrameEngine(), marks, ["SV00123", "SV00456"])
    # letters are not asked about there
    assert found == {"SV00123": tuple(ring for ring in known["SV00123"] if ring != "SK00123")}


def kin():
    rows = [
        (0, "2019", "A", "SV00001", TAG),
        (1, "2020", "A", "SV00001", None),
        (2, "2020", "B", "SV00001", None),
        (3, "2021", "A", "SV00002", TAG),
        (4, "2021", "A", None, None),
    ]
    frame = pd.DataFrame(rows, columns=["at", "season", "scheme", "ring_key", "tag_key"])
    return Kin(frame.assign(file="a", row=frame["at"] + 2))


def test_kin_bear_one_ring_of_one_scheme_or_one_tag():
    assert kin().alike([1])["at"].tolist() == [0, 1]
    assert kin().alike([2])["at"].tolist() == [2]
    assert kin().alike([3])["at"].tolist() == [0, 3]
    assert kin().alike([4, 77])["at"].tolist() == []
    assert kin().rings_of([1, 4, 77]) == {"SV00001"}


def test_kin_of_earlier_seasons_and_of_rings_that_may_have_been_meant():
    assert kin().alike([3], before="2021")["at"].tolist() == [0]
    assert kin().alike([3], ["SV00001"], before="2021")["at"].tolist() == [0, 1]


def test_a_bird_that_was_given_another_ring_is_explained_by_the_note_that_says_so():
    noted = {"2021!2": frozenset({"earlier.new_ring"})}
    assert explained("two_rings", ["2021!2", "2019!2"], {}, noted)
    assert not explained("two_tags", ["2021!2", "2019!2"], {}, noted)
    assert not explained("two_rings", ["2020!2", "2019!2"], {}, noted)


def test_a_remark_that_names_the_other_number_tells_why_a_bird_has_two():
    first = {"ring": "SV00001", "tag": TAG}
    changed = {"ring": "SV 00109", "tag": TAG, "remarks": "Ring SV 00001 abgenutzt, jetzt SV 00109"}
    later = {"ring": "SV00109", "tag": TAG, "remarks": ""}
    assert renumbered("two_rings", changed, first, ())
    # it stands where the number was changed, whichever two rows are told of
    assert renumbered("two_rings", later, first, (first, changed, later))
    # the own number says nothing, nor does a remark on another bird, nor one of a number for a sex
    assert not renumbered("two_rings", {**changed, "remarks": "SV00109 read twice"}, first, ())
    assert not renumbered("two_rings", later, first, ({**changed, "tag": f"{TAG[:-1]}2"},))
    assert not renumbered("two_sexes", changed, first, ())
