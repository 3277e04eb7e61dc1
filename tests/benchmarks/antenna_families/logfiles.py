"""Write the log in one of several ordinary layouts, and the truth beside it."""

from __future__ import annotations

import csv
import json
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

    from faults import Faults
    from reading import Read
    from rounds import Round

START = datetime(2026, 5, 20, 12)


def moment(at: float, decimals: int, form: str) -> str:
    """Write a moment."""
    scale = 10**decimals
    when = START + timedelta(microseconds=int(np.floor(at * scale)) * (10**6 // scale))
    text = when.strftime(form)
    return text + (f".{when.microsecond:06d}"[: decimals + 1] if decimals else "")


def write_log(path: Path, reads: list[Read], this: Round, faults: Faults, rng: np.random.Generator) -> Path:
    """Write the log as its clock showed it; return the file or folder."""
    layout = str(rng.choice(["plain", "plain", "plain", "semicolon", "split", "folder", "tab"]))
    this.facts["layout"] = layout
    shown = {}
    for box in sorted({read[1] for read in reads}):
        own = [read for read in reads if read[1] == box]
        times = faults.shown(box, np.array([read[0] for read in own]))
        shown[box] = [(float(at), *read[1:]) for at, read in zip(times, own, strict=True)]
    if layout == "folder":
        folder = path / "log"
        folder.mkdir()
        for box, rows in shown.items():
            _rows(folder / f"{box}.csv", rows, this.decimals, "plain")
        return folder
    rows = [row for own in shown.values() for row in own]
    if rng.random() < 0.6:
        rows.sort()
    file = path / ("log.txt" if layout == "tab" else "log.csv")
    _rows(file, rows, this.decimals, layout)
    return file


def _rows(file: Path, rows: list[Read], decimals: int, layout: str) -> None:
    with file.open("w", newline="", encoding="utf-8") as handle:
        out = csv.writer(handle, delimiter={"semicolon": ";", "tab": "\t"}.get(layout, ","))
        if layout == "split":
            out.writerow(["date", "time", "box", "antenna", "tag"])
            out.writerows(
                (moment(at, 0, "%Y-%m-%d"), moment(at, decimals, "%H:%M:%S"), box, antenna, tag)
                for at, box, antenna, tag in rows
            )
        else:
            out.writerow(["box", "antenna", "detected_at", "tag"])
            form = "%Y-%m-%d %H:%M:%S" if layout != "plain" else "%Y-%m-%dT%H:%M:%S"
            out.writerows((box, antenna, moment(at, decimals, form), tag) for at, box, antenna, tag in rows)


def write_truth(path: Path, this: Round, faults: Faults, reads: list[Read]) -> None:
    """Write what was true."""
    by_tag: dict[tuple[str, str], list[Read]] = {}
    for read in reads:
        by_tag.setdefault((read[1], read[3]), []).append(read)
    heard = {key: np.array([row[0] for row in rows]) for key, rows in by_tag.items()}
    with (path / "moves.csv").open("w", newline="", encoding="utf-8") as handle:
        out = csv.writer(handle)
        out.writerow(["box", "tag", "role", "at", "kind", "hold", "heard"])
        for box in this.boxes:
            for bird in box.birds:
                own = heard.get((box.name, bird.tag), np.empty(0))
                for move in bird.moves:
                    end = move.at + move.hold
                    near = int(((own > move.at - 15) & (own < end + 15)).sum())
                    out.writerow(
                        [
                            box.name,
                            bird.tag,
                            bird.role,
                            moment(move.at, 3, "%Y-%m-%dT%H:%M:%S"),
                            move.kind,
                            round(move.hold, 1),
                            near,
                        ]
                    )
    facts = {
        "seed": this.seed,
        "scenario": this.scenario,
        "variant": this.variant,
        "nights": this.nights,
        "boxes": len(this.boxes),
        "single": this.single,
        "decimals": this.decimals,
        "rates": this.rates,
        **this.facts,
        "dead": [
            (box, antenna, moment(a, 0, "%Y-%m-%dT%H:%M:%S"), moment(b, 0, "%Y-%m-%dT%H:%M:%S"))
            for box, antenna, a, b in faults.dead
        ],
        "markers": faults.markers,
        "ghosts": faults.ghosts,
        "clocks": faults.clocks,
        "readers": {
            name: [r.every["outer"], r.chance, r.hold_off, r.spell, r.overlap]
            for name, r in this.readers.items()
        },
        "reads": len(reads),
        "families": {
            b.name: [
                b.brood,
                b.age,
                {bird.tag: (bird.role, bird.tagged, bird.first_flight, bird.leaves) for bird in b.birds},
            ]
            for b in this.boxes
        },
    }
    (path / "truth.json").write_text(json.dumps(facts, indent=1), encoding="utf-8")
