"""Is the metal ring on the usual leg? A team keeps one leg for the ring and the other for the tag."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from audit.rules.case import At
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]

_OTHER = {"L": "R", "R": "L"}
_NAMES = {"L": "left", "R": "right"}


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find rings on the other leg than usual, and rings that changed legs."""
    frame = case.sure("handlings")
    legs = frame["ring_leg"].where(frame["ring_leg"].isin(list(_OTHER)))
    prescribed = case.declared.rings.leg("ring")
    habit = prescribed or _habit(case, legs)
    yield from _changed(case, frame, legs, habit)
    if not habit:
        yield case.not_run("other_leg", "no leg is used for nearly all metal rings")
        return
    odd = (legs == _OTHER[habit]) & ~_seen_on_one_leg(frame["ring"], legs)
    if "event" in frame.columns:
        # a ring of another scheme may be on either leg
        odd &= frame["event"].fillna("") != "re-encountered"
    own = {} if prescribed else _habits_of_ringers(case, frame, legs)
    share = int((legs == habit).sum())
    told = int(legs.notna().sum())
    for label in frame.index[odd.to_numpy()]:
        if own.get(str(frame.loc[label, "ringer"]) if "ringer" in frame.columns else "", habit) != habit:
            continue
        reason = (
            f"metal rings go on the {_NAMES[habit]} leg here"
            if prescribed
            else f"{share} of {told} birds have it on the {_NAMES[habit]} leg"
        )
        message = f"The metal ring is said to be on the {_NAMES[_OTHER[habit]]} leg, but {reason}."
        yield case.blame("other_leg", [At(str(label), "ring_leg", habit)], message)


def _habit(case: Case, legs: pd.Series[str]) -> str:
    counts = legs.value_counts()
    if counts.sum() < case.limit("habit_least") or counts.iloc[0] < case.limit("habit_share") * counts.sum():
        return ""
    return str(counts.index[0])


def _habits_of_ringers(case: Case, frame: pd.DataFrame, legs: pd.Series[str]) -> dict[str, str]:
    """Legs of ringers who are known to use one leg nearly always."""
    if "ringer" not in frame.columns:
        return {}
    left = (legs == "L").where(legs.notna()).astype("float64").groupby(frame["ringer"])
    share, told = left.mean(), left.count()
    firm = told >= case.limit("ringer_least")
    return {str(ringer): "L" if share[ringer] * 2 > 1 else "R" for ringer in share.index[firm.to_numpy()]}


def _seen_on_one_leg(ring: pd.Series[str], legs: pd.Series[str]) -> pd.Series[bool]:
    """Birds whose rows, more than one, all name the same leg: then it is no slip."""
    known = legs[ring.notna() & legs.notna()].groupby(ring)
    return ((known.transform("nunique") == 1) & (known.transform("size") > 1)).reindex(
        legs.index, fill_value=False
    )


def _leg_of_ringer(case: Case, frame: pd.DataFrame, legs: pd.Series[str]) -> pd.Series[str]:
    """Leg on which whoever put on each ring nearly always puts it; empty where that is not known."""
    if "ringer" not in frame.columns:
        return pd.Series("", index=legs.index)
    put_on = ~frame["ring"].duplicated() & frame["ring"].notna()
    if "event" in frame.columns:
        put_on &= frame["event"] == "ringed"
    left = (legs == "L").where(legs.notna() & put_on).astype("float64").groupby(frame["ringer"])
    share = left.mean().where(left.count() >= case.limit("ringer_least"))
    least = case.limit("ringer_share")
    leg = pd.Series("", index=share.index).mask(share >= least, "L").mask(share <= 1 - least, "R")
    first = frame["ringer"].where(put_on).groupby(frame["ring"]).transform("first")
    # legs of none are numbers to pandas, and no text may fill them
    return first.map(leg).astype("object").fillna("")


def _changed(case: Case, frame: pd.DataFrame, legs: pd.Series[str], habit: str) -> Iterator[Finding]:
    ring = frame["ring"]
    by_ringer = _leg_of_ringer(case, frame, legs)
    told = ring.notna() & legs.notna()
    several = legs[told].groupby(ring[told]).nunique()
    for name in several.index[several.to_numpy() > 1]:
        labels = legs.index[(told & (ring == name)).to_numpy()]
        named = legs[labels]
        counts = named.value_counts()
        usual = str(counts.index[0]) if counts.iloc[0] > counts.iloc[-1] else habit or by_ringer[labels[0]]
        odd = [str(label) for label in labels if usual and named[label] != usual] or [str(x) for x in labels]
        # as many rows name one leg as the other, and one of both is wrong throughout
        p = case.limit("p_against_usual") if usual else 1 / 2
        suspects = [At(label, "ring_leg", _OTHER[str(named[label])] if usual else "", p, p) for label in odd]
        message = (
            f"Ring {name} is on the left leg in {int((named == 'L').sum())} rows and on the right leg in "
            f"{int((named == 'R').sum())}: a closed ring does not change legs."
        )
        witnesses = [(str(label), "ring_leg") for label in labels if str(label) not in odd]
        yield case.blame("leg_changed", suspects, message, witnesses)


RULE = Rule(
    "ring_leg",
    {"handlings": ("ring", "ring_leg")},
    check,
    heeds={"handlings": ("ring", "ring_leg", "event", "ringer")},
)
