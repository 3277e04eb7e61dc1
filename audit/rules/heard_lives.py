"""What each typed tag should have been heard to do, what it did, and which heard tag was meant instead.

A tag that was typed wrong leaves two traces: it is never heard, or leads the life of another bird, and the
tag that was meant is heard at its box and stands on no row.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from audit.models.matching import marginals
from audit.rules.heard import HEARD, Heard, Presence, heard_at_boxes
from audit.rules.heeded import together
from audit.rules.tag_book import open_tag_book
from audit.rules.tagged_birds import TAGGED, TaggedBird, TaggedBirds, tagged_birds

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.rules.case import Case
    from audit.rules.tag_book import TagBook

__all__ = ["LIVES", "HeardLife", "HeardLives", "Life", "heard_lives"]

#: Columns on which the lives depend.
LIVES = together(HEARD, TAGGED)

_DECIMALS = 10


class Life(StrEnum):
    """What a typed tag was heard to do."""

    #: heard at home from the day on which it was fitted
    AT_HOME = "at home"
    #: never heard, although others were at its box
    NEVER = "never"
    #: heard, but never at its own box, although others were there
    ELSEWHERE = "elsewhere"
    #: heard on nights before it was fitted
    BEFORE = "before"
    #: no tag is typed
    NO_TAG = "no tag"
    #: nothing at its box could tell
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class HeardLife:
    """One bird of the sheet beside the log.

    Attributes
    ----------
    bird : TaggedBird
    life : Life
    home : Presence or None
        Its tag at its own box.
    away : tuple of Presence
        Its tag at other boxes, longest first.
    early : tuple of Presence
        Where it was heard before it was fitted.
    siblings : tuple of Presence
        Tags of birds handled with it that were heard at its box since.
    of : int
        Birds handled with it that have another tag.
    nights : int
        Nights since it was fitted on which any of them was heard there.
    p_error : float
        Probability that the tag cell is wrong.
    meant : Presence or None
        The tag that is heard at its box, stands on no row and was probably meant.
    p_fix : float
        Probability of that.
    others : tuple of (Presence, float)
        Other such tags.
    """

    bird: TaggedBird
    life: Life
    home: Presence | None = None
    away: tuple[Presence, ...] = ()
    early: tuple[Presence, ...] = ()
    siblings: tuple[Presence, ...] = ()
    of: int = 0
    nights: int = 0
    p_error: float = 0.0
    meant: Presence | None = None
    p_fix: float = 0.0
    others: tuple[tuple[Presence, float], ...] = ()

    @property
    def early_at_home(self) -> Presence | None:
        """Its tag at its own box, if it was heard there before it was fitted."""
        return next((one for one in self.early if one.box == self.bird.box), None)


@dataclass(frozen=True, slots=True)
class HeardLives:
    """All birds of the sheet beside the log.

    Attributes
    ----------
    lives : tuple of HeardLife
        In sheet order.
    strangers : tuple of Presence
        Tags heard that stand on no row and are not taken for any bird's, by box and tag.
    """

    lives: tuple[HeardLife, ...]
    strangers: tuple[Presence, ...]


def heard_lives(case: Case) -> HeardLives:
    """Lay the birds of the sheet beside the log; none where there is no log."""
    return case.lay_out(_lay_out, LIVES)


def _lay_out(case: Case) -> HeardLives:
    heard = heard_at_boxes(case)
    if heard is None:
        return HeardLives((), ())
    lives = _Lives(case, open_tag_book(case), heard, tagged_birds(case))
    return lives.weighed()


@dataclass(slots=True)
class _Lives:
    case: Case
    book: TagBook
    heard: Heard
    birds: TaggedBirds

    def limit(self, name: str) -> float:
        return float(self.case.declared.rules["heard_life"].limits[name].value)

    def weighed(self) -> HeardLives:
        typed = {row.key for row in (*self.book.rows, *self.book.aside.values()) if row.key}
        strangers = [one for one in self.heard.presences if one.key not in typed]
        lives = [self._told(bird) for bird in self.birds.birds]
        weights = [self._weigh(life, strangers) for life in lives]
        found = list(lives)
        for group in _rivals(weights):
            for i, life in zip(group, self._judged(group, lives, weights), strict=True):
                found[i] = life
        least = self.limit("blame_from")
        taken = {life.meant.key for life in found if life.meant is not None and life.p_error >= least}
        return HeardLives(tuple(found), tuple(one for one in strangers if one.key not in taken))

    # --- what it did

    def _told(self, bird: TaggedBird) -> HeardLife:
        from_night = bird.since - 1
        slack = int(self.limit("early_days"))
        presences = self.heard.of_tag.get(bird.key, ()) if bird.key else ()
        home = next((one for one in presences if one.box == bird.box), None)
        away = sorted(
            (one for one in presences if one.box != bird.box), key=lambda one: (-len(one.nights), one.box)
        )
        days = int(self.limit("brood_days"))
        mates = [other for other in self.birds.siblings(bird, days) if other.key and other.key != bird.key]
        siblings = {}
        for mate in mates:
            there = self.heard.of(mate.key, bird.box)
            if there is not None and there.since(max(bird.since, mate.since) - 1):
                siblings[mate.key] = there
        nights = np.unique(
            np.concatenate([one.nights for one in siblings.values()] or [np.zeros(0, np.int64)])
        )
        life = HeardLife(
            bird,
            Life.UNKNOWN,
            home,
            tuple(away),
            siblings=tuple(siblings.values()),
            of=len({mate.key for mate in mates}),
            nights=int((nights >= from_night).sum()),
        )
        if not bird.typed and not bird.key:
            return replace(life, life=Life.NO_TAG)
        early = [one for one in presences if one.before(from_night - slack + 1)]
        n_early = sum(one.before(from_night - slack + 1) for one in early)
        if bird.fitted and n_early >= self.limit("early_nights"):
            return replace(life, life=Life.BEFORE, early=tuple(early))
        if home is not None and home.since(from_night):
            return replace(life, life=Life.AT_HOME)
        if life.nights < self.limit("sibling_nights"):
            return life
        if away:
            return replace(life, life=Life.ELSEWHERE)
        return replace(life, life=Life.NEVER)

    # --- which was meant

    def _weigh(self, life: HeardLife, strangers: Sequence[Presence]) -> _Weights:
        bird, rate = life.bird, float(self.case.share("rates.tag"))
        asked = {Life.NEVER, Life.ELSEWHERE, Life.BEFORE, Life.NO_TAG, Life.UNKNOWN}
        shared = len({other.row.ring for other in self.birds.of_key.get(bird.key, ())}) > 1
        if life.life not in asked and not (bird.doubted and shared):
            return _Weights(1.0, {}, 0.0)
        if life.life is Life.NO_TAG and not (bird.young and bird.fitted and life.of):
            return _Weights(1.0, {}, 0.0)
        if bird.doubted:
            rate = self.limit("doubted")
        in_use = bird.key in self.book.stock or len(self.birds.of_key.get(bird.key, ())) > 1
        right_does, wrong_does = self._does(life, in_use=in_use)
        if life.life is Life.NO_TAG:
            right = self.limit("untagged")
            rate, prior, wrong_does = 1 - right, 1.0, 1.0
        else:
            prior = self._prior(bird.key or bird.typed)
            right = (1 - rate) * prior * right_does
        heard_share = self.limit("heard_share")
        loose = 1.0 if life.life is Life.NO_TAG else self.limit("slip_in_stock") * prior
        if self._counted_on(bird):
            loose += float(self.case.share("habits.filled"))
        none = rate * loose * wrong_does * (1 - heard_share)
        meant = {}
        for one in strangers:
            if one.box != bird.box or not self._may_be(life, one):
                continue
            chance = self._chance(bird, one.key)
            fits = 1.0 if self._resident(life, one) else self.limit("seldom")
            meant[one.key] = (
                rate * chance * self._prior(one.key) * wrong_does * heard_share * fits / self._stranger(one)
            )
        return _Weights(right, meant, none)

    def _does(self, life: HeardLife, *, in_use: bool) -> tuple[float, float]:
        """How likely a right tag, and a wrong one, are heard like this."""
        young = life.bird.young
        also_heard = self.limit("wrong_is_heard") if in_use else self.limit("unknown_is_heard")
        match life.life:
            case Life.NEVER:
                return self.limit("silent_young" if young else "silent_old"), 1 - also_heard
            case Life.ELSEWHERE:
                return self.limit("only_elsewhere" if young else "silent_old"), also_heard
            case Life.BEFORE:
                return self.limit("heard_before"), also_heard
            case Life.UNKNOWN:
                return self.limit("silent_unknown"), 1.0
            case _:
                return 1.0, 1.0

    def _may_be(self, life: HeardLife, one: Presence) -> bool:
        """Whether a tag can have been on this bird: heard often enough, and never before it was fitted."""
        bird = life.bird
        if one.reads < self.limit("stranger_reads"):
            return False
        slack = int(self.limit("early_days"))
        if any(other.before(bird.since - slack) for other in self.heard.of_tag.get(one.key, ())):
            return not bird.fitted
        return bool(one.since(bird.since - 1))

    def _resident(self, life: HeardLife, one: Presence) -> bool:
        return one.since(life.bird.since - 1) >= self.limit("resident_share") * life.nights

    def _chance(self, bird: TaggedBird, key: str) -> float:
        """Chance of what stands in the cell, given the tag that was meant and that it was typed wrong."""
        if not bird.typed:
            return 1.0
        typed = bird.row.tag or bird.typed
        chance = math.exp(self.book.channel.log_chance(typed, self.book.printed(key)))
        ring, above = self.book.above.get(bird.row.label, ("", ""))
        if bird.key and above == bird.key and ring != bird.row.ring:
            chance += float(self.case.share("copied.above"))
        if self._counted_on(bird):
            chance += float(self.case.share("habits.filled"))
        return chance

    def _counted_on(self, bird: TaggedBird) -> bool:
        """Whether the tag above was counted on by one, which tells nothing of the tag that was meant."""
        above = self.book.above.get(bird.row.label, ("", ""))[1]
        return bird.key.isdigit() and above.isdigit() and int(bird.key) - int(above) == 1

    def _prior(self, key: str) -> float:
        """Chance that this very tag was fitted."""
        if self.book.stock and key in self.book.stock:
            return 1 / len(self.book.stock)
        unlisted = self.limit("unlisted") if self.book.stock else 1.0
        return unlisted * self._alike(key)

    def _alike(self, key: str) -> float:
        """Chance of a tag among those of the season, without itself."""
        shown = self.book.printed(key)
        return self.book.tree.chance(shown, but=shown if key in self.book.rings_of else "")

    def _stranger(self, one: Presence) -> float:
        """How many birds are to be expected at a box whose tag stands on no row and is this one."""
        expected, ours = self.limit("strangers"), self.limit("strangers_ours")
        if self.book.stock and one.key in self.book.stock:
            unused = len(self.book.stock - self.book.rings_of.keys())
            return expected * ours / max(unused, 1)
        anywhere = float(_DECIMALS) ** -len(self.book.printed(one.key))
        return expected * (1 - ours) * (self._alike(one.key) + anywhere) / 2

    def _judged(
        self, group: Sequence[int], lives: Sequence[HeardLife], weights: Sequence[_Weights]
    ) -> Iterator[HeardLife]:
        """Weigh birds that may bear the same heard tags together: a tag is on one bird."""
        keys = sorted({key for i in group for key in weights[i].meant})
        log_weight = np.array([[_log(weights[i].meant.get(key, 0.0)) for key in keys] for i in group])
        log_new = np.array([_log(weights[i].right + weights[i].none) for i in group])
        exact, most = int(self.limit("exact_tags")), int(self.limit("matchings"))
        shares = marginals(log_weight, log_new, exact_birds=exact, most=most)
        for i, share in zip(group, shares, strict=True):
            life, weight = lives[i], weights[i]
            p_error = 1 - float(share[-1]) * weight.right / (weight.right + weight.none)
            at_home = {one.key: one for one in self.heard.at_box.get(life.bird.box, ())}
            chances = sorted(
                (
                    (at_home[key], float(p))
                    for key, p in zip(keys, share, strict=False)
                    if key in weight.meant
                ),
                key=lambda chance: (-chance[1], chance[0].key),
            )
            best, p_fix = chances[0]
            yield replace(life, p_error=p_error, meant=best, p_fix=p_fix, others=tuple(chances[1:]))


def _log(value: float) -> float:
    return math.log(value) if value > 0 else -math.inf


def _rivals(weights: Sequence[_Weights]) -> list[list[int]]:
    """Birds that hang together by a tag that either may bear; without those for which none is heard."""
    of: dict[str, list[int]] = {}
    for i, weight in enumerate(weights):
        if not weight.meant:
            continue
        group = [i]
        for other in {id(of[key]): of[key] for key in weight.meant if key in of}.values():
            group = [*other, *group]
        for key in {key for k in group for key in weights[k].meant}:
            of[key] = group
    return sorted(sorted(group) for group in {id(group): group for group in of.values()}.values())


@dataclass(frozen=True, slots=True)
class _Weights:
    """How likely the tag is right, one of the heard tags was meant, or one that was not heard."""

    right: float
    meant: dict[str, float]
    none: float
