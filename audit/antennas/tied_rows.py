"""Rows that stand as the logger stored them: which antenna heard a bird first within one stamp."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb

    from audit.declarations.limit import Limit

__all__ = ["RowLimits", "part_ties", "row_limits"]

_SECOND_MS = 1000

#: Stamps at which both antennas heard a tag, and whether all rows of the outer one stand first or last.
_TIES = """
create or replace table ties as
select file, box, tag, stamp,
    max(row) filter (antenna = 0) < min(row) filter (antenna = 1) as inward,
    max(row) filter (antenna = 1) < min(row) filter (antenna = 0) as outward
from reads where box in (select unnest($boxes::int[]))
group by file, box, tag, stamp having min(antenna) < max(antenna)
"""
#: A tag whose ties all go one way is no bird, or its rows were sorted by antenna.
_ONE_WAY = """
delete from ties where not (inward or outward) or tag in (
    select tag from ties group by tag
    having least(count(*) filter (inward), count(*) filter (outward)) < $one_way * count(*)
)
"""
#: Nor is a tag that beats: of whose ties many follow each other after the same time.
_EVENLY = """
delete from ties where tag in (
    select tag from (
        select tag, count(*) as many from (
            select tag,
                stamp - lag(stamp) over (partition by file, box, tag order by stamp) as gap
            from ties
        ) where gap > $far group by tag, round(gap / $same)
    ) group by tag having max(many) > $evenly * sum(many) and sum(many) >= $tests
)
"""
#: Where a tie begins or ends a crossing its other reads tell the direction, else the tie before does.
_TESTS = """
with moments as (
    select file, box, tag, stamp, min(antenna) as low, max(antenna) as high
    from reads where box in (select unnest($boxes::int[])) and tag in (select distinct tag from ties)
    group by file, box, tag, stamp
), around as (
    select ties.inward, lag(ties.inward) over bird as inward_before,
        lag(low) over bird as low_before, lag(high) over bird as high_before,
        lead(low) over bird as low_behind, lead(high) over bird as high_behind,
        coalesce(stamp - lag(stamp) over bird, $far + 1) as since,
        coalesce(lag(stamp) over bird - lag(stamp, 2) over bird, $far + 1) as since_before,
        coalesce(lead(stamp) over bird - stamp, $far + 1) as until,
        coalesce(lead(stamp, 2) over bird - lead(stamp) over bird, $far + 1) as until_behind
    from moments left join ties using (file, box, tag, stamp)
    window bird as (partition by file, box, tag order by stamp)
), tests as (
    select case
        when since > $far and until <= $near and until_behind > $far and low_behind = high_behind
            then inward = (low_behind = 1)
        when until > $far and since <= $near and since_before > $far and low_before = high_before
            then inward = (low_before = 0)
        when until > $far and since > $far and since_before > $far then inward <> inward_before
    end as passed
    from around where inward is not null
)
select count(passed), count(*) filter (passed) from tests
"""
#: The antenna that heard later gets a stamp behind the other.
_PART = """
update reads set stamp = reads.stamp + 1 from ties
where reads.file = ties.file and reads.box = ties.box and reads.tag = ties.tag
    and reads.stamp = ties.stamp and (antenna = 1) = inward
"""


@dataclass(frozen=True, slots=True)
class RowLimits:
    """Numbers of ``loggers.yaml``.

    Attributes
    ----------
    tests : int
        So many ties at least must show whether rows stand as stored.
    right_from : float
        Share of them in which the order of the rows must tell the direction.
    deviations : float
        Standard deviations by which these must be more than a coin would give.
    one_way : float
        Least share of the ties of a bird that go the rarer way.
    evenly : float
        Largest share of the ties of a bird that follow the one before after the same time.
    same_s : float
        Times that fall into one step of so many seconds are the same.
    near_s, far_s : float
        Seconds to another read of the same crossing at most, and to another crossing at least.
    reads : int
        Boxes with so many reads together are asked.
    """

    tests: int
    right_from: float
    deviations: float
    one_way: float
    evenly: float
    same_s: float
    near_s: float
    far_s: float
    reads: int


def row_limits(numbers: Mapping[str, Limit]) -> RowLimits:
    """Take what is needed from the numbers of ``loggers.yaml``."""

    def number(name: str) -> float:
        return float(numbers[name].value)

    return RowLimits(
        int(number("reading.ties_tested")),
        number("reading.ties_right_from"),
        number("reading.ties_deviations"),
        number("reading.ties_one_way"),
        number("reading.ties_evenly"),
        number("reading.ties_same_s"),
        number("reading.ties_near_s"),
        number("reading.ties_far_s"),
        int(number("engine.learn_reads")),
    )


def part_ties(engine: duckdb.DuckDBPyConnection, limits: RowLimits) -> bool:
    """Put the antenna that heard a bird later a millisecond behind the other where they have one stamp.

    Parameters
    ----------
    engine : duckdb.DuckDBPyConnection
        Holds the table ``reads``, of stamps in whole seconds: finer ones hardly ever show both antennas.
    limits : RowLimits

    Returns
    -------
    bool
        Whether rows stand as they were stored, so that their order was used. Rows that were sorted by
        antenna, or shuffled, tell the direction no better than a coin does; and where no tie can be tested
        nothing is changed.
    """
    some, rest = _some_boxes(engine, limits.reads)
    _find_ties(engine, some, limits)
    asked = {"boxes": some, "far": limits.far_s * _SECOND_MS, "near": limits.near_s * _SECOND_MS}
    tests, passed = engine.execute(_TESTS, asked).fetchall()[0]
    by_luck = tests / 2 + limits.deviations * tests**0.5 / 2
    told = tests >= limits.tests and passed >= max(limits.right_from * tests, by_luck)
    if told:
        engine.execute(_PART)
        if rest:
            _find_ties(engine, rest, limits)
            engine.execute(_PART)
    engine.execute("drop table ties")
    return bool(told)


def _find_ties(engine: duckdb.DuckDBPyConnection, boxes: list[int], limits: RowLimits) -> None:
    """Make the table ``ties`` of some boxes, without tags that are no birds."""
    engine.execute(_TIES, {"boxes": boxes})
    engine.execute(_ONE_WAY, {"one_way": limits.one_way})
    far, same = limits.far_s * _SECOND_MS, limits.same_s * _SECOND_MS
    asked = {"far": far, "same": same, "evenly": limits.evenly, "tests": limits.tests}
    engine.execute(_EVENLY, asked)


def _some_boxes(engine: duckdb.DuckDBPyConnection, reads: int) -> tuple[list[int], list[int]]:
    """Take boxes until they have many reads together; give these and the others."""
    counts = engine.execute("select box, count(*) from reads group by box order by box").fetchall()
    total = taken = 0
    for _, many in counts:
        total += many
        if taken and total > reads:
            break
        taken += 1
    boxes = [int(box) for box, _ in counts]
    return boxes[:taken], boxes[taken:]
