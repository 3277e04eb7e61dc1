"""What lies on the desk for one finding: rows as typed, other sheets, choices, what is accepted as one."""

from __future__ import annotations

import csv
import gc
import random
import weakref
import zlib
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from benchmarks import blocks
from benchmarks.planting import apply
from benchmarks.scoring import same_value
from benchmarks.seasons import VARIANTS, first_season, other_season
from benchmarks.trials import label as label_of
from benchmarks.trials import read_typed
from dirty_seasons import declared, dirty_season
from typed_season import typed_season

from audit.checked import check_closely
from audit.checking import check, declarations_of, read_season
from audit.demo import demo_season
from audit.findings import Finding, Suspect
from audit.intake.amending import amend
from audit.practice.planting import plant
from audit.review import shelves as laid_out
from audit.review.exhibit import Candidate, exhibit
from audit.review.together import wrong_together
from audit.rules import RULES
from audit.rules.plain import plain_text
from audit.season import split_label

KEY = Path(__file__).parents[1] / "demo" / "planted-slips.csv"

DAY, LATER = "2026-06-10", "2026-06-20"


def bird(box, number, day=DAY, **more):
    return {
        "date": day,
        "box": box,
        "species": "barn_owl",
        "ring": f"SV0100{number}",
        "tag": f"99900000000000{number}",
        "age": "1",
        "event": "ringed" if day == DAY else "re-encountered",
        "gross_g": 300.0,
        "bag_g": 20.0,
        "net_g": 280.0,
        "wing_mm": 150.0,
        "remarks": "",
        **more,
    }


#: Rows 2 to 4 are one visit, 5 to 7 another, 8 to 10 the first brood again.
BIRDS = [
    *(bird("SL-01", number) for number in (1, 2, 3)),
    *(bird("SL-02", number) for number in (4, 5, 6)),
    *(bird("SL-01", number, LATER) for number in (1, 2, 3)),
]
TABLES = {
    "handlings": BIRDS,
    "visits": [{"date": day, "box": box, "alive": 3} for day in (DAY, LATER) for box in ("SL-01", "SL-02")],
    "boxes": [{"box": f"SL-0{number}", "capacity": 11} for number in (1, 2, 3)],
    "ring_stock": [
        {"prefix": "SV", "first": "01001", "last": "01100", "issued_to": "AB"},
        {"prefix": "SV", "first": "02001", "last": "02100", "issued_to": "AB"},
    ],
    "ring_losses": [{"ring": "SV01050", "fate": "lost"}],
    "tag_stock": [{"tag": f"99900000000000{number}", "batch": "B1"} for number in range(1, 10)],
    "tag_reads": [
        {"read_at": f"{DAY} 09:3{number}:00", "tag": f"99900000000000{number}", "reader": "R1"}
        for number in range(1, 7)
    ],
    "earlier": [
        {"date": "2025-06-01", "box": "SL-03", "ring": "SV01003", "tag": "999000000000003", "wing_mm": 250.0}
    ],
}


@cache
def checked(*without):
    tables = {name: rows for name, rows in TABLES.items() if name not in without}
    return check_closely(typed_season(declared(), **tables), declared(), ())


def row(number, table="handlings"):
    return f"{table}!{number}"


def finding(*suspects, witnesses=(), of=None, **more):
    """Make a finding: suspects are (label, field, suggestion), witnesses (label, field)."""
    season = (of or checked()).season
    blamed = tuple(Suspect(season.cell(label, field), meant, 0.9, 0.8) for label, field, meant in suspects)
    return Finding("t.one", "error", blamed, "Wrong.", tuple(season.cell(*one) for one in witnesses), **more)


def titles(shown):
    return [one.title for one in shown.excerpts]


def rows_of(one):
    return [split_label(line.label)[1] for line in one.lines]


def by_title(shown, title):
    return next(one for one in shown.excerpts if one.title == title)


# the sheet itself


def test_the_whole_visit_is_shown_with_two_rows_above_and_below():
    (own, *_) = exhibit(checked(), finding((row(6), "net_g", "270"))).excerpts
    assert (own.title, own.kind, own.left_out) == ("handlings as typed", "own", 0)
    assert rows_of(own) == [4, 5, 6, 7, 8]
    (own, *_) = exhibit(checked(), finding((row(2), "net_g", "270"))).excerpts
    assert rows_of(own) == [2, 3, 4]


def test_columns_that_are_empty_throughout_are_left_out_but_never_one_in_question():
    own = exhibit(checked(), finding((row(6), "net_g", "270"))).excerpts[0]
    assert "remarks" not in own.fields
    assert {"date", "box", "ring", "net_g"} <= set(own.fields)
    own = exhibit(checked(), finding((row(6), "remarks", "wet"))).excerpts[0]
    assert "remarks" in own.fields
    # the sheet has no such column at all
    own = exhibit(checked(), finding((row(6), "sex", "M"))).excerpts[0]
    at = own.fields.index("sex")
    assert {line.texts[at] for line in own.lines} == {""}
    assert own.suspects == {(row(6), "sex")}


def test_suspects_and_witnesses_are_marked_and_a_suspect_is_no_witness():
    told = finding((row(5), "tag", ""), witnesses=[(row(5), "tag"), (row(6), "tag"), (row(9), "ring")])
    shown = exhibit(checked(), told)
    own = shown.excerpts[0]
    assert own.suspects == {(row(5), "tag")}
    assert own.witnesses == {(row(6), "tag")}
    # a witness elsewhere on the sheet has an excerpt of its own
    assert by_title(shown, "Other birds that tell").witnesses == {(row(9), "ring")}


def test_texts_are_those_as_they_stand_and_amended_cells_are_named():
    before = checked().season
    now = check_closely(amend(before, declared(), row(6), "net_g", "270"), declared(), ())
    told = finding((row(6), "net_g", "275"), of=now)
    own = exhibit(now, told, as_typed=before).excerpts[0]
    assert own.lines[2].texts[own.fields.index("net_g")] == "270"
    assert own.amended == {(row(6), "net_g")}
    assert exhibit(now, told).excerpts[0].amended == frozenset()
    # a finding made before shows the cell as it stands now
    assert exhibit(now, finding((row(6), "net_g", "275"))).choices[0].cell.observed == "270"


def test_a_long_visit_is_cut_and_a_column_that_slid_is_shown_whole_up_to_a_number():
    birds = [bird("SL-01", 1, ring=f"SV{number:05}") for number in range(100)]
    long = check_closely(typed_season(declared(), handlings=birds), declared(), ())
    own = exhibit(long, finding((row(50), "net_g", ""), of=long)).excerpts[0]
    assert (len(own.lines), own.left_out) == (24, 76)
    assert rows_of(own) == list(range(38, 62))
    slid = finding(*((row(number), "ring", "") for number in range(20, 55)), of=long)
    own = exhibit(long, slid).excerpts[0]
    assert set(range(18, 57)) <= set(rows_of(own))
    every = finding(*((row(number), "ring", "") for number in range(2, 102)), of=long)
    own = exhibit(long, every).excerpts[0]
    assert (len(own.lines), own.left_out) == (60, 40)


def test_rows_that_are_gone_are_left_out():
    known = finding((row(6), "net_g", ""))
    gone = replace(known.suspects[0], cell=replace(known.suspects[0].cell, label=row(77)))
    shown = exhibit(checked(), replace(known, suspects=(*known.suspects, gone)))
    assert len(shown.choices) == 2
    assert shown.excerpts[0].suspects == {(row(6), "net_g")}
    assert exhibit(checked(), replace(known, suspects=(gone,))).excerpts == ()


# other sheets


def test_a_mass_question_shows_the_bird_at_its_other_visit_and_no_stock():
    shown = exhibit(checked(), finding((row(2), "net_g", "270")))
    assert titles(shown) == ["handlings as typed", "Ring SV01001 in this season"]
    life = shown.excerpts[1]
    assert rows_of(life) == [2, 8]
    assert {"gross_g", "bag_g", "net_g", "wing_mm"} <= set(life.fields)


def test_a_ring_question_shows_strings_losses_and_both_birds():
    shown = exhibit(checked(), finding((row(7), "ring", "SV01050")))
    assert titles(shown) == ["handlings as typed", "Strings of rings as issued", "Rings lost or destroyed"]
    assert rows_of(by_title(shown, "Strings of rings as issued")) == [2]
    shown = exhibit(checked(), finding((row(7), "ring", "SV01003")))
    assert titles(shown)[2:] == [
        "Ring SV01003, as suggested, in this season",
        "Ring SV01003, as suggested, in earlier seasons",
    ]
    # where no string holds a ring, the ones beside it
    shown = exhibit(checked(), finding((row(7), "ring", "SV01500")))
    assert rows_of(by_title(shown, "Strings of rings as issued")) == [2, 3]


def test_a_tag_question_shows_reads_stock_and_the_other_bird():
    shown = exhibit(checked(), finding((row(6), "tag", "999000000000009")))
    assert titles(shown) == [
        "handlings as typed",
        f"What the hand reader read on {DAY}",
        "Tags in stock",
    ]
    reads = shown.excerpts[1]
    assert reads.fields[-1] == "row"
    assert [line.texts[-1] for line in reads.lines] == ["3", "4", "5", "6", "7"]
    assert rows_of(shown.excerpts[2]) == [6, 10]
    shown = exhibit(checked(), finding((row(6), "tag", "999000000000001")))
    assert by_title(shown, "Tag 999000000000001, as suggested, in this season").lines[0].label == row(2)


def test_a_clock_that_was_off_is_set_right_beside_what_it_stored():
    tables = {
        **TABLES,
        "tag_reads": [
            {**read, "read_at": read["read_at"].replace("-10 ", "-17 ")} for read in TABLES["tag_reads"]
        ],
    }
    off = check_closely(typed_season(declared(), **tables), declared(), ())
    shown = exhibit(off, finding((row(6), "tag", "999000000000009"), of=off))
    reads = shown.excerpts[1]
    assert reads.title == f"What the hand reader read on {DAY}, its clock set right"
    stored, moment = (reads.fields.index(name) for name in ("read_at", "moment"))
    assert [(line.texts[stored][:10], line.texts[moment][:10]) for line in reads.lines] == [
        ("2026-06-17", DAY)
    ] * len(reads.lines)


def test_a_date_question_shows_the_visits_and_the_birds_of_the_day_that_may_be_meant():
    shown = exhibit(checked(), finding((row(4), "date", LATER)))
    assert by_title(shown, f"Birds of box SL-01 on {LATER}").lines[0].label == row(8)
    assert rows_of(by_title(shown, "Visits of box SL-01")) == [2, 4]
    assert "Ring SV01003 in this season" in titles(shown)
    assert f"What the hand reader read on {DAY}" in titles(shown)


def test_a_box_question_shows_both_boxes_and_their_visits():
    shown = exhibit(checked(), finding((row(7), "box", "SL-01")))
    assert rows_of(by_title(shown, "Table of boxes")) == [2, 3]
    assert by_title(shown, f"Birds of box SL-01 on {DAY}").lines[0].label == row(2)
    assert {"Visits of box SL-01", "Visits of box SL-02"} <= set(titles(shown))
    assert "Strings of rings as issued" not in titles(shown)


def test_a_question_about_a_visit_shows_its_birds():
    shown = exhibit(checked(), finding((row(2, "visits"), "alive", "4")))
    assert titles(shown) == ["visits as typed", f"Birds of box SL-01 on {DAY}"]


def test_a_loss_shows_the_bird_that_has_the_ring():
    tables = {**TABLES, "ring_losses": [{"ring": "SV01002", "fate": "lost"}]}
    lost = check_closely(typed_season(declared(), **tables), declared(), ())
    shown = exhibit(lost, finding((row(2, "ring_losses"), "ring", ""), of=lost))
    assert titles(shown)[1:] == ["Strings of rings as issued", "Ring SV01002 in this season"]


def test_a_time_or_a_ringer_needs_no_ring_and_no_stock():
    for field in ("ringer", "condition"):
        assert titles(exhibit(checked(), finding((row(6), field, "")))) == ["handlings as typed"]


def test_witnesses_in_other_sheets_are_always_shown():
    told = finding(
        (row(6), "net_g", ""), witnesses=[(row(2, "ring_stock"), "first"), (row(3, "boxes"), "box")]
    )
    shown = exhibit(checked(), told)
    marked = frozenset().union(*(one.witnesses for one in shown.excerpts))
    assert marked == {(row(2, "ring_stock"), "first"), (row(3, "boxes"), "box")}


def test_earlier_seasons_name_file_and_row():
    shown = exhibit(checked(), finding((row(4), "species", "")))
    assert by_title(shown, "Ring SV01003 in earlier seasons").lines[0].place == "earlier 2"


def test_seasons_with_few_sheets_have_less_to_show():
    alone = checked(*(name for name in TABLES if name != "handlings"))
    for field in ("ring", "tag", "date", "box", "net_g", "time", "species"):
        shown = exhibit(alone, finding((row(6), field, "SV01001"), of=alone))
        assert shown.excerpts[0].kind == "own"


# choices


def test_choices_are_the_suggestion_and_what_comes_next():
    told = finding((row(6), "net_g", "270"))
    suspect = replace(told.suspects[0], others=(("275", 0.1), ("208", 0.05)))
    (choice,) = exhibit(checked(), replace(told, suspects=(suspect,))).choices
    assert choice.p_error == 0.9
    assert choice.candidates == (Candidate("270", 0.8), Candidate("275", 0.1), Candidate("208", 0.05))
    (choice,) = exhibit(checked(), finding((row(6), "net_g", ""))).choices
    assert choice.candidates == ()


# whatever is found


DIRTY = (("first", 31, 14, ""), ("other", 34, 16, "two_species"))


@cache
def dirty(spec):
    return check_closely(dirty_season(*spec), declared(), RULES)


@pytest.mark.parametrize("spec", DIRTY, ids=str)
def test_every_finding_has_its_cells_before_the_eyes(spec):
    known = dirty(spec)
    assert len(known.report.findings) > 30
    for told in known.report.findings:
        shown = exhibit(known, told)
        blamed = {(one.cell.label, one.cell.field) for one in told.suspects}
        seen = {(cell.label, cell.field) for cell in told.witnesses} - blamed
        assert shown.excerpts[0].kind == "own"
        assert blamed == frozenset().union(*(one.suspects for one in shown.excerpts if one.kind == "own"))
        assert seen <= frozenset().union(*(one.witnesses for one in shown.excerpts))
        assert len(shown.choices) == len(told.suspects)
        for one in shown.excerpts:
            assert not one.suspects & one.witnesses
            assert len(one.fields) == len(one.heads) == len(set(one.fields))
            assert one.lines
            labels = [line.label for line in one.lines]
            assert len(labels) == len(set(labels))
            assert {label for label, _ in one.suspects | one.witnesses} <= set(labels)
            for line in one.lines:
                typed = known.season.tables[known.season.table_of(line.label)].typed.loc[line.label]
                assert len(line.texts) == len(one.fields)
                assert all(
                    text == typed[field]
                    for field, text in zip(one.fields, line.texts, strict=True)
                    if field in typed.index
                )


def test_shelves_taken_over_after_an_edit_say_what_new_ones_say():
    known = dirty(DIRTY[0])
    rng = random.Random(3)  # noqa: S311 - edits to be made the same again, no secret
    season, before = known.season, laid_out.Shelves(known.season, declared())
    before.prepare()
    typed = {name: table.typed for name, table in season.tables.items()}
    for _ in range(12):
        frame = typed[
            rng.choice([*["handlings"] * 4, "visits", "tag_stock", "tag_reads", "ring_stock", "boxes"])
        ]
        label, field = rng.choice(list(frame.index)), rng.choice(list(frame.columns))
        season = amend(season, declared(), label, field, frame.loc[rng.choice(list(frame.index)), field])
        before, new = laid_out.Shelves(season, declared(), before), laid_out.Shelves(season, declared())
        for one in (before, new):
            one.prepare()
        assert before.reads() == new.reads()
        assert before.strings() == new.strings()
        for table in season.tables:
            assert before.visits(table) == new.visits(table)
            for code in ("ring", "tag"):
                for text in rng.sample(sorted(set(typed["handlings"][code])), 20):
                    look = f"of_{code}"
                    assert getattr(before, look)(table, text) == getattr(new, look)(table, text)


def test_an_older_season_is_let_go():
    old = typed_season(declared(), **TABLES)
    exhibit(check_closely(old, declared(), ()), finding((row(6), "tag", "")))
    gone = weakref.ref(old.tables["handlings"].typed)
    exhibit(checked(), finding((row(6), "tag", "")))
    del old
    gc.collect()
    assert gone() is None


# accepted as one


#: Slips that change several cells at once.
MANY = (
    *("sibling", "slid", "series", "exchanged_with_tag"),
    *("exchanged_with_bag", "exchanged_with_net", "exchanged_with_wing"),
)
WIDE = (
    ("first", 50, "tag page down doubled"),
    ("other", 51, "ring page up empty"),
    ("first", 52, "gross_g page down empty"),
    ("first", 54, "date a day off"),
    ("first", 56, "broods exchanged"),
)


def made_season(generator, seed, boxes):
    variant = replace(VARIANTS[0], style={"boxes": boxes}, ways={"boxes": boxes})
    return first_season(seed, variant) if generator == "first" else other_season(seed, variant, "mixed")


def planted(generator, seed, kinds, apart):
    made = made_season(generator, seed, 12)
    clean = read_typed(made, apply(made.tables["handlings"], []))
    rng = np.random.default_rng([seed, 29])
    season, key = plant(clean, declared(), rng, kinds=kinds, each=1, apart=apart)
    return check(season, schemas=declared()), {place: change.meant for place, change in key.changes.items()}


def block(generator, seed, kind):
    made = made_season(generator, seed, 30)
    rows = [{name: plain_text(value) for name, value in one.items()} for one in made.tables["handlings"]]
    rng = np.random.default_rng([seed, zlib.crc32(kind.encode())])
    changes = blocks.KINDS[kind](rows, rng)
    key = {(label_of(i), name): rows[i].get(name, "") for i, name, _ in changes}
    for i, name, text in changes:
        rows[i][name] = text
    return check(read_typed(made, rows), schemas=declared()), key


def demo():
    workbook, schemas = demo_season()
    own = declarations_of(schemas)
    with KEY.open(encoding="utf-8", newline="") as stream:
        key = {(f"{one['sheet']}!{one['row']}", one["field"]): one["true"] for one in csv.DictReader(stream)}
    return check(read_season(workbook, schemas=own), schemas=own), key


@pytest.fixture(scope="module")
def judged():
    """Findings with several suspects: which of them are wrong, and which suggestions right."""
    seasons = [
        demo(),
        *(planted(generator, seed, MANY, None) for generator in ("first", "other") for seed in (41, 42)),
        *(planted(generator, 42, None, 2) for generator in ("first", "other")),
        *(block(*wide) for wide in WIDE),
    ]
    found = []
    for report, key in seasons:
        for told in report.above_notes:
            if len(told.suspects) > 1:
                places = [(one.cell.label, one.cell.field) for one in told.suspects]
                right = [
                    bool(one.suggested) and same_value(one.suggested, key.get(place, "\0"))
                    for place, one in zip(places, told.suspects, strict=True)
                ]
                found.append((told, [place in key for place in places], right))
    return found


def test_accepting_as_one_changes_wrong_cells_into_right_ones(judged):
    accepted = [one for one in judged if wrong_together(one[0], declared())]
    assert len(accepted) > 20
    changed = [
        (wrong, right)
        for told, wrongs, rights in accepted
        for suspect, wrong, right in zip(told.suspects, wrongs, rights, strict=True)
        if suspect.suggested
    ]
    assert len(changed) > 90
    assert sum(wrong for wrong, _ in changed) >= 0.95 * len(changed)
    assert sum(right for _, right in changed) >= 0.95 * len(changed)


def test_alternatives_are_never_accepted_as_one(judged):
    alternatives = [told for told, wrong, _ in judged if sum(wrong) == 1]
    assert len(alternatives) >= 3
    assert not any(wrong_together(told, declared()) for told in alternatives)


def test_most_slips_that_moved_many_cells_can_be_accepted_as_one(judged):
    moved = [told for told, wrong, _ in judged if all(wrong)]
    assert sum(wrong_together(told, declared()) for told in moved) >= 0.8 * len(moved)


@pytest.mark.parametrize(
    ("chances", "as_one"),
    [
        ((0.5, 0.5), False),
        ((0.98, 0.02), False),
        ((0.4, 0.35, 0.25), False),
        ((0.9, 0.5), False),
        ((0.9, 0.9), True),
    ],
)
def test_the_least_sure_cell_decides(chances, as_one):
    cells = [(row(5), "tag", "1"), (row(6), "tag", "2"), (row(7), "tag", "3")][: len(chances)]
    told = finding(*cells)
    blamed = tuple(replace(one, p_error=p) for one, p in zip(told.suspects, chances, strict=True))
    assert exhibit(checked(), replace(told, suspects=blamed)).together is as_one


def test_a_single_cell_is_accepted_however_unsure_it_is():
    assert exhibit(checked(), finding((row(6), "net_g", "270"))).together
