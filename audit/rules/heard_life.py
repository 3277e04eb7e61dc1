"""Ask whether each tag leads the life of its bird at the antennas: at home, and not before it was fitted."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.case import At
from audit.rules.heard import heard_at_boxes
from audit.rules.heard_lives import LIVES, HeardLife, Life, heard_lives
from audit.rules.rule import Rule
from audit.rules.tag_book import open_tag_book
from audit.rules.tagged_birds import tagged_birds

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.heard import Heard, Presence

__all__ = ["RULE", "check"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Look first for what is wrong with a whole box of the log, then for single tags."""
    heard = heard_at_boxes(case)
    if heard is None:
        yield case.not_run("never", "there is no log of box antennas")
        return
    lives = heard_lives(case).lives
    early_boxes = {}
    for box, some in _all_early(case, lives).items():
        early_boxes[box] = some
        yield _say_all_early(case, heard, box, some)
    moved = _logs_elsewhere(case, lives)
    for (home, away), some in moved.items():
        yield _say_log_elsewhere(case, heard, home, away, some)
    left = [
        life
        for life in lives
        if not (life.life is Life.BEFORE and life.bird.box in early_boxes)
        and not any(life in some for some in moved.values())
    ]
    crossed: set[str] = set()
    for one, back in _exchanged(left):
        crossed |= {one.bird.row.label, back.bird.row.label}
        yield _say_exchanged(case, one, back)
    for life in left:
        if life.bird.row.label not in crossed:
            yield from _about(case, life, lives)


# --- whole boxes of the log


def _all_early(case: Case, lives: Sequence[HeardLife]) -> dict[str, list[HeardLife]]:
    """Boxes at which most tags are heard there before they were fitted."""
    found: dict[str, list[HeardLife]] = defaultdict(list)
    n: Counter[str] = Counter()
    for life in lives:
        if life.bird.fitted and life.home is not None:
            n[life.bird.box] += 1
            if life.life is Life.BEFORE and life.home in life.early:
                found[life.bird.box].append(life)
    least, share = case.limit("clock_least"), case.limit("clock_share")
    return {box: some for box, some in found.items() if len(some) >= least and len(some) > share * n[box]}


def _say_all_early(case: Case, heard: Heard, box: str, some: Sequence[HeardLife]) -> Finding:
    first = min(int(life.early_at_home.nights[0]) for life in some if life.early_at_home is not None)
    days = max(life.bird.since for life in some) - first
    label = heard.labels[box]
    return case.blame(
        "all_early",
        [At(label, _moment(case, label))],
        f"{len(some)} tags of box {box} are heard there up to {days} days before they were fitted on "
        f"{some[0].bird.row.day}, the first on {_day(first)}: the logger's clock was wrong, or the day of "
        "that visit is.",
        [(life.bird.row.label, "date") for life in some],
    )


def _moment(case: Case, label: str) -> str:
    return "first_heard" if case.season.table_of(label) == "heard" else "detected_at"


def _logs_elsewhere(case: Case, lives: Sequence[HeardLife]) -> dict[tuple[str, str], list[HeardLife]]:
    """Boxes whose brood is heard at one other box, and hardly anybody at its own."""
    found: dict[tuple[str, str], list[HeardLife]] = defaultdict(list)
    n: Counter[str] = Counter()
    for life in lives:
        if not life.bird.key or not (life.home or life.away):
            continue
        n[life.bird.box] += 1
        if life.home is None:
            found[life.bird.box, life.away[0].box].append(life)
    least, share = case.limit("clock_least"), case.limit("away_share")
    return {
        boxes: some for boxes, some in found.items() if len(some) >= least and len(some) > share * n[boxes[0]]
    }


def _say_log_elsewhere(case: Case, heard: Heard, home: str, other: str, some: Sequence[HeardLife]) -> Finding:
    return case.blame(
        "log_elsewhere",
        [At(heard.labels[other], "box", home)],
        f"{len(some)} tags fitted at box {home} are heard at box {other}, and not at their own: the two logs "
        "were exchanged, or the rows stand under the wrong box.",
        [(life.bird.row.label, "box") for life in some],
    )


# --- single tags


def _exchanged(lives: Sequence[HeardLife]) -> Iterator[tuple[HeardLife, HeardLife]]:
    """Pairs of tags each heard at the other's box only."""
    lost = {
        (life.bird.box, life.away[0].box): life
        for life in lives
        if life.life in (Life.ELSEWHERE, Life.BEFORE) and life.home is None and life.away
    }
    for (home, other), one in lost.items():
        if home < other and (back := lost.get((other, home))) is not None:
            yield one, back


def _say_exchanged(case: Case, one: HeardLife, other: HeardLife) -> Finding:
    tags = [
        At(life.bird.row.label, "tag", meant.bird.row.tag) for life, meant in ((one, other), (other, one))
    ]
    return case.blame(
        "exchanged",
        tags,
        f"Tag {one.bird.row.tag} of box {one.bird.box} is heard at box {other.bird.box} only, and tag "
        f"{other.bird.row.tag} of box {other.bird.box} at box {one.bird.box} only: the two were exchanged.",
        [(life.bird.row.label, "box") for life in (one, other)],
    )


def _about(case: Case, life: HeardLife, lives: Sequence[HeardLife]) -> Iterator[Finding]:
    if life.meant is not None and life.p_error >= case.limit("blame_from"):
        yield _another(case, life, life.meant)
    elif life.life is Life.BEFORE:
        yield _before(case, life, lives)
    elif life.life is Life.ELSEWHERE and life.bird.young:
        yield from _elsewhere(case, life)
    elif life.life is Life.NEVER and life.bird.young and not life.bird.doubted and not life.bird.dead:
        yield case.blame(
            "never",
            [At(life.bird.row.label, "tag")],
            f"Tag {life.bird.row.tag} was never heard at box {life.bird.box}, where {_siblings(life)}; the "
            "bird may have died, or lost its tag.",
        )
    elif life.away and life.life is Life.AT_HOME:
        yield from _also(case, life)


def _another(case: Case, life: HeardLife, meant: Presence) -> Finding:
    """Blame a tag, or an empty cell, where another tag is heard that stands on no row."""
    book, bird = open_tag_book(case), life.bird
    shown = book.printed(meant.key)
    named = life.p_fix >= case.limit("suggest_from")
    where = f"at box {bird.box}"
    heard = f"{shown} was heard there on {_nights(len(meant.nights))} from {meant.first_day} on"
    stock = ", is in stock" if meant.key in book.stock else ""
    suspect = At(
        bird.row.label,
        "tag",
        shown if named else "",
        life.p_error,
        life.p_fix if named else None,
        [(book.printed(other.key), p) for other, p in life.others],
    )
    if life.life is Life.NO_TAG:
        return case.blame(
            "left_out",
            [suspect],
            f"No tag is given, but tag {heard.replace('there', where, 1)}{stock} and stands on no row.",
        )
    typed = bird.row.tag or bird.typed
    return case.blame(
        "another_heard",
        [suspect],
        f"Tag {typed} {_what(life)}; {heard}{stock} and stands on no row.",
    )


def _what(life: HeardLife) -> str:
    bird = life.bird
    match life.life:
        case Life.ELSEWHERE:
            one = life.away[0]
            return (
                f"was heard at box {one.box} only, on {_nights(len(one.nights))}, and not at box {bird.box}"
            )
        case Life.BEFORE:
            one = life.early[0]
            return (
                f"was heard at box {one.box} from {_day(int(one.nights[0]))} on, before it was fitted on "
                f"{bird.row.day} at box {bird.box}"
            )
        case Life.AT_HOME:
            return "stands on another bird, too"
        case Life.UNKNOWN:
            return f"was never heard at box {bird.box}"
        case _:
            return f"was never heard at box {bird.box}, where {_siblings(life)}"


def _siblings(life: HeardLife) -> str:
    n = len(life.siblings)
    if n == 0:
        return "nobody else was heard"
    return f"{n} of {life.of} others of that time were heard, on {_nights(life.nights)}"


def _nights(n: int) -> str:
    return "1 night" if n == 1 else f"{n} nights"


def _day(night: int) -> str:
    return str(np.datetime64(night, "D"))


def _before(case: Case, life: HeardLife, lives: Sequence[HeardLife]) -> Finding:
    """Blame the date of a tag that was heard at home too early, or the tag where it was heard elsewhere."""
    bird = life.bird
    one = life.early_at_home
    if one is None:
        other = life.early[0]
        n = other.before(bird.since - 1)
        return case.blame(
            "before_tag",
            [At(bird.row.label, "tag")],
            f"Tag {bird.row.tag} was heard at box {other.box} on {_nights(n)} from "
            f"{_day(int(other.nights[0]))} on, before it was fitted at box {bird.box} on {bird.row.day}.",
            [(bird.row.label, "date")],
        )
    first = int(one.nights[0])
    days = Counter(
        other.bird.row.day
        for other in lives
        if other.bird.box == bird.box and other is not life and other.bird.since <= first + 1
    )
    meant = max(days, key=lambda day: (days[day], day), default="")
    why = f", when {days[meant]} others of its box were ringed on {meant}" if meant else ""
    return case.blame(
        "before_date",
        [At(bird.row.label, "date", meant)],
        f"Tag {bird.row.tag} was heard at its box {bird.box} on {_nights(one.before(bird.since - 1))} from "
        f"{_day(first)} on, before it was fitted on {bird.row.day}{why}.",
        [(bird.row.label, "tag")],
    )


def _elsewhere(case: Case, life: HeardLife) -> Iterator[Finding]:
    bird, one = life.bird, life.away[0]
    if one.box in bird.row.remarks or len(one.nights) < case.limit("early_nights"):
        # somebody noted that it was moved, or it was hardly heard anywhere
        return
    told = (
        f"Tag {bird.row.tag} was heard at box {one.box} only, on {_nights(len(one.nights))} from "
        f"{_day(int(one.nights[0]))} on, and not at its own box {bird.box}, where {_siblings(life)}."
    )
    visited = {other.row.day for other in tagged_birds(case).at_box.get(one.box, ())}
    if bird.row.day in visited:
        p = case.limit("same_day")
        suspects = [At(bird.row.label, "box", one.box, p, p), At(bird.row.label, "tag", "", p)]
    else:
        suspects = [At(bird.row.label, "tag")]
    yield case.blame("elsewhere_only", suspects, told)


def _also(case: Case, life: HeardLife) -> Iterator[Finding]:
    bird = life.bird
    far = [one for one in life.away if len(one.nights) >= case.limit("early_nights")]
    if not far:
        return
    places = " and ".join(
        f"box {one.box} on {_nights(len(one.nights))} from {one.first_day} on" for one in far
    )
    yield case.blame(
        "also_elsewhere",
        [At(bird.row.label, "tag")],
        f"Tag {bird.row.tag} of box {bird.box} was also heard at {places}.",
    )


RULE = Rule(
    slug="heard_life",
    needs={"handlings": ("date", "box", "ring", "tag")},
    check=check,
    heeds=LIVES,
)
