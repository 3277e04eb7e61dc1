"""Rings, tags and legs that are unlike those of their team: a sieve, from a few counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.archive.clashes import below

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd
    from narwhals import LazyFrame
    from narwhals.typing import LazyFrameT

    from audit.archive.engine import Engine

__all__ = ["FormLimits", "odd_bags", "odd_legs", "odd_rings", "odd_tags"]

_TEAM = ("season", "scheme", "team")
_LEGS = ("ring_leg", "tag_leg")
#: Digits of a tag in decimal digits (ISO 11784).
_DECIMAL = 15
_FORM = (*_TEAM, "kind", "head", "signs", "mixed")


@dataclass(frozen=True, slots=True)
class FormLimits:
    """From where on a form is looked at.

    Attributes
    ----------
    rare_share : float
        A form of no larger share of its team's season is rare.
    stray_most : float
        A beginning on more birds than that is no slip of the hand.
    habit_least, form_least : float
        Fewer tags or legs, and fewer rings of one prefix, show no custom.
    head_signs, batch_signs : float
        Signs of a ring that tell its prefix, and of a tag that a batch shares.
    bag_times : float
        A bag so many times as heavy, or as light, as those of a team for one species is odd.
    """

    rare_share: float
    stray_most: float
    habit_least: float
    form_least: float
    head_signs: float
    batch_signs: float
    bag_times: float


def odd_rings(engine: Engine, marks: LazyFrame[Any], limits: FormLimits) -> LazyFrame[Any]:
    """Find rings that are written unlike others of their prefix, stand alone with it, or on another species.

    Parameters
    ----------
    engine : Engine
    marks : frame
        Of `marks.marked`.
    limits : FormLimits

    Returns
    -------
    frame
        ``at`` of each such row.
    """
    import narwhals as nw
    import pandas as pd

    ring = nw.col("ring")
    formed = marks.filter(~ring.is_null()).select(
        "at",
        *_TEAM,
        nw.col("kind").fill_null(""),
        ring.str.slice(0, int(limits.head_signs)).alias("head"),
        ring.str.len_chars().cast(nw.Float64).alias("signs"),
        ring.str.contains("[0-9][A-Z]").cast(nw.Float64).alias("mixed"),
    )
    counts = engine.frame(formed.group_by(*_FORM).agg(nw.len().alias("many")))
    counts["letters"] = counts["head"].str.extract("^([A-Z]*)", expand=False).fillna("")
    team = [counts[name] for name in _TEAM]
    of_letters = _sum(counts, [*_TEAM, "letters"])
    written = _sum(counts, [*_TEAM, "letters", "signs", "mixed"])
    on_kind = _sum(counts, [*_TEAM, "letters", "kind"])
    usual = on_kind.groupby([*team, counts["letters"]]).transform("max")
    anywhere = _sum(counts, ["scheme", "letters"])
    custom = (of_letters >= limits.habit_least) & (counts["letters"] != "")
    whole = counts["many"].groupby(team).transform("sum") >= limits.habit_least
    odd = (
        ((written <= (limits.rare_share * of_letters).clip(lower=1)) & (of_letters > limits.form_least))
        | (
            (on_kind <= limits.rare_share * of_letters)
            & (usual >= (1 - limits.rare_share) * of_letters)
            & custom
        )
        | ((anywhere <= limits.stray_most) & whole)
    )
    few = counts.loc[odd, list(_FORM)].reset_index(drop=True)
    if few.empty:
        few = pd.DataFrame({name: pd.Series(dtype=counts[name].dtype) for name in _FORM})
    return _of(formed, engine.table(few, "odd_rings"), _FORM)


def odd_tags(marks: LazyFrameT, limits: FormLimits) -> LazyFrameT:
    """Find tags of odd length or with odd letters, or new ones that hardly another begins like.

    Parameters
    ----------
    marks : frame
        Of `marks.marked`.
    limits : FormLimits

    Returns
    -------
    frame
        ``at`` of each such row, in any order; a row may stand twice.
    """
    import narwhals as nw

    tag = nw.col("tag")
    told = marks.filter(~tag.is_null())
    long = tag.str.len_chars()
    # tags in hexadecimal digits have letters as often as not, but none beyond F, and none of fifteen signs
    letter = tag.str.contains("[G-Z]") | (tag.str.contains("[A-F]") & (long == _DECIMAL))
    signs = told.select(
        "at", *_TEAM, long.cast(nw.Float64).alias("signs"), letter.cast(nw.Float64).alias("letter")
    )
    # birds met again bear tags of other years
    fitted = told.filter(nw.col("event").fill_null("ringed") == "ringed")
    heads = fitted.select("at", *_TEAM, tag.str.slice(0, int(limits.batch_signs)).alias("head"))
    return below([_rare(signs, ("signs", "letter"), limits), _rare(heads, ("head",), limits, few=True)])


def odd_legs(rows: LazyFrameT, stored: Mapping[str, Any], limits: FormLimits) -> LazyFrameT:
    """Find the legs that are seldom in a team's season.

    Parameters
    ----------
    rows : frame
        Handlings laid out.
    stored : mapping
        Columns that are there.
    limits : FormLimits

    Returns
    -------
    frame
        ``at`` of each such row; may stand twice.
    """
    import narwhals as nw

    told = [name for name in _LEGS if name in stored]
    if not told:
        return rows.select("at").filter(nw.col("at").is_null())
    there = [rows.filter(~nw.col(name).is_null()).select("at", *_TEAM, name) for name in told]
    return below([_rare(legs, (name,), limits) for legs, name in zip(there, told, strict=True)])


def odd_bags(marks: LazyFrameT, limits: FormLimits) -> LazyFrameT:
    """Find bags much heavier or lighter than those of their team for a species.

    Parameters
    ----------
    marks : frame
        Of `marks.marked`.
    limits : FormLimits

    Returns
    -------
    frame
        ``at`` of each such row.
    """
    import narwhals as nw

    bag, usual = nw.col("bag"), nw.col("usual")
    keys = [*_TEAM, "kind"]
    weighed = marks.filter(~bag.is_null()).select("at", *_TEAM, nw.col("kind").fill_null(""), "bag")
    bags = weighed.group_by(*keys).agg(
        bag.mean().alias("usual"), bag.min().alias("least"), bag.max().alias("most")
    )
    wide = (nw.col("most") > limits.bag_times * usual) | (nw.col("least") * limits.bag_times < usual)
    beside = weighed.join(bags.filter(wide).select(*keys, "usual"), on=keys, how="inner")
    odd = (bag > limits.bag_times * usual) | (bag * limits.bag_times < usual)
    return beside.filter(odd).select("at")


def _rare(formed: LazyFrameT, form: Sequence[str], limits: FormLimits, *, few: bool = False) -> LazyFrameT:
    """Take the rows whose form is rare in a season of a team that has one form for nearly all.

    Where `few` is asked for, as of batches of tags, a small share is no slip: only one or two rows are.
    """
    import narwhals as nw

    counts = formed.group_by(*_TEAM, *form).agg(nw.len().alias("many"))
    teams = counts.group_by(*_TEAM).agg(nw.col("many").sum().alias("all"), nw.col("many").max().alias("most"))
    teams = teams.filter(
        (nw.col("all") >= limits.habit_least)
        & (nw.col("most") >= (1 - 2 * limits.rare_share) * nw.col("all"))
    )
    rare = counts.join(teams, on=list(_TEAM), how="inner")
    stray = nw.col("many") <= limits.stray_most
    rare = rare.filter(stray if few else stray | (nw.col("many") <= limits.rare_share * nw.col("all")))
    return _of(formed, rare.filter(nw.col("many") < nw.col("most")), (*_TEAM, *form))


def _of(formed: LazyFrameT, few: LazyFrameT, form: Sequence[str]) -> LazyFrameT:
    return formed.join(few.select(*form), on=list(form), how="semi").select("at")


def _sum(counts: pd.DataFrame, names: list[str]) -> pd.Series:
    found: pd.Series = counts["many"].groupby([counts[name] for name in names]).transform("sum")
    return found
