"""Each tagged bird of a season beside the log of the antennas: when it was heard, and when it first flew."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.handover.passages.passages_record import DIRECTIONS, moments
from audit.models.tag_text import comparable
from audit.rules.case import Case
from audit.rules.heard import heard_at_boxes
from audit.rules.tag_book import open_tag_book
from audit.rules.tagged_birds import tagged_birds

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.declarations import Declarations
    from audit.findings import Finding
    from audit.handover.passages.passages_record import PassagesRecord
    from audit.rules.heard import Presence
    from audit.rules.tagged_birds import TaggedBird
    from audit.season import Season

__all__ = ["BIRD_COLUMNS", "BirdLine", "bird_lines"]

#: Columns of ``birds.csv``, in order. Only ever extended at the end.
BIRD_COLUMNS = (
    "box",
    "ring",
    "tag",
    "heard_as",
    "young",
    "fitted",
    "first_heard",
    "last_heard",
    "nights",
    "other_boxes",
    "first_flight",
    "p",
    "last_passage",
    "found",
)


@dataclass(frozen=True, slots=True)
class BirdLine:
    """One bird.

    Attributes
    ----------
    box, ring, tag : str
        As typed at the handling from which on it bears the tag.
    heard_as : str
        The tag by which it was looked for: the typed one, or the one that was probably meant.
    young : bool
        A nestling at that handling.
    fitted : str
        Day of that handling, ISO 8601.
    first_heard, last_heard : str
        At its own box since that day, or the day before; empty where never.
    nights : int
        Nights on which it was heard there since, noon to noon.
    other_boxes : str
        Where else it was heard, and on how many nights.
    first_flight, p : str, float or None
        Its first passage out of its box, for a nestling, and the probability of that passage.
    last_passage : str
        Its last passage anywhere.
    found : str
        What was found of it; empty where nothing was.
    """

    box: str
    ring: str
    tag: str
    heard_as: str
    young: bool
    fitted: str
    first_heard: str
    last_heard: str
    nights: int
    other_boxes: str
    first_flight: str
    p: float | None
    last_passage: str
    found: str

    @property
    def cells(self) -> tuple[str, ...]:
        """Texts in the order of `BIRD_COLUMNS`."""
        return (
            self.box,
            self.ring,
            self.tag,
            self.heard_as,
            "yes" if self.young else "no",
            self.fitted,
            self.first_heard,
            self.last_heard,
            str(self.nights),
            self.other_boxes,
            self.first_flight,
            "" if self.p is None else f"{self.p:.4f}",
            self.last_passage,
            self.found,
        )


def bird_lines(
    season: Season, declared: Declarations, record: PassagesRecord, findings: Sequence[Finding]
) -> tuple[BirdLine, ...]:
    """Lay the tagged birds of a season beside the log.

    Parameters
    ----------
    season : Season
        With the table ``heard``.
    record : PassagesRecord
        The same log.
    findings : sequence of Finding
        What was found; a tag suggested with a probability of one half and more is looked for instead of the
        typed one.
    """
    case = Case(season, declared, declared.rules["heard_life"])
    heard = heard_at_boxes(case)
    if heard is None:
        return ()
    book = open_tag_book(case)
    said: dict[str, list[str]] = defaultdict(list)
    meant: dict[str, tuple[float, str]] = {}
    for finding in findings:
        for suspect in finding.suspects:
            label = suspect.cell.label
            said[label].append(finding.message)
            chance = suspect.p_fix or 0.0
            if suspect.cell.field == "tag" and suspect.suggested and chance >= _LIKELY:
                meant[label] = max(meant.get(label, (0.0, "")), (chance, suspect.suggested))
    flown = _passages_of(record)
    lines = []
    for bird in tagged_birds(case).birds:
        row = bird.row
        suggested = meant.get(row.label, (0.0, ""))[1]
        key = comparable(suggested, book.habit) if suggested else bird.key
        if not key:
            continue
        places = heard.of_tag.get(key, ())
        lines.append(
            _line(
                bird,
                suggested or row.tag or bird.typed,
                places,
                _flights(record, flown.get(comparable(key), _NONE), bird),
                " ".join(dict.fromkeys(said.get(row.label, ())))
                or ("" if bird.box in heard.nights else "The log holds nothing of this box."),
            )
        )
    return tuple(sorted(lines, key=lambda line: (line.box, line.fitted, line.ring, line.tag)))


_LIKELY = 0.5
_NONE = np.zeros(0, dtype=np.int64)
_DAY_MS = 86_400_000


def _line(
    bird: TaggedBird,
    heard_as: str,
    places: Sequence[Presence],
    flights: tuple[str, float | None, str],
    found: str,
) -> BirdLine:
    since = bird.since - 1
    home = next((one for one in places if one.box == bird.box and one.since(since)), None)
    others = [one for one in places if one.box != bird.box and one.since(since)]
    return BirdLine(
        bird.box,
        bird.row.ring,
        bird.row.tag or bird.typed,
        heard_as,
        bird.young,
        bird.row.day,
        home.first if home else "",
        home.last if home else "",
        home.since(since) if home else 0,
        ", ".join(f"{one.box} ({one.since(since)})" for one in others),
        *flights,
        found,
    )


def _passages_of(record: PassagesRecord) -> Mapping[str, NDArray[np.int64]]:
    """Positions of passages by tag, in order of time."""
    found = record.passages
    order = np.lexsort((found.at, found.tag))
    tags, starts = np.unique(found.tag[order], return_index=True)
    return {
        comparable(record.tags[tag]): part
        for tag, part in zip(tags.tolist(), np.split(order, starts[1:]), strict=True)
    }


def _flights(
    record: PassagesRecord, places: NDArray[np.int64], bird: TaggedBird
) -> tuple[str, float | None, str]:
    """Moment and probability of the first passage out, for a nestling, and moment of the last of all."""
    found = record.passages
    own = places[found.at[places] >= bird.since * _DAY_MS]
    if not len(own):
        return "", None, ""

    def moment(at: int) -> str:
        return moments(found.at[[at]], exact=record.exact, zoned=record.zoned)[0]

    last = moment(int(own[-1]))
    box = record.boxes.index(bird.box) if bird.box in record.boxes else -1
    out = own[(found.direction[own] == DIRECTIONS.index("out")) & (found.box[own] == box)]
    if not bird.young or not len(out):
        return "", None, last
    return moment(int(out[0])), float(found.p[out[0]]), last
