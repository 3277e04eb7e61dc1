"""Write the invented sheet of an evening of measuring again: ``python tests/demo/make_measured.py``.

Fourteen numbered wings of specimens and fourteen filled bags of the Sallow Levels, measured twice by AB, IP
and MK, typed into the table that a blank sheet comes with. AB reads wings long, the wings of IP scatter, IP
forgets the bag once, and AB once writes two digits the wrong way round. MK is the trainer.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np

import audit
from audit.practice.measuring.blank import GIVEN
from audit.practice.measuring.blank_words import heading

SHEET = Path(__file__).resolve().parents[2] / "notebooks" / "demo" / "sallow-levels-2026.measured.csv"
SEED, BIRDS, ROUNDS = 20260613, 14, 2
#: Who -> by how much longer wings are read, how far they scatter, how far masses scatter.
HANDS = {"AB": (2.2, 0.8, 0.8), "IP": (-0.2, 2.4, 1.0), "MK": (0.0, 0.7, 0.7)}
#: Who slips on which bird in which round, and how.
EXCHANGED = ("AB", "9", 2)
BAG_FORGOTTEN = ("IP", "4", 1)
SMALLEST, LARGEST = 118.0, 246.0
BAGS = (21.0, 22.0, 24.0)


def text() -> str:
    """The sheet as its file has it."""
    chance = np.random.default_rng(SEED)
    wings = chance.uniform(SMALLEST, LARGEST, BIRDS)
    masses = 140 + 0.9 * wings + chance.normal(0, 14, BIRDS)
    blank = audit.measuring_sheet(list(HANDS), BIRDS, repeats=ROUNDS, seed=SEED).blank
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*GIVEN, *(heading(field) for field in blank.fields), "remarks"))
    for page in blank.pages:
        lean, scatter, unsteady = HANDS[page.observer]
        for bird in page.birds:
            at = (page.observer, bird, page.repeat)
            number = int(bird) - 1
            wing = round(wings[number] + lean + chance.normal(0, scatter))
            bag = chance.choice(BAGS)
            gross = round(masses[number] + bag + chance.normal(0, unsteady))
            net = gross if at == BAG_FORGOTTEN else gross - round(bag)
            if at == EXCHANGED:
                wing = int(f"{wing}"[0] + f"{wing}"[:0:-1])
            writer.writerow((bird, page.observer, page.repeat, wing, gross, round(bag), net, ""))
    return out.getvalue()


if __name__ == "__main__":
    SHEET.write_text(text(), encoding="utf-8", newline="\n")
