"""Ask whose each heard tag is: of a bird of an earlier season, of one from elsewhere, or of nobody known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.models.spelling import one_slip_apart
from audit.rules.case import At
from audit.rules.earlier_birds import earlier_birds
from audit.rules.heard import heard_at_boxes
from audit.rules.heard_lives import LIVES, heard_lives
from audit.rules.rule import Rule
from audit.rules.tag_book import open_tag_book
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.heard import Heard, Presence

__all__ = ["RULE", "check"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Sort the tags that stand on no row and are taken for nobody's."""
    heard = heard_at_boxes(case)
    if heard is None:
        # said once, by the rule on lives
        return
    book = open_tag_book(case)
    before = earlier_birds(case).of_tag(book.habit)
    kinds: dict[str, list[tuple[Presence, ...]]] = {"in_stock": [], "known_before": [], "of_nobody": []}
    done: set[str] = set()
    for one in heard_lives(case).strangers:
        if one.key in done:
            continue
        done.add(one.key)
        places = heard.of_tag[one.key]
        if one.key in before:
            kinds["known_before"].append(places)
        elif one.key in book.stock:
            kinds["in_stock"].append(places)
        elif (finding := _slip_of_stock(case, heard, places)) is not None:
            yield finding
        else:
            kinds["of_nobody"].append(places)
    for kind, found in kinds.items():
        yield from _notes(case, kind, found)


def _slip_of_stock(case: Case, heard: Heard, places: Sequence[Presence]) -> Finding | None:
    """Blame the list of tags for one that nobody bears or hears, where a heard one is one slip away."""
    book = open_tag_book(case)
    key = places[0].key
    near = [
        other
        for other in book.stock - heard.of_tag.keys() - book.read - book.rings_of.keys()
        if one_slip_apart(other, key)
    ]
    if len(near) != 1:
        return None
    frame = case.frame("tag_stock")
    (label,) = [
        str(label)
        for label, text in zip(frame.index, texts_in(frame, "tag"), strict=True)
        if text and (text == near[0] or book.printed(near[0]) == text)
    ][:1] or ("",)
    if not label:
        return None
    return case.blame(
        "slip_of_stock",
        [At(label, "tag", book.printed(key), p_fix=case.limit("stock_p_fix"))],
        f"Tag {book.printed(near[0])} of the stock is on no bird and never heard, but {book.printed(key)}, "
        f"one slip away, {_where(places)}.",
        [(places[0].label, "tag")],
    )


_SAYS = {
    "in_stock": "is in stock but on no bird, and {where}: a row or its tag seems to be missing",
    "of_nobody": "is neither in stock nor on a bird, and {where}: a bird from elsewhere, or a tag fixed "
    "beside the antenna",
}


def _notes(case: Case, kind: str, found: Sequence[tuple[Presence, ...]]) -> Iterator[Finding]:
    book = open_tag_book(case)
    most = int(case.limit("named"))
    for places in found[: most if len(found) > most else None]:
        one = places[0]
        if kind == "known_before":
            met = earlier_birds(case).of_tag(book.habit)[one.key][-1]
            says = f"Tag {one.tag} {_where(places)}; {met.ring} had it on {met.date} at box {met.box}."
        else:
            says = f"Tag {one.tag} {_SAYS[kind].format(where=_where(places))}."
        yield case.blame(kind, [At(one.label, "tag")], says)
    if len(found) > most:
        one = found[most][0]
        yield case.blame(
            kind,
            [At(one.label, "tag")],
            f"{len(found) - most} more such tags are heard, the next is {one.tag}.",
        )


def _where(places: Sequence[Presence]) -> str:
    """Say at which boxes a tag was heard, and since when."""
    longest = sorted(places, key=lambda one: (-len(one.nights), one.box))
    one = longest[0]
    nights = "1 night" if len(one.nights) == 1 else f"{len(one.nights)} nights"
    others = len(places) - 1
    more = f" and at {others} other {'box' if others == 1 else 'boxes'}" if others else ""
    return f"was heard at box {one.box} on {nights} from {one.first_day} on{more}"


RULE = Rule(
    slug="heard_whose",
    needs={"handlings": ("date", "box", "ring", "tag")},
    check=check,
    heeds=LIVES,
)
