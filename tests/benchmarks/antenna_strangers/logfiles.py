"""The log as files: one or several, .csv or .txt, with stamps and names as loggers and people write them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from hearing import Log

__all__ = ["Form", "draw_form", "write"]


@dataclass(frozen=True, slots=True)
class Form:
    """How a log is written down."""

    start: datetime
    millis: bool
    stamp: str  # iso, T, dmy, two
    split: str  # one, box, antenna
    ending: str
    sep: str
    order: str  # time, box
    names: tuple[str, str, str, str]  # box, antenna, moment, tag


def draw_form(rng: np.random.Generator, plain: bool) -> Form:
    """Draw a form; a plain one is the contract's own table."""
    start = datetime(2031, int(rng.integers(4, 8)), int(rng.integers(1, 28)))
    millis = bool(rng.random() < 0.5)
    if plain:
        return Form(start, millis, "iso", "one", "csv", ",", "time", ("box", "antenna", "detected_at", "tag"))
    names = [
        ("box", "antenna", "detected_at", "tag"),
        ("Box", "Antenna", "Timestamp", "Tag"),
        ("nest_box", "reader", "datetime", "tag_id"),
    ]
    return Form(
        start,
        millis,
        str(rng.choice(["iso", "T", "dmy", "two"])),
        str(rng.choice(["one", "box", "antenna"])),
        str(rng.choice(["csv", "txt"])),
        str(rng.choice([",", ";", "\t"])),
        str(rng.choice(["time", "box"])),
        names[int(rng.integers(len(names)))],
    )


def _stamp(form: Form, at: float) -> str:
    moment = form.start + timedelta(seconds=at)
    tail = f".{moment.microsecond // 1000:03d}" if form.millis else ""
    day = moment.strftime("%d.%m.%Y" if form.stamp in {"dmy", "two"} else "%Y-%m-%d")
    between = {"T": "T", "two": form.sep}.get(form.stamp, " ")
    return f"{day}{between}{moment:%H:%M:%S}{tail}"


def write(form: Form, log: Log, place: Path) -> Path:
    """Write the log under a folder and give what to hand to the command line."""
    box, antenna, moment, tag = form.names
    when = f"date{form.sep}time" if form.stamp == "two" else moment
    head = form.sep.join((box, antenna, when, tag))
    reads = log.reads if form.order == "time" else sorted(log.reads, key=lambda one: (one[1], one[2], one[0]))
    piles: dict[str, list[str]] = {}
    for at, at_box, at_antenna, code in reads:
        name = {"one": "log", "box": at_box, "antenna": f"{at_box}_{at_antenna}"}[form.split]
        line = form.sep.join((at_box, at_antenna, _stamp(form, at), f"{code:015d}"))
        piles.setdefault(name, []).append(line)
    folder = place / "log"
    folder.mkdir(parents=True, exist_ok=True)
    for name, lines in piles.items():
        (folder / f"{name}.{form.ending}").write_text("\n".join([head, *lines, ""]), encoding="utf-8")
    return folder if form.split != "one" else folder / f"log.{form.ending}"
