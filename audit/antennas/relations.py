"""Relations of a log, written once for every engine that narwhals knows."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from narwhals.typing import LazyFrameT

__all__ = [
    "coded",
    "heard",
    "nights",
    "of_antennas",
    "of_boxes",
    "of_some_boxes",
    "of_tags",
    "packed",
    "presence",
    "reads_by_box",
    "span",
]

_DAY = 86_400_000
_NOON = _DAY // 2


def coded(raw: LazyFrameT, boxes: LazyFrameT, tags: LazyFrameT, antennas: LazyFrameT) -> LazyFrameT:
    """Put codes for texts; rows with a text that has no code, or without a moment, are left out.

    Parameters
    ----------
    raw : frame
        ``file``, ``box``, ``antenna``, ``stamp``, ``tag`` as read, and ``row``: where it stood.
    boxes, tags : frame
        ``box`` or ``tag``, and its code ``box_code`` or ``tag_code``.
    antennas : frame
        ``file``, ``antenna`` and ``antenna_code``.

    Returns
    -------
    frame
        ``file``, ``row``, ``box``, ``tag``, ``stamp``, ``antenna``; all whole numbers. A join in several
        threads does not keep the order of rows, so it goes along.
    """
    import narwhals as nw

    whole = raw.filter(~(nw.any_horizontal(nw.all().is_null(), ignore_nulls=True)))
    joined = whole.join(boxes, on="box").join(tags, on="tag").join(antennas, on=["file", "antenna"])
    return joined.select(
        "file",
        "row",
        nw.col("box_code").alias("box"),
        nw.col("tag_code").alias("tag"),
        nw.col("stamp"),
        nw.col("antenna_code").alias("antenna"),
    )


def reads_by_box(reads: LazyFrameT) -> LazyFrameT:
    """Count the reads of each box: ``box``, ``reads``, sorted by box."""
    import narwhals as nw

    return reads.group_by("box").agg(nw.len().alias("reads")).sort("box")


def of_boxes(reads: LazyFrameT, first: int, last: int) -> LazyFrameT:
    """Take the reads of neighbouring boxes, in any order: ``box``, ``tag``, ``stamp``, ``antenna``."""
    import narwhals as nw

    return reads.filter(nw.col("box").is_between(first, last)).select("box", "tag", "stamp", "antenna")


def packed(reads: LazyFrameT, least: Sequence[int], places: Sequence[int]) -> LazyFrameT:
    """Lay box, tag, time and antenna side by side into one whole number each: ``key``.

    Parameters
    ----------
    reads : frame
    least, places : sequence of int
        What is taken away from each of the four, and how many bits stand to the right of it.
    """
    import narwhals as nw

    columns = ("box", "tag", "stamp", "antenna")
    parts = [
        (nw.col(name).cast(nw.Int64) - low) * (1 << place)
        for name, low, place in zip(columns, least, places, strict=True)
    ]
    return reads.select((parts[0] + parts[1] + parts[2] + parts[3]).alias("key"))


def span(reads: LazyFrameT) -> LazyFrameT:
    """Tell the first and the last moment: ``first`` and ``last``."""
    import narwhals as nw

    return reads.select(nw.col("stamp").min().alias("first"), nw.col("stamp").max().alias("last"))


def of_some_boxes(reads: LazyFrameT, boxes: Sequence[int]) -> LazyFrameT:
    """Take the reads of some boxes, as `of_boxes` does."""
    import narwhals as nw

    return reads.filter(nw.col("box").is_in(boxes)).select("box", "tag", "stamp", "antenna")


def of_tags(reads: LazyFrameT, tags: Sequence[int]) -> LazyFrameT:
    """Take the reads of some tags; with none, none."""
    import narwhals as nw

    # no tag has this code
    return reads.filter(nw.col("tag").is_in(tags or [-1]))


def of_antennas(reads: LazyFrameT) -> LazyFrameT:
    """Count the reads of each antenna: ``box``, ``antenna``, ``reads``, sorted by box and antenna."""
    import narwhals as nw

    return reads.group_by("box", "antenna").agg(nw.len().alias("reads")).sort("box", "antenna")


def heard(reads: LazyFrameT) -> LazyFrameT:
    """Tell of each tag at each box ``reads``, ``first`` and ``last`` moment, sorted by box and tag."""
    import narwhals as nw

    told = reads.group_by("box", "tag").agg(
        nw.len().alias("reads"), nw.col("stamp").min().alias("first"), nw.col("stamp").max().alias("last")
    )
    return told.sort("box", "tag")


def nights(reads: LazyFrameT) -> LazyFrameT:
    """Count by box, antenna and night, which goes from noon to noon: ``reads`` and ``birds``.

    ``night`` counts days since 1970 of the evening.
    """
    import narwhals as nw

    dated = reads.with_columns(((nw.col("stamp") - _NOON) // _DAY).alias("night"))
    told = dated.group_by("box", "antenna", "night").agg(
        nw.len().alias("reads"), nw.col("tag").n_unique().alias("birds")
    )
    return told.sort("box", "antenna", "night")


def presence(reads: LazyFrameT) -> LazyFrameT:
    """Tell of each tag at each box in each night ``reads``, ``first`` and ``last`` moment, in that order.

    ``night`` counts days since 1970 of the evening; a night goes from noon to noon.
    """
    import narwhals as nw

    dated = reads.with_columns(((nw.col("stamp") - _NOON) // _DAY).alias("night"))
    told = dated.group_by("box", "tag", "night").agg(
        nw.len().alias("reads"), nw.col("stamp").min().alias("first"), nw.col("stamp").max().alias("last")
    )
    return told.sort("box", "tag", "night")
