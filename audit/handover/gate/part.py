"""The gate as a part of what goes out: its page, and the second engine's results."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.gate.documents import validation_document
from audit.handover.gate.page import gate_page
from audit.handover.gate.wording import engine_sentence, headline, listed_words
from audit.handover.part import Part

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.gate.gate import Gate

__all__ = ["gate_part"]


def gate_part(gate: Gate, decided: DecidedSeason) -> Part:
    """Make ``gate/gate.html`` and ``gate/validation.json``.

    Parameters
    ----------
    gate : Gate
        What was asked about this season.
    """
    page = gate_page(gate, decided)
    document = validation_document(gate, decided.clean, decided.declared)
    told = [headline(gate), engine_sentence(gate)]
    if words := listed_words(gate):
        told.append(words)
    return Part(
        title="The gate: whether the season may be handed over",
        files={"gate/gate.html": _writer(page), "gate/validation.json": _writer(document)},
        told=tuple(told),
    )


def _writer(text: str) -> Callable[[Path], object]:
    return lambda path: path.write_text(text, encoding="utf-8", newline="\n")
