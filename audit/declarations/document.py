"""YAML documents that know the line of every key, and are merged key by key."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import yaml

from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from audit.declarations.shape import Step, Trail

__all__ = ["Document", "merge", "read_document"]

# The C loader is several times faster; it is missing only where PyYAML was built without libyaml.
_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

_PLAIN = "tag:yaml.org,2002:"

#: No declaration nests its keys this deep; an alias that refers to itself would go on for ever.
_DEEPEST = 20


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

    def place(self, *trail: Step) -> tuple[Path, int]:
        """File and line of the value at `trail`, or of its nearest parent."""
        for end in range(len(trail), 0, -1):
            if trail[:end] in self.places:
                return self.places[trail[:end]]
        return self.places[()]

    def where(self, *trail: Step) -> str:
        """Say file and line of the value at `trail`, or of its nearest parent."""
        path, line = self.place(*trail)
        return f"{path}, line {line}"


def read_document(path: Path) -> Document:
    """Read one YAML file. An empty one, or one with comments only, is an empty document.

    Raises
    ------
    DeclarationRefusal
        The file cannot be read, is not YAML, not a mapping, or names a key twice.
    """
    node = _compose(path)
    if node is None:
        return Document({}, {(): (path, 1)})
    if not isinstance(node, yaml.MappingNode):
        raise DeclarationRefusal(
            "A declaration file must be a mapping of keys to values.",
            where=_at(path, node),
            cure="Start each line with a key and a colon, such as 'title: One box.'",
        )
    places: dict[Trail, tuple[Path, int]] = {}
    tree = _plain(node, (), path, places)
    return Document(cast("dict[str, Any]", tree), places)


def _compose(path: Path) -> yaml.Node | None:
    try:
        stored = path.read_bytes()
    except OSError as fault:
        raise DeclarationRefusal(
            f"The file cannot be read: {fault.strerror}.",
            where=str(path),
            cure="Check that the file is there and that you may read it.",
        ) from fault
    try:
        text = stored.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = stored.count(b"\n", 0, fault.start) + 1
        raise DeclarationRefusal(
            "The file is not UTF-8 text.",
            where=f"{path}, line {line}",
            cure="Save it with the encoding UTF-8.",
        ) from fault
    try:
        return yaml.compose(text, Loader=_Loader)
    except yaml.YAMLError as fault:
        mark = getattr(fault, "problem_mark", None) or getattr(fault, "context_mark", None)
        line = mark.line + 1 if mark else text.count("\n", 0, getattr(fault, "position", 0)) + 1
        problem = getattr(fault, "problem", None) or getattr(fault, "reason", None) or "it cannot be parsed"
        raise DeclarationRefusal(
            f"This is not valid YAML: {problem}.",
            where=f"{path}, line {line}",
            cure="Check indentation (blanks, no tabs), colons and quotes in this line and the one above.",
        ) from fault


def _at(path: Path, node: yaml.Node) -> str:
    return f"{path}, line {node.start_mark.line + 1}"


def _plain(node: yaml.Node, trail: Trail, path: Path, places: dict[Trail, tuple[Path, int]]) -> object:
    if len(trail) > _DEEPEST:
        raise DeclarationRefusal(
            "The keys are nested too deeply, or an alias (*) refers to itself.",
            where=_at(path, node),
            cure="Write the values out without aliases.",
        )
    places[trail] = (path, node.start_mark.line + 1)
    if isinstance(node, yaml.MappingNode):
        result: dict[str, object] = {}
        for key_node, value_node in node.value:
            if not isinstance(key_node, yaml.ScalarNode):
                raise DeclarationRefusal(
                    "A key must be plain text.",
                    where=_at(path, key_node),
                    cure="Write a word and a colon.",
                )
            key = str(key_node.value)
            here = (*trail, key)
            if key in result:
                raise DeclarationRefusal(
                    f"The key '{key}' stands here twice, first in line {places[here][1]}.",
                    where=_at(path, key_node),
                    cure="Remove one of the two.",
                )
            result[key] = _plain(value_node, here, path, places)
            places[here] = (path, key_node.start_mark.line + 1)
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
            where=_at(path, node),
            cure="Write plain text, a number, true or false.",
        )
    return text


def merge(shipped: Document, own: Document) -> Document:
    """Lay a team's document over the shipped one, key by key; lists and values are replaced whole."""
    places = dict(shipped.places)

    def lay(below: dict[str, Any], above: dict[str, Any], trail: Trail) -> dict[str, Any]:
        result = dict(below)
        for key, value in above.items():
            here = (*trail, key)
            under = result.get(key)
            if isinstance(value, dict) and isinstance(under, dict):
                result[key] = lay(under, value, here)
                continue
            if isinstance(under, dict | list):
                for place in [place for place in places if place[: len(here)] == here]:
                    del places[place]
            result[key] = value
        return result

    tree = lay(shipped.tree, own.tree, ())
    places.update(own.places)
    return Document(tree, places)
