"""Ask whether the boxes of the log are those of the season, and whether somebody brought the log home."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_label import same_box
from audit.models.ring_number import look_alike_table
from audit.models.spelling import one_slip_apart
from audit.rules.case import At
from audit.rules.heard import HEARD, heard_at_boxes
from audit.rules.heeded import together
from audit.rules.rule import Rule
from audit.rules.tagged_birds import TAGGED, tagged_birds

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import pandas as pd

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.heard import Heard

__all__ = ["RULE", "check"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Look at the boxes of the log, then at the visits at which loggers were read out."""
    heard = heard_at_boxes(case)
    if heard is None:
        # said once, by the rule on lives
        return
    strange = _strange(case, heard)
    yield from _boxes(case, heard, *strange)
    yield from _antennas(case, heard)
    yield from _downloads(case, heard, strange[0])


def _strange(case: Case, heard: Heard) -> tuple[list[str], list[str]]:
    """Name the boxes of the log that are none of the season, and those of the season without a log."""
    known = {str(box) for box in case.sure("handlings")["box"].dropna()}
    if case.season.has("visits", "box"):
        known |= {str(box) for box in case.sure("visits")["box"].dropna()}
    if case.season.has("boxes", "box"):
        known |= {str(box) for box in case.frame("boxes")["box"].dropna()}
    return sorted(heard.labels.keys() - known), sorted(known - heard.labels.keys())


def _boxes(case: Case, heard: Heard, strange: Sequence[str], without: Sequence[str]) -> Iterator[Finding]:
    alike = look_alike_table(case.declared.rings.limits["look_alikes"].value)
    for box in strange:
        meant = [other for other in without if same_box(other, box, alike)]
        meant = meant or [other for other in without if one_slip_apart(other, box)]
        probably = f"; box {meant[0]} was probably meant, of which there is no log" if len(meant) == 1 else ""
        yield case.blame(
            "no_such_box",
            [At(heard.labels[box], "box", meant[0] if len(meant) == 1 else "")],
            f"The log names box {box}, which is no box of this season{probably}.",
        )


def _antennas(case: Case, heard: Heard) -> Iterator[Finding]:
    if not case.season.has("boxes", "box", "antennas"):
        return
    boxes = case.sure("boxes").dropna(subset=["box", "antennas"])
    counts = boxes["antennas"].astype(np.int64)
    bare = boxes[((counts == 0) & boxes["box"].isin(list(heard.labels))).to_numpy()]
    for label, box in bare["box"].items():
        n = len(heard.nights[str(box)])
        yield case.blame(
            "antennas_there",
            [At(str(label), "antennas", 2)],
            f"Box {box} is said to have no antennas, but the log holds {n} of its nights.",
            [(heard.labels[str(box)], "box")],
        )
    fitted = boxes[(counts > 0).to_numpy()]
    if "until" in fitted.columns and len(heard.nights):
        begin = np.datetime64(min(int(nights[0]) for nights in heard.nights.values()), "D")
        gone = fitted["until"].notna() & (fitted["until"] < begin)
        fitted = fitted[~gone.to_numpy()]
    lacking = fitted[~fitted["box"].isin(list(heard.labels)).to_numpy()]
    if len(lacking) and len(lacking) <= case.limit("covered") * len(fitted):
        names = [str(box) for box in lacking["box"]]
        yield case.blame(
            "no_log",
            [At(str(lacking.index[0]), "antennas")],
            f"{len(fitted)} boxes have antennas, but the log holds nothing of {_named(case, names)}.",
        )


def _named(case: Case, boxes: Sequence[str]) -> str:
    most = int(case.limit("named"))
    shown = ", ".join(boxes[:most])
    return shown if len(boxes) <= most else f"{shown} and {len(boxes) - most} more"


def _downloads(case: Case, heard: Heard, strange: Sequence[str]) -> Iterator[Finding]:
    if not case.season.has("visits", "date", "box", "logger_downloaded"):
        return
    visits = case.sure("visits").dropna(subset=["date", "box"])
    visits = visits.assign(
        day=visits["date"].to_numpy(dtype="datetime64[D]").astype(np.int64),
        ticked=visits["logger_downloaded"].fillna(value=False).astype(bool),
    ).sort_values("day", kind="stable")
    logged = visits["ticked"][visits["box"].isin(list(heard.nights)).to_numpy()]
    if not visits["ticked"].any() or logged.mean() < case.limit("ticks_usual"):
        # nobody ticks here, or only now and then: a blank says nothing
        return
    slack = int(case.limit("slack_days"))
    empty = []
    for box in sorted(heard.nights.keys() - set(strange)):
        here = visits[(visits["box"] == box).to_numpy()]
        nights = heard.nights[box]
        if here.empty:
            continue
        # a night lasts until noon of the next day
        last = int(nights[-1])
        after = here[(here["day"] >= last).to_numpy()]
        yield from _brought(case, box, last, here, after)
        before = here[(here["ticked"] & (here["day"] < int(nights[0]) - slack)).to_numpy()]
        if len(before) and _fitted_before(case, box, int(before["day"].iloc[-1])):
            empty.append((box, before))
    if empty:
        named = [f"{box} ({np.datetime64(int(before['day'].iloc[-1]), 'D')})" for box, before in empty]
        yield case.blame(
            "nothing_before",
            [At(str(empty[0][1].index[-1]), "logger_downloaded")],
            "Loggers were marked as downloaded, and birds with tags were there, but the log holds nothing "
            f"from before: {_named(case, named)}.",
        )


def _fitted_before(case: Case, box: str, day: int) -> bool:
    return any(bird.key and bird.since < day for bird in tagged_birds(case).at_box.get(box, ()))


def _brought(case: Case, box: str, last: int, here: pd.DataFrame, after: pd.DataFrame) -> Iterator[Finding]:
    until = np.datetime64(last, "D")
    if after.empty:
        yield case.blame(
            "no_visit",
            [At(str(here.index[-1]), "logger_downloaded")],
            f"The log of box {box} reaches to the night of {until}, but no visit to it since is listed.",
        )
    elif not after["ticked"].any():
        day = np.datetime64(int(after["day"].iloc[-1]), "D")
        n = len(after)
        which = f"the visit of {day} is" if n == 1 else f"none of the {n} visits since is"
        negated = " not" if n == 1 else ""
        suspects = [At(str(after.index[-1]), "logger_downloaded", suggested=True)]
        yield case.blame(
            "not_ticked",
            suspects,
            f"The log of box {box} reaches to the night of {until}, but {which}{negated} marked as "
            "downloaded.",
        )


RULE = Rule(
    slug="logger",
    needs={"handlings": ("date", "box", "ring")},
    check=check,
    heeds=together(
        HEARD,
        TAGGED,
        {"visits": ("date", "box", "logger_downloaded"), "boxes": ("box", "antennas", "until")},
    ),
)
