"""What is made of declarations is made once for each of them, and for no other."""

from __future__ import annotations

from audit.declarations.once import once_for


def test_it_is_made_once_for_each_object():
    asked = []

    @once_for
    def size(given):
        asked.append(given)
        return len(given)

    one, equal = {"a": 1}, {"a": 1}
    assert [size(one), size(one), size(equal)] == [1, 1, 1]
    assert len(asked) == 2
    assert asked[0] is one
    assert asked[1] is equal


def test_no_other_object_is_taken_for_one_that_is_gone():
    @once_for
    def first(given):
        return next(iter(given))

    assert [first({number: 0}) for number in range(200)] == list(range(200))
