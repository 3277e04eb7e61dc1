"""Rings among the losses that are on a bird, stand there twice, or never were in stock."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import CLAUSES
from audit.rules.case import At
from audit.rules.issued.in_stock import near_in_stock
from audit.rules.issued.string_ends import used_in
from audit.rules.loss_accounts import losses_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.loss_accounts import Account, Loss, Losses
    from audit.rules.ring_rows import Key, Ringings

__all__ = ["ask_of_losses"]


def ask_of_losses(case: Case, rings: Ringings) -> Iterator[Finding]:
    """Ask about rings among the losses that are on a bird, or were lost before they were there.

    Yields
    ------
    Finding
        ``lost_twice``, ``two_fates``, ``used_after_loss``, ``taken_off``, ``loss_not_issued`` or
        ``loss_before_issue``.
    """
    losses = losses_of(case, rings)
    yield from _lost_twice(case, losses)
    for loss, i in losses.used():
        yield _used_after_loss(case, rings, loss, losses.accounts(loss, i), i)
    for loss in losses.all if rings.stock else ():
        string = rings.string_at(loss.at)
        if string is None:
            near = near_in_stock(rings, loss.ring, case.setting("ledger.longest"))
            suggested = near[0] if len(near) == 1 else ""
            others = [] if suggested else case.evenly("loss_not_issued", near)
            message = f"Ring {loss.ring} among the losses is in none of the strings issued."
            yield case.blame("loss_not_issued", [At(loss.label, "ring", suggested, others=others)], message)
        elif (issued := string.issued_day) is not None and loss.day is not None and loss.day < issued:
            message = (
                f"Ring {loss.ring} was {loss.fate} on {_iso(loss.day)}, before its string was issued "
                f"on {_iso(issued)}."
            )
            used = used_in(rings, string.key, string.first, string.last)
            if any(rings.visit[i] >= 0 and rings.day[i] < issued for i in used):
                # then the day of issue is asked about
                continue
            witnesses = [(string.label, "issued")]
            yield case.blame("loss_before_issue", [At(loss.label, "date")], message, witnesses)


def _lost_twice(case: Case, losses: Losses) -> Iterator[Finding]:
    """Rings that stand more than once among the losses."""
    rows: dict[tuple[Key, int], list[Loss]] = {}
    for loss in losses.all:
        rows.setdefault(loss.at, []).append(loss)
    for same in rows.values():
        if len(same) == 1:
            continue
        fates = sorted({loss.fate for loss in same})
        if len(fates) == 1:
            message = f"Ring {same[0].ring} stands {len(same)} times among the losses, each time {fates[0]}."
            yield case.blame("lost_twice", [At(loss.label, "ring") for loss in same[1:]], message)
            continue
        message = f"Ring {same[0].ring} has more than one fate among the losses: {' and '.join(fates)}."
        share = 1 / len(same)
        yield case.blame("two_fates", [At(loss.label, "ring", "", share) for loss in same], message)


def _used_after_loss(case: Case, rings: Ringings, loss: Loss, accounts: Sequence[Account], i: int) -> Finding:
    used = str(rings.labels[i])
    first = accounts[0]
    said = f"Ring {loss.ring} is on a bird, but the losses say that it was {loss.fate}"
    if first.story == "taken off":
        message = (
            f"Ring {loss.ring} was put on on {_iso(int(rings.day[i]))} and {loss.fate} on "
            f"{_iso(loss.day or 0)}: it was taken off the bird, or one of both is wrong."
        )
        return case.blame("taken_off", [At(loss.label, "ring")], message, [(used, "ring")])
    most = case.limit("p_most")
    in_row = math.fsum(a.p for a in accounts if a.story != "loss")
    in_loss = math.fsum(a.p for a in accounts if a.story == "loss")
    suspects: list[At] = []
    clause = ""
    row = next((a for a in accounts if a.story != "loss"), None)
    line = next((a for a in accounts if a.story == "loss"), None)
    if row and in_row >= case.limit("p_second"):
        clause = _clause(rings, loss, row)
        told = [(j, meant, a.p) for a in accounts if a.story != "loss" for j, meant in a.meant]
        suspects += [
            At(
                str(rings.labels[j]),
                "ring",
                meant,
                min(in_row, most),
                min(row.p, most),
                [(other, p) for k, other, p in told if k == j],
            )
            for j, meant in row.meant
        ]
    if line and in_loss >= case.limit("p_second"):
        others = [(a.instead, a.p) for a in accounts if a.story == "loss"]
        suspects.append(At(loss.label, "ring", line.instead, min(in_loss, most), min(line.p, most), others))
        if len(suspects) > 1:
            meant = line.instead or row.meant[-1][1] if row else line.instead
            clause = f"one of both is wrong{f', and {meant} is on no bird' if meant else ''}"
        elif line.instead:
            clause = f"the line in the losses is one slip away from {line.instead}, which is on no bird"
    suspects.sort(key=lambda at: -(at.p_error or 0))
    blamed = {at.label for at in suspects}
    witnesses = [(label, "ring") for label in (used, loss.label) if label not in blamed]
    return case.blame("used_after_loss", suspects, f"{said}{f': {clause}' if clause else ''}.", witnesses)


def _clause(rings: Ringings, loss: Loss, account: Account) -> str:
    """Say what was probably done to the rows."""
    meant = account.meant[-1][1]
    if account.story == "counted":
        rows = "the ring of this row" if len(account.meant) == 1 else f"{len(account.meant)} rings"
        return f"{rows} probably counted on over it, since {meant} is on no bird"
    return f"{CLAUSES[rings.slip(meant, loss.ring)]} from {meant}" if meant else ""


def _iso(day: int) -> str:
    return str(np.datetime64(day, "D"))
