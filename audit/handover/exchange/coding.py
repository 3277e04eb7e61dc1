"""The clean season as records: one for each bird in the hand."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from audit.handover.exchange.bird import bird_fields, measure_fields
from audit.handover.exchange.brood import brood_fields
from audit.handover.exchange.caution import Caution, LeftOut
from audit.handover.exchange.encounter import Encounter
from audit.handover.exchange.fate import fate_fields
from audit.handover.exchange.marks import is_replaced, mark_fields, old_ring
from audit.handover.exchange.place import place_fields, way_fields
from audit.refusal import Refusal

if TYPE_CHECKING:
    from audit.handover.exchange.handled import Handled
    from audit.handover.exchange.history import Past
    from audit.handover.exchange.round import Round, Say

__all__ = ["Coded", "Coding", "code_round"]

#: The record is coded in the form of 2000 and later, and not translated from an older one.
_DIRECT = "4"
_EXACT = "0"
_NO_TIME = "----"
_TIME = re.compile(r"(\d{1,2}):(\d{2})(?::\d{2})?", re.ASCII)
_HOURS, _MINUTES = 24, 60


@dataclass(frozen=True, slots=True)
class Coded:
    """A row of the season, what is known of the bird, and its record."""

    row: Handled
    past: Past
    record: Encounter


@dataclass(frozen=True, slots=True)
class Coding:
    """All records of a season, in the order of the sheet, and what was left out."""

    coded: tuple[Coded, ...]
    left_out: tuple[LeftOut, ...]
    cautions: tuple[Caution, ...]


def code_round(around: Round) -> Coding:
    """Make a record of every handling with a ring and a day."""
    coded: list[Coded] = []
    left_out: list[LeftOut] = []
    cautions: list[Caution] = []
    taken: Counter[str] = Counter()
    for one in around.rows:
        why = _unfit(one)
        if why:
            left_out.append(_left(one, why))
            continue
        past = around.lives.of[one.label]
        stem = f"{one.ring_key}-{one.day:%Y%m%d}"
        reference = f"{stem}-{taken[stem] + 1}" if taken[stem] else stem
        asked: list[Caution] = []
        say = partial(_ask, asked, one.label, reference)
        try:
            record = _record(one, past, around, reference, say)
        except Refusal as fault:
            left_out.append(_left(one, f"{fault.what} {fault.cure}"))
            continue
        taken[stem] += 1
        coded.append(Coded(one, past, record))
        cautions += asked
    return Coding(tuple(coded), tuple(left_out), tuple(cautions))


def _ask(asked: list[Caution], label: str, reference: str, check: str, field: str, said: str) -> None:
    asked.append(Caution(check, label, reference, field, said))


def _unfit(one: Handled) -> str:
    if not one.ring_key:
        return "No ring is written." if not one.ring else f"The ring '{one.ring}' has no letter and no digit."
    return "" if one.day is not None else "No day is written, or it could not be read."


def _left(one: Handled, why: str) -> LeftOut:
    return LeftOut(one.label, one.box, one.day.isoformat() if one.day else "", one.ring, why)


def _record(one: Handled, past: Past, around: Round, reference: str, say: Say) -> Encounter:
    if one.day is None:
        raise AssertionError("a row without a day has no record")
    return Encounter(
        **mark_fields(one, past, around, say),
        **bird_fields(one, around, say),
        **fate_fields(one, past, around, say),
        **brood_fields(one, around, say),
        date=f"{one.day:%d%m%Y}",
        date_accuracy=_EXACT,
        time=_time(one, say),
        **place_fields(one, around),
        code_identifier=_DIRECT,
        **way_fields(one, past, around),
        **measure_fields(one, around, say),
        place_name=_text(
            ", ".join(filter(None, (around.sender.place_of(one.box).name, one.box))), "place_name", say
        ),
        remarks=_remarks(one, past, around, say),
        reference=reference,
    )


def _time(one: Handled, say: Say) -> str:
    if not one.time:
        return _NO_TIME
    found = _TIME.fullmatch(one.time)
    if found is None or int(found[1]) >= _HOURS or int(found[2]) >= _MINUTES:
        say("no_such_time", "time", f"The time '{one.time}' goes out as not known.")
        return _NO_TIME
    return f"{int(found[1]):02d}{found[2]}"


def _remarks(one: Handled, past: Past, around: Round, say: Say) -> str:
    told = [one.remarks]
    if one.tag and around.exchange.choice("tag_in_remarks"):
        told.append(f"tag {one.tag}")
    if is_replaced(one, past, around) and (old := old_ring(one, around)):
        told.append(f"old ring {old}")
    return _text("; ".join(filter(None, told)), "remarks", say)


def _text(text: str, field: str, say: Say) -> str:
    """Keep free text on one line and inside its field."""
    if text.isprintable() and "|" not in text and text == " ".join(text.split()):
        return text
    plain = " ".join("".join(sign if sign.isprintable() else " " for sign in text).split()).replace("|", "/")
    if plain != text:
        say("text_changed", field, f"'{' '.join(text.split())}' is written as '{plain}'.")
    return plain
