"""Is every date a possible day of this season?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from clean_round import broods, clean_round, old_birds, seen_again
from typed_season import ask, blamed, typed_season

from audit.declarations import Declarations, load_declarations
from audit.findings import Finding, NotRun
from audit.rules.dates import RULE
from audit.rules.strays import Stray


def change(rows: list[dict], *indices: int, **cells: object) -> list[dict]:
    return [{**row, **cells} if i in indices else row for i, row in enumerate(rows)]


def on(day: str) -> dt.date:
    return dt.date.fromisoformat(day)


def today_is(day: str) -> Declarations:
    declared = load_declarations()
    limit = replace(declared.settings["season.clock.today"], value=day)
    return replace(declared, settings={**declared.settings, "season.clock.today": limit})


@pytest.fixture(scope="module")
def autumn() -> Declarations:
    return today_is("2026-09-30")


def findings(declared: Declarations, **tables: list[dict]) -> list[Finding]:
    season = typed_season(declared, **tables)
    return [answer for answer in ask(RULE, season, declared) if isinstance(answer, Finding)]


def season_of(*sizes: int) -> list[dict]:
    """First and second visits in the order of the days: 1 to n June and two weeks later."""
    rows = broods(*sizes)
    return rows + seen_again(rows)


SIZES = (3, 4, 5, 3, 4, 5, 3, 4)


@pytest.mark.parametrize(
    ("index", "typed"),
    [(9, "2026-07-03"), (9, "2026-03-06"), (9, "2025-06-03"), (9, "2026-06-30"), (7, "2026-06-13")],
)
def test_one_row_of_a_brood_with_another_date(autumn: Declarations, index: int, typed: str) -> None:
    rows = season_of(*SIZES)
    found = blamed(findings(autumn, handlings=change(rows, index, date=on(typed))))
    assert found == {(f"handlings!{index + 2}", "date"): ("dates.slip", "2026-06-03")}


def test_the_sentence_says_why(autumn: Declarations) -> None:
    rows = change(season_of(*SIZES), 9, date=on("2026-07-03"))
    (finding,) = findings(autumn, handlings=rows)
    assert finding.message == (
        "2026-07-03 does not fit: the sheet goes from 2026-06-03 to 2026-06-03 here and the rings next to "
        "these went on birds on 2026-06-03 and the rows of box SL-03 above and below are of 2026-06-03; "
        "2026-06-03 was probably meant (a slip in the month)."
    )


@pytest.mark.parametrize("typed", ["2026-05-03", "2025-06-03", "2026-03-06"])
def test_a_whole_visit_with_a_wrong_date_is_one_finding(autumn: Declarations, typed: str) -> None:
    rows = change(season_of(*SIZES), *range(7, 12), date=on(typed))
    (finding,) = findings(autumn, handlings=rows)
    assert {s.cell.label for s in finding.suspects} == {f"handlings!{row}" for row in range(9, 14)}
    assert {s.suggested for s in finding.suspects} == {"2026-06-03"}


def test_a_date_after_today_is_an_error(autumn: Declarations) -> None:
    rows = change(season_of(*SIZES), 9, date=on("2062-06-03"))
    (finding,) = findings(autumn, handlings=rows)
    assert (finding.rule, finding.severity) == ("dates.future", "error")
    assert finding.suspects[0].suggested == "2026-06-03"
    assert "it is later than today, 2026-09-30" in finding.message


@pytest.mark.parametrize(("year", "told"), [(2086, set()), (2025, {"2025-06-01"})])
def test_a_visit_to_come_is_no_place_for_its_neighbours(
    autumn: Declarations, monkeypatch: pytest.MonkeyPatch, year: int, told: set[str]
) -> None:
    meant = ("SL-01", (dt.date(year, 6, 1) - dt.date(1970, 1, 1)).days)
    stray = Stray(0, "date", meant, 0.8, 0.9, 0.1, None, (), {meant: 0.8})
    monkeypatch.setattr("audit.rules.dates.strays_of", lambda *_: [stray])
    found = findings(autumn, handlings=broods(3))
    assert {s.suggested for finding in found for s in finding.suspects} == told


def test_a_clock_that_lags_behind_the_season_is_told_not_believed() -> None:
    declared = today_is("2025-01-01")
    answers = ask(RULE, typed_season(declared, handlings=season_of(*SIZES)), declared)
    assert [type(a) for a in answers] == [NotRun]


def test_an_impossible_year_is_an_error(autumn: Declarations) -> None:
    rows = change(season_of(*SIZES), 9, date=on("1826-06-03"))
    (finding,) = findings(autumn, handlings=rows)
    assert (finding.rule, finding.severity) == ("dates.year", "error")


def test_a_visit_with_the_day_before_in_a_table_of_visits(autumn: Declarations) -> None:
    rows = season_of(*SIZES)
    visits = [{"date": d, "box": b} for d, b in dict.fromkeys((r["date"], r["box"]) for r in rows)]
    rows = change(rows, *range(7, 12), date=on("2026-06-04"))
    found = blamed(findings(autumn, handlings=rows, visits=visits))
    assert {(f"handlings!{row}", "date") for row in range(9, 14)} <= set(found)
    assert {found[f"handlings!{row}", "date"][1] for row in range(9, 14)} == {"2026-06-03"}


def test_the_date_of_a_visit_is_blamed_when_only_it_is_out_of_place(autumn: Declarations) -> None:
    rows = season_of(*SIZES)
    visits = [{"date": d, "box": b} for d, b in dict.fromkeys((r["date"], r["box"]) for r in rows)]
    visits = change(visits, 4, date=on("2026-07-05"))
    (finding,) = findings(autumn, handlings=rows, visits=visits)
    assert blamed([finding]) == {("visits!6", "date"): ("dates.no_visit", "2026-06-05")}


def test_birds_seen_before_they_were_ringed(autumn: Declarations) -> None:
    rows = season_of(*SIZES)
    rows.sort(key=lambda row: row["box"])
    rows = [
        {**row, "date": on("2026-05-17")}
        if row["box"] == "SL-03" and row["event"] == "re-encountered"
        else row
        for row in rows
    ]
    (finding,) = findings(autumn, handlings=rows)
    assert finding.rule == "dates.seen_before_ringed"
    assert {s.cell.observed for s in finding.suspects} == {"2026-05-17"}
    assert finding.message.startswith(
        "The birds of box SL-03 were seen again on 2026-05-17, before they were ringed on 2026-06-03"
    )


def test_a_day_outside_the_season_is_a_note(autumn: Declarations) -> None:
    rows = [{**broods(1)[0], "date": on("2026-01-20"), "ring": "SV00007", "box": "SL-60"}, *season_of(*SIZES)]
    (finding,) = findings(autumn, handlings=rows)
    assert (finding.rule, finding.severity) == ("dates.out_of_season", "note")


def test_hatched_after_it_was_handled(autumn: Declarations) -> None:
    rows = [{**row, "hatch_date": on("2026-05-05")} for row in broods(*SIZES)]
    found = findings(autumn, handlings=change(rows, 9, hatch_date=on("2026-07-05")))
    assert blamed(found) == {("handlings!11", "hatch_date"): ("dates.hatched_later", "2026-05-05")}
    assert found[0].message == (
        "Hatched on 2026-07-05, but handled on 2026-06-03: 2026-05-05 was probably meant."
    )


def test_age_and_hatching_that_disagree(autumn: Declarations) -> None:
    rows = [
        {**row, "hatch_date": on("2026-05-05"), "age_days": (row["date"] - on("2026-05-05")).days}
        for row in broods(*SIZES)
    ]
    assert findings(autumn, handlings=rows) == []
    # ten times what lies between the two dates, and more than any nestling's age
    found = findings(autumn, handlings=change(rows, 9, age_days=290))
    assert blamed(found) == {("handlings!11", "age_days"): ("dates.age_and_hatching", "29")}
    # the nest mates hatched a day later, which would not explain ten days
    mates = change(change(rows, *range(7, 12), hatch_date=on("2026-05-06")), 9, hatch_date=on("2026-05-05"))
    found = findings(autumn, handlings=change(mates, 9, age_days=39))
    assert blamed(found) == {("handlings!11", "age_days"): ("dates.age_and_hatching", "29")}
    found = findings(autumn, handlings=change(rows, 9, age_days=92))
    assert set(blamed(found)) == {("handlings!11", "age_days")}
    found = findings(autumn, handlings=change(rows, 9, hatch_date=on("2026-05-25")))
    assert blamed(found) == {("handlings!11", "hatch_date"): ("dates.age_and_hatching", "2026-05-05")}


def test_late_hatched_nest_mates_are_innocent(autumn: Declarations) -> None:
    rows = [
        {
            **row,
            "hatch_date": on("2026-05-05"),
            "age_days": (row["date"] - on("2026-05-05")).days - 9 * (i % 4 == 3),
        }
        for i, row in enumerate(broods(*SIZES))
    ]
    assert findings(autumn, handlings=rows) == []


def test_a_page_typed_late_is_innocent_when_the_rings_agree(autumn: Declarations) -> None:
    rows = broods(*SIZES)
    rows = rows[:7] + rows[12:20] + rows[7:12] + rows[20:]
    assert findings(autumn, handlings=rows) == []


def test_two_pages_that_contradict_each_other_are_left_alone(autumn: Declarations) -> None:
    # 1, 2, 4, 3, 5: either of the two in the middle may be wrong
    rows = seen_again(broods(3, 4, 4, 4, 4, 4, 4, 4))
    first, second = rows[7]["date"], rows[11]["date"]
    rows = [
        {**row, "date": second if row["date"] == first else first if row["date"] == second else row["date"]}
        for row in rows
    ]
    assert findings(autumn, handlings=rows) == []


@pytest.mark.parametrize(
    ("seed", "options"), [(1, {}), (2, {"event": False}), (3, {"visits": 3}), (6, {"ringers": 1}), (8, {})]
)
def test_a_clean_round_is_innocent(autumn: Declarations, options: dict, seed: int) -> None:
    tables = clean_round(30, seed=seed, **options)
    rows = old_birds(tables["handlings"])
    for handlings in (
        rows,
        sorted(rows, key=lambda row: row["ring"]),
        sorted(rows, key=lambda row: (row["box"], row["date"])),
        sorted(rows, key=lambda row: row["wing_mm"]),
    ):
        assert findings(autumn, handlings=handlings) == []
        assert findings(autumn, handlings=handlings, visits=tables["visits"], boxes=tables["boxes"]) == []


def test_either_of_two_pages_may_be_wrong(autumn: Declarations) -> None:
    # 15, 17, 15, 27 June: 17 for 15, or the second 15 for 17
    rows = seen_again(broods(4, 4, 4, 4, 4, 4, 4, 4))
    days = {2: "2026-06-17", 3: "2026-06-15", 4: "2026-06-27"}
    days |= {1: "2026-06-15"} | {k: f"2026-07-0{k}" for k in range(5, 9)}
    rows = [{**row, "date": on(days[int(row["box"][-2:])])} for row in rows]
    assert findings(autumn, handlings=rows) == []
    # a single row is the likelier slip
    assert blamed(findings(autumn, handlings=rows[:9] + rows[12:])) == {
        ("handlings!10", "date"): ("dates.slip", "2026-06-17")
    }


def test_a_bird_seen_alone_later_is_innocent_in_a_sheet_sorted_by_ring(autumn: Declarations) -> None:
    rows = broods(3, 4, 5)
    rows += seen_again(rows[1:2], days=20)
    rows.sort(key=lambda row: (row["ring"], row["date"]))
    assert rows[2]["date"] == on("2026-06-21")
    assert findings(autumn, handlings=rows) == []


def test_an_old_row_of_a_bird_just_above_its_row_of_this_year_is_innocent(autumn: Declarations) -> None:
    rows = broods(*SIZES)
    adult = {**rows[0], "ring": "DEK123456", "age": "4", "event": "re-encountered"}
    old = {**adult, "date": on("2025-06-01")}
    assert findings(autumn, handlings=[old, adult, *rows]) == []
    # another bird has no row of its own on that day
    stranger = {**old, "ring": "SV01931", "event": "ringed", "age": "1"}
    assert set(blamed(findings(autumn, handlings=[stranger, *rows]))) == {("handlings!2", "date")}


@pytest.mark.parametrize("typed", ["2026-06-29", "2026-05-17"])
def test_two_kinds_of_evidence_name_a_day_that_is_more_than_one_slip_away(
    autumn: Declarations, typed: str
) -> None:
    rows = season_of(*SIZES)
    visits = [
        {"date": day, "box": box} for day, box in dict.fromkeys((row["date"], row["box"]) for row in rows)
    ]
    i = next(k for k in range(1, len(rows) - 1) if rows[k - 1]["box"] == rows[k]["box"] == rows[k + 1]["box"])
    (finding,) = findings(autumn, handlings=change(rows, i, date=on(typed)), visits=visits)
    meant = rows[i]["date"].isoformat()
    assert blamed([finding]) == {(f"handlings!{i + 2}", "date"): ("dates.slip", meant)}
    assert finding.message.endswith(f"; {meant} was probably meant.")
    # a visit that is listed needs no cure
    listed = [*visits, {"date": on(typed), "box": rows[i]["box"]}]
    assert not blamed(findings(autumn, handlings=change(rows, i, date=on(typed)), visits=listed))


def with_tags(rows: list[dict], *, off: int = 0) -> dict[str, list[dict]]:
    """Give each bird a tag, and a download of the reader whose calendar may be wrong."""
    tags = {ring: f"9990000010{k:05d}" for k, ring in enumerate(dict.fromkeys(row["ring"] for row in rows))}
    tagged = [{**row, "tag": tags[row["ring"]]} for row in rows]
    reads = [
        {
            "read_at": dt.datetime.combine(row["date"], dt.time(12)) + dt.timedelta(days=off),
            "tag": row["tag"],
        }
        for row in tagged
    ]
    return {"handlings": tagged, "tag_reads": reads}


def test_a_whole_visit_off_by_days_is_told_by_the_reader(autumn: Declarations) -> None:
    rows = [row for row in season_of(*SIZES) if row["event"] == "re-encountered"]
    tables = with_tags(rows)
    at = [i for i, row in enumerate(rows) if row["box"] == "SL-04"]
    tables["handlings"] = change(tables["handlings"], *at, date=on("2026-06-16"))
    (finding,) = findings(autumn, **tables)
    meant = rows[at[0]]["date"].isoformat()
    assert {(s.cell.label, s.suggested) for s in finding.suspects} == {
        (f"handlings!{i + 2}", meant) for i in at
    }
    assert f"the hand reader read these tags on {meant}" in finding.message


def test_a_reader_with_a_wrong_calendar_tells_nothing(autumn: Declarations) -> None:
    rows = season_of(*SIZES)
    assert findings(autumn, **with_tags(rows, off=1)) == []
    assert findings(autumn, **with_tags(rows)) == []
