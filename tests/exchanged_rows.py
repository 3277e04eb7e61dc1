"""Rows of an invented season, and the records made of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from typed_season import typed_season

from audit.declarations import load_declarations
from audit.declarations.limit import Limit
from audit.declarations.sender import Place, Sender
from audit.handover.exchange.records import records_of

SHIPPED = load_declarations()
UNCERTAIN = {"uncertainty_m": Limit(20, "a hand receiver", "common practice")}
SENDER = Sender(scheme="XSL", place=Place("XS--", "Sallow Levels"), limits=UNCERTAIN)
DECLARED = replace(SHIPPED, sender=SENDER)

DAY = dt.date(2026, 6, 12)
BOXES = [
    {"box": "SL-01", "latitude": 45.02, "longitude": -29.955},
    {"box": "SL-02", "latitude": 45.5, "longitude": -29.955},
    {"box": "SL-03"},
]
PULLUS = {
    "date": DAY, "time": "09:30", "box": "SL-01", "species": "barn owl", "ring": "SV03001", "ring_leg": "R",
    "age": "1", "event": "ringed", "net_g": 305.0, "wing_mm": 138.0, "brood_size": 3,
}  # fmt: skip
ADULT = {
    **PULLUS, "ring": "DEK1234567", "age": "6", "event": "re-encountered", "sex": "F", "brood_size": None,
}  # fmt: skip


def made(*rows, declared=DECLARED, boxes=BOXES, **tables):
    return records_of(typed_season(declared, handlings=list(rows), boxes=boxes, **tables), declared)


def with_sender(**more):
    return replace(SHIPPED, sender=replace(SENDER, **more))
