"""One ring over the years: whether it is on one bird, and its rows can be one life."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.archive.clashes import below, changed, clash, with_before

if TYPE_CHECKING:
    from narwhals.typing import LazyFrameT

__all__ = ["doubtful_rings", "met_again", "ring_clashes", "ringing_habits"]

_RING = ("scheme", "ring")
_RINGED = "ringed"
#: What is asked when it was first told of a bird.
_TOLD = ("ringed", "grown", "dead")
#: What is mostly the same all life.
_SAME = ("kind", "sex", "tag", "box")


def met_again(rows: LazyFrameT) -> LazyFrameT:
    """Take the rows of rings that are told of more than once.

    Parameters
    ----------
    rows : frame
        Of `marks.marked`; rows that repeat another one are better left out.

    Returns
    -------
    frame
        Their rows with ring and day, and whether each is ``ringed`` or ``alive``.
    """
    import narwhals as nw

    known = rows.filter(~nw.col("ring").is_null() & ~nw.col("day").is_null())
    many = known.group_by(*_RING).agg(nw.len().alias("many")).filter(nw.col("many") > 1)
    told = known.join(many.select(*_RING), on=list(_RING), how="semi")
    return told.with_columns(
        (nw.col("event") == _RINGED).fill_null(value=False).alias("ringed"), (~nw.col("dead")).alias("alive")
    )


def ringing_habits(again: LazyFrameT, *, share: float, least: float) -> LazyFrameT:
    """Find the teams that call birds ``ringed`` whose ring was told of before.

    Parameters
    ----------
    again : frame
        From `met_again`.
    share, least : float
        From this share of the birds met again on, and this many, it is a habit.

    Returns
    -------
    frame
        ``scheme`` and ``team`` of each.
    """
    import narwhals as nw

    later = with_before(again.select("scheme", "team", "ring", "day", "at", "ringed"), ("at",), _RING)
    later = later.filter(~nw.col("at_before").is_null()).with_columns(nw.col("ringed").cast(nw.Int64))
    teams = later.group_by("scheme", "team").agg(nw.len().alias("many"), nw.col("ringed").sum())
    habit = (nw.col("many") >= least) & (nw.col("ringed") >= share * nw.col("many"))
    return teams.filter(habit).select("scheme", "team")


def doubtful_rings(again: LazyFrameT, *, nestling_days: float) -> LazyFrameT:
    """Take the rows of rings that may contradict themselves: a bound that is quickly found.

    Parameters
    ----------
    again : frame
        From `met_again`.
    nestling_days : float
        As for `ring_clashes`.

    Returns
    -------
    frame
        All rows of such rings.
    """
    import narwhals as nw

    day = nw.col("day")
    # first, so that the groups need only least and largest values
    dated = again.with_columns(
        nw.col("ringed").cast(nw.Int64).alias("ringings"),
        *(nw.when(nw.col(which)).then(day).alias(f"{which}_day") for which in (*_TOLD, "pullus", "alive")),
    )
    lives = dated.group_by(*_RING).agg(
        day.min().alias("first"),
        *(nw.col(name).min().alias(name) for name in _SAME),
        *(nw.col(name).max().alias(f"{name}_other") for name in _SAME),
        nw.col("ringings").sum(),
        *(nw.col(f"{which}_day").min().alias(f"{which}_first") for which in _TOLD),
        *(nw.col(f"{which}_day").max().alias(f"{which}_last") for which in ("pullus", "alive")),
    )
    odd = nw.any_horizontal(
        *(nw.col(name) < nw.col(f"{name}_other") for name in _SAME),
        nw.col("ringings") > 1,
        nw.col("ringed_first") > nw.col("first"),
        nw.col("pullus_last") > nw.col("grown_first"),
        nw.col("pullus_last") - nw.col("first") > nestling_days,
        nw.col("alive_last") > nw.col("dead_first"),
        ignore_nulls=True,
    )
    return again.join(lives.filter(odd).select(*_RING), on=list(_RING), how="semi")


def ring_clashes(few: LazyFrameT, habits: LazyFrameT, *, nestling_days: float) -> LazyFrameT:
    """Find rows of one ring that contradict each other.

    Parameters
    ----------
    few : frame
        From `doubtful_rings`.
    habits : frame
        From `ringing_habits`: these teams are not asked about birds ringed twice, or met before.
    nestling_days : float
        No bird is a nestling for longer.

    Returns
    -------
    frame
        Clashes, in any order.

    Notes
    -----
    Innocent are: U for a sex not told; a bird found dead twice; one that was handled on the day it died; two
    boxes on one day where a remark says that it was moved; a nestling met again as one within its time.
    A bird that lives after its death is told of once.
    """
    import narwhals as nw

    at_before, day, day_before = nw.col("at_before"), nw.col("day"), nw.col("day_before")
    heeded = few.join(habits, on=["scheme", "team"], how="anti")
    ringed = with_before(heeded.filter(nw.col("ringed")), ("at",), _RING)
    kinds = with_before(few.filter(~nw.col("kind").is_null()), ("at", "kind"), _RING)
    sexes = with_before(few.filter(~nw.col("sex").is_null() & ~nw.col("pullus")), ("at", "sex"), _RING)
    # a number, since what is missing would count as true in some engines
    boxed = few.filter(~nw.col("box").is_null()).with_columns(nw.col("said_moved").cast(nw.Float64))
    boxes = with_before(boxed, ("at", "day", "box", "said_moved"), _RING)
    lives = few.with_columns(
        day.min().over(*_RING).alias("first"),
        *(nw.when(nw.col(which)).then(day).min().over(*_RING).alias(f"{which}_first") for which in _TOLD),
    )
    # the row that says so first; not every engine knows the first of a window
    lives = lives.with_columns(
        nw.when(day == nw.col("first")).then(nw.col("at")).min().over(*_RING).alias("first_at"),
        *(
            nw.when(nw.col(which) & (day == nw.col(f"{which}_first")))
            .then(nw.col("at"))
            .min()
            .over(*_RING)
            .alias(f"{which}_at")
            for which in _TOLD
        ),
    )
    first_ringing = lives.filter(nw.col("at") == nw.col("ringed_at"))
    first_ringing = first_ringing.join(habits, on=["scheme", "team"], how="anti")
    once_grown = nw.col("pullus") & (day > nw.col("grown_first"))
    too_long = nw.col("pullus") & (day - nw.col("first") > nestling_days)
    risen, buried = _after_death(lives)
    return below(
        [
            clash(ringed, "ringed_twice", ~at_before.is_null(), at_before),
            clash(first_ringing, "met_before_ringed", day > nw.col("first"), nw.col("first_at")),
            clash(kinds, "two_species", changed("kind"), at_before),
            clash(sexes, "two_sexes", changed("sex"), at_before),
            clash(lives, "nestling_again", once_grown, nw.col("grown_at")),
            clash(lives, "nestling_again", too_long & ~once_grown.fill_null(value=False), nw.col("first_at")),
            clash(risen, "ringed_after_death", nw.col("ringed"), nw.col("dead_at")),
            clash(risen, "alive_after_death", ~nw.col("ringed"), nw.col("dead_at")),
            clash(buried, "alive_after_death", nw.col("at") == nw.col("dead_at"), nw.col("risen_at")),
            clash(
                boxes,
                "two_boxes",
                (day == day_before)
                & changed("box")
                & (nw.col("said_moved") + nw.col("said_moved_before") == 0),
                at_before,
            ),
        ]
    )


def _after_death(lives: LazyFrameT) -> tuple[LazyFrameT, LazyFrameT]:
    """Take the first row of a bird that lives after it was dead, and the dead one where it lives on and on.

    Several later rows are not all wrong, so there the dead one is told of.
    """
    import narwhals as nw

    day, at = nw.col("day"), nw.col("at")
    after = ~nw.col("dead") & (day > nw.col("dead_first"))
    told = lives.with_columns(nw.when(after.fill_null(value=False)).then(day).alias("risen"))
    told = told.with_columns(
        nw.col("risen").min().over(*_RING).alias("risen_first"),
        nw.col("risen").max().over(*_RING).alias("risen_last"),
    )
    told = told.filter(~nw.col("risen_first").is_null())
    told = told.with_columns(
        nw.when(nw.col("risen") == nw.col("risen_first")).then(at).min().over(*_RING).alias("risen_at")
    )
    again = nw.col("risen_last") > nw.col("risen_first")
    return told.filter((at == nw.col("risen_at")) & ~again), told.filter(again)
