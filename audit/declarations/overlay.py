"""A team's document against the shipped one that it is laid over: no name and no kind of value of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from audit.declarations.form import near_words
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from audit.declarations.document import Document
    from audit.declarations.shape import Trail

__all__ = ["check_overlay"]

#: What each kind of value is called, and an example of it.
_KINDS = {
    "number": "a number, such as",
    "text": "text, such as",
    "boolean": "true or false; shipped is",
    "list": "a list, such as",
}


def check_overlay(
    own: Document, shipped: Document, form: Mapping[str, Any], *, settled: bool, free: Collection[str] = ()
) -> None:
    """Refuse what the shipped document could never have meant.

    A form allows any kind of value under any name, since each number has a kind of its own; only the shipped
    document knows which.

    Parameters
    ----------
    own, shipped : Document
        A team's document and the one that it is laid over.
    form : mapping
        The form of both: where it lists the values that are allowed, that says more than their kind.
    settled : bool
        Whether the names of the numbers are settled: a new one would be read by nobody.
    free : collection of str
        Parts of the document in which a team names things of its own all the same.

    Raises
    ------
    DeclarationRefusal
        With file, line and cure.
    """
    for key, value in own.tree.items():
        parts = ({key: value}, shipped.tree, form)
        _look(own, parts, (), settled=settled and key not in free)


def _look(
    own: Document,
    three: tuple[Mapping[str, Any], Mapping[str, Any], Mapping[str, Any]],
    trail: Trail,
    *,
    settled: bool,
) -> None:
    above, below, form = three
    is_number = {"value", "source", "grade"} <= set(below)
    for key, value in above.items():
        here = (*trail, key)
        inner = form.get("properties", {}).get(key, {})
        if is_number:
            if key == "value" and "enum" not in inner:
                _check_kind(own, value, below[key], here)
        elif isinstance(value, dict) and isinstance(below.get(key), dict):
            _look(own, (value, below[key], inner), here, settled=settled)
        elif key not in below and settled and not _is_answer(below) and _is_open(form, key, value):
            names = [name for name, under in below.items() if isinstance(under, dict)]
            raise DeclarationRefusal(
                f"Nothing asks for '{'.'.join(map(str, here))}'.",
                where=own.where(*here),
                cure=f"{near_words(key, names)}Known here: {', '.join(names)}.",
            )


def _is_open(form: Mapping[str, Any], key: str, value: object) -> bool:
    # where a form lists all keys it says itself which is none
    any_name = isinstance(form.get("additionalProperties"), dict) and key not in form.get("properties", {})
    return isinstance(value, dict) or any_name


def _is_answer(below: Mapping[str, Any]) -> bool:
    # an outcome of a rule may be given a chance that the shipped one leaves out
    return "severity" in below


def _check_kind(own: Document, value: object, shipped: object, trail: Trail) -> None:
    wanted = _kind(shipped)
    faulty = _kind(value) != wanted
    if isinstance(value, list) and isinstance(shipped, list) and shipped:
        kinds = {_kind(item) for item in shipped}
        faulty = any(_kind(item) not in kinds for item in value)
    if faulty and wanted:
        raise DeclarationRefusal(
            f"'{_shown(value)}' under '{'.'.join(map(str, trail))}' is not of the kind that is asked for.",
            where=own.where(*trail),
            cure=f"Write {_KINDS[wanted]} {_shown(shipped)}.",
        )


def _kind(value: object) -> str:
    if isinstance(value, bool):
        return "boolean"
    if isinstance(value, int | float):
        return "number"
    if isinstance(value, str):
        return "text"
    return "list" if isinstance(value, list) else ""


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"[{', '.join(_shown(item) for item in value[:_SHOWN])}{', ...' * (len(value) > _SHOWN)}]"
    return str(value)


#: Items of a list that a message names.
_SHOWN = 3
