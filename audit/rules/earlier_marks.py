"""Ring and tag of a bird that is met again, beside those it bore in earlier seasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare
from audit.rules.case import At
from audit.rules.earlier_accounts import Account, weigh
from audit.rules.earlier_now import series_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.earlier_birds import Meeting
    from audit.rules.earlier_now import Again

__all__ = ["marks_of"]


def marks_of(case: Case, again: Again) -> Iterator[tuple[int, Finding]]:
    """Weigh the marks of each row against those of earlier seasons; yields row and finding."""
    readable = again.rings.ring != ""
    for i, ring in enumerate(again.bare):
        if not ring:
            continue
        by_tag = again.of_tag(i, again.key[i])
        if not readable[i]:
            finding = _in_doubt(case, again, i, by_tag)
        elif by_ring := again.of_ring(i, ring):
            finding = _known_ring(case, again, i, by_ring, by_tag)
        elif by_tag:
            finding = _known_tag(case, again, i, by_tag)
        elif again.from_before[i] or (
            again.rings.event[i] != "ringed" and again.outgrown(i, again.elsewhere(i, ring))
        ):
            finding = _unknown(case, again, i)
        else:
            finding = None
        if finding:
            yield i, finding


# --- what the tag is weighed by


def _read(case: Case, again: Again, i: int, key: str) -> float:
    """How well the reader of that day goes with a tag that was meant."""
    stored = again.read(i)
    if not stored:
        return 1.0
    weight = 1.0 if key in stored else float(case.limit("unread"))
    typed = again.key[i]
    if typed != key and typed in stored:
        weight *= float(case.limit("read_by_chance"))
    return weight


def _says(remark: str, words: Sequence[str]) -> bool:
    return any(word in remark for word in words)


def _left(case: Case, met: Sequence[Meeting], rate: str) -> float:
    """Chance that what every one of these earlier meetings says is wrong in the same way."""
    repeated = float(case.limit("same_slip_again")) ** (len(met) - 1)
    return case.share(f"rates.{rate}") * float(case.limit("left")) * repeated


def _now_again(case: Case, again: Again, ring: str) -> float:
    """How far less likely the same slip is at several visits than at one."""
    return float(case.limit("same_slip_again")) ** (max(1, again.visits(ring)) - 1)


# --- the ring is known


def _known_ring(
    case: Case, again: Again, i: int, by_ring: tuple[Meeting, ...], by_tag: tuple[Meeting, ...]
) -> Finding | None:
    ring, key = again.bare[i], again.key[i]
    borne = [meeting for meeting in by_ring if meeting.tag]
    if not key or any(again.keys[meeting.tag] == key for meeting in borne):
        return None
    if not borne and not by_tag:
        # a bird that had no tag has got one
        return None
    accounts = _tag_accounts(case, again, i, borne, by_tag)
    other = by_tag[-1] if by_tag else None
    if other is not None:
        slip = again.slip(ring, _plain(other), again.above(i))
        slip += float(case.limit("sibling")) * again.here(i, ring)
        weight = case.share("rates.ring") * slip * _read(case, again, i, key)
        weight *= _relative(again, i, _plain(other), ring) * _now_again(case, again, ring)
        accounts.append(Account(weight, "ring", again.written(other)))
    else:
        lands = float(case.limit("ring_lands")) * again.in_use(ring) * again.chance_of_tag(key)
        accounts.append(Account(case.share("rates.ring") * lands * _read(case, again, i, key), "ring"))
    verdict = weigh(accounts)
    suspects = verdict.suspects(case, str(again.rings.labels[i]))
    witnesses = [(meeting.label, "tag") for meeting in (*borne[-1:], *by_tag[-1:])]
    if not suspects:
        said = _says(again.remarks[i], case.limit("tag_words"))
        if verdict.why != "tagged again" or said or by_tag or again.rings.event[i] == "ringed":
            return None
        return _new_tag(case, again, i, borne[-1])
    message = f"Tag {again.tag[i]} is on ring {again.typed[i]}, "
    if by_tag:
        message += f"but was on ring {by_tag[-1].ring} on {by_tag[-1].date}"
        message += f", and this ring had tag {borne[-1].tag}" if borne else ""
    else:
        message += f"which had tag {borne[-1].tag} on {borne[-1].date}"
    outcome = "other_tag" if by_tag else "tag"
    return case.blame(outcome, suspects, f"{message}{_meant(suspects)}.", witnesses)


def _tag_accounts(
    case: Case, again: Again, i: int, borne: Sequence[Meeting], by_tag: Sequence[Meeting]
) -> list[Account]:
    key, tag, ring = again.key[i], again.tag[i], again.bare[i]
    remarked = _says(again.remarks[i], case.limit("tag_words"))
    new = again.chance_of_tag(key)
    if by_tag:
        # a tag that was on another bird is no new one
        new *= float(case.limit("tag_lands"))
    fitted = float(case.limit("tagged_again_remarked" if remarked else "tagged_again")) if borne else 1.0
    accounts = [Account(fitted * new * _read(case, again, i, key), why="tagged again")]
    rate = case.share("rates.tag")
    lands = again.tag_lands if by_tag else 0.0
    if not borne:
        accounts.append(Account(rate * lands, "tag"))
        return accounts
    last = borne[-1]
    had = again.keys[last.tag]
    shown = again.book.printed(had)
    copied = key == again.key[i - 1] if i else False
    beside = any(
        again.key[j] == key for j in again.rings.rows_of_visit.get(int(again.rings.visit[i]), ()) if j != i
    )
    chance = again.slip(tag, shown, again.tag[i - 1] if copied else "")
    chance += float(case.limit("sibling")) if beside else lands
    same = again.tags_of[ring][key] if ring in again.tags_of else 0
    repeated = float(case.limit("same_slip_again")) ** (max(1, same) - 1)
    accounts.append(Account(rate * chance * _read(case, again, i, had) * repeated, "tag", shown))
    as_then = [meeting for meeting in borne if again.keys[meeting.tag] == had]
    back = again.slip(shown, tag)
    accounts.append(Account(_left(case, as_then, "tag") * back * _read(case, again, i, key), why="then"))
    return accounts


def _young_enough(case: Case, again: Again, i: int, met: Sequence[Meeting]) -> float:
    """How likely the age of a row is, were its bird one that was met before."""
    since = again.day(i) - met[0].day
    if again.now.grown[i] == 0 and since > case.limit("full_grown_days"):
        # a nestling now: then its age would be wrong, too
        return float(case.share("rates.field"))
    return 1.0


def _relative(again: Again, i: int, one: str, other: str) -> float:
    """How much likelier one bird from before is to be met in a row than another."""
    return again.chance_met(i, one) / max(again.chance_met(i, other), again.chance_of_number(other))


def _new_tag(case: Case, again: Again, i: int, last: Meeting) -> Finding:
    message = (
        f"Ring {again.typed[i]} had tag {last.tag} on {last.date} and has {again.tag[i]} now, and no remark "
        "says that it was tagged again."
    )
    return case.blame("new_tag", [At(str(again.rings.labels[i]), "tag")], message, [(last.label, "tag")])


# --- the ring is not known, but the tag is


def _known_tag(case: Case, again: Again, i: int, by_tag: tuple[Meeting, ...]) -> Finding | None:
    remark = "".join(sign for sign in again.remarks[i].upper() if sign.isalnum())
    if any((ring := _plain(meeting).upper()) and ring in remark for meeting in by_tag):
        # a remark that names the ring of then was written by somebody who saw both
        return None
    verdict = weigh(_ring_accounts(case, again, i, by_tag))
    last = by_tag[-1]
    suspects = verdict.suspects(case, str(again.rings.labels[i]))
    message = f"Tag {again.tag[i]} was on ring {last.ring} on {last.date}, not on {again.typed[i]}"
    if suspects:
        outcome = "ring" if suspects[0].field == "ring" else "other_tag"
        text = f"{message}{_meant(suspects)}."
        return case.blame(outcome, suspects, text, [(last.label, "tag"), (last.label, "ring")])
    if verdict.why != "ringed again" or _says(again.remarks[i], case.limit("ring_words")):
        return None
    at = [At(str(again.rings.labels[i]), "ring")]
    text = f"{message}, and no remark says that it was ringed again."
    return case.blame("new_ring", at, text, [(last.label, "ring")])


def _ring_accounts(case: Case, again: Again, i: int, by_tag: tuple[Meeting, ...]) -> list[Account]:
    ring, key, tag = again.bare[i], again.key[i], again.tag[i]
    last = by_tag[-1]
    had = _plain(last)
    as_then = [meeting for meeting in by_tag if _plain(meeting) == had]
    remarked = _says(again.remarks[i], case.limit("ring_words"))
    fitted = float(case.limit("ringed_again_remarked" if remarked else "ringed_again"))
    in_line = again.rings.event[i] != "re-encountered" and bool(again.rings.at_home[i])
    fitted *= 1.0 if in_line else float(case.limit("any_number"))
    here = again.here(i, ring)
    chance = again.slip(ring, had, again.above(i)) + float(case.limit("sibling")) * here
    # the bird that had the tag
    known = again.again_share * again.known_share * again.chance_met(i, had) * _read(case, again, i, key)
    known *= _young_enough(case, again, i, by_tag)
    slipped = case.share("rates.ring") * chance * _now_again(case, again, ring)
    accounts = [
        Account(0.0 if here else known * fitted, why="ringed again"),
        Account(known * slipped, "ring", again.written(last)),
        Account(known * _left(case, as_then, "ring") * again.slip(had, ring), why="then"),
    ]
    # another bird
    other_bird = case.share("rates.tag") * again.chance_of_bird(i, ring)
    own = {other for other in again.tags_of.get(ring, {}) if other != key}
    waiting = {other for other in again.book.near_known(tag) if again.book.unused(other)} - {key}
    for other in sorted(own | waiting):
        chance = again.slip(tag, again.book.printed(other)) * _read(case, again, i, other)
        chance *= 1.0 if other in own else again.chance_of_tag(other)
        accounts.append(Account(other_bird * chance, "tag", again.book.printed(other)))
    accounts.append(Account(other_bird * again.tag_lands, "tag"))
    return accounts


# --- neither is known


def _candidates(case: Case, again: Again, i: int) -> list[Account]:
    """List the earlier birds whose ring is one slip away, and how likely each is the bird of the row."""
    ring, kind, key = again.bare[i], str(again.now.slug[i]), again.key[i]
    found = []
    for near in again.birds.index.near(ring):
        met = again.of_ring(i, near)
        if not met or again.here(i, near):
            continue
        if kind and met[-1].species not in ("", kind):
            continue
        borne = any(meeting.tag for meeting in met)
        weight = again.known_share * again.chance_met(i, near) * again.slip(ring, near, again.above(i))
        weight *= _young_enough(case, again, i, met)
        if borne:
            weight *= float(case.limit("tagged_again" if key else "without_tag"))
        found.append(Account(weight, "ring", again.written(met[-1]), near))
    return found


def _unknown(case: Case, again: Again, i: int) -> Finding | None:
    ring = again.bare[i]
    if not again.birds.count(series_of(ring)):
        return None
    rate = case.share("rates.ring") * again.again_share
    slips = [
        Account(found.weight * rate, "ring", found.meant, found.why) for found in _candidates(case, again, i)
    ]
    if not slips:
        return None
    strange = again.chance_of_bird(i, ring)
    verdict = weigh([Account(strange), *slips])
    suspects = verdict.suspects(case, str(again.rings.labels[i]))
    if not suspects:
        return None
    last = again.birds.of_ring[max(slips, key=lambda slip: slip.weight).why][-1]
    told = "is not known from earlier seasons, which hold most rings of its series that are met again"
    if again.outgrown(i, others := again.elsewhere(i, ring)):
        nestling = next(j for j in others if again.now.grown[j] == 0)
        told = f"was on a nestling {_on(again, nestling)}, and this bird is full-grown"
    message = (
        f"Ring {again.typed[i]} {told}; {again.written(last)}, one slip away, was met in box {last.box} on "
        f"{last.date}."
    )
    return case.blame("ring_unknown", suspects, message, [(last.label, "ring")])


# --- the ring is wrong already


def _in_doubt(case: Case, again: Again, i: int, by_tag: tuple[Meeting, ...]) -> Finding | None:
    """Say which earlier bird was meant by a ring that is blamed for its form."""
    ring = again.bare[i]
    if by_tag:
        last = by_tag[-1]
        if _plain(last) == ring or not again.rings.slip(_plain(last), ring, two=True):
            return None
        message = f"Tag {again.tag[i]} was on ring {last.ring} on {last.date}, not on {again.typed[i]}"
        p = 1 - case.share("rates.tag")
        at = [At(str(again.rings.labels[i]), "ring", again.written(last), p, p)]
        return case.blame("ring", at, f"{message}{_meant(at)}.", [(last.label, "tag")])
    if again.rings.event[i] != "re-encountered" or ring in again.birds.of_ring:
        return None
    slips = _candidates(case, again, i)
    if not slips:
        return None
    # any other ring could have been meant too, of which one slip makes this
    other = (1 - again.known_share) * again.chance_of_number(ring)
    verdict = weigh([Account(other, "ring"), *slips])
    suspects = verdict.suspects(case, str(again.rings.labels[i]))
    if not suspects or not suspects[0].suggested:
        return None
    last = again.birds.of_ring[max(slips, key=lambda slip: slip.weight).why][-1]
    message = (
        f"{again.typed[i]} is no ring of a known series; {again.written(last)}, one slip away, was met "
        f"in box {last.box} on {last.date}."
    )
    return case.blame("ring_unknown", suspects, message, [(last.label, "ring")])


def _on(again: Again, j: int) -> str:
    return f"on {np.datetime64(again.day(j), 'D')}" if again.rings.visit[j] >= 0 else "at another visit"


def _plain(meeting: Meeting) -> str:
    return bare(meeting.ring)


def _meant(suspects: Sequence[At]) -> str:
    """Say what was probably meant, and by which slip."""
    first = suspects[0]
    text = str(first.suggested)
    if len(suspects) > 1:
        return ": ring or tag is wrong"
    if not text:
        return f": the {first.field} is wrong"
    return f": {text} was probably meant"
