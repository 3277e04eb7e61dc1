"""Ask whether a tag is heard after its bird was found dead, or after it was given a new one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.rules.case import At
from audit.rules.heard import HEARD, heard_at_boxes
from audit.rules.heeded import together
from audit.rules.rule import Rule
from audit.rules.tagged_birds import TAGGED, TaggedBird, tagged_birds

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.heard import Heard, Presence

__all__ = ["RULE", "check"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Look for nights after the last one on which a bird can have borne its tag."""
    heard = heard_at_boxes(case)
    if heard is None:
        # said once, by the rule on lives
        return
    birds = tagged_birds(case)
    for bird in birds.birds:
        if not bird.key or bird.doubted or bird.until - bird.since < 0:
            continue
        again = [other for other in birds.of_key[bird.key] if other is not bird and other.since >= bird.until]
        if again:
            # fitted to another bird since
            continue
        late = _late(heard, bird)
        if late is not None:
            yield _say(case, bird, *late)


def _late(heard: Heard, bird: TaggedBird) -> tuple[Presence, int, int] | None:
    """Where a tag was heard last, on how many nights after its end, and the last of them."""
    found = [
        (int(one.nights[-1]), one.since(bird.until + 1), one)
        for one in heard.of_tag.get(bird.key, ())
        if one.since(bird.until + 1)
    ]
    if not found:
        return None
    last, n, one = max(found, key=lambda late: (late[0], late[2].box))
    return one, n, last


def _say(case: Case, bird: TaggedBird, one: Presence, n: int, last: int) -> Finding:
    day, ended = (str(np.datetime64(night, "D")) for night in (last, bird.until))
    nights = "1 night" if n == 1 else f"{n} nights"
    heard = f"Tag {bird.row.tag} is heard at box {one.box} on {nights} up to {day}"
    if not bird.dead:
        return case.blame(
            "old_tag",
            [At(bird.row.label, "tag")],
            f"{heard}, although its bird had another tag from {ended} on; a tag lost in the nest is read on.",
        )
    soon = last - bird.until <= case.limit("carcass_days") or n < case.limit("nights_least")
    if soon:
        return case.blame(
            "carcass",
            [At(bird.row.label, "tag")],
            f"{heard}, although its bird was found dead on {ended}; the carcass may have lain there.",
            [(bird.dead, "date")],
        )
    return case.blame(
        "after_death",
        [At(bird.row.label, "tag")],
        f"{heard}, although its bird was found dead on {ended}: another bird died, or the tag is another's.",
        [(bird.dead, "date")],
    )


RULE = Rule(
    slug="heard_end",
    needs={"handlings": ("date", "box", "ring", "tag")},
    check=check,
    heeds=together(HEARD, TAGGED),
)
