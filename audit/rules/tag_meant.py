"""Which tag was meant where something else is typed, and how sure that is."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.models.spelling import edits_between, forerunners
from audit.rules.download import download_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from audit.rules.case import Case
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["MeantTag", "TagVerdict", "weigh_tag"]

_NOISE = re.compile(r"[^0-9A-Z]+")
_DIGITS = "0123456789"


@dataclass(frozen=True, slots=True)
class MeantTag:
    """A tag that may have been meant.

    Attributes
    ----------
    key : str
        The tag.
    known_by : str
        ``bird`` (this bird's tag at another visit), ``read`` (read that day, on no other row of that day),
        ``known`` (in stock or in the reader, on no other bird) or ``run`` (begins like the season's others).
    p : float
        Probability that it was meant.
    """

    key: str
    known_by: str
    p: float


@dataclass(frozen=True, slots=True)
class TagVerdict:
    """What is thought of one tag cell.

    Attributes
    ----------
    p_error : float
        Probability that it is wrong; 1 where it cannot be right.
    meant : tuple of MeantTag
        Tags that may have been meant, the likeliest first.
    """

    p_error: float
    meant: tuple[MeantTag, ...]


def weigh_tag(case: Case, book: TagBook, row: TagRow, *, sound: bool = False) -> TagVerdict:
    """Let the tags that may have been meant compete, and, where it can be one, the tag that stands there.

    Parameters
    ----------
    sound : bool
        Whether the text may be the tag of this bird, though nothing speaks for it.

    References
    ----------
    Bayes' theorem; Kernighan, M. D., Church, K. W. & Gale, W. A. (1990). A spelling correction program based
    on a noisy channel model. COLING 1990, 205-210.
    """
    typed = row.tag
    text = _NOISE.sub("", typed) if book.bare else typed
    noisy = text != typed
    priors, known_by = _priors(case, book, row, text)
    weights = {
        key: prior * _chance(case, book, text, book.printed(key), noisy=noisy)
        for key, prior in priors.items()
    }
    if sound:
        rate = case.share("rates.tag")
        right = (1 - rate) * _unbacked(book, row)
        waiting = priors.keys() & book.waiting(row)
        if any(known_by[key] == "bird" for key in waiting):
            # it would have had two tags, and the one read would be nobody's
            right *= 1 - case.limit("keeps_tag")
        # whoever writes another tag by mistake writes one that is like those of the season
        other = case.share("codes.unknown") * book.tree.chance(row.tag, but=row.tag)
        for key in sorted(waiting):
            download = download_of(case)
            # a tag that was read must be on a bird: unless it is this or another one, the sheet lacks it
            surplus = 1 / download.unclaimed(book, row.day, key) - 1
            needed = 1 + surplus * download.free_for(row, key)
            weights[key] = (weights[key] + priors[key] * other) * needed
            # or the same is true of another row beside it
            right += rate * priors[key] * other * needed * download.rivals(row, key)
        wrong = rate * sum(weights.values())
        p_error = wrong / (wrong + right) if wrong else 0.0
    else:
        p_error = 1.0
    total = sum(weights.values())
    meant = [MeantTag(key, known_by[key], p_error * w / total) for key, w in weights.items() if w > 0]
    return TagVerdict(p_error, tuple(sorted(meant, key=lambda one: (-one.p, one.key))))


def _priors(
    case: Case, book: TagBook, row: TagRow, text: str
) -> tuple[Mapping[str, float], Mapping[str, str]]:
    """Share out the belief in each tag before looking at what is typed, and say how each is known."""
    own = {other.key for other in book.rows_of_ring.get(row.ring, ()) if other.label != row.label}
    own = {key for key in own if key != row.key and book.has_form(key)}
    priors: dict[str, float] = {}
    known_by: dict[str, str] = {}
    left = 1.0

    def share_out(keys: Iterable[str], of: float, why: str, among: float = 0.0) -> None:
        keys = list(keys)
        for key in keys:
            priors[key] = priors.get(key, 0.0) + of / max(among, len(keys))
            known_by.setdefault(key, why)

    if own:
        share_out(own, left * case.limit("keeps_tag"), "bird")
        left *= 1 - case.limit("keeps_tag")
    waiting = [key for key in book.waiting(row) if book.unused(key, row.ring)]
    if waiting:
        download = download_of(case)
        near = download.nearest(book, row, waiting)
        in_turn = case.limit("read_in_turn")
        share_out(near, left * book.read_share * in_turn, "read")
        share_out(waiting, left * book.read_share * (1 - in_turn if near else 1.0), "read")
        left *= 1 - book.read_share
    free = [key for key in book.near_known(text, two=True) if key != row.key and book.unused(key, row.ring)]
    if book.stock or book.read:
        share_out(free, left * book.known_share, "known", len(book.known))
        left *= 1 - book.known_share
    for key in waiting:
        if key not in own:
            priors[key] *= download_of(case).free_for(row, key)
    if not any(_near(book, text, key) for key in priors):
        for key in _alike(case, book, row, text):
            priors[key] = priors.get(key, 0.0) + left * book.tree.chance(book.printed(key), but=row.tag)
            known_by.setdefault(key, "run")
    return priors, known_by


def _near(book: TagBook, text: str, key: str) -> bool:
    return edits_between(book.printed(key), text, 2) <= 2  # noqa: PLR2004 - as many slips at once


def _alike(case: Case, book: TagBook, row: TagRow, text: str) -> list[str]:
    """Tags one slip away that begin like the others of the season."""
    if not book.plain_length:
        return []
    least = math.ceil(book.usual_beginning - case.limit("beginning_slack"))
    signs = _DIGITS
    found = []
    for other in forerunners(text, signs) | {text}:
        if len(other) != book.plain_length or not other.isdigit() or other == row.key:
            continue
        if (
            book.tree.begins(other, least, but=row.tag)
            and book.unused(other, row.ring)
            and book.has_form(other)
        ):
            found.append(other)
    return found


def _unbacked(book: TagBook, row: TagRow) -> float:
    """Chance of this very tag on a bird, though neither stock nor the reader of the day has it."""
    chance = 1.0
    if book.read_on.get(row.day):
        chance *= 1 - book.read_share
    if row.key in book.known:
        return chance * book.known_share / len(book.known)
    if book.stock:
        chance *= book.strange_share(row)
    return chance * book.tree.chance(row.tag, but=row.tag)


def _two_of_a_kind(typed: str, meant: str) -> bool:
    """Whether two slips lie between, one of which exchanges neighbours or changes the length."""
    if len(typed) == len(meant):
        # two wrong signs are weighed in the channel
        if sum(m != t for m, t in zip(meant, typed, strict=True)) <= 2:  # noqa: PLR2004 - signs of one slip
            return False
    elif abs(len(typed) - len(meant)) != 1:
        return False
    return edits_between(meant, typed, 2) == 2  # noqa: PLR2004 - two slips


def _chance(case: Case, book: TagBook, typed: str, meant: str, *, noisy: bool) -> float:
    """Chance of the text in a cell, given the tag that was meant and that it was typed wrong."""
    if typed == meant:
        # only the signs around it are wrong
        return 1.0 if noisy else 0.0
    chance = math.exp(book.channel.log_chance(typed, meant))
    if _two_of_a_kind(typed, meant):
        places = max(len(meant) * (len(meant) - 1), 1)
        chance += case.share("codes.two_edits") / (places * len(_DIGITS))
    if len(typed) == len(meant):
        apart = [(m, t) for m, t in zip(meant, typed, strict=True) if m != t]
        if len(apart) == 1 and apart[0][0] in book.keys_below.get(apart[0][1], ""):
            chance += case.share("codes.digit") * case.limit("key_below") / len(meant)
    return chance
