"""Marker and test tags that are declared, held against a log: which of them it does not have."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.antennas.held_reads import held_anchors, held_here
from audit.antennas.log_codes import tag_codes
from audit.handover.passages.unmet_words import Unmet
from audit.models.mistyped_code import DIGITS
from audit.models.spelling import forerunners

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import duckdb

    from audit.declarations.loggers import LoggerDeclarations
    from audit.models.visit_anchors import AnchorLimits


__all__ = ["unmet_tags"]

_HOUR_MS = 3_600_000


def unmet_tags(
    declared: LoggerDeclarations,
    engine: duckdb.DuckDBPyConnection,
    tags: Sequence[str],
    boxes: Sequence[str],
    limits: AnchorLimits,
) -> Iterator[Unmet]:
    """Find what is declared of marker and test tags and cannot be used, since the log shows otherwise.

    Parameters
    ----------
    declared : LoggerDeclarations
    engine : duckdb.DuckDBPyConnection
        Holds the table ``held.reads``.
    tags, boxes : sequence of str
        Labels by code.
    limits : AnchorLimits
        By which reads of a tag that was held to an antenna are looked for.

    Yields
    ------
    Unmet
        Tags that were never read; visits within the time of a log at which a test tag was not read, or cannot
        be told from others; and boxes at which a test tag was read though no visit is declared there.
    """
    named = {
        "marker_tags": [str(tag) for tag in declared.limits["reading.marker_tags"].value],
        "marker_moments": [*declared.moments.by_tag],
        "held_tags": [*declared.held],
    }
    code = tag_codes([*tags, *(tag for each in named.values() for tag in each)])[1]
    there = {code[tag] for tag in tags if tag in code}
    labels = {tag.upper(): tag for tag in tags}
    for key, each in named.items():
        for tag in each:
            if code.get(tag) not in there:
                own = tag.upper().replace(" ", "")
                near = sorted(labels[one] for one in forerunners(own, DIGITS) & labels.keys())
                yield Unmet(f"reading.{key}", tag, near=tuple(near))
    if declared.held:
        yield from _unmet_visits(declared.held, engine, tags, boxes, limits)


def _unmet_visits(
    declared: Mapping[str, Mapping[str, Sequence[int]]],
    engine: duckdb.DuckDBPyConnection,
    tags: Sequence[str],
    boxes: Sequence[str],
    limits: AnchorLimits,
) -> Iterator[Unmet]:
    codes, known = held_here(declared, tags, boxes)
    asked = "select box, min(stamp), max(stamp) from held.reads group by box order by box"
    with engine.cursor() as cursor:
        spans = {boxes[box]: (int(low), int(high)) for box, low, high in cursor.execute(asked).fetchall()}
        asked = (
            "select box, tag, stamp from held.reads where tag in (select unnest(?::int[])) order by file, row"
        )
        columns = cursor.execute(asked, [sorted(codes)]).fetchnumpy().values()
    of_box, tag, at = (np.asarray(one).astype(np.int64) for one in columns)
    reach = int(limits.farthest_h * _HOUR_MS)
    for nr, label in enumerate(boxes):
        mine = of_box == nr
        visits = known.get(label, [])
        for one in sorted({*tag[mine].tolist()} - {one for one, _ in visits}):
            yield Unmet(
                "reading.held_tags", tags[one], box=label, moments=(int(at[mine & (tag == one)].min()),)
            )
        used = {int(moment) for moment in held_anchors(visits, tag[mine], at[mine], limits).true}
        low, high = spans.get(label, (0, -1))
        for one, moment in sorted(visits):
            if moment in used or not low <= moment <= high:
                continue
            near = bool((np.abs(at[mine & (tag == one)] - moment) <= reach).any())
            yield Unmet(
                "reading.held_tags", tags[one], box=label, moments=(moment,), visit=True, several=near
            )
