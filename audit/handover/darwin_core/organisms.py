"""Which handlings are of one bird, and what was done with its ring and tag each time."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from audit.handover.darwin_core.plain_text import looked_up
from audit.models.ring_number import bare
from audit.rules.case import Case
from audit.rules.tag_keys import keys_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.darwin_core.season_rows import SeasonRows

__all__ = ["Organisms", "organisms"]

FITTED, PRESENT, REPLACED = "fitted", "present", "replaced"
RE_ENCOUNTERED, RINGED = "re-encountered", "ringed"


@dataclass(frozen=True, slots=True)
class Organisms:
    """Birds of the season.

    Attributes
    ----------
    birds : pandas.DataFrame
        Index = row labels of the handlings; texts, empty where not known: ``organism`` (identity of the
        bird), ``tag_key`` (the tag however written), ``ring_action`` and ``tag_action`` (``fitted``,
        ``present`` or ``replaced``), ``ring_before`` and ``tag_before`` (what the new one is instead of),
        ``rings`` (all rings of a bird that had several, in order of time).
    of_tag : mapping of str to (str, str)
        Key of a tag -> the one bird that bore it, and the day from which on it did; two birds, none.
    read_key : mapping of str to str
        Tag as the antennas gave it -> its key.
    """

    birds: pd.DataFrame
    of_tag: Mapping[str, tuple[str, str]]
    read_key: Mapping[str, str]


def organisms(decided: DecidedSeason, rows: SeasonRows) -> Organisms:
    """Tell the birds apart by ring and tag.

    One ring is one bird. Two rings are one bird when a tag stays while the ring changes and the later
    handling is a re-encounter: the ring was replaced. Where a bird has only a tag, the tag says which it
    is. The identity is made of the bird's first ring (else its tag), also from earlier seasons where they
    are given, so that it stays when the ring is replaced.
    """
    met, read_key = _meetings(decided, rows)
    met["bird"] = _birds(met)
    met["organism"] = _identities(met)
    met = _actions(met)
    bearers: dict[str, dict[str, None]] = defaultdict(dict)
    since: dict[str, str] = {}
    for key, bird, day in zip(met["tag_key"], met["organism"], met["date"], strict=True):
        if key and bird:
            bearers[key][bird] = None
            since[key] = min(since.get(key, day) or day, day or since.get(key, ""))
    of_tag = {key: (next(iter(some)), since[key]) for key, some in bearers.items() if len(some) == 1}
    here = met[met["label"] != ""].set_index("label").reindex(rows.handlings.index)
    columns = ["organism", "tag_key", "ring_action", "tag_action", "ring_before", "tag_before", "rings"]
    # texts, also where there is no row
    return Organisms(here[columns].astype(object), of_tag, read_key)


def _meetings(decided: DecidedSeason, rows: SeasonRows) -> tuple[pd.DataFrame, Mapping[str, str]]:
    """All handlings of earlier seasons and of this one in order of time."""
    now, before = rows.handlings, rows.earlier
    # any rule will do: what is asked for here is declared for all of them
    case = Case(decided.clean, decided.declared, next(iter(decided.declared.rules.values())))
    tags = [*before["tag"].tolist(), *now["tag"].tolist()]
    stock = []
    if decided.clean.has("tag_stock", "tag"):
        stock = [tag for tag in decided.clean.frame("tag_stock")["tag"].tolist() if isinstance(tag, str)]
    _, (key_of, _, read_key) = keys_of(case, tags, stock, list(dict.fromkeys(rows.detections["tag"])))
    met = pd.DataFrame(
        {
            "label": [*([""] * len(before)), *(str(label) for label in now.index)],
            "date": [*before["date"], *now["date"]],
            "time": [*([""] * len(before)), *now["time"]],
            "event": [*([""] * len(before)), *now["event"]],
            "ring": [*before["ring"], *now["ring"]],
            "tag": tags,
        },
        dtype=object,
    )
    met["ring_key"] = [bare(ring).upper() for ring in met["ring"].tolist()]
    met["tag_key"] = [key_of.get(tag, "") for tag in tags]
    met["open_tag"] = met["label"].isin(list(rows.open_tags))
    # undated ones last; never by the order of the sheet
    met["when"] = met["date"].where(met["date"] != "", "9") + "T" + met["time"]
    met = met.sort_values(["when", "event", "ring_key", "tag_key"], ascending=[True, False, True, True])
    return met.reset_index(drop=True), read_key


def _birds(met: pd.DataFrame) -> list[str]:
    """Give each meeting the mark that stands for its bird, empty where it has neither ring nor tag."""
    leads: dict[str, str] = {}

    def lead(mark: str) -> str:
        while leads.get(mark, mark) != mark:
            mark = leads[mark]
        return mark

    rings_of: dict[str, list[str]] = defaultdict(list)
    marked = met[(met["tag_key"] != "") & (met["ring_key"] != "")]
    for tag, ring, event in zip(marked["tag_key"], marked["ring_key"], marked["event"], strict=True):
        known = rings_of[tag]
        if ring in known:
            continue
        if known and event == RE_ENCOUNTERED:
            leads[lead(ring)] = lead(known[-1])
        known.append(ring)
    birds = []
    for ring, tag in zip(met["ring_key"].tolist(), met["tag_key"].tolist(), strict=True):
        if ring:
            birds.append(f"ring {lead(ring)}")
        elif tag:
            leaders = {lead(ring) for ring in rings_of.get(tag, ())}
            birds.append(f"ring {leaders.pop()}" if len(leaders) == 1 else f"tag {tag}")
        else:
            birds.append("")
    return birds


def _identities(met: pd.DataFrame) -> list[str]:
    """Name each bird by what was on it first."""
    first: dict[str, str] = {}
    for bird, ring in zip(met["bird"].tolist(), met["ring_key"].tolist(), strict=True):
        if bird and ring:
            first.setdefault(bird, f"ring {ring}")
    # sixteen hexadecimal digits: among a million birds two alike have a chance of 3 in a hundred million
    named = {
        bird: f"bird:{hashlib.sha256(first.get(bird, bird).encode()).hexdigest()[:16]}"
        for bird in dict.fromkeys(met["bird"].tolist())
        if bird
    }
    return [named.get(bird, "") for bird in met["bird"].tolist()]


def _actions(met: pd.DataFrame) -> pd.DataFrame:
    """Add what was done with ring and tag, from what the bird bore before."""
    known = met["bird"] != ""
    group = met["bird"].where(known, [f"\x00{number}" for number in range(len(met))])
    for mark in ("ring", "tag"):
        borne = met[f"{mark}_key"].where(met[f"{mark}_key"] != "")
        last = borne.groupby(group).ffill().groupby(group).shift()
        typed = met[mark].where(met[mark] != "").groupby(group).ffill().groupby(group).shift()
        has, before = borne.notna(), last.notna()
        same = has & before & (borne == last)
        other = has & before & (borne != last)
        action = pd.Series("", index=met.index, dtype=object)
        if mark == "ring":
            action[has & (met["event"] == RINGED)] = FITTED
            action[has & (met["event"] == RE_ENCOUNTERED)] = PRESENT
        else:
            seen = met.groupby(group).cumcount() > 0
            unsure = met["open_tag"].groupby(group).cummax() | (met["label"] == "").groupby(group).cummax()
            action[has & ~before & (met["event"] == RINGED)] = FITTED
            action[has & ~before & seen & ~unsure] = FITTED
        action[same] = PRESENT
        action[other] = REPLACED
        met[f"{mark}_action"] = action
        met[f"{mark}_before"] = typed.where(other, "")
    several = met.loc[met["ring_key"] != ""].groupby("organism")["ring_key"].transform("nunique") > 1
    rings: dict[str, str] = {}
    for bird, group_of in met.loc[several[several].index].groupby("organism"):
        texts = dict(zip(group_of["ring_key"], group_of["ring"], strict=True))
        rings[str(bird)] = " | ".join(texts.values())
    met["rings"] = looked_up(met["organism"], rings)
    return met
