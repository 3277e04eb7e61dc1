"""The self-test of a season, held against audits that are known to see all, nothing, or half."""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser

import numpy as np
import pytest
from golden_file import hold_against_golden
from invented import Style, invented_season
from typed_season import typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.findings import Finding, Report, Suspect
from audit.models.interval import wilson
from audit.practice.blind_spots import blind_spots
from audit.practice.kinds import ways_of
from audit.practice.power import Power, Tally, measure_power
from audit.practice.power_files import COLUMNS, write_power
from audit.practice.power_page import power_page
from audit.practice.power_text import power_text
from audit.rules.plain import plain_text

shipped = cache(load_declarations)


@cache
def clean(boxes=30):
    return typed_season(shipped(), **invented_season(7, Style(boxes=boxes, second_visit=0.8)))


def seer(season, *, blind_to=(), wrong_in=(), always=()):
    """An audit that knows the season as it was meant."""
    meant = {
        (label, field): plain_text(value)
        for field in season.frame("handlings")
        for label, value in season.frame("handlings")[field].items()
    }
    typed = season.tables["handlings"].typed

    def audit(other):
        table = other.tables["handlings"]
        findings = [
            Finding(
                "seer.sees",
                "suspect",
                (Suspect(other.cell(label, field), "wrong" if field in wrong_in else meant[label, field]),),
                "It is known.",
            )
            for field in table.frame
            if field not in blind_to
            for label in table.frame.index[table.typed[field] != typed[field]]
        ]
        findings += [Finding("seer.ever", "error", (Suspect(other.cell(*at)),), "Ever.") for at in always]
        # a note is nothing that a person is asked to look at
        findings.append(
            Finding("seer.note", "note", (Suspect(other.cell(table.frame.index[0], "box")),), "?")
        )
        return Report(other.name, tuple(findings))

    return audit


def measured(audit, season=None, seed=1, each=2):
    season = season or clean()
    return measure_power(season, shipped(), audit, np.random.default_rng(seed), each=each)


# what is counted


def test_an_audit_that_sees_all_finds_and_mends_all():
    power = measured(seer(clean()))
    assert {tally.name for tally in power.tallies} >= {"net_g.not_subtracted", "tag.slid", "date.day_month"}
    assert all(tally.found.hits == tally.mended.hits == tally.planted for tally in power.tallies)
    assert max(tally.planted for tally in power.tallies) == 2
    assert (power.bothered, power.closed, power.stopped) == (0, 0, False)
    assert power.planted <= power.audits * len(clean().frame("handlings")) / 25


def test_an_audit_that_sees_nothing_finds_nothing():
    fields = list(clean().frame("handlings"))
    power = measured(seer(clean(), blind_to=fields))
    assert power.planted
    assert all(tally.found.hits == tally.mended.hits == 0 for tally in power.tallies)


def test_found_needs_one_changed_cell_and_mended_all_of_them():
    power = measured(seer(clean(), blind_to=["wing_mm"], wrong_in=["tag"]))
    by_name = {tally.name: tally for tally in power.tallies}
    exchanged = by_name["net_g.exchanged_with_wing"]
    assert (exchanged.found.hits, exchanged.mended.hits) == (2, 0)
    assert (by_name["tag.digit"].found.hits, by_name["tag.digit"].mended.hits) == (2, 0)
    assert by_name["wing_mm.digit"].found.hits == 0
    assert by_name["net_g.digit"].mended.hits == 2


def test_rows_that_are_blamed_as_they_are_stay_alone():
    labels = list(clean().frame("handlings").index)
    touched = set()

    def audit(other):
        table, was = other.tables["handlings"].typed, clean().tables["handlings"].typed
        touched.update(table.index[(table != was).any(axis=1)])
        return seer(clean(), always=[(label, "box") for label in labels[:20]])(other)

    power = measured(audit)
    assert power.closed == 20
    assert power.bothered == 0
    assert touched
    assert not touched & set(labels[:20])


def test_innocent_rows_that_are_pointed_at_are_counted():
    labels = list(clean().frame("handlings").index)
    calm, nervous = seer(clean()), seer(clean(), always=[(label, "box") for label in labels])
    turns = []

    def audit(other):
        turns.append(other)
        return calm(other) if len(turns) == 1 else nervous(other)

    power = measured(audit, each=1)
    assert power.bothered == power.innocent > 0


def test_the_season_stays_as_it_is_and_chance_can_be_repeated():
    season = typed_season(shipped(), **invented_season(7, Style(boxes=8)))

    def typed(seed):
        seen = []

        def audit(other):
            seen.append(other.tables["handlings"].typed.to_csv())
            return seer(season)(other)

        return measured(audit, season, seed, each=1), seen

    assert typed(1) == typed(1)
    assert typed(1)[1] != typed(2)[1]
    again = typed_season(shipped(), **invented_season(7, Style(boxes=8)))
    assert season.frame("handlings").equals(again.frame("handlings"))


BIRD = {"date": dt.date(2026, 6, 3), "box": "SL-04", "wing_mm": 205.0, "net_g": 373.0}


def three_birds():
    rows = [BIRD | {"ring": f"SV0112{i}", "wing_mm": 200.0 + i} for i in range(3)]
    return typed_season(shipped(), handlings=rows)


def test_three_birds_hold_one_slip_at_a_time():
    power = measured(lambda season: check(season, schemas=shipped()), three_birds(), each=1)
    assert power.audits == power.planted == len(power.tallies) > 20
    assert all(tally.planted == 1 for tally in power.tallies)
    assert ("date", "day and month exchanged") not in power.roomless
    assert ("wing_mm", "copied from the bird's last visit") in power.roomless
    columns = {name for names, _ in power.absent for name in names}
    assert {"tag", "gross_g", "bag_g", "species"} <= columns


def test_the_same_slip_is_never_made_twice():
    power = measured(seer(three_birds()), three_birds(), each=500)
    by_name = {tally.name: tally.planted for tally in power.tallies}
    # each of three birds has one net mass to be exchanged with its wing
    assert by_name["net_g.exchanged_with_wing"] == 3
    assert power.stopped
    assert power.audits == shipped().settings["practice.power.audits_most"].value


def test_nothing_can_be_planted_where_all_is_blamed():
    season = three_birds()
    power = measured(
        seer(season, always=[(label, "box") for label in season.frame("handlings").index]), season
    )
    assert (power.planted, power.audits, power.closed) == (0, 0, 3)
    assert "No slip could be planted" in power_text(power)
    assert "<table" not in power_page(power)


# what is told

HEADERS = {"ring": "Ring no.", "net_g": "Net (g)", "box": "Box"}


def told(**more):
    def tally(field, kind, n, found, mended):
        says = next(way.kind.says for way in ways_of((f"{field}.{kind}",)))
        return Tally(field, kind, says, wilson(found, n, 0.95), wilson(mended, n, 0.95))

    power = Power(
        season="sallow-levels",
        rows=120,
        closed=3,
        audits=9,
        tallies=(
            tally("box", "near_miss", 10, 10, 9),
            tally("ring", "digit", 10, 9, 9),
            tally("ring", "slid", 10, 1, 0),
            tally("net_g", "digit", 10, 4, 2),
        ),
        absent=(
            (("tag",), (("tag", "one digit wrong"), ("ring", "ring and tag in each other's column"))),
            (("gross_g", "bag_g"), (("net_g", "bag not subtracted"), ("net_g", "bag added"))),
        ),
        roomless=(("ring", "exchanged with a sibling of the same visit"),),
        headers=HEADERS,
        bothered=2,
        innocent=1040,
        stopped=True,
        blind=("Net mass alone hides a bag that was not subtracted: write gross and bag, too.",),
        confidence=0.95,
        seldom=0.5,
    )
    return replace(power, **more)


def test_what_is_printed():
    hold_against_golden("power.txt", power_text(told()) + "\n")


def test_lines_fit_a_terminal():
    power = measured(seer(clean()), each=1)
    assert max(map(len, power_text(power).splitlines())) <= 100


class _Seen(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.words = [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        assert not {name for name, _ in attrs if name.startswith("on") or name in ("src", "href")}

    def handle_data(self, data):
        self.words.append(data)


def test_the_page_is_still_and_says_the_same():
    page = _Seen()
    page.feed(power_page(told(headers={**HEADERS, "ring": "<b>Ring</b>"})))
    assert not {"script", "link", "img", "iframe", "b"} & set(page.tags)
    words = " ".join(" ".join(page.words).split())
    assert 'ring ("<b>Ring</b>")' in words
    for line in power_text(told()).splitlines():
        for piece in line.split("  "):
            if piece.strip() and "(" in piece and "%" in piece:
                assert piece.strip() in words


def test_the_table_holds_every_share(tmp_path):
    written = write_power(told(), tmp_path / "new")
    assert [path.name for path in written] == ["power.csv", "power.html"]
    with written[0].open(encoding="utf-8", newline="") as stream:
        lines = list(csv.DictReader(stream))
    assert tuple(lines[0]) == COLUMNS
    assert len(lines) == 4
    assert lines[1] == {
        "field": "ring",
        "kind": "digit",
        "says": "one digit wrong",
        "planted": "10",
        "found": "9",
        "found_share": "0.9",
        "found_low": "0.5958",
        "found_high": "0.9821",
        "mended": "9",
        "mended_share": "0.9",
        "mended_low": "0.5958",
        "mended_high": "0.9821",
    }


# what cannot be seen


@pytest.mark.parametrize(
    ("without", "said"),
    [
        ("handlings.gross_g", "Net mass alone hides a bag"),
        ("handlings.net_g", "leave nothing to add up"),
        ("handlings.wing_mm", "Without a wing"),
        ("handlings.brood_size", "Without the number of live young"),
        ("tag_reads", "Without a download of the hand reader"),
        ("tag_stock", "Without a list of the tags in hand"),
        ("ring_stock", "Without the strings of rings"),
        ("visits", "Without a list of visits"),
    ],
)
def test_what_is_not_there_is_said_to_hide_something(without, said):
    tables = invented_season(7, Style(boxes=8))
    full = blind_spots(typed_season(shipped(), **tables))
    assert not [sentence for sentence in full if said in sentence]
    table, _, field = without.partition(".")
    if field:
        tables[table] = [
            {name: value for name, value in row.items() if name != field} for row in tables[table]
        ]
    else:
        del tables[table]
    less = blind_spots(typed_season(shipped(), **tables))
    assert len([sentence for sentence in less if said in sentence]) == 1


def test_birds_handled_once_are_counted():
    said = " ".join(blind_spots(three_birds()))
    assert "3 of 3 birds were handled once" in said
    assert "A value misread in the field" in said
