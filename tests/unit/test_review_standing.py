"""Which decisions stand: undo, undo of an undo, replacing, conflicts, questions; and never by a clock."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from audit.review.decisions import DecidedCell, Decision
from audit.review.standing import standing

RING = {"ring": "SV01001", "net_g": "395"}


def cell(instead=None, *, field="net_g", row=2, typed=None):
    typed = typed or {**RING, "ring": f"SV0100{row}"}
    return DecidedCell("handlings", row, field, typed.get(field, ""), instead, typed)


def decision(identity, verb="amend", *cells, at="", who="AB", replaces=(), undoes=""):
    return Decision(identity, at, who, verb, cells, replaces=tuple(replaces), undoes=undoes)


def undo(identity, undoes):
    return decision(identity, "undo", undoes=undoes)


def live(*decisions):
    return [one.identity for one in standing(decisions).live]


def test_an_undo_and_the_undo_of_an_undo():
    first = decision("a", "amend", cell("373"))
    assert live(first) == ["a"]
    assert live(first, undo("b", "a")) == []
    assert live(first, undo("b", "a"), undo("c", "b")) == ["a"]
    assert live(first, undo("b", "a"), undo("c", "b"), undo("d", "c")) == []
    # a second undo, of somebody else, holds on its own
    assert live(first, undo("b", "a"), undo("c", "b"), undo("e", "a")) == []


def test_an_undo_of_what_is_not_known_waits_for_it():
    assert live(undo("b", "a")) == []
    assert standing([undo("b", "a")]).undone == frozenset()


def test_one_that_replaces_another_and_gives_the_place_back():
    first, second = decision("a", "amend", cell("373")), decision("b", "keep", cell(), replaces=["a"])
    stands = standing([first, second])
    assert [one.identity for one in stands.live] == ["b"]
    assert stands.replaced == {"a"}
    assert stands.conflicts == ()
    assert live(first, second, undo("c", "b")) == ["a"]
    assert live(first, second, undo("c", "b"), undo("d", "c")) == ["b"]


def test_who_replaces_the_one_that_replaced_replaces_both():
    chain = [
        decision("a", "amend", cell("1")),
        decision("b", "amend", cell("2"), replaces=["a"]),
        decision("c", "amend", cell("3"), replaces=["b"]),
    ]
    assert live(*chain, undo("d", "b")) == ["c"]
    assert live(*chain, undo("d", "c")) == ["b"]
    assert live(*chain, undo("d", "c"), undo("e", "b")) == ["a"]


def test_only_the_cells_that_both_are_about_are_replaced():
    both = decision("a", "accept", cell("1", row=2), cell("2", row=3))
    stands = standing([both, decision("b", "keep", cell(row=2), replaces=["a"])])
    assert [(one.identity, [c.row for c in one.cells]) for one in stands.live] == [("a", [3]), ("b", [2])]


def test_two_who_differ_are_in_conflict_until_one_replaces_both():
    one, other = decision("a", "amend", cell("373")), decision("b", "amend", cell("337"), who="IP")
    (conflict,) = standing([one, other]).conflicts
    assert conflict.decisions == (one, other)
    assert conflict.cell.field == "net_g"
    settled = decision("c", "amend", cell("375"), replaces=["a", "b"])
    stands = standing([one, other, settled])
    assert stands.conflicts == ()
    assert [d.identity for d in stands.live] == ["c"]
    # one that names only one of them leaves the other in conflict with it
    half = decision("c", "amend", cell("375"), replaces=["a"])
    assert [c.decisions for c in standing([one, other, half]).conflicts] == [(other, half)]


def test_two_who_come_to_the_same_text_agree():
    assert (
        standing([decision("a", "amend", cell("373")), decision("b", "accept", cell("373"))]).conflicts == ()
    )
    assert standing([decision("a", "keep", cell()), decision("b", "amend", cell("395"))]).conflicts == ()
    assert len(standing([decision("a", "keep", cell()), decision("b", "amend", cell("396"))]).conflicts) == 1


def test_an_answer_closes_a_question_and_that_is_told():
    asked, answer = decision("a", "ask", cell(), who="IP"), decision("b", "amend", cell("373"))
    stands = standing([asked, answer])
    assert stands.conflicts == ()
    assert [(one.question.identity, one.answer.identity) for one in stands.answered] == [("a", "b")]
    # who knew of the question has taken its place
    knowing = decision("b", "amend", cell("373"), replaces=["a"])
    assert standing([asked, knowing]).answered == ()


def test_other_cells_and_other_rows_are_no_conflict():
    many = [
        decision("a", "amend", cell("1")),
        decision("b", "amend", cell("2", field="wing_mm")),
        decision("c", "amend", cell("3", row=3)),
    ]
    assert standing(many).conflicts == ()


def test_words_that_go_round_in_a_ring_have_no_effect():
    one = decision("a", "amend", cell("1"), replaces=["b"])
    other = decision("b", "amend", cell("2"), replaces=["a"])
    assert len(standing([one, other]).conflicts) == 1
    assert live(decision("c", "amend", cell("1")), undo("d", "e"), undo("e", "d")) == ["c"]
    assert live(decision("c", "amend", cell("1"), replaces=["c"])) == ["c"]


@st.composite
def logs(draw):
    made = []
    for number in range(draw(st.integers(1, 9))):
        identity = f"{draw(st.integers(0, 9))}{number}"
        former = [one.identity for one in made]
        if former and draw(st.booleans()):
            made.append(undo(identity, draw(st.sampled_from(former))))
            continue
        rows = draw(st.lists(st.integers(2, 4), min_size=1, max_size=2, unique=True))
        verb = draw(st.sampled_from(["amend", "keep", "ask"]))
        cells = [cell(draw(st.sampled_from("12")) if verb == "amend" else None, row=row) for row in rows]
        known = draw(st.lists(st.sampled_from(former), unique=True)) if former else []
        at = draw(st.sampled_from(["2026-06-01T10:00Z", "1970-01-01T00:00Z", "x"]))
        made.append(decision(identity, verb, *cells, replaces=known, at=at))
    return made


@given(logs(), st.randoms(use_true_random=False))
def test_neither_order_nor_clock_matters(made, rng):
    shuffled = rng.sample(made, len(made))
    assert standing(shuffled) == standing(made)
    assert standing([*made, *made]) == standing(made)


@given(logs())
def test_an_undo_and_its_undo_change_nothing_else(made):
    before = standing(made)
    after = standing([*made, undo("~1", made[-1].identity), undo("~2", "~1")])
    assert (after.live, after.conflicts, after.answered) == (before.live, before.conflicts, before.answered)
