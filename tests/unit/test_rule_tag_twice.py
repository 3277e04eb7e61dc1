"""One tag, one ring: who is blamed, what is suggested, and who is left in peace."""

from __future__ import annotations

import datetime as dt
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import invented_season
from typed_season import ask, blamed, typed_season

from audit.declarations import load_declarations
from audit.practice.planting import plant
from audit.rules import tag_twice

DAY = dt.date(2026, 6, 3)
LATER = dt.date(2026, 6, 17)
LAST = dt.date(2026, 7, 1)

shipped = cache(load_declarations)

# Invented tags of the test range, far apart and three of them one slip from each other.
A, B, C, D = "999104000000111", "999104000002226", "999104000003347", "999104000004489"


def row(ring, tag, date=DAY, box="SL-01", **more):
    event = "ringed" if date == DAY else "re-encountered"
    return {"date": date, "box": box, "ring": ring, "tag": tag, "event": event, "remarks": None} | more


def others(n=30):
    """Birds of other boxes, so that the season has a habit; tags near those above."""
    return [
        row(f"SV{1101 + i:05d}", f"99910400000{5001 + 37 * i}", box=f"SL-{i // 4 + 11:02d}") for i in range(n)
    ]


def verdict(rows, *, reads=None, stock=None, doubted=frozenset()):
    tables = {"handlings": [*rows, *others()]}
    if reads is not None:
        tables["tag_reads"] = [
            {"read_at": dt.datetime.combine(date, dt.time(10, i)), "tag": tag}
            for i, (date, tag) in enumerate(reads)
        ]
    if stock is not None:
        tables["tag_stock"] = [{"tag": tag} for tag in stock]
    return ask(tag_twice.RULE, typed_season(shipped(), **tables), shipped(), doubted)


def messages(answers):
    return [answer.message for answer in answers]


def at(i, field="tag"):
    """Cell of the i-th row given."""
    return (f"handlings!{i + 2}", field)


def test_a_clean_season_gives_nothing():
    rows = [row("SV01001", A), row("SV01002", B), row("SV01001", A, LATER), row("SV01002", B, LATER)]
    assert verdict(rows) == []


@pytest.mark.parametrize(
    ("seed", "without"), [(1, ()), (2, ("tag_stock",)), (3, ("tag_reads",)), (4, ("tag_stock", "tag_reads"))]
)
def test_invented_seasons_are_innocent(seed, without):
    season = {name: rows for name, rows in invented_season(seed).items() if name not in without}
    assert ask(tag_twice.RULE, typed_season(shipped(), **season), shipped()) == []


def test_a_tag_copied_from_the_row_above_is_blamed_below():
    answers = verdict([row("SV01001", A), row("SV01002", A), row("SV01003", C)])
    assert blamed(answers) == {at(1): ("tag_twice.on_two_rings", "")}
    assert messages(answers) == [
        (
            "Tag 999104000000111 stands on ring SV01002 (2026-06-03) and on ring SV01001 (2026-06-03); the "
            "tag was probably copied from the row above."
        )
    ]


def test_the_reader_tells_what_the_copied_tag_hides():
    reads = [(DAY, A), (DAY, B), (DAY, C)]
    answers = verdict([row("SV01001", A), row("SV01002", A), row("SV01003", C)], reads=reads)
    assert blamed(answers) == {at(1): ("tag_twice.on_two_rings", B)}
    assert messages(answers)[0].endswith(
        f"the tag was probably copied from the row above, {B} is probably meant."
    )


def test_a_bird_with_the_tag_at_several_visits_keeps_it():
    rows = [
        row("SV01001", A),
        row("SV01002", B),
        row("SV01001", A, LATER),
        row("SV01002", B, LATER),
        row("SV01001", A, LAST),
        row("SV01002", A, LAST),
    ]
    assert blamed(verdict(rows)) == {at(5): ("tag_twice.on_two_rings", B)}


def test_a_tag_slip_at_the_second_visit_is_told_by_the_reader():
    typed = A[:-1] + "7"
    rows = [row("SV01001", A), row("SV01001", typed, LATER)]
    answers = verdict(rows, reads=[(DAY, A), (LATER, A)])
    assert blamed(answers) == {at(1): ("tag_twice.changed_between_visits", A)}
    assert messages(answers) == [
        (
            "Ring SV01001 has tag 999104000000111 on 2026-06-03 and tag 999104000000117 on 2026-06-17; one "
            "digit is wrong in 999104000000117, 999104000000111 is probably meant."
        )
    ]


def test_a_tag_slip_is_told_by_the_stock():
    typed = A[:-1] + "7"
    rows = [row("SV01001", A), row("SV01001", typed, LATER)]
    stock = [A, B, *(other["tag"] for other in others())]
    assert blamed(verdict(rows, stock=stock)) == {at(1): ("tag_twice.changed_between_visits", A)}
    rows = [row("SV01001", typed), row("SV01001", A, LATER)]
    assert blamed(verdict(rows, stock=stock)) == {at(0): ("tag_twice.changed_between_visits", A)}


def test_two_of_three_visits_outvote_the_third():
    rows = [row("SV01001", A), row("SV01001", A[:-1] + "7", LATER), row("SV01001", A, LAST)]
    assert blamed(verdict(rows)) == {at(1): ("tag_twice.changed_between_visits", A)}


def test_without_evidence_both_rows_share_the_blame():
    typed = A[:-1] + "7"
    answers = verdict([row("SV01001", A), row("SV01001", typed, LATER)])
    assert blamed(answers) == {
        at(0): ("tag_twice.changed_between_visits", typed),
        at(1): ("tag_twice.changed_between_visits", A),
    }
    assert [suspect.p_error for suspect in answers[0].suspects] == pytest.approx([0.5, 0.5], abs=0.05)
    assert messages(answers) == [
        (
            f"Ring SV01001 has tag {A} on 2026-06-03 and tag {typed} on 2026-06-17; which of the rows is "
            "wrong cannot be told from the sheet alone: the download of the reader, the list of tags in "
            "stock, the field sheet of either day, or the bird read once more would tell."
        )
    ]


def test_a_new_tag_is_a_legal_history_and_only_wants_a_remark():
    rows = [row("SV01001", A), row("SV01001", C, LATER)]
    answers = verdict(rows)
    assert blamed(answers) == {}
    assert messages(answers) == [
        (
            "Ring SV01001 had tag 999104000000111 on 2026-06-03 and has 999104000003347 on 2026-06-17: if "
            "it was tagged again, say so in the remarks."
        )
    ]
    rows[1]["remarks"] = "Tag lost, new tag fitted"
    assert verdict(rows) == []


def test_a_near_new_tag_that_the_reader_stored_is_a_new_tag():
    near = A[:-1] + "7"
    rows = [row("SV01001", A), row("SV01001", near, LATER, remarks="new tag")]
    assert verdict(rows, reads=[(DAY, A), (LATER, near)]) == []


@pytest.mark.parametrize(
    "remark",
    [
        "Tag lost, new one",
        "Transponder verloren, ersetzt",
        "puce perdue, remplacée",
        "etiqueta nueva",
        "chip vervangen",
    ],
)
def test_a_remark_in_any_language_makes_a_new_tag_legal(remark):
    assert verdict([row("SV01001", A), row("SV01001", C, LATER, remarks=remark)]) == []
    # or it was found lost at a visit before the new one was fitted
    rows = [row("SV01001", A), row("SV01001", None, LATER, remarks=remark), row("SV01001", C, LAST)]
    assert verdict(rows) == []


def test_a_remark_about_another_visit_does_not_count():
    rows = [row("SV01001", A, remarks="tag fitted"), row("SV01001", C, LATER)]
    assert [answer.rule for answer in verdict(rows)] == ["tag_twice.tagged_again"]


def worn(**more):
    """A brood of three, of which the second has a new ring at the later visit."""
    rings = ("SV01001", "SV01002", "SV01003")
    rows = [row(ring, tag) for ring, tag in zip(rings, (A, B, C), strict=True)]
    rows += [row(ring, tag, LATER) for ring, tag in zip(rings, (A, B, C), strict=True)]
    rows[4] |= {"ring": "SV01131"} | more
    return rows


@pytest.mark.parametrize("event", ["ringed", "re-encountered"])
@pytest.mark.parametrize(
    "remark",
    [
        "worn ring replaced",
        "Re-ringed",
        "Ring ersetzt, abgenutzt",
        "umberingt",
        "rebaguée",
        "anilla nueva",
        "nieuwe ring",
    ],
)
def test_a_worn_ring_replaced_is_a_legal_history(event, remark):
    assert verdict(worn(event=event, remarks=remark)) == []


def test_a_ring_replaced_without_a_word_is_noted():
    answers = verdict(worn(event="ringed"))
    assert blamed(answers) == {}
    assert [(answer.rule, answer.severity) for answer in answers] == [("tag_twice.ringed_again", "note")]
    assert messages(answers) == [
        (
            f"The bird with tag {B} had ring SV01002 on 2026-06-03 and has SV01131 on 2026-06-17: if its "
            "ring was replaced, say so in the remarks."
        )
    ]


@pytest.mark.parametrize(("day", "legal"), [(LATER, True), (DAY, True), (DAY - dt.timedelta(days=9), False)])
def test_a_ring_that_the_losses_take_off_its_bird_was_replaced(day, legal):
    tables = {"handlings": [*worn(ring="SV09999"), *others()]}
    tables["ring_losses"] = [{"ring": "SV01002", "fate": "destroyed", "date": day}]
    answers = ask(tag_twice.RULE, typed_season(shipped(), **tables), shipped())
    assert (answers == []) == legal


def test_a_ring_that_comes_back_was_never_replaced():
    rows = [*worn(), row("SV01002", B, LAST)]
    assert blamed(verdict(rows)) == {at(4, "ring"): ("tag_twice.on_two_rings", "SV01002")}


@pytest.mark.parametrize("typed", ["SV91846", "SV10274"])
def test_a_ring_out_of_line_is_wrong_rather_than_the_tag_of_its_bird(typed):
    # two digits wrong, or any number: the tag says who it is
    rows = worn(ring=typed)
    answers = verdict(rows)
    assert blamed(answers) == {at(4, "ring"): ("tag_twice.on_two_rings", "SV01002")}
    assert answers[0].suspects[0].p_error > 0.9


def test_the_same_bird_in_the_row_above_is_no_copy():
    # sheets in the order of the rings: each bird's visits stand together
    rows = [row("SV01001", A), row("SV01001", A, LATER), row("SV91007", B), row("SV01002", B, LATER)]
    assert blamed(verdict(rows)) == {at(2, "ring"): ("tag_twice.on_two_rings", "SV01002")}


def test_many_slips_in_one_brood_are_each_given_to_their_bird():
    rings = ("SV01001", "SV01002", "SV01003", "SV01004")
    rows = [
        row(ring, tag, day)
        for day in (DAY, LATER, LAST)
        for ring, tag in zip(rings, (A, B, C, D), strict=True)
    ]
    rows[5]["ring"], rows[6]["tag"], rows[11]["ring"] = "SV01003", A, "SV01002"
    answers = verdict(rows)
    assert "tangled" in messages(answers)[0]
    assert blamed(answers) == {
        at(5, "ring"): ("tag_twice.on_two_rings", "SV01002"),
        at(6): ("tag_twice.on_two_rings", C),
        at(11, "ring"): ("tag_twice.on_two_rings", "SV01004"),
    }


def test_what_would_decide_is_what_the_season_lacks():
    typed = A[:-1] + "7"
    rows = [row("SV01001", A), row("SV01001", typed, LATER)]
    stock = [A, typed, *(other["tag"] for other in others())]
    (said,) = messages(verdict(rows, stock=stock))
    assert said.endswith(
        "cannot be told from the sheet alone: the download of the reader, the field sheet of either day, or "
        "the bird read once more would tell."
    )
    (said,) = messages(verdict(rows, stock=stock, reads=[(DAY, C), (LATER, C)]))
    assert said.endswith("alone: the field sheet of either day, or the bird read once more would tell.")


def test_siblings_tags_exchanged_at_the_later_visit_are_one_finding():
    rows = [row("SV01001", A), row("SV01002", B), row("SV01001", B, LATER), row("SV01002", A, LATER)]
    answers = verdict(rows)
    # the rings came off the string in order, so the later visit is likelier wrong: its tags or its rings
    assert blamed(answers) == {
        at(2): ("tag_twice.exchanged", A),
        at(3): ("tag_twice.exchanged", B),
        at(2, "ring"): ("tag_twice.exchanged", "SV01002"),
        at(3, "ring"): ("tag_twice.exchanged", "SV01001"),
    }
    assert messages(answers) == [
        (
            "On 2026-06-17 the birds SV01001 and SV01002 have each other's tags, compared with those on "
            "2026-06-03: the tags or the rings were probably exchanged."
        )
    ]
    # tags are wrong in 1.5 % of cells, rings in 1 %; or the tags of the first visit are wrong
    assert [suspect.p_error for suspect in answers[0].suspects] == pytest.approx(
        [0.37, 0.37, 0.25, 0.25], abs=0.03
    )
    assert {cell.label for cell in answers[0].witnesses} == {"handlings!2", "handlings!3"}


@pytest.mark.parametrize("wrong", ["first", "second"])
def test_the_order_of_the_reader_tells_the_exchanged_visit(wrong):
    rows = [row("SV01001", A), row("SV01002", B), row("SV01001", B, LATER), row("SV01002", A, LATER)]
    # the reader stores the birds in the order of the sheet
    reads = (
        [(DAY, A), (DAY, B), (LATER, A), (LATER, B)]
        if wrong == "second"
        else [(DAY, B), (DAY, A), (LATER, B), (LATER, A)]
    )
    answers = verdict(rows, reads=reads)
    places = (2, 3) if wrong == "second" else (0, 1)
    assert set(blamed(answers)) == {at(place) for place in places}
    assert answers[0].suspects[0].p_error > 0.8


def test_a_third_visit_settles_an_exchange():
    rows = [
        row("SV01001", A),
        row("SV01002", B),
        row("SV01001", B, LATER),
        row("SV01002", A, LATER),
        row("SV01001", A, LAST),
        row("SV01002", B, LAST),
    ]
    answers = verdict(rows)
    assert {label for label, _ in blamed(answers)} == {at(2)[0], at(3)[0]}
    # tag or ring, but no other row
    by_field = {s.cell.field: s.p_error for s in answers[0].suspects}
    assert by_field["tag"] == pytest.approx(0.6, abs=0.03)
    assert sum(by_field.values()) > 0.95


def test_three_tags_moved_round_are_one_finding():
    rings = ("SV01001", "SV01002", "SV01003")
    rows = [row(ring, tag) for ring, tag in zip(rings, (A, B, C), strict=True)]
    rows += [row(ring, tag, LATER) for ring, tag in zip(rings, (B, C, A), strict=True)]
    answers = verdict(rows)
    # nothing tells which of the visits is wrong; rings out of order at one of them are less likely
    assert blamed(answers) == {
        at(0): ("tag_twice.slid", B),
        at(1): ("tag_twice.slid", C),
        at(2): ("tag_twice.slid", A),
        at(3): ("tag_twice.slid", A),
        at(4): ("tag_twice.slid", B),
        at(5): ("tag_twice.slid", C),
    }
    assert len(answers) == 1


def test_a_ring_slip_shows_as_a_tag_on_two_rings():
    rows = [
        row("SV01001", A),
        row("SV01002", B),
        row("SV01001", A, LATER),
        row("SV01002", B, LATER),
        row("SV04001", A, LAST),
    ]
    answers = verdict(rows)
    assert blamed(answers) == {at(4, "ring"): ("tag_twice.on_two_rings", "SV01001")}
    assert messages(answers) == [
        (
            "Tag 999104000000111 stands on ring SV04001 (2026-07-01) and on ring SV01001 (2026-06-03); one "
            "digit is wrong in SV04001, SV01001 is probably meant."
        )
    ]


def test_a_ring_of_odd_form_is_the_wrong_one():
    rows = [row("SV01001", A), row("SV01002", B), row("SV0101", A, LATER), row("SV01002", B, LATER)]
    assert blamed(verdict(rows)) == {at(2, "ring"): ("tag_twice.on_two_rings", "SV01001")}


def test_two_tags_on_one_ring_at_one_visit():
    rows = [row("SV01001", A), row("SV01002", B), row("SV01002", C), row("SV01003", C, LATER)]
    answers = verdict(rows)
    assert blamed(answers) == {at(2, "ring"): ("tag_twice.on_two_rings", "SV01003")}
    answers = verdict([row("SV01001", A), row("SV01002", B), row("SV01002", C)])
    assert blamed(answers) == {at(2, "ring"): ("tag_twice.two_at_one_visit", "")}
    assert messages(answers) == [
        (
            "Ring SV01002 has two tags on 2026-06-03, 999104000002226 and 999104000003347; the ring was "
            "probably copied from the row above."
        )
    ]


def test_one_tag_everywhere_is_damage_and_one_finding():
    rows = [row(f"SV0100{i}", A) for i in range(1, 7)]
    answers = verdict(rows)
    assert set(blamed(answers)) == {at(i) for i in range(6)}
    assert messages(answers) == [
        (
            "Tag 999104000000111 stands on 6 rings: the codes were probably cut off or filled down; take "
            "them from the reader or the field sheets."
        )
    ]


def test_the_same_row_typed_twice_is_a_matter_of_the_rings():
    assert verdict([row("SV01001", A), row("SV01001", A)]) == []


def test_cells_in_doubt_are_neither_blamed_nor_witnesses():
    rows = [row("SV01001", A), row("SV01002", A)]
    assert verdict(rows, doubted=frozenset({at(1)})) == []
    assert verdict(rows, doubted=frozenset({at(1, "ring")})) == []


def test_the_same_tag_in_two_writings_is_one_tag():
    # 999104000000111 in dot hex
    rows = [row("SV01001", A), row("SV01001", f"3E7.{int(A[3:]):010X}", LATER)]
    assert verdict(rows) == []
    rows = [row("SV01001", A), row("SV01002", f"3E7.{int(A[3:]):010X}", LATER)]
    assert {answer.rule for answer in verdict(rows)} == {"tag_twice.on_two_rings"}


def test_missing_dates_and_rings_are_survived():
    rows = [row("SV01001", A, None), row("SV01001", C, None), row(None, A), row("SV01002", A, None, box=None)]
    assert all(answer.message for answer in verdict(rows))


def test_a_large_knot_is_not_searched_but_told():
    rows = [row(f"SV{1000 + i:05d}", A if i % 2 else B, DAY + dt.timedelta(days=i)) for i in range(4)]
    rows += [row(f"SV{1000 + i % 4:05d}", (C, D)[i % 3 == 0], LAST + dt.timedelta(days=i)) for i in range(14)]
    answers = verdict(rows)
    assert len(answers) == 1
    assert "tangled" in messages(answers)[0]


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_posteriors_are_probabilities_and_blame_stays_inside_the_knot(seed):
    rng = np.random.default_rng(seed)
    rings = [f"SV0100{i}" for i in range(4)]
    tags = [A, B, C, D]
    rows = [row(ring, tag, day) for day in (DAY, LATER) for ring, tag in zip(rings, tags, strict=True)]
    for _ in range(int(rng.integers(1, 3))):
        place = int(rng.integers(0, 8))
        field = str(rng.choice(["ring", "tag"]))
        rows[place][field] = str(rng.choice(rings if field == "ring" else tags))
    for answer in verdict(rows):
        for suspect in answer.suspects:
            assert 0 <= suspect.p_error <= 1
            assert suspect.p_fix is None or suspect.p_fix <= suspect.p_error + 1e-9
            assert suspect.cell.row <= 9
            assert suspect.suggested != suspect.cell.observed


@pytest.mark.parametrize("seed", range(3))
def test_planted_slips_are_found_and_no_tag_is_blamed_in_vain(seed):
    season = typed_season(shipped(), **invented_season(seed))
    kinds = [
        f"{field}.{slip}" for field in ("ring", "tag") for slip in ("digit", "neighbours", "dropped", "above")
    ]
    kinds += ["tag.sibling", "date", "box", "species", "wing_mm"]
    dirty, key = plant(season, shipped(), np.random.default_rng(seed), kinds=kinds, each=2)
    # earlier rules ask about rings
    rings = frozenset(place for place in key.changes if place[1] == "ring")
    found = blamed(ask(tag_twice.RULE, dirty, shipped(), rings))
    assert {cell for cell in found if cell[1] == "tag"} <= set(key.changes)
    event = season.frame("handlings")["event"]
    seen = 0
    for slip in key:
        # two tags that change places at the first ringing may look as good as the truth
        again = (event[list(slip.labels)] == "re-encountered").all()
        if slip.name == "tag.above" or (slip.name == "tag.sibling" and again):
            seen += 1
            for change in slip.changes:
                assert found[change.place][1] == change.meant
    assert seen


def test_a_day_in_doubt_is_not_told():
    rows = [row("SV01001", A), row("SV01001", B, LATER)]
    (said,) = messages(verdict(rows, doubted=frozenset({at(0, "date")})))
    assert said == (
        f"Ring SV01001 had tag {A} at a visit whose day is in doubt and has {B} on 2026-06-17: "
        "if it was tagged again, say so in the remarks."
    )
    near = [row("SV01001", A), row("SV01001", A[:-1] + "2", LATER)]
    (said,) = messages(verdict(near, doubted=frozenset({at(0, "date")})))
    assert said.startswith(f"Ring SV01001 has tag {A} at a visit whose day is in doubt and tag {A[:-1]}2 on")
