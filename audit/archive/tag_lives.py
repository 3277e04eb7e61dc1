"""Tags over the years: one tag on one ring, and one tag at a time on a bird."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.archive.clashes import below, changed, clash, with_before

if TYPE_CHECKING:
    from narwhals.typing import LazyFrameT

__all__ = ["changed_tags", "changed_young", "doubtful_tags", "tag_clashes"]

_RING = ("scheme", "ring")
_TAG = ("tag",)


def _known(rows: LazyFrameT) -> LazyFrameT:
    import narwhals as nw

    return rows.filter(~nw.any_horizontal(nw.col("ring", "tag", "day").is_null(), ignore_nulls=True))


def doubtful_tags(rows: LazyFrameT) -> LazyFrameT:
    """Take the rows with ring, tag and day of all tags that stand with two rings.

    Parameters
    ----------
    rows : frame
        Of `marks.marked`.

    Returns
    -------
    frame
        ``at``, ``day``, ``tag``, ``said_ring`` and ``bearer``, the ring with its scheme.
    """
    import narwhals as nw

    known = _known(rows)
    # one number of two schemes is two rings
    bearer = nw.concat_str("scheme", "ring", separator=" ").alias("bearer")
    told = known.select("at", "day", "tag", "said_ring", bearer)
    tags = told.group_by(*_TAG).agg(
        nw.col("bearer").min().alias("bearer"), nw.col("bearer").max().alias("bearer_other")
    )
    some = tags.filter(nw.col("bearer") < nw.col("bearer_other"))
    return told.join(some.select(*_TAG), on=list(_TAG), how="semi")


def changed_young(of_rings: LazyFrameT) -> LazyFrameT:
    """Find the nestlings that have two tags, or are in two boxes, in one season.

    Parameters
    ----------
    of_rings : frame
        From `ring_lives.doubtful_rings`.

    Returns
    -------
    frame
        ``at`` of all their rows of that season: an innocent one lost its tag, or was put elsewhere.
    """
    import narwhals as nw

    young = of_rings.filter(nw.col("pullus"))
    lives, told = ["season", *_RING], ("tag", "box")
    some = young.group_by(*lives).agg(
        *(nw.col(name).min().alias(f"{name}_one") for name in told),
        *(nw.col(name).max().alias(f"{name}_other") for name in told),
    )
    two = [(nw.col(f"{name}_one") < nw.col(f"{name}_other")).fill_null(value=False) for name in told]
    some = some.filter(two[0] | two[1]).select(*lives)
    return young.join(some, on=lives, how="semi").select("at")


def changed_tags(of_rings: LazyFrameT) -> LazyFrameT:
    """Find the rows on which a bird has another tag than when it was met before.

    Parameters
    ----------
    of_rings : frame
        From `ring_lives.doubtful_rings`.

    Returns
    -------
    frame
        ``at`` of each: few birds are given another tag, and as often one digit was misread.
    """
    return with_before(_known(of_rings), ("tag",), _RING).filter(changed("tag")).select("at")


def tag_clashes(of_rings: LazyFrameT, of_tags: LazyFrameT) -> LazyFrameT:
    """Find a bird with two tags at once, and a tag on two birds.

    Parameters
    ----------
    of_rings : frame
        From `ring_lives.doubtful_rings`.
    of_tags : frame
        From `doubtful_tags`.

    Returns
    -------
    frame
        Clashes of the rules ``two_tags`` (a tag is told of while an earlier one of the same ring is told of
        again later, or on the same day) and ``two_rings`` (a tag is told of with another ring than before).

    Notes
    -----
    Innocent are: a bird that lost its tag, or was given another one, later on; a tag of a bird that was given
    another ring, as a remark says.
    """
    import narwhals as nw

    worn = _known(of_rings).with_columns(
        nw.col("day").max().over(*_RING, *_TAG).alias("last"),
    )
    worn = with_before(worn, ("at", "tag", "last"), _RING)
    again = changed("tag") & (nw.col("last_before") >= nw.col("day"))
    borne = with_before(of_tags, ("at", "bearer"), _TAG)
    other = changed("bearer") & ~nw.col("said_ring")
    return below(
        [
            clash(worn, "two_tags", again, nw.col("at_before")),
            clash(borne, "two_rings", other, nw.col("at_before")),
        ]
    )
