"""What to practise in one sentence for each measure, before all figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.measuring.advice import beyond_goal, is_favoured, unsteady, verdicts
from audit.practice.measuring.words import many_of, number, person
from audit.review.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations
    from audit.practice.measuring.account import Account

__all__ = ["gist"]


def gist(account: Account, declared: Declarations) -> str:
    """Say in one sentence what one measure tells; birds that stand out are left aside."""
    _, many, *_ = many_of(account.repeats.measure)
    if account.error is None:
        return f"Of {many} nothing can be told: no bird was measured twice."
    fewest = int(declared.settings["practice.measuring.birds_fewest"].value)
    rest = account.without_odd or account
    enough = rest.error is not None and rest.error.birds >= fewest
    points = list(_points(rest, declared)) if enough else []
    if account.odd:
        points.insert(
            0, f"{counted(len(account.odd), 'bird stands', 'birds stand')} out and should be looked up"
        )
    many = f"{many[0].upper()}{many[1:]}"
    if len(points) > bool(account.odd):
        return f"{many}: {listed(points)}."
    if not enough:
        points.append("too few birds were measured again to tell anything of a hand")
    elif any(how != "reached" for _, how in verdicts(account)):
        points.append("nothing wrong is seen, but more birds are needed to be sure")
    else:
        points.append("all goals are reached")
    return f"{many}: {'; beside that '.join(points)}."


def _points(account: Account, declared: Declarations) -> Iterator[str]:
    names, step, unit = account.repeats.observers, account.step, account.repeats.measure.unit
    _, _, more, less = many_of(account.repeats.measure)
    if account.error is not None and not account.error.value:
        yield "all repeats are equal, so measure once more with nobody seeing what was written"
    for bias in beyond_goal(account):
        whom = "the others" if bias.against < 0 else person(names[bias.against])
        size = f"{number(abs(bias.value), step)} {unit} {more if bias.value > 0 else less}"
        yield f"{person(names[bias.observer])} reads {size} than {whom}"
    for name, _ in unsteady(account):
        yield f"the repeats {f'of {person(name)} ' if account.own else ''}lie too far apart"
    yield from (
        f"{person(name)} favours some last digits"
        for name, found in account.digits
        if is_favoured(found, declared)
    )
