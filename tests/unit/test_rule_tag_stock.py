"""Is each tag in stock once?"""

from __future__ import annotations

from typed_season import ask, typed_season

from audit.rules.tag_stock import RULE


def findings(*tags: str | None) -> list:
    return ask(RULE, typed_season(tag_stock=[{"tag": tag, "batch": "B1"} for tag in tags]))


def test_a_tag_is_in_stock_once() -> None:
    (finding,) = findings("999000000000011", "999000000000012", "999000000000011", None)
    assert [(s.cell.label, s.cell.field) for s in finding.suspects] == [("tag_stock!4", "tag")]
    assert (finding.rule, finding.severity) == ("tag_stock.twice", "note")
    assert finding.message == "Tag 999000000000011 stands 2 times in the stock, in rows 2, 4."


def test_however_it_is_written() -> None:
    # both from the open README named in tests/reference: fifteen digits, and country and number in hex
    (finding,) = findings("999123456789012", "3E7.1CBE991A14")
    assert finding.suspects[0].cell.label == "tag_stock!3"


def test_different_tags_are_innocent() -> None:
    assert findings("999000000000011", "999000000000012", None, None) == []
