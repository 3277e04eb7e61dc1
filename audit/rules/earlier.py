"""Does each bird met in an earlier season bear the marks that it had then? Earlier seasons are witnesses."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.rules.earlier_birds import EARLIER, earlier_birds
from audit.rules.earlier_life import life_of, says_ringed_always
from audit.rules.earlier_marks import marks_of
from audit.rules.earlier_now import again_of
from audit.rules.heeded import BIRDS, RINGINGS, TAG_BOOK, together
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Compare birds that are met again with what earlier seasons say of them.

    References
    ----------
    Kernighan, M. D., Church, K. W. & Gale, W. A. (1990). A spelling correction program based on a noisy
    channel model. COLING 1990, 205-210.
    """
    if not earlier_birds(case).meetings:
        return
    again = again_of(case)
    told: set[int] = set()
    for i, finding in marks_of(case, again):
        yield finding
        if finding.severity != "note":
            told.add(i)
    frame = case.sure("handlings")
    ages = [""] * len(frame)
    if "age" in frame.columns:
        ages = [value.strip() if isinstance(value, str) else "" for value in frame["age"].tolist()]
    events = not says_ringed_always(case, again)
    if not events:
        yield case.not_run("event", "birds that bore a ring before are called 'ringed' in this season")
    for i in range(len(ages)):
        if i not in told and again.rings.ring[i] and again.bare[i] in again.birds.of_ring:
            yield from life_of(case, again, i, ages, events=events)


RULE = Rule(
    "earlier",
    {"handlings": ("ring", "box", "date"), "earlier": ("ring", "date")},
    check,
    heeds=together(RINGINGS, TAG_BOOK, BIRDS, EARLIER),
)
