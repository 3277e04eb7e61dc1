"""The rings of a season read from its handlings: which are first ringings, which were issued or lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models.ring_number import bare, look_alike_table, split_ring
from audit.rules.columns import numbers_of_rows, texts_of_rows
from audit.rules.heeded import RINGINGS
from audit.rules.ring_rows import Ringings
from audit.rules.sheet_order import NO_DAY
from audit.rules.stock import issued_strings

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.ring_rows import Key

__all__ = ["ringings_of"]

_LARGEST = int(np.iinfo(np.int64).max)


def ringings_of(case: Case, mended: Mapping[str, str] | None = None) -> Ringings:
    """Read rings, days, boxes and events of the handlings; cells already in doubt count as missing.

    Parameters
    ----------
    case : Case
    mended : mapping of str to str, optional
        Rings to be read instead of what stands in a row, by row label.
    """
    return _lay_out(case, mended) if mended else case.lay_out(_lay_out, RINGINGS)


def _lay_out(case: Case, mended: Mapping[str, str] | None = None) -> Ringings:
    frame = case.sure("handlings")
    limits = case.declared.rings.limits
    ring = frame["ring"].copy()
    for label, text in (mended or {}).items():
        ring[label] = text
    names = ring.fillna("").to_numpy(dtype=object)
    parts = [split_ring(text) for text in names.tolist()]
    stem = np.array([front for front, _ in parts], dtype=object)
    digits = np.array([number for _, number in parts], dtype=object)
    written = [(bare(front), len(number)) for front, number in parts]
    serial = np.array([_serial(d) for d in digits.tolist()], dtype=np.int64)
    date = frame["date"].to_numpy(dtype="datetime64[D]")
    day = np.where(np.isnat(date), NO_DAY, date.astype(np.int64))
    event = texts_of_rows(case, "event")
    return Ringings(
        labels=frame.index.to_numpy(dtype=object),
        ring=names,
        box=texts_of_rows(case, "box"),
        stem=stem,
        key=written,
        serial=serial,
        day=day.astype(np.int64),
        visit=numbers_of_rows(case, "date", "box", missing=False),
        first=_first_ringings(ring, event, day, frame["box"]),
        event=event,
        age=texts_of_rows(case, "age"),
        ringer=texts_of_rows(case, "ringer"),
        stock=issued_strings(case.season),
        lost=_lost(case),
        reach=int(limits["order.reach"].value),
        own_least=int(limits["order.own_least"].value),
        order_share=float(limits["order.share"].value),
        tip_days=int(limits["order.tip_days"].value),
        brood_days=int(limits["order.brood_days"].value),
        string_length=int(limits["string_length"].value),
        declared={
            (bare(series.prefix), series.digits): series.prefix
            for series in case.declared.rings.series.values()
        },
        look_alikes=look_alike_table(limits["look_alikes"].value),
        pullus_codes=frozenset(
            str(code) for code in case.declared.rules["growth"].limits["pullus_codes"].value
        ),
    )


def _serial(digits: str) -> int:
    number = int(digits or -1)
    return number if number <= _LARGEST else -1


def _first_ringings(
    ring: pd.Series[str], event: NDArray[np.object_], day: NDArray[np.int64], box: pd.Series[str]
) -> NDArray[np.bool_]:
    told = event == "ringed"
    unknown = (event == "") & ring.notna().to_numpy()
    if not unknown.any():
        return np.asarray(told, dtype=bool)
    names = ring.fillna("").to_numpy(dtype=object)
    unknown &= ~np.isin(names.astype(str), names[told].astype(str))
    rows = np.flatnonzero(unknown)
    rows = rows[np.lexsort((rows, day[rows]))]
    pair = pd.DataFrame({"ring": names[rows], "box": box.fillna("").to_numpy(dtype=object)[rows]})
    first = np.array(told, dtype=bool)
    # an old bird may breed in another box than that of its ringing
    year = np.where(day == NO_DAY, 0, day)[rows].astype("datetime64[D]").astype("datetime64[Y]")
    ringed_in = pd.Series(year).groupby(pair["ring"].to_numpy()).transform("min").to_numpy()
    first[rows[~pair.duplicated().to_numpy() & (year == ringed_in.astype(year.dtype))]] = True
    return first


def _lost(case: Case) -> frozenset[tuple[Key, int]]:
    if not case.season.has("ring_losses", "ring"):
        return frozenset()
    rings: Iterable[str] = case.sure("ring_losses")["ring"].dropna().astype(str)
    parts = [split_ring(ring) for ring in rings]
    return frozenset(((bare(stem), len(digits)), int(digits)) for stem, digits in parts if digits)
