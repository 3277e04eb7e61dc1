"""YAML documents that know the line of every key, checked against a form and merged key by key."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import yaml

from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from jsonschema.exceptions import ValidationError

__all__ = ["Document", "check_form", "merge", "read_document"]

Step = str | int
Trail = tuple[Step, ...]

# The C loader is several times faster; it is missing only where PyYAML was built without libyaml.
_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

_PLAIN = "tag:yaml.org,2002:"


@dataclass(frozen=True, slots=True)
class Document:
    """A YAML file as plain values, with the file and line that each key came from.

    Attributes
    ----------
    tree : dict
        The content.
    places : mapping of tuple to (Path, int)
        File and line (from 1) of the value at each trail of keys.
    """

    tree: dict[str, Any]
    places: Mapping[Trail, tuple[Path, int]]

    def where(self, *trail: Step) -> str:
        """File and line of the value at `trail`, or of its nearest parent."""
        for end in range(len(trail), -1, -1):
            if trail[:end] in self.places:
                path, line = self.places[trail[:end]]
                return f"{path}, line {line}"
        return "declarations"


def read_document(path: Path) -> Document:
    """Read one YAML file.

    Raises
    ------
    DeclarationRefusal
        The file is not YAML, not a mapping, or names a key twice.
    """
    try:
        text = path.read_text(encoding="utf-8")
        node = yaml.compose(text, Loader=_Loader)
    except UnicodeDecodeError as fault:
        raise DeclarationRefusal(
            "The file is not UTF-8 text.", where=str(path), cure="Save it as UTF-8."
        ) from fault
    except yaml.YAMLError as fault:
        mark = getattr(fault, "problem_mark", None)
        line = mark.line + 1 if mark else 1
        problem = getattr(fault, "problem", None) or "it cannot be parsed"
        raise DeclarationRefusal(
            f"This is not valid YAML: {problem}.",
            where=f"{path}, line {line}",
            cure="Check indentation, colons and quotes around this line.",
        ) from fault
    if node is None:
        return Document({}, {(): (path, 1)})
    if not isinstance(node, yaml.MappingNode):
        raise DeclarationRefusal(
            "A declaration file must be a mapping of keys to values.",
            where=f"{path}, line {node.start_mark.line + 1}",
            cure="Start the file with a key such as 'fields:'.",
        )
    places: dict[Trail, tuple[Path, int]] = {}
    tree = _plain(node, (), path, places)
    return Document(cast("dict[str, Any]", tree), places)


def _plain(node: yaml.Node, trail: Trail, path: Path, places: dict[Trail, tuple[Path, int]]) -> object:
    places[trail] = (path, node.start_mark.line + 1)
    if isinstance(node, yaml.MappingNode):
        result: dict[str, object] = {}
        for key_node, value_node in node.value:
            key = str(key_node.value)
            line = key_node.start_mark.line + 1
            if key in result:
                raise DeclarationRefusal(
                    f"The key '{key}' stands here twice.", where=f"{path}, line {line}", cure="Remove one."
                )
            result[key] = _plain(value_node, (*trail, key), path, places)
            places[(*trail, key)] = (path, line)
        return result
    if isinstance(node, yaml.SequenceNode):
        return [_plain(child, (*trail, i), path, places) for i, child in enumerate(node.value)]
    return _scalar(cast("yaml.ScalarNode", node), path)


def _scalar(node: yaml.ScalarNode, path: Path) -> object:
    # YAML 1.1 reads NO, yes and on as booleans and 010 as eight: only true and false, and decimal numbers,
    # mean anything but text in a declaration.
    text = node.value
    if node.style in ("'", '"', "|", ">"):
        return text
    kind = node.tag.removeprefix(_PLAIN)
    if kind == "null":
        return None
    if kind == "bool" and text in ("true", "false"):
        return text == "true"
    if kind == "int":
        unsigned = text.lstrip("+-")
        if unsigned.isdigit() and (unsigned == "0" or unsigned[0] != "0"):
            return int(text)
    if kind == "float":
        try:
            return float(text)
        except ValueError:
            return text
    if kind not in ("str", "bool", "int", "timestamp", "value", "merge"):
        raise DeclarationRefusal(
            f"The tag '{node.tag}' has no meaning here.",
            where=f"{path}, line {node.start_mark.line + 1}",
            cure="Write plain text, a number, true or false.",
        )
    return text


def check_form(document: Document, form: Mapping[str, Any]) -> None:
    """Check a document against a form (JSON Schema).

    Raises
    ------
    DeclarationRefusal
        With the file, the line and the cure for the first fault in file order.
    """
    from jsonschema import Draft202012Validator

    faults = list(Draft202012Validator(form).iter_errors(document.tree))
    if not faults:
        return
    faults = [_deepest(fault) for fault in faults]
    faults.sort(key=lambda fault: document.where(*_trail_of(fault, document)))
    fault = faults[0]
    what, cure = _say(fault)
    raise DeclarationRefusal(what, where=document.where(*_trail_of(fault, document)), cure=cure)


def _deepest(fault: ValidationError) -> ValidationError:
    """Follow 'one of these forms' to the alternative that came closest."""
    while fault.context:
        fault = max(fault.context, key=lambda child: len(child.absolute_path))
    return fault


def _trail_of(fault: ValidationError, document: Document) -> Trail:
    trail = tuple(fault.absolute_path)
    if fault.validator == "additionalProperties":
        unknown = _unknown_keys(fault)
        if unknown and (*trail, unknown[0]) in document.places:
            return (*trail, unknown[0])
    return trail


def _unknown_keys(fault: ValidationError) -> list[str]:
    known = set(_known_keys(fault))
    return [key for key in cast("dict[str, Any]", fault.instance) if key not in known]


def _known_keys(fault: ValidationError) -> list[str]:
    return sorted(cast("dict[str, Any]", fault.schema).get("properties", {}))


def _say(fault: ValidationError) -> tuple[str, str]:
    """Say in a sentence what is wrong, and how to mend it."""
    at = ".".join(str(step) for step in fault.absolute_path)
    under = f" under '{at}'" if at else ""
    if fault.validator == "additionalProperties":
        key = _unknown_keys(fault)[0]
        known = _known_keys(fault)
        near = difflib.get_close_matches(key, known, n=1)
        cure = f"Did you mean '{near[0]}'?" if near else ""
        return f"The key '{key}'{under} is not known.", f"{cure} Known keys: {', '.join(known)}.".strip()
    if fault.validator == "required":
        missing = next(
            key
            for key in cast("list[str]", fault.validator_value)
            if key not in cast("dict[str, Any]", fault.instance)
        )
        return f"The key '{missing}' is missing{under}.", f"Add '{missing}:'."
    if fault.validator == "enum":
        allowed = [str(value) for value in cast("list[object]", fault.validator_value)]
        near = difflib.get_close_matches(str(fault.instance), allowed, n=1)
        cure = f"Did you mean '{near[0]}'? " if near else ""
        return f"'{fault.instance}'{under} is not allowed.", f"{cure}Allowed: {', '.join(allowed)}."
    if fault.validator == "type":
        kinds = fault.validator_value if isinstance(fault.validator_value, list) else [fault.validator_value]
        wanted = " or ".join(_KINDS.get(str(kind), str(kind)) for kind in kinds)
        return f"'{fault.instance}'{under} is not {wanted}.", f"Write {wanted}."
    if fault.validator == "pattern":
        return (
            f"'{fault.instance}'{under} does not have the right form.",
            f"It must match {fault.validator_value}.",
        )
    return f"The value{under} does not fit: {fault.message}.", "Compare with the shipped declaration."


_KINDS = {
    "string": "text (in quotes)",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "array": "a list",
    "object": "a mapping of keys to values",
    "null": "empty",
}


def merge(shipped: Document, own: Document) -> Document:
    """Lay a team's document over the shipped one, key by key; lists and values are replaced whole."""
    places = dict(shipped.places)

    def lay(below: dict[str, Any], above: dict[str, Any], trail: Trail) -> dict[str, Any]:
        result = dict(below)
        for key, value in above.items():
            here = (*trail, key)
            if isinstance(value, dict) and isinstance(result.get(key), dict):
                result[key] = lay(result[key], value, here)
            else:
                for old in [place for place in places if place[: len(here)] == here]:
                    del places[old]
                result[key] = value
            places.update(_below(own, here))
        return result

    tree = lay(shipped.tree, own.tree, ())
    return Document(tree, places)


def _below(document: Document, trail: Trail) -> Iterator[tuple[Trail, tuple[Path, int]]]:
    for place, where in document.places.items():
        if place[: len(trail)] == trail:
            yield place, where
