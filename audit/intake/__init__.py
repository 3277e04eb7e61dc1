"""A file as typed becomes a season."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.intake.mapping import HeaderMapping, HeaderMatch
    from audit.intake.reading import propose_mapping, read

__all__ = ["HeaderMapping", "HeaderMatch", "propose_mapping", "read"]

#: Brought in when asked for: who needs the words of codes and headers only waits for no tables.
_FROM = {
    "HeaderMapping": "mapping",
    "HeaderMatch": "mapping",
    "propose_mapping": "reading",
    "read": "reading",
}


def __getattr__(name: str) -> object:
    if name not in _FROM:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(f"{__name__}.{_FROM[name]}"), name)
