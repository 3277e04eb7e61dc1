"""Passages in plain words, for the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.handover.passages.efficiency_rows import efficiency_sentences
from audit.handover.passages.passages_record import ANTENNAS, DIRECTIONS, HOW, STATES, moments
from audit.handover.terminal import on_one_line, wrapped
from audit.review.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.handover.passages.passages_record import PassagesRecord

__all__ = ["CAUTIONS", "passages_text"]

#: Longest line in characters; words are not broken.
_WIDTH = 100
#: Lines and spells told in full; how many more there are is always said.
_SHOWN = 8
#: What a person must heed who reads passages.
CAUTIONS = (
    "A missing read is no reason to go to a box: visits follow the licence, the scheme and the law.",
    "A tag is not the bird: a tag may be lost, and a bird without one leaves no trace.",
    "These files tell when birds are at home. Keep them from people who need not know where birds nest.",
)


def passages_text(record: PassagesRecord) -> str:
    """Say what was found: boxes, birds, passages by direction, dead spells, and what could not be read."""
    lines = [line for sentence in _found(record) for line in wrapped(sentence, _WIDTH)]
    lines += ["", *_dead(record)]
    for sentence in efficiency_sentences(record):
        lines += wrapped(sentence.strip(), _WIDTH, "  " if sentence.startswith(" ") else "")
    if unread := list(_unread(record)):
        lines += ["", *(line for text in unread for line in wrapped(text, _WIDTH))]
    for sentence in record.told:
        lines += wrapped(sentence, _WIDTH)
    lines += ["", *(line for sentence in CAUTIONS for line in wrapped(sentence, _WIDTH))]
    return "\n".join(on_one_line(line) for line in lines)


def _found(record: PassagesRecord) -> Iterator[str]:
    reads = sum(file.reads for file in record.files)
    birds = len(np.setdiff1d(record.heard.tag, np.array(record.markers, dtype=np.int64)))
    boxes = len(np.unique(record.heard.box))
    yield (
        f"{counted(reads, 'read')} of {counted(birds, 'tag')} at {counted(boxes, 'box', 'boxes')}, from "
        f"{counted(len(record.files), 'file')}."
    )
    found = record.passages
    ways = [f"{int((found.direction == code).sum()):,} {word}" for code, word in enumerate(DIRECTIONS)]
    hows = [
        f"{int((found.how == code).sum()):,} {'heard by' if code == 0 else ''} {word}".replace("  ", " ")
        for code, word in enumerate(HOW)
    ]
    yield f"{counted(len(found.at), 'passage', 'passages')}: {', '.join(ways)}; {', '.join(hows)}."
    if record.repeated:
        yield f"{counted(record.repeated, 'read stands', 'reads stand')} twice in the files and counted once."
    clock = "those of UTC, since the files tell their time zone" if record.zoned else "those of the loggers"
    yield f"All moments are {clock}."


def _dead(record: PassagesRecord) -> Iterator[str]:
    spells = record.spells
    dead = np.flatnonzero(spells.state == STATES.index("dead")).tolist()
    if not dead:
        yield "No antenna was found dead."
        return
    yield f"{counted(len(dead), 'dead spell', 'dead spells')}:"
    starts = moments(spells.start, exact=False, zoned=record.zoned)
    ends = moments(spells.end, exact=False, zoned=record.zoned)
    for nr in dead[:_SHOWN]:
        box, antenna = record.boxes[spells.box[nr]], ANTENNAS[spells.antenna[nr]]
        yield from wrapped(f"{box}, {antenna} antenna: {starts[nr]} to {ends[nr]}", _WIDTH, "  ")
    if len(dead) > _SHOWN:
        yield f"  and {len(dead) - _SHOWN:,} more in antenna_health.csv"
    if boxes := _told_by_birds(record):
        shown = [*boxes[:_SHOWN], f"{len(boxes) - _SHOWN:,} more"] if len(boxes) > _SHOWN else boxes
        yield from wrapped(
            f"No marker tag was heard at {listed(shown)}, where both antennas are called dead at once: birds "
            "that all stayed away would look the same. Ask what was seen there in that time.",
            _WIDTH,
        )


def _told_by_birds(record: PassagesRecord) -> list[str]:
    """Boxes without a marker tag whose antennas are called dead together."""
    spells, heard = record.spells, record.heard
    marked = heard.box[np.isin(heard.tag, np.array(record.markers, dtype=np.int64))]
    dead = (spells.state == STATES.index("dead")) & ~np.isin(spells.box, marked)
    found: dict[int, list[set[tuple[int, int]]]] = {}
    for box, side, *spell in zip(
        *(one[dead].tolist() for one in (spells.box, spells.antenna, spells.start, spells.end)), strict=True
    ):
        found.setdefault(box, [set(), set()])[side].add((spell[0], spell[1]))
    return [record.boxes[box] for box, (outer, inner) in found.items() if outer & inner]


def _unread(record: PassagesRecord) -> Iterator[str]:
    total = sum(file.unread for file in record.files)
    if not total:
        return
    yield f"{counted(total, 'line is no read and was', 'lines are no reads and were')} left out:"
    told = 0
    for file in record.files:
        if not file.unread:
            continue
        yield f"  {file.path.name}: {counted(file.unread, 'line', 'lines')}"
        for line, why, text in file.first_unread:
            if told < _SHOWN:
                yield f"    line {line}: {why}: {text}"
            told += 1
