"""How many signs at its beginning a code shares with known ones, against a plain count."""

from __future__ import annotations

from itertools import takewhile

from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.code_tree import CodeTree

codes = st.text("01", max_size=6)


@settings(max_examples=40, deadline=None)
@given(st.lists(codes, max_size=6, unique=True), codes, st.data())
def test_signs_shared_at_the_beginning(known: list[str], code: str, data: st.DataObject) -> None:
    tree = CodeTree(known, 2, 1.0)
    but = data.draw(st.sampled_from(["", *known]))
    others = [other for other in known if not but or other != but]
    alike = [takewhile(lambda pair: pair[0] == pair[1], zip(code, other, strict=False)) for other in others]
    shared = max((len(list(one)) for one in alike), default=0)
    assert tree.shared(code, but=but) == shared
    assert [tree.begins(code, n, but=but) for n in range(8)] == [n <= shared for n in range(8)]
