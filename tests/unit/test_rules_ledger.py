"""Every ring and every tag has one fate."""

from __future__ import annotations

import datetime as dt
import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from clean_round import broods
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import invented_season
from typed_season import typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.rules.fates import CODES, FATES, NO_DAY, Fate, Habits, settle
from audit.rules.ring_ledger.laid import lay_ledger
from audit.rules.tag_ledger import TagFate, TagLedger, lay_tag_ledger

if TYPE_CHECKING:
    from audit.findings import Report
    from audit.rules.ring_ledger.ledger import RingLedger
    from audit.season import Season

DECLARED = load_declarations()
Row = dict[str, Any]
SPRING = dt.date(2026, 4, 1)
STRING = {"prefix": "SV", "first": "01031", "last": "01060", "issued_to": "AB", "issued": SPRING}


def rings(report: Report | None = None, **tables: list[Row]) -> RingLedger:
    return lay_ledger(typed_season(DECLARED, **tables), DECLARED, report)


def tags(**tables: list[Row]) -> TagLedger:
    return lay_tag_ledger(typed_season(DECLARED, **tables), DECLARED)


def fates(ledger: RingLedger) -> dict[str, str]:
    return {line.ring: line.fate.value for line in ledger.lines()}


def told(ledger: RingLedger) -> dict[str, int]:
    return {fate.value: number for fate, number in ledger.total.items() if number}


def test_each_ring_has_the_fate_that_the_tables_tell() -> None:
    rows = [row for i, row in enumerate(broods(3, 5, 4)) if i not in (1, 4, 5, 6, 7)]
    losses = [
        {"ring": "SV01035", "fate": "lost", "date": dt.date(2026, 6, 2)},
        {"ring": "SV01036", "fate": "destroyed"},
        {"ring": "SV01059", "fate": "returned"},
        {"ring": "SV01060", "fate": "passed on"},
        {"ring": "SV01037"},
    ]
    ledger = rings(handlings=rows, ring_stock=[STRING], ring_losses=losses)
    assert told(ledger) == {
        "on a bird": 7,
        "lost": 2,
        "destroyed": 1,
        "returned": 1,
        "passed on": 1,
        "in hand": 16,
        "unaccounted": 2,
    }
    found = fates(ledger)
    assert [ring for ring, fate in found.items() if fate == "unaccounted"] == ["SV01032", "SV01038"]
    assert ledger.names(0, Fate.IN_HAND) == ["SV01043 to SV01058"]
    line = next(line for line in ledger.lines() if line.ring == "SV01035")
    assert (line.date, line.worn, line.remark) == ("2026-06-02", None, "")
    first = next(ledger.lines())
    assert first.worn is not None
    assert (first.date, first.worn.box, first.worn.row) == (rows[0]["date"].isoformat(), rows[0]["box"], 2)


def test_rings_below_the_first_of_this_season_were_used_before() -> None:
    before = {**STRING, "first": "01001", "issued": dt.date(2025, 4, 1)}
    ledger = rings(handlings=broods(3), ring_stock=[before])
    assert told(ledger) == {"on a bird": 3, "before this season": 30, "in hand": 27}
    ledger = rings(handlings=broods(3), ring_stock=[{**before, "issued": None}])
    assert told(ledger) == {"on a bird": 3, "before this season": 30, "in hand": 27}
    ledger = rings(handlings=broods(3), ring_stock=[{**before, "issued": SPRING}])
    assert told(ledger) == {"on a bird": 3, "in hand": 27, "unaccounted": 30}


def test_birds_of_earlier_seasons_have_their_rings() -> None:
    before = {**STRING, "first": "01027", "issued": dt.date(2025, 4, 1)}
    old = [{**row, "date": dt.date(2025, 6, 1)} for row in broods(3, start=1027)]
    ledger = rings(handlings=broods(3), ring_stock=[before], earlier=old)
    assert told(ledger) == {"on a bird": 6, "before this season": 1, "in hand": 27}
    first = next(ledger.lines())
    assert (first.date, first.remark) == ("2025-06-01", "put on before this season")


def test_a_string_may_be_used_from_its_last_ring_down() -> None:
    rows = broods(3, 3, 3)
    count = len(rows)
    down = [{**row, "ring": f"SV{1060 - i:05d}"} for i, row in enumerate(rows)]
    ledger = rings(handlings=down, ring_stock=[STRING])
    assert told(ledger) == {"on a bird": count, "in hand": 30 - count}


def test_two_hands_may_use_one_string() -> None:
    rows = broods(3, 3, 3)
    half = [{**row, "ring": f"SV{1151 + i:05d}"} for i, row in enumerate(rows)]
    string = {**STRING, "last": "01230"}
    ledger = rings(handlings=[*rows, *half], ring_stock=[string])
    assert "unaccounted" not in told(ledger)
    # a single ring out of place is no second hand
    ledger = rings(handlings=[*rows, half[0]], ring_stock=[string])
    assert told(ledger)["unaccounted"] == 1150 - 1030 - len(rows)


def test_two_fates_at_once_are_a_conflict_and_count_once() -> None:
    rows = broods(3, 5, 4)
    losses = [{"ring": rows[2]["ring"], "fate": "returned", "date": rows[2]["date"]}]
    ledger = rings(handlings=rows, ring_stock=[STRING], ring_losses=losses)
    (line,) = ledger.conflicts()
    assert (line.ring, line.fate) == (rows[2]["ring"], Fate.ON_A_BIRD)
    assert line.remark == f"on a bird, and among the losses: returned on {rows[2]['date']}"
    assert told(ledger) == {"on a bird": 12, "in hand": 18}


def test_a_worn_ring_is_destroyed_in_the_end() -> None:
    rows = broods(3, 5, 4)
    losses = [{"ring": rows[2]["ring"], "fate": "destroyed", "date": dt.date(2026, 9, 1)}]
    ledger = rings(handlings=rows, ring_stock=[STRING], ring_losses=losses)
    assert ledger.conflicts() == []
    line = next(line for line in ledger.lines() if line.ring == rows[2]["ring"])
    assert (line.fate, line.date) == (Fate.DESTROYED, "2026-09-01")
    assert line.remark == f"was on a bird ({rows[2]['box']} {rows[2]['date']}) before"


def test_a_ring_on_two_birds_or_lost_twice_is_a_conflict() -> None:
    rows = broods(3, 5, 4)
    rows[7] = {**rows[7], "ring": rows[2]["ring"]}
    losses = [{"ring": "SV01055", "fate": fate} for fate in ("lost", "destroyed")]
    ledger = rings(handlings=rows, ring_stock=[STRING], ring_losses=losses)
    assert [(line.ring, line.remark) for line in ledger.conflicts()] == [
        (rows[2]["ring"], "stands as newly put on in 2 rows"),
        ("SV01055", "among the losses with two fates"),
    ]


def test_rings_of_others_are_no_question_but_own_ones_that_were_not_issued_are() -> None:
    rows = broods(3, 5, 4)
    rows[1] = {**rows[1], "ring": "SV01936"}
    rows[2] = {**rows[2], "ring": "SVO1033"}
    rows.append({**rows[-1], "ring": "DEK123456", "event": "re-encountered"})
    rows.append({**rows[-1], "ring": "SV00017", "event": "re-encountered"})
    ledger = rings(handlings=rows, ring_stock=[STRING])
    assert {other.worn.ring: other.asked for other in ledger.others} == {
        "SV01936": True,
        "SVO1033": True,
        "DEK123456": False,
        "SV00017": False,
    }


def test_a_series_without_a_string_is_asked_about_once() -> None:
    rows = [*broods(3), *broods(2, 5, start=5001)]
    stock = [{**STRING, "first": "SK01031", "prefix": "SK", "last": "SK01060"}]
    ledger = rings(
        handlings=[{**row, "ring": row["ring"].replace("SV01", "SK01")} for row in rows], ring_stock=stock
    )
    (series,) = ledger.series
    assert (series.first, series.last, series.used) == ("SV05001", "SV05007", 7)
    assert not any(other.asked for other in ledger.others)


def test_the_likely_fate_stands_beside_the_one_as_typed() -> None:
    rows = broods(3, 5, 4)
    rows[5] = {**rows[5], "ring": "SV01836"}
    season = typed_season(DECLARED, handlings=rows, ring_stock=[STRING])
    report = check(season, schemas=DECLARED)
    line = next(line for line in lay_ledger(season, DECLARED, report).lines() if line.ring == "SV01036")
    assert (line.fate, line.likely) == (Fate.UNACCOUNTED, Fate.ON_A_BIRD)
    assert line.remark == "by the findings probably on a bird"
    unsure = replace(
        report,
        findings=tuple(
            replace(f, suspects=tuple(replace(s, p_fix=0.5 if s.suggested else None) for s in f.suspects))
            for f in report.findings
        ),
    )
    line = next(line for line in lay_ledger(season, DECLARED, unsure).lines() if line.ring == "SV01036")
    assert (line.fate, line.likely) == (Fate.UNACCOUNTED, Fate.UNACCOUNTED)


def test_without_a_stock_the_series_are_told() -> None:
    rows = [row for i, row in enumerate(broods(3, 5, 4)) if i not in (4, 6, 7)]
    ledger = rings(handlings=rows, ring_losses=[{"ring": "SV01035", "fate": "lost"}])
    (series,) = ledger.series
    assert (series.first, series.last, series.used, series.lost, series.missing, series.gaps) == (
        *("SV01031", "SV01042", 9, 1, 2),
        ("SV01037 to SV01038",),
    )
    assert (len(ledger), ledger.has_stock) == (0, False)


@pytest.mark.parametrize(
    "string",
    [
        {"prefix": "SV", "first": "00000001", "last": "99999999"},
        {"prefix": "SV", "first": "0" * 24 + "1", "last": "9" * 25},
        {"prefix": "SV", "first": "01100", "last": "01001"},
        {"prefix": "SV", "first": "²", "last": "-"},
    ],
)
def test_a_string_that_is_none_is_said(string: Row) -> None:
    ledger = rings(handlings=broods(3), ring_stock=[string, STRING])
    assert len(ledger.unread) == 1
    assert told(ledger) == {"on a bird": 3, "in hand": 27}


ODD_RINGS = ["SV01031", "SV01033", "SV01040", "SV01060", "SV01090", "SV²", "-", "9" * 30, "", None, "DEK1"]
DAYS = [None, dt.date(2025, 6, 1), SPRING, dt.date(2026, 6, 1), dt.date(2026, 6, 9)]
HANDLINGS = st.lists(
    st.fixed_dictionaries(
        {
            "ring": st.sampled_from(ODD_RINGS),
            "date": st.sampled_from(DAYS),
            "box": st.sampled_from(["SL-01", "SL-02", None]),
            "event": st.sampled_from(["ringed", "re-encountered", None]),
        }
    ),
    min_size=1,
    max_size=12,
)
LOSSES = st.lists(
    st.fixed_dictionaries(
        {
            "ring": st.sampled_from(ODD_RINGS),
            "fate": st.sampled_from(["lost", "destroyed", "returned", "passed on", None]),
            "date": st.sampled_from(DAYS),
        }
    ),
    max_size=5,
)
STOCK = st.lists(
    st.fixed_dictionaries(
        {
            "prefix": st.sampled_from(["SV", None]),
            "first": st.sampled_from(["01031", "SV01031", "01041", "01081", "-"]),
            "last": st.sampled_from(["01060", "SV01090", "01031", "9" * 5]),
            "issued": st.sampled_from(DAYS),
        }
    ),
    max_size=4,
)


@settings(max_examples=40, deadline=None)
@given(HANDLINGS, LOSSES, STOCK, st.randoms(use_true_random=False))
def test_fates_sum_to_the_length_whatever_the_season_and_its_order(
    handlings: list[Row], losses: list[Row], stock: list[Row], random: Any
) -> None:
    season = typed_season(DECLARED, handlings=handlings, ring_losses=losses, ring_stock=stock)
    ledger = lay_ledger(season, DECLARED)
    for which, string in enumerate(ledger.strings):
        assert sum(ledger.counts(which).values()) == string.last - string.first + 1
        assert len(list(ledger.lines(which))) == string.last - string.first + 1
    assert sum(ledger.total.values()) == len(ledger) == len(list(ledger.lines()))
    assert len(ledger.strings) + len(ledger.unread) <= len(stock)
    shuffled = lay_ledger(in_another_order(season, random), DECLARED)
    assert list(shuffled.lines()) == list(ledger.lines())
    assert shuffled.others == ledger.others
    assert shuffled.series == ledger.series
    assert shuffled.lost_elsewhere == ledger.lost_elsewhere


def test_of_two_rows_without_a_day_the_label_decides_which_is_told() -> None:
    twice = {"ring": "SV01033", "date": None, "box": "SL-01", "event": None}
    rows = [{**twice, "ring": "SV01031", "event": "ringed"}, twice, twice]
    season = typed_season(DECLARED, handlings=rows)

    class Turned:
        def shuffle(self, places: list[int]) -> None:
            places.reverse()

    assert (
        lay_ledger(in_another_order(season, Turned()), DECLARED).others == lay_ledger(season, DECLARED).others
    )


def in_another_order(season: Season, random: Any) -> Season:
    def turned(frame: Any) -> Any:
        places = list(range(len(frame)))
        random.shuffle(places)
        return frame.iloc[places]

    tables = {name: replace(table, frame=turned(table.frame)) for name, table in season.tables.items()}
    return replace(season, tables=tables)


@given(
    st.lists(st.sampled_from([-1, -1, CODES[Fate.ON_A_BIRD], CODES[Fate.LOST]]), min_size=1, max_size=60),
    st.booleans(),
    st.integers(0, 2**30),
)
def test_a_string_is_settled_whole_and_what_is_told_stays(codes: list[int], early: bool, seed: int) -> None:
    told = np.array(codes, dtype=np.int8)
    rng = np.random.default_rng(seed)
    new = (told == CODES[Fate.ON_A_BIRD]) & rng.choice([True, False], told.size)
    day = np.where(new, rng.integers(0, 9, told.size), NO_DAY)
    fate = settle(told, new, day, early=early, habits=Habits(10, 5))
    assert ((fate >= 0) & (fate < len(FATES))).all()
    assert (fate[told >= 0] == told[told >= 0]).all()
    assert early or CODES[Fate.EARLIER] not in fate


@pytest.mark.parametrize("seed", [11, 12])
def test_a_clean_season_leaves_no_question(seed: int) -> None:
    tables = invented_season(seed)
    ledger, tag_ledger = rings(**tables), tags(**tables)
    assert set(told(ledger)) <= {"on a bird", "lost", "destroyed", "in hand"}
    assert ledger.conflicts() == []
    assert not any(other.asked for other in ledger.others)
    assert not any(line.fate is TagFate.READ_ONLY for line in tag_ledger.lines)


def test_fifty_thousand_rings_take_well_under_a_second() -> None:
    rows = [
        {"date": dt.date(2026, 6, 1 + i % 28), "box": f"SL-{i % 400}", "ring": f"SV{100001 + 9 * i:06d}"}
        for i in range(5000)
    ]
    stock = [
        {"prefix": "SV", "first": f"{n:06d}", "last": f"{n + 99:06d}", "issued": SPRING}
        for n in range(100001, 150001, 100)
    ]
    season = typed_season(DECLARED, handlings=rows, ring_stock=stock)
    start = time.process_time()
    ledger = lay_ledger(season, DECLARED)
    assert time.process_time() - start < 1.5  # 0.2 s on an idle machine
    assert len(ledger) == 50_000
    assert told(ledger)["on a bird"] == 5000


def test_each_tag_has_the_fate_that_the_tables_tell() -> None:
    rows = [
        {"date": SPRING, "box": "SL-01", "ring": "SV01031", "tag": "999000000000011", "event": "ringed"},
        {"date": SPRING, "box": "SL-01", "ring": "SV01032", "tag": "999000000000012", "event": "ringed"},
        {"date": SPRING, "box": "SL-02", "ring": "SV01033", "tag": "999000000000012", "event": "ringed"},
        {"date": SPRING, "box": "SL-02", "ring": "SV01034", "tag": "999000000000099", "event": "ringed"},
    ]
    stock = [{"tag": f"9990000000000{n}", "batch": "B2" if n > 13 else "B1"} for n in (11, 12, 13, 14, 14)]
    reads = [
        {"read_at": dt.datetime(2026, 4, 1, 9, n), "tag": f"9990000000000{t}"} for n, t in enumerate((11, 13))
    ]
    ledger = tags(handlings=rows, tag_stock=stock, tag_reads=reads)
    assert [(line.tag[-2:], line.fate.value, line.ring, line.read, line.remark) for line in ledger.lines] == [
        ("11", "on a bird", "SV01031", "2026-04-01", ""),
        ("12", "on a bird", "SV01032", "", "on 2 rings: SV01032, SV01033"),
        ("13", "read, on no row", "", "2026-04-01", ""),
        ("14", "in hand", "", "", "stands 2 times in the stock"),
        ("14", "in hand", "", "", "stands 2 times in the stock"),
    ]
    assert [(line.tag[-2:], line.fate.value, line.fitted) for line in ledger.others] == [
        ("99", "on a bird", True)
    ]
    assert {batch: sum(ledger.counts(batch).values()) for batch in ledger.by_batch} == {"B1": 3, "B2": 2}


def test_a_tag_of_an_earlier_season_is_on_its_bird() -> None:
    old = {"date": dt.date(2025, 6, 1), "box": "SL-07", "ring": "SV00931", "tag": "999000000000011"}
    row = {"date": SPRING, "box": "SL-01", "ring": "SV01031", "tag": "999000000000012", "event": "ringed"}
    stock = [{"tag": f"9990000000000{n}"} for n in (11, 12)]
    first, second = tags(handlings=[row], earlier=[old], tag_stock=stock).lines
    assert (first.fate, first.ring, first.date) == (TagFate.ON_A_BIRD, "SV00931", "2025-06-01")
    assert first.remark == "fitted before this season"
    assert (second.fate, second.fitted) == (TagFate.ON_A_BIRD, True)


def test_the_likely_fate_of_a_tag() -> None:
    tables = invented_season(13)
    row = tables["handlings"][30]
    tag = row["tag"]
    tables["handlings"][30] = {**row, "tag": f"{tag[:-4]}{(int(tag[-4]) + 5) % 10}{tag[-3:]}"}
    season = typed_season(DECLARED, **tables)
    ledger = lay_tag_ledger(season, DECLARED, check(season, schemas=DECLARED))
    line = next(line for line in ledger.lines if line.tag == tag)
    assert line.fate in (TagFate.READ_ONLY, TagFate.IN_HAND)
    assert line.likely is TagFate.ON_A_BIRD
