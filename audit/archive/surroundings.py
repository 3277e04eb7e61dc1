"""Rows that a season's rules need to judge others: of the same box, bird or team, and their past."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.archive.clashes import below

if TYPE_CHECKING:
    from narwhals.typing import LazyFrameT

__all__ = ["OF_TEAM", "around_boxes", "beside_boxes", "of_all", "past_of"]

#: What names one season of one team.
OF_TEAM = ("season", "scheme", "team")
_TOLD = ("at", *OF_TEAM)


def of_all(marks: LazyFrameT) -> LazyFrameT:
    """Take all rows.

    Parameters
    ----------
    marks : frame
        Of `marks.marked`.

    Returns
    -------
    frame
        ``at``, ``season``, ``scheme``, ``team``, each row once.
    """
    return marks.select(*_TOLD)


def around_boxes(
    marks: LazyFrameT, looked: LazyFrameT, birds: LazyFrameT, *, rows_of_box: float
) -> LazyFrameT:
    """Take the rows of the same box or bird in the same season of the team as those that are looked at.

    Parameters
    ----------
    marks : frame
        Of `marks.marked`.
    looked, birds : frame
        ``at`` of rows, each once; of the latter only the bird is asked about, not the box.
    rows_of_box : float
        A box with more rows is a word for many places: of it only the same days are taken.

    Returns
    -------
    frame
        As from `of_all`.
    """
    import narwhals as nw

    boxes = marks.join(looked, on="at", how="semi")
    seen = marks.join(below([looked, birds]), on="at", how="semi")
    box, ring = [*OF_TEAM, "box"], [*OF_TEAM, "ring"]
    boxed = boxes.filter(~nw.col("box").is_null()).select(*box, "day")
    there = marks.select(*_TOLD, "box", "day").join(boxed.select(*box).unique(), on=box, how="semi")
    full = there.group_by(*box).agg(nw.len().alias("many")).filter(nw.col("many") > rows_of_box)
    same_box = there.join(full.select(*box), on=box, how="anti").select(*_TOLD)
    days = boxed.filter(~nw.col("day").is_null()).unique()
    same_day = there.join(full.select(*box), on=box, how="semi").join(days, on=[*box, "day"], how="semi")
    rings = seen.filter(~nw.col("ring").is_null()).select(*ring).unique()
    same_ring = marks.select(*_TOLD, "ring").join(rings, on=ring, how="semi").select(*_TOLD)
    return below([same_box, same_day.select(*_TOLD), same_ring, seen.select(*_TOLD)]).unique()


def beside_boxes(marks: LazyFrameT, near: LazyFrameT, ordered: LazyFrameT, *, boxes: float) -> LazyFrameT:
    """Take more boxes of each team's season with rows out of order: they show how it types its rings.

    Parameters
    ----------
    marks : frame
        Of `marks.marked`.
    near : frame
        ``at`` of the rows that are taken already: their boxes show it, too.
    ordered : frame
        ``at`` of the rows out of order, each once.
    boxes : float
        How many boxes in which several birds were ringed a team has then; of those that are not taken yet the
        first by name.

    Returns
    -------
    frame
        As from `of_all`: the rows of these further boxes.
    """
    import narwhals as nw

    box = [*OF_TEAM, "box"]
    teams = marks.join(ordered, on="at", how="semi").select(*OF_TEAM).unique()
    there = marks.select(*_TOLD, "box", "event").join(teams, on=list(OF_TEAM), how="semi")
    ringed = there.filter((nw.col("event").fill_null("ringed") == "ringed") & ~nw.col("box").is_null())

    def several(rows: LazyFrameT) -> LazyFrameT:
        return rows.group_by(*box).agg(nw.len().alias("many")).filter(nw.col("many") > 1).select(*box)

    taken = several(ringed.join(near.select("at"), on="at", how="semi"))
    held = taken.group_by(*OF_TEAM).agg(nw.len().alias("held"))
    others = several(ringed).join(taken, on=box, how="anti").with_columns(nw.lit(1).alias("one"))
    counted = others.with_columns(nw.col("one").cum_sum().over(*OF_TEAM, order_by="box").alias("place"))
    counted = counted.join(held, on=list(OF_TEAM), how="left").with_columns(nw.col("held").fill_null(0))
    first = counted.filter(nw.col("place") + nw.col("held") <= boxes).select(*box)
    return there.join(first, on=box, how="semi").select(*_TOLD)


def past_of(marks: LazyFrameT, judged: LazyFrameT, rings: LazyFrameT, *, whole: bool) -> LazyFrameT:
    """Take all rows, over all seasons, that tell of a bird which is, or may be, told of elsewhere.

    Parameters
    ----------
    marks : frame
        Of `marks.marked`.
    judged : frame
        ``at`` of rows, each once: all rows of their rings and tags are taken.
    rings : frame
        ``ring`` of further birds, each once.
    whole : bool
        Take the rows of every ring and tag that is told of in several seasons, too.

    Returns
    -------
    frame
        ``at``, ``season``, ``scheme``, ``ring``, ``tag``, each row once.
    """
    import narwhals as nw

    seen = marks.join(judged, on="at", how="semi")
    told = marks.select("at", "season", "scheme", "ring", "tag")
    parts = [told.join(rings, on="ring", how="semi")]
    for keys in (["scheme", "ring"], ["tag"]):
        there = ~nw.col(keys[-1]).is_null()
        some = seen.filter(there).select(*keys).unique()
        if whole:
            again = (
                told.filter(there)
                .group_by(*keys)
                .agg(nw.col("season").min().alias("first"), nw.col("season").max().alias("last"))
            )
            some = below([some, again.filter(nw.col("first") < nw.col("last")).select(*keys)]).unique()
        parts.append(told.join(some, on=keys, how="semi"))
    return below(parts).unique()
