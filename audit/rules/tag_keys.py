"""The tags of sheet, stock and reader by one key each, however they are written."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from audit.models.tag_text import canonical, comparable, complete, recognise

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.declarations.limit import Limit
    from audit.rules.case import Case

__all__ = ["keys_alone", "keys_of"]

#: Ten digits that all could be hex are the low 32 bits in a season that has no other ten hex digits.
_TIES = ("em_10_digits", "em_hex")


def keys_of(
    case: Case, tags: list[str], stock: list[str], reads: list[str]
) -> tuple[str | None, tuple[dict[str, str], dict[str, str], dict[str, str]]]:
    """Give each text its key.

    Parameters
    ----------
    tags, stock, reads : list of str
        Texts on the sheet, in stock and in the download.

    Returns
    -------
    str or None
        The way of writing that most tags of the sheet share.
    tuple of dict
        Text to key, of each.
    """
    slugs: dict[str, set[str]] = {
        text: {reading.slug for reading in recognise(text)}
        for text in dict.fromkeys([*tags, *stock, *reads])
        if text
    }
    limits = case.declared.tags.limits
    habit = _habit(limits, tags, slugs) or _habit(limits, [*tags, *stock], slugs)
    found = tuple(
        {text: comparable(text, usual) for text in dict.fromkeys(texts) if text}
        for texts, usual in (
            (tags, habit),
            (stock, _habit(limits, stock, slugs) or habit),
            (reads, _habit(limits, reads, slugs) or habit),
        )
    )
    _complete_short(found, habit)
    return habit, (found[0], found[1], found[2])


def keys_alone(texts: Sequence[str], limits: Mapping[str, Limit]) -> dict[str, str]:
    """Give each text its key where there is neither stock nor download, as over many seasons.

    Parameters
    ----------
    texts : sequence of str
        Without separators.
    limits : mapping of str to Limit
        Of the declared tags.
    """
    slugs = {text: {reading.slug for reading in recognise(text)} for text in dict.fromkeys(texts) if text}
    habit = _habit(limits, list(slugs), slugs)
    keys = {text: comparable(text, habit) for text in slugs}
    _complete_short([keys], habit)
    return keys


def _complete_short(keys: Sequence[dict[str, str]], habit: str | None) -> None:
    """Give short prints the key of the one known tag that they can be."""
    whole = {key for key_of in keys for text, key in key_of.items() if canonical(key)}
    for key_of in keys:
        short = [text for text, key in key_of.items() if key == text and canonical(text) is None]
        if short:
            key_of.update(complete(short, whole, habit))


def _habit(limits: Mapping[str, Limit], texts: list[str], slugs: Mapping[str, set[str]]) -> str | None:
    """Name the way of writing that most of the texts share."""
    distinct = {text for text in texts if text}
    counts: Counter[str] = Counter()
    for text in distinct:
        counts.update(slugs[text])
    if not counts or len(distinct) < limits["season.habit_least"].value:
        return None
    most = max(counts.values())
    if most < limits["season.habit_share"].value * len(distinct):
        return None
    tied = [slug for slug, n in counts.items() if n == most]
    return min(tied, key=lambda slug: _TIES.index(slug) if slug in _TIES else len(_TIES))
