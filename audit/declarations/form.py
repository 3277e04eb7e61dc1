"""A document against its form: what is wrong, where, and how to mend it."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, Any

from audit.declarations.shape import Fault, faults_in
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from audit.declarations.document import Document

__all__ = ["check_form", "near_words"]


def check_form(document: Document, form: Mapping[str, Any]) -> None:
    """Check a document against a form (JSON Schema).

    Raises
    ------
    DeclarationRefusal
        With the file, the line and the cure for the first fault in file order.
    """
    faults = faults_in(document.tree, form)
    if not faults:
        return
    first = min(_without_echoes(faults), key=lambda fault: document.place(*fault.trail))
    what, cure = _SENTENCES.get(first.keyword, _other)(first)
    raise DeclarationRefusal(what, where=document.where(*first.trail), cure=cure)


def _without_echoes(faults: list[Fault]) -> list[Fault]:
    """Drop a missing key that stands there misspelt: the unknown key says it better."""
    unknown = {(fault.trail[:-1], fault.found) for fault in faults if fault.keyword == "additionalProperties"}

    def is_echo(fault: Fault) -> bool:
        beside = [str(key) for trail, key in unknown if trail == fault.trail]
        return fault.keyword == "required" and bool(difflib.get_close_matches(fault.wanted, beside))

    return [fault for fault in faults if not is_echo(fault)]


def near_words(word: str, known: Iterable[str]) -> str:
    """Ask whether the nearest known word was meant; empty where none is near."""
    known = list(known)
    folded = {name.casefold(): name for name in reversed(known)}
    near = difflib.get_close_matches(word.casefold(), folded, n=1)
    return f"Did you mean '{folded[near[0]]}'? " if near else ""


def _under(fault: Fault) -> str:
    at = ".".join(str(step) for step in fault.trail)
    return f" under '{at}'" if at else ""


def _shown(value: object) -> str:
    if value is None:
        return "An empty value"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "A mapping of keys to values"
    if isinstance(value, list):
        return f"The list {value}"
    return f"'{value}'"


def _said_in(form: Mapping[str, Any], key: str) -> str:
    """Say what the form remarks about a key, and the words allowed there."""
    below = form.get("properties", {}).get(key, {})
    said = below.get("description", "")
    words = f"one of {', '.join(map(str, below['enum']))}" if "enum" in below else ""
    told = ": ".join(part for part in (said.rstrip("."), words) if part)
    return f" ({told})" if told else ""


def _type(fault: Fault) -> tuple[str, str]:
    wanted = " or ".join(_KINDS[kind] for kind in fault.wanted)
    return f"{_shown(fault.found)}{_under(fault)} is not {wanted}.", f"Write {wanted}."


def _enum(fault: Fault) -> tuple[str, str]:
    allowed = [str(value).lower() if isinstance(value, bool) else str(value) for value in fault.wanted]
    return (
        f"{_shown(fault.found)}{_under(fault)} is not allowed.",
        f"{near_words(str(fault.found), allowed)}Allowed: {', '.join(allowed)}.",
    )


def _required(fault: Fault) -> tuple[str, str]:
    key = fault.wanted
    return f"The key '{key}' is missing{_under(fault)}.", f"Add '{key}:'{_said_in(fault.form, key)}."


def _additional_properties(fault: Fault) -> tuple[str, str]:
    parent = ".".join(str(step) for step in fault.trail[:-1])
    under = f" under '{parent}'" if parent else ""
    return (
        f"The key '{fault.found}'{under} is not known.",
        f"{near_words(fault.found, fault.wanted)}Known keys: {', '.join(fault.wanted)}.",
    )


def _pattern(fault: Fault) -> tuple[str, str]:
    return (
        f"{_shown(fault.found)}{_under(fault)} does not have the right form.",
        f"It must match {fault.wanted}.",
    )


def _bound(fault: Fault) -> tuple[str, str]:
    limit = f"{_BOUNDS[fault.keyword]} {fault.wanted}"
    return f"{_shown(fault.found)}{_under(fault)} is out of range.", f"Write a number {limit}."


def _size(fault: Fault) -> tuple[str, str]:
    return (
        f"{_shown(fault.found)}{_under(fault)} has the wrong length.",
        f"Write {_BOUNDS[fault.keyword]} {fault.wanted} entries.",
    )


def _unique(fault: Fault) -> tuple[str, str]:
    return f"{_shown(fault.found)}{_under(fault)} stands in the list twice.", "Remove one."


def _other(fault: Fault) -> tuple[str, str]:
    return f"{_shown(fault.found)}{_under(fault)} does not fit.", "Compare with the shipped declaration."


_KINDS = {
    "string": "text (in quotes)",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "array": "a list",
    "object": "a mapping of keys to values",
    "null": "empty",
}

_BOUNDS = {
    "minimum": "not below",
    "maximum": "not above",
    "exclusiveMinimum": "above",
    "exclusiveMaximum": "below",
    "minItems": "at least",
    "maxItems": "at most",
    "minProperties": "at least",
    "maxProperties": "at most",
}

_SENTENCES: dict[str, Callable[[Fault], tuple[str, str]]] = {
    "type": _type,
    "enum": _enum,
    "required": _required,
    "additionalProperties": _additional_properties,
    "pattern": _pattern,
    "minimum": _bound,
    "maximum": _bound,
    "exclusiveMinimum": _bound,
    "exclusiveMaximum": _bound,
    "minItems": _size,
    "maxItems": _size,
    "minProperties": _size,
    "maxProperties": _size,
    "uniqueItems": _unique,
}
