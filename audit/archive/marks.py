"""What a bird is known by over the years: ring, tag, species, sex, age, whether it lived, and its size."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from narwhals import Expr
    from narwhals.typing import LazyFrameT

__all__ = ["Words", "marked"]

_SEPARATORS = r"[-./_\s]"
#: Capitals and digits, at least one digit.
_PLAIN = "^[A-Z]*[0-9][0-9A-Z]*$"


@dataclass(frozen=True, slots=True)
class Words:
    """What the words of an archive mean.

    Attributes
    ----------
    pullus, dead : collection of str
        Age codes of nestlings; conditions of dead birds, in small letters.
    ring, tag, moved : collection of str
        Parts of remarks: a bird got another ring, another tag, was put elsewhere; in small letters.
    species : mapping of str to collection of str
        Slug -> texts of the archive that name it.
    meant : mapping of str to mapping of str to collection of str
        Column -> value -> texts of the archive that mean it, in whatever language.
    """

    pullus: Collection[str]
    dead: Collection[str]
    ring: Collection[str] = ()
    tag: Collection[str] = ()
    moved: Collection[str] = ()
    species: Mapping[str, Collection[str]] = field(default_factory=dict)
    meant: Mapping[str, Mapping[str, Collection[str]]] = field(default_factory=dict)


def marked(rows: LazyFrameT, words: Words) -> LazyFrameT:
    """Take from each handling what its bird is known by.

    Parameters
    ----------
    rows : frame
        Handlings laid out.
    words : Words

    Returns
    -------
    frame
        ``at``, season, scheme and team of each, ``box`` and ``event``; ``day`` since 1970; ``kind``, the slug
        of the species (the text itself where it names none); ``ring`` and ``tag`` in capitals without
        separators, missing without a digit; ``sex``, missing where it is not M or F; ``pullus``, ``grown``,
        ``dead``, ``said_*``, never missing; ``wing``, ``mass`` (net, else gross less bag) and ``bag``, above
        nothing; ``age_days``.
    """
    import narwhals as nw

    age = _meant("age", words).str.strip_chars()
    pullus = age.is_in(list(words.pullus)).fill_null(value=False)
    condition = nw.col("condition").str.to_lowercase().str.strip_chars()
    sex = _meant("sex", words).str.to_uppercase()
    remark = nw.col("remarks").str.to_lowercase()
    wing, bag, rest = nw.col("wing_mm"), nw.col("bag_g"), nw.col("gross_g") - nw.col("bag_g")
    mass = nw.coalesce(nw.col("net_g"), rest)
    return rows.select(
        "at",
        "season",
        "scheme",
        "team",
        nw.col("date").alias("day"),
        nw.col("box").str.to_uppercase().alias("box"),
        _kind(words.species).alias("kind"),
        _code("ring").alias("ring"),
        _code("tag").alias("tag"),
        nw.when(sex.is_in(["M", "F"])).then(sex).alias("sex"),
        _meant("event", words).alias("event"),
        pullus.alias("pullus"),
        (~age.is_null() & ~pullus).alias("grown"),
        condition.is_in(list(words.dead)).fill_null(value=False).alias("dead"),
        _says(remark, words.ring).alias("said_ring"),
        _says(remark, words.tag).alias("said_tag"),
        _says(remark, words.moved).alias("said_moved"),
        nw.when(wing > 0).then(wing).alias("wing"),
        nw.when(mass > 0).then(mass).alias("mass"),
        nw.when(bag > 0).then(bag).alias("bag"),
        "age_days",
    )


def _code(name: str) -> Expr:
    """Write a code in one way, so that it can be compared; a text without a digit is none."""
    import narwhals as nw

    cell = nw.col(name)
    # nearly all codes are written so already
    other = nw.when(cell.str.contains("[0-9]")).then(cell.str.replace_all(_SEPARATORS, "").str.to_uppercase())
    return nw.when(~cell.str.contains(_PLAIN).fill_null(value=False)).then(other).otherwise(cell)


def _kind(species: Mapping[str, Collection[str]]) -> Expr:
    import narwhals as nw

    text = nw.col("species")
    kind = text.str.to_lowercase()
    for slug, texts in species.items():
        kind = nw.when(text.is_in(list(texts))).then(nw.lit(slug)).otherwise(kind)
    return kind


def _meant(name: str, words: Words) -> Expr:
    """Give the value that each text of a column means; the text itself where that is not known."""
    import narwhals as nw

    text = value = nw.col(name)
    for meaning, texts in words.meant.get(name, {}).items():
        value = nw.when(text.is_in(list(texts))).then(nw.lit(meaning)).otherwise(value)
    return value


def _says(remark: Expr, parts: Collection[str]) -> Expr:
    import narwhals as nw

    if not parts:
        return nw.lit(value=False)
    any_of = "|".join(re.escape(part.lower()) for part in parts)
    return remark.str.contains(any_of).fill_null(value=False)
