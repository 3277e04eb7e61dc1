"""What the box antennas heard: each tag at each box, night by night. Evidence, no findings.

It stands in the table ``heard``, as `nestproof passages` lays it out of a log of any size, or is laid out
here of the table ``detections``. Both may be there: the same night of a tag at a box counts once.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models.marker_beats import find_beat
from audit.models.spelling import one_slip_apart
from audit.models.tag_text import comparable
from audit.rules.earlier_birds import EARLIER, earlier_tags
from audit.rules.heeded import TAG_BOOK, together
from audit.rules.tag_book import of_test_range, open_tag_book
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.tag_book import TagBook

    Ints = NDArray[np.int64]

__all__ = ["HEARD", "LOG", "Heard", "Presence", "heard_at_boxes", "night_of", "nights_of"]

#: Columns of the log of the antennas.
LOG = {
    "heard": ("box", "tag", "night", "reads", "first_heard", "last_heard", "what"),
    "detections": ("box", "antenna", "detected_at", "tag"),
}
#: All on which this evidence depends.
HEARD = together(LOG, TAG_BOOK, EARLIER)

_NOON = np.timedelta64(1, "D").astype("timedelta64[h]") // 2
_LINES = ["box", "key", "night"]


@dataclass(frozen=True, slots=True)
class Presence:
    """One tag at one box.

    Attributes
    ----------
    box, key, tag : str
        The box, the tag by its key, and as it stands in the log.
    label : str
        Row of the first night or read.
    nights : numpy.ndarray of int, shape (n,)
        Days since 1970 of the evenings, each once, in order; a night goes from noon to noon.
    reads : int
    first, last : str
        First and last read, ISO 8601 to the second.
    """

    box: str
    key: str
    tag: str
    label: str
    nights: Ints
    reads: int
    first: str
    last: str

    @property
    def first_day(self) -> str:
        """Day of the first read; its night may have begun on the day before."""
        return self.first.partition("T")[0]

    def since(self, night: int) -> int:
        """Count the nights from one night on."""
        return len(self.nights) - self.before(night)

    def before(self, night: int) -> int:
        """Count the nights before one night."""
        return int(np.searchsorted(self.nights, night))


@dataclass(frozen=True)
class Heard:
    """All that the antennas heard.

    Attributes
    ----------
    presences : tuple of Presence
        Of birds, by box and key: neither markers nor noise.
    nights : mapping of str to numpy.ndarray of int
        Nights of each box of the log on which anything was heard, a marker too.
    labels : mapping of str to str
        Row of the first night or read of each box.
    fields : mapping of str to str
        Columns ``moment`` and ``box`` of the rows named by these labels, by table.
    markers, noise : frozenset of str
        Keys of tags that are no birds, and of codes that nobody bears.
    """

    presences: tuple[Presence, ...]
    nights: Mapping[str, Ints]
    labels: Mapping[str, str]
    markers: frozenset[str]
    noise: frozenset[str]

    @cached_property
    def of_tag(self) -> Mapping[str, tuple[Presence, ...]]:
        """Presences by key."""
        return _grouped((one.key, one) for one in self.presences)

    @cached_property
    def at_box(self) -> Mapping[str, tuple[Presence, ...]]:
        """Presences by box."""
        return _grouped((one.box, one) for one in self.presences)

    def of(self, key: str, box: str) -> Presence | None:
        """Return a tag's presence at a box; None where it was never heard there."""
        return next((one for one in self.of_tag.get(key, ()) if one.box == box), None)


def _grouped(pairs: Iterable[tuple[str, Presence]]) -> dict[str, tuple[Presence, ...]]:
    found: dict[str, list[Presence]] = defaultdict(list)
    for name, one in pairs:
        found[name].append(one)
    return {name: tuple(some) for name, some in found.items()}


def night_of(day: str) -> int:
    """Give a number to a day, or the night that begins on it, as days since 1970.

    Examples
    --------
    >>> night_of("1970-01-03")
    2
    """
    return int(np.datetime64(day, "D").astype(np.int64))


def nights_of(moments: pd.Series) -> pd.Series:
    """Name the night of each moment by the day of its evening."""
    found: pd.Series = (moments - _NOON).dt.normalize()
    return found


def heard_at_boxes(case: Case) -> Heard | None:
    """Lay out what was heard; None where the season has no log."""
    if not (case.season.has("heard") or case.season.has("detections")):
        return None
    found: Heard = case.lay_out(_lay_out, HEARD)
    return found


def _lay_out(case: Case) -> Heard:
    book = open_tag_book(case)
    lines = pd.concat([part for part in (_of_heard(case), _of_detections(case)) if part is not None])
    texts = lines["tag"].unique()
    keys = {text: _key(book, text) for text in texts}
    lines["key"] = lines["tag"].map(keys)
    nightly = lines.groupby(_LINES, sort=True, as_index=False).agg(
        tag=("tag", "first"),
        label=("label", "first"),
        reads=("reads", "max"),
        first=("first", "min"),
        last=("last", "max"),
        what=("what", "first"),
    )
    # heard in both tables, it is the same night
    box_nights = {
        str(box): some["day"].to_numpy(dtype=np.int64)
        for box, some in nightly.assign(day=_days(nightly["night"]))[["box", "day"]]
        .drop_duplicates()
        .sort_values(["box", "day"])
        .groupby("box", sort=True)
    }
    heads = lines.drop_duplicates("box")
    labels = dict(zip(heads["box"].tolist(), heads["label"].tolist(), strict=True))
    markers = _markers(case, book, nightly)
    noise = _noise(case, book, nightly, markers)
    birds = nightly[~nightly["key"].isin([*markers, *noise])]
    presences = tuple(_presence(some) for _, some in birds.groupby(["box", "key"], sort=True))
    return Heard(presences, box_nights, labels, markers, noise)


def _key(book: TagBook, text: str) -> str:
    return comparable(text, book.habit)


def _days(nights: pd.Series) -> Ints:
    days: Ints = nights.to_numpy(dtype="datetime64[D]").astype(np.int64)
    return days


def _presence(some: pd.DataFrame) -> Presence:
    head = some.iloc[0]
    first, last = (
        np.datetime_as_string(np.array(moment, dtype="datetime64[s]"))
        for moment in (some["first"].min(), some["last"].max())
    )
    return Presence(
        str(head["box"]),
        str(head["key"]),
        str(head["tag"]),
        str(head["label"]),
        _days(some["night"]),
        int(some["reads"].sum()),
        str(first),
        str(last),
    )


def _of_heard(case: Case) -> pd.DataFrame | None:
    if not case.season.has("heard", "box", "tag", "night", "first_heard", "last_heard"):
        return None
    frame = case.sure("heard").dropna(subset=["box", "tag", "night", "first_heard", "last_heard"])
    reads = frame["reads"].fillna(1).astype(np.int64) if "reads" in frame.columns else 1
    return pd.DataFrame(
        {
            "box": frame["box"].to_numpy(dtype=object),
            "tag": frame["tag"].to_numpy(dtype=object),
            "night": frame["night"].to_numpy(dtype="datetime64[us]"),
            "label": frame.index.to_numpy(dtype=object),
            "reads": reads if isinstance(reads, int) else reads.to_numpy(),
            "first": frame["first_heard"].to_numpy(dtype="datetime64[us]"),
            "last": frame["last_heard"].to_numpy(dtype="datetime64[us]"),
            "what": texts_in(frame, "what"),
        }
    )


def _of_detections(case: Case) -> pd.DataFrame | None:
    if not case.season.has("detections", "box", "tag", "detected_at"):
        return None
    frame = case.sure("detections").dropna(subset=["box", "tag", "detected_at"])
    frame = frame.assign(label=frame.index, night=nights_of(frame["detected_at"]))
    frame = frame.sort_values("detected_at", kind="stable")
    found = frame.groupby(["box", "tag", "night"], sort=True, as_index=False).agg(
        label=("label", "first"),
        reads=("detected_at", "size"),
        first=("detected_at", "first"),
        last=("detected_at", "last"),
    )
    return found.assign(what="")


def _markers(case: Case, book: TagBook, nightly: pd.DataFrame) -> frozenset[str]:
    """Tags that are no birds: named as markers, of the test range, or read at even, long intervals."""
    typed = {row.key for row in (*book.rows, *book.aside.values())}
    said = set(nightly.loc[nightly["what"] == "marker", "key"])
    named = {_key(book, str(tag)) for tag in case.declared.loggers.limits["reading.marker_tags"].value}
    keys = set(nightly["key"])
    tests = {
        key
        for key in keys - typed
        if key in book.tests or (not book.test_season and of_test_range(case, key))
    }
    return frozenset((said | tests | (named & keys) | _beating(case, book, keys - typed)) - {""})


def _beating(case: Case, book: TagBook, strange: set[str]) -> set[str]:
    """Tags on no row that beat as a marker does."""
    if not case.season.has("detections", "box", "antenna", "tag", "detected_at"):
        return set()
    settings = {name: case.setting(f"antennas.health.{name}") for name in ("beats_least", "beat", "worth")}
    least_ms = float(case.declared.loggers.limits["reading.marker_least_s"].value) * float(
        np.timedelta64(1, "s") / np.timedelta64(1, "ms")
    )
    frame = case.sure("detections").dropna(subset=["box", "antenna", "tag", "detected_at"])
    texts = [text for text in frame["tag"].unique() if _key(book, text) in strange]
    found = set()
    for (text, _, _), some in frame[frame["tag"].isin(texts)].groupby(["tag", "box", "antenna"]):
        times = np.sort(some["detected_at"].to_numpy(dtype="datetime64[ms]").astype(np.int64))
        if len(times) < settings["beats_least"]:
            continue
        beat = find_beat(times, int(settings["beats_least"]), settings["beat"], settings["worth"])
        if beat is not None and beat.interval >= least_ms:
            found.add(_key(book, str(text)))
    return found


def _noise(case: Case, book: TagBook, nightly: pd.DataFrame, markers: frozenset[str]) -> frozenset[str]:
    """Find codes that nobody knows and that were hardly read, or are misread from a tag read far oftener."""
    limits = case.declared.rules["heard_whose"].limits
    few, rarer = int(limits["noise_reads"].value), float(limits["noise_rarer"].value)
    known = {row.key for row in (*book.rows, *book.aside.values())} | book.known
    known |= earlier_tags(case, book.habit)
    reads = nightly.groupby("key")["reads"].sum()
    noise = set(nightly.loc[nightly["what"] == "noise", "key"]) - known
    strange = [key for key in reads.index if key not in known and key not in markers and key not in noise]
    at = nightly.groupby("box")["key"].agg(set)
    for key in strange:
        n = int(reads[key])
        if n <= few:
            noise.add(key)
            continue
        beside = set().union(*(keys for keys in at if key in keys)) - {key}
        if any(reads[other] >= rarer * n and one_slip_apart(other, key) for other in beside):
            noise.add(key)
    return frozenset(noise)
