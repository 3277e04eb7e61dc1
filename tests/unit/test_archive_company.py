"""Rows unlike their team, visit or season, looked for on two engines; the seasons are invented."""

from __future__ import annotations

import dataclasses

import pandas as pd
import pytest
from archive_rows import DECLARED, ENGINES, kept, relation, worked_out

from audit.archive.brood_counts import SeasonLimits, mixed_kinds, odd_broods, out_of_season, unknown_young
from audit.archive.engine import Raw
from audit.archive.near_rows import rows_near
from audit.archive.odd_forms import FormLimits, odd_bags, odd_legs, odd_rings, odd_tags
from audit.archive.ring_lives import met_again
from audit.archive.sieve import Sieved
from audit.archive.surroundings import around_boxes, beside_boxes
from audit.archive.tag_lives import changed_tags, changed_young
from audit.archive.visit_orders import OrderLimits, beside_their_visit, out_of_order

#: A nestling as it is laid out and marked.
YOUNG = {
    **dict.fromkeys(("scheme", "team"), ""),
    "season": "2019",
    "date": "2019-06-01",
    "box": "SL-01",
    "kind": "barn_owl",
    "event": "ringed",
    "age": "1",
}


def limits(kind):
    numbers = DECLARED.settings
    return kind(
        **{name: float(numbers[f"archive.company.{name}"].value) for name in kind.__dataclass_fields__}
    )


FORMS, ORDERS, SEASONS = (limits(kind) for kind in (FormLimits, OrderLimits, SeasonLimits))


@dataclasses.dataclass
class Engine:
    """As much of an engine as these questions need."""

    name: str

    def table(self, frame, _name):
        return relation(frame, self.name)

    def keep(self, found, _name):
        return kept(found)

    def frame(self, found):
        return worked_out(found)


@pytest.fixture(params=ENGINES)
def engine(request):
    return Engine(request.param)


def at(engine, found):
    return {int(one) for one in engine.frame(found)["at"]}


def ringed(number, **more):
    return {"ring": f"SV{number:05}", "tag": f"9990000000{number:05}", **more}


def team(many, **more):
    """Broods of four, box after box."""
    return [ringed(100 + n, box=f"SL-{n // 4:02}", **more) for n in range(many)]


def rows_of(engine, rows):
    """Lay rows out, by days since 1970, and with what a bird is known by."""
    frame = pd.DataFrame([{**YOUNG, **row} for row in rows])
    for name in {"date", "hatch_date"} & set(frame.columns):
        frame[name] = (pd.to_datetime(frame[name]) - pd.Timestamp(0)).dt.days.astype("float64")
    frame = frame.assign(at=range(len(frame)), day=frame["date"], pullus=frame["age"] == "1", dead=False)
    return relation(frame, engine.name)


marks = rows_of


# forms


@pytest.mark.parametrize(
    "odd",
    [
        {"ring": "SV0012"},
        {"ring": "SV001200"},
        {"ring": "SV0O120"},
        {"ring": "SW00120"},
        {"ring": "999000000000120", "tag": "SV00120"},
        {"kind": "great_tit"},
    ],
)
def test_a_ring_unlike_those_of_its_team(engine, odd):
    rows = team(24)
    assert at(engine, odd_rings(engine, marks(engine, rows), FORMS)) == set()
    rows[7] |= odd
    assert at(engine, odd_rings(engine, marks(engine, rows), FORMS)) == {7}


def test_a_prefix_of_few_rings_and_a_series_of_two_species_are_no_slip(engine):
    rows = [*team(24), *({"ring": f"SK{n:05}"} for n in range(3))]
    assert at(engine, odd_rings(engine, marks(engine, rows), FORMS)) == set()
    shared = [row | {"kind": "great_tit" if n % 3 else "barn_owl"} for n, row in enumerate(team(24))]
    shared[5] |= {"kind": "common_kestrel"}
    assert at(engine, odd_rings(engine, marks(engine, shared), FORMS)) == set()


@pytest.mark.parametrize(
    "odd", ["99900000000012", "9990000000001200", "999010000000120", "999000000000O12", "99900000000B012"]
)
def test_a_tag_unlike_those_of_its_team(engine, odd):
    rows = team(24)
    assert at(engine, odd_tags(marks(engine, rows), FORMS)) == set()
    assert at(engine, odd_tags(marks(engine, [*rows, ringed(130, tag=odd)]), FORMS)) == {24}
    # three of another batch are no slips
    many = [ringed(100 + n) for n in range(80)]
    batch = [ringed(900 + n, tag=f"99901000000{n:04}") for n in range(3)]
    assert at(engine, odd_tags(marks(engine, [*many, *batch]), FORMS)) == set()
    # one that was fitted in another year may begin otherwise
    old = ringed(130, tag="999010000000120", event="re-encountered")
    assert at(engine, odd_tags(marks(engine, [*rows, old]), FORMS)) == set()


def test_a_leg_unlike_those_of_its_team(engine):
    rows = team(24, ring_leg="R", tag_leg="L")
    stored = {"ring_leg": "text", "tag_leg": "text"}

    def legs(*given):
        return at(engine, odd_legs(rows_of(engine, given), stored, FORMS))

    assert legs(*rows) == set()
    assert legs(*rows, ringed(130, ring_leg="L", tag_leg="L")) == {24}
    assert legs(*rows[:12], *(row | {"ring_leg": "L"} for row in rows[12:])) == set()
    assert at(engine, odd_legs(rows_of(engine, rows), {}, FORMS)) == set()


# order


def order(engine, rows):
    return at(engine, out_of_order(marks(engine, rows), ORDERS, engine.keep))


def test_rings_that_were_exchanged_or_slid_within_a_visit(engine):
    rows = team(24)
    assert order(engine, rows) == set()
    rings = [row["ring"] for row in rows]
    exchanged = [row | {"ring": rings[{9: 10, 10: 9}.get(n, n)]} for n, row in enumerate(rows)]
    assert order(engine, exchanged) == {8, 9, 10, 11}
    slid = [row | {"ring": rings[{4: 5, 5: 6, 6: 7, 7: 4}.get(n, n)]} for n, row in enumerate(rows)]
    assert order(engine, slid) == {4, 5, 6, 7}
    # a lost ring, and a new string, leave the order as it is
    lost = [ringed(n + (n > 102) + (n > 113) * 886, box=row["box"]) for n, row in enumerate(rows, 100)]
    assert order(engine, lost) == set()
    # the last ring of a visit is the first of a new string
    assert order(engine, [*rows[:11], rows[11] | {"ring": "SV02001"}, *rows[12:]]) == set()


def test_a_team_that_does_not_type_its_rings_in_order(engine):
    rows = team(24)
    assert order(engine, [rows[n ^ 1] for n in range(24)]) == set()


def test_a_ring_far_from_all_others_of_its_visit(engine):
    rows = team(24)
    assert order(engine, [*rows[:9], rows[9] | {"ring": "SV00190"}, *rows[10:]]) == {9}


def beside(engine, rows):
    return set(beside_their_visit(engine, marks(engine, rows), ORDERS)["at"].astype(int))


@pytest.mark.parametrize("odd", [{"box": "SL-99"}, {"date": "2019-06-11"}])
def test_a_bird_that_stands_beside_its_visit(engine, odd):
    rows = team(12)
    assert beside(engine, rows) == set()
    rows[5] |= odd
    assert beside(engine, rows) == {5}
    # sorted by something else the rings alone tell
    assert beside(engine, [*rows[:5], *rows[6:], rows[5]]) == {11}


def test_the_last_bird_of_a_visit_in_a_box_of_its_own(engine):
    """The rings beside it are of two visits of the day: that its box is known of nothing else tells."""
    rows = team(12)
    rows[7] |= {"box": "SL-99"}
    assert beside(engine, rows) == {7}


def test_a_grown_bird_of_another_day_than_the_rows_around_it(engine):
    old = ringed(90001, box="SL-01", age="6", event="re-encountered")
    rows = [*team(8), old, *team(12)[8:]]
    assert beside(engine, rows) == set()
    rows[8] = old | {"date": "2019-06-11"}
    assert beside(engine, rows) == {8}


def test_a_brood_of_one(engine):
    rows = [ringed(100 + n, box=f"SL-{n:02}") for n in range(6)]
    assert beside(engine, rows) == set()
    assert beside(engine, [row | {"ring": None, "tag": None} for row in rows]) == set()


# broods and seasons


def test_brood_sizes_and_ages_that_do_not_go_together(engine):
    rows = team(8, brood_size=4.0, hatch_date="2019-05-02", age_days=30.0)
    stored = dict.fromkeys(("brood_size", "hatch_date", "age_days"), "number")

    def broods(*given):
        return at(engine, odd_broods(rows_of(engine, given), stored, SEASONS))

    assert broods(*rows) == set()
    assert broods(*rows[:5], rows[5] | {"brood_size": 14.0}, *rows[6:]) == {4, 5, 6, 7}
    assert broods(*rows[:5], rows[5] | {"age_days": 3.0}, *rows[6:]) == {5}
    assert broods(*rows[:5], rows[5] | {"hatch_date": "2019-07-02", "age_days": float("nan")}, *rows[6:]) == {
        5
    }


def test_days_far_from_their_season(engine):
    rows = team(20)
    rows[3] |= {"date": "2018-06-01"}
    assert at(engine, out_of_season(engine, marks(engine, rows), SEASONS)) == {3}
    # a season that is named otherwise, and one that is another year throughout
    assert (
        at(engine, out_of_season(engine, marks(engine, [row | {"season": "x"} for row in rows]), SEASONS))
        == set()
    )
    other = [row | {"season": "2017"} for row in rows]
    assert at(engine, out_of_season(engine, marks(engine, other), SEASONS)) == set()


def test_young_that_are_met_again_without_having_been_ringed(engine):
    later = {"date": "2019-06-15", "event": "re-encountered"}
    rows = [*team(20), *(row | later for row in team(20))]

    def unknown(given):
        told = marks(engine, given)
        return at(engine, unknown_young(told, kept(met_again(told)), SEASONS))

    assert unknown(rows) == set()
    assert unknown([*rows, ringed(901, **later)]) == {40}
    rows[7] |= {"event": "re-encountered"}
    assert unknown(rows) == {7}
    # a team that meets the young of others
    assert unknown([row | {"event": "re-encountered"} for row in team(20)]) == set()


def test_a_nestling_with_two_tags_in_one_season(engine):
    rows = [ringed(100), ringed(100, date="2019-06-15", tag="999000000000777", event="re-encountered")]
    rows += [
        ringed(101),
        ringed(101, date="2021-06-15", tag="999000000000778", age="6", event="re-encountered"),
    ]
    assert at(engine, changed_young(kept(met_again(marks(engine, rows))))) == {0, 1}


def test_a_bird_that_has_another_tag_than_before(engine):
    grown = {"age": "6", "event": "re-encountered"}
    rows = [
        ringed(100),
        ringed(100, date="2020-06-15", **grown),
        ringed(100, date="2021-06-15", tag="999000000000108", **grown),
        ringed(101),
        ringed(101, date="2021-06-15", **grown),
        ringed(102),
        ringed(102, date="2020-06-15", tag=None, **grown),
    ]
    assert at(engine, changed_tags(kept(met_again(marks(engine, rows))))) == {2}


def test_a_nestling_in_two_boxes_of_one_season(engine):
    rows = [ringed(100), ringed(100, date="2019-06-15", box="SL-09", event="re-encountered")]
    assert at(engine, changed_young(kept(met_again(marks(engine, rows))))) == {0, 1}


def test_a_bag_unlike_those_of_its_team(engine):
    rows = team(8, bag=22.0, kind="barn_owl")
    rows += [ringed(900, bag=7.0, kind="great_tit"), ringed(901, bag=None, kind="great_tit")]
    assert at(engine, odd_bags(marks(engine, rows), FORMS)) == set()
    rows[3] |= {"bag": 2.2}
    assert at(engine, odd_bags(marks(engine, rows), FORMS)) == {3}


def test_boxes_of_a_team_with_rings_out_of_order(engine):
    rows = [row | {"team": name} for name in "AB" for row in team(12)]
    rows += [ringed(900, box="SL-00", team="A", event="re-encountered"), ringed(901, box="", team="A")]
    told = marks(engine, rows)
    some, none = (relation(pd.DataFrame({"at": one}), engine.name) for one in ([5], [26]))
    assert at(engine, beside_boxes(told, none, some, boxes=2)) == {*range(8), 24}


def test_boxes_that_are_there_already_show_the_order_of_rings_too(engine):
    told = marks(engine, [row | {"team": name} for name in "AB" for row in team(12)])
    order = relation(pd.DataFrame({"at": [5, 17]}), engine.name)
    # two birds of a box of A, one bird of a box of B
    near = relation(pd.DataFrame({"at": [0, 1, 12]}), engine.name)
    assert at(engine, beside_boxes(told, near, order, boxes=2)) == {4, 5, 6, 7, *range(12, 20)}


def test_of_some_rows_the_bird_alone_goes_along(engine):
    rows = [*team(12), ringed(100, box="SL-09", event="re-encountered")]
    looked, birds = (relation(pd.DataFrame({"at": some}), engine.name) for some in ([5], [0]))
    assert at(engine, around_boxes(marks(engine, rows), looked, birds, rows_of_box=50)) == {0, 4, 5, 6, 7, 12}


@pytest.mark.parametrize(("season", "siblings"), [("2019", {8, 9, 10, 11}), ("2018", {8})])
def test_a_row_that_another_season_contradicts_needs_no_siblings(engine, season, siblings):
    rows = team(12)
    for row in rows[8:]:
        row["season"] = season
    told = marks(engine, rows)
    pair = pd.DataFrame({"rule": ["two_boxes"], "at": [1], "other": [8]})
    found = Sieved(pd.DataFrame({"at": [], "reason": []}), pd.DataFrame(), pair, pd.DataFrame())
    near = rows_near(engine, Raw(told, {}), told, found, DECLARED, {})
    assert at(engine, near) == {0, 1, 2, 3} | siblings


def test_young_of_several_species_in_one_box(engine):
    rows = team(12)
    assert at(engine, mixed_kinds(marks(engine, rows))) == set()
    rows[5]["kind"] = "common_kestrel"
    rows[8] |= {"kind": "common_kestrel", "age": "6"}
    assert at(engine, mixed_kinds(marks(engine, rows))) == {5}
