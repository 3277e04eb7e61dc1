"""A decision as one line of a log, and back."""

from __future__ import annotations

import json
from typing import Any, cast

from audit.review.decisions import VERBS, DecidedCell, Decision, Verb

__all__ = ["FORM", "MARK", "LineFault", "decision_in", "line_of"]

#: Version of the form of a line. It changes only when a key changes its meaning; new keys do not change it.
FORM = 1

#: What every line begins with.
MARK = b'{"form":'

_CELL: dict[str, object] = {
    "sheet": "",
    "row": 0,
    "field": "",
    "observed": "",
    "instead": None,
    "as_typed": {},
    "twin": 1,
    "table": "",
    "empty": (),
    "twins": 1,
    "alike": 0,
    "nearest": None,
}
_TEXTS = ("findings", "rules", "replaces")


class LineFault(ValueError):  # noqa: N818 - a fault of a line, not of the program
    """A line that is no decision which this program can read: its text says why."""

    def __init__(self, why: str, identity: str = "") -> None:
        super().__init__(why)
        self.identity = identity


def line_of(decision: Decision) -> bytes:
    r"""Write a decision as one line, without the line end; what is empty is left out.

    Examples
    --------
    >>> line_of(Decision("7f", "2026-06-01T18:20Z", "AB", "undo", undoes="3c"))
    b'{"form": 1, "identity": "7f", "at": "2026-06-01T18:20Z", "who": "AB", "verb": "undo", "undoes": "3c"}'
    """
    tree: dict[str, object] = {
        "form": FORM,
        "identity": decision.identity,
        "at": decision.at,
        "who": decision.who,
        "verb": decision.verb,
        "cells": [_cell_tree(cell) for cell in decision.cells],
        "reason": decision.reason,
        "findings": list(decision.findings),
        "rules": list(decision.rules),
        "asked": decision.asked,
        "replaces": list(decision.replaces),
        "undoes": decision.undoes,
    }
    always = {"form", "identity", "at", "who", "verb"}
    short = {name: value for name, value in tree.items() if value or name in always}
    try:
        return json.dumps(short, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        # Half of a pair of signs, as a damaged file may hold: written as an escape.
        return json.dumps(short).encode()


def _cell_tree(cell: DecidedCell) -> dict[str, object]:
    tree: dict[str, object] = {}
    for name, usual in _CELL.items():
        value = getattr(cell, name)
        if value != usual or name in ("sheet", "row", "field", "observed", "instead"):
            tree[name] = dict(value) if name == "as_typed" else list(value) if name == "empty" else value
    return tree


def decision_in(line: bytes) -> Decision:
    """Read a line.

    Raises
    ------
    LineFault
        It is cut off, no JSON, of a later form, or something in it has the wrong type.
    """
    try:
        tree = json.loads(line.decode())
    except (ValueError, RecursionError) as fault:
        raise LineFault("it is cut off or was written over") from fault
    if not isinstance(tree, dict) or not isinstance(tree.get("identity"), str) or not tree["identity"]:
        raise LineFault("it is no decision")
    identity = tree["identity"]
    if tree.get("form") != FORM or isinstance(tree["form"], bool):
        raise LineFault("it was written by a later version of nestproof", identity)
    if tree.get("verb") not in VERBS:
        raise LineFault(f"it decides something unknown here: {tree.get('verb')!r}", identity)
    try:
        decision = Decision(
            identity=identity,
            at=_text(tree, "at"),
            who=_text(tree, "who"),
            verb=cast("Verb", tree["verb"]),
            cells=tuple(_cell(one) for one in _list(tree, "cells")),
            reason=_text(tree, "reason"),
            asked=_text(tree, "asked"),
            undoes=_text(tree, "undoes"),
            **{name: _texts(tree, name) for name in _TEXTS},
        )
    except _WrongType as fault:
        raise LineFault(f"'{fault}' in it is not what it should be", identity) from fault
    if (decision.verb == "undo") != bool(decision.undoes):
        raise LineFault("'undoes' in it is not what it should be", identity)
    return decision


class _WrongType(ValueError):  # noqa: N818 - as above
    """Named after the key."""


def _cell(tree: object) -> DecidedCell:
    if not isinstance(tree, dict):
        raise _WrongType("cells")
    typed = tree.get("as_typed", {})
    if not isinstance(typed, dict) or not all(isinstance(text, str) for text in typed.values()):
        raise _WrongType("as_typed")
    if not _text(tree, "field") or "observed" not in tree:
        raise _WrongType("cells")
    return DecidedCell(
        sheet=_text(tree, "sheet"),
        row=_number(tree, "row", 0),
        field=_text(tree, "field"),
        observed=_text(tree, "observed"),
        instead=None if tree.get("instead") is None else _text(tree, "instead"),
        as_typed=typed,
        twin=_number(tree, "twin", 1),
        table=_text(tree, "table"),
        empty=_texts(tree, "empty"),
        twins=_number(tree, "twins", 1),
        alike=_number(tree, "alike", 0),
        nearest=None if tree.get("nearest") is None else _number(tree, "nearest", 0),
    )


def _text(tree: dict[str, Any], name: str) -> str:
    value = tree.get(name, "")
    if not isinstance(value, str):
        raise _WrongType(name)
    return value


def _number(tree: dict[str, Any], name: str, usual: int) -> int:
    value = tree.get(name, usual)
    if type(value) is not int or value < 0:
        raise _WrongType(name)
    return value


def _list(tree: dict[str, Any], name: str) -> list[object]:
    value = tree.get(name, [])
    if not isinstance(value, list):
        raise _WrongType(name)
    return value


def _texts(tree: dict[str, Any], name: str) -> tuple[str, ...]:
    values = _list(tree, name)
    if not all(isinstance(value, str) for value in values):
        raise _WrongType(name)
    return tuple(cast("list[str]", values))
