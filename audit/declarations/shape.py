"""The part of JSON Schema (draft 2020-12) that the forms of declarations use.

The reference library takes 0.65 s to import where its format checkers are installed, as they are beside
JupyterLab, and this check runs at every start. A test holds that both agree.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["KEYWORDS", "Fault", "Step", "Trail", "faults_in"]

Step = str | int
Trail = tuple[Step, ...]

#: Whatever a YAML file may hold.
Plain = Any


@dataclass(frozen=True, slots=True)
class Fault:
    """One place that does not fit.

    Attributes
    ----------
    trail : tuple
        Keys and positions that lead to the value.
    keyword : str
        Keyword of the form that was broken, such as ``required``.
    wanted : object
        What the form says under that keyword; for ``required`` the missing key, for
        ``additionalProperties`` the keys that are known.
    found : object
        The value itself; for ``additionalProperties`` the unknown key.
    form : mapping
        The part of the form that was broken.
    """

    trail: Trail
    keyword: str
    wanted: Plain
    found: Plain
    form: Mapping[str, Plain]


# not frozen: one is made for every value, and that would take twice as long
@dataclass(slots=True)
class _Spot:
    """A value, the part of the form it must fit, the way to it, and the whole form."""

    value: Plain
    form: Plain
    trail: Trail
    root: Plain

    def below(self, step: Step, form: Plain) -> Iterator[Fault]:
        """Look at one child."""
        return _look(_Spot(self.value[step], form, (*self.trail, step), self.root))

    def against(self, form: Plain) -> list[Fault]:
        """Look at the same value with another part of the form."""
        return list(_look(_Spot(self.value, form, self.trail, self.root)))

    def fault(self, keyword: str, wanted: Plain) -> Fault:
        return Fault(self.trail, keyword, wanted, self.value, self.form)


_Check = Callable[[Plain, _Spot], Iterator[Fault]]


def faults_in(tree: Plain, form: Mapping[str, Plain] | bool) -> list[Fault]:
    """List everything in `tree` that does not fit `form`.

    Raises
    ------
    NotImplementedError
        The form uses a keyword that is not understood here.

    References
    ----------
    JSON Schema, draft 2020-12, "Core" and "Validation" vocabularies.
    """
    return list(_look(_Spot(tree, form, (), form)))


def _look(at: _Spot) -> Iterator[Fault]:
    if at.form is True:
        return
    if at.form is False:
        yield Fault(at.trail, "false", None, at.value, {})
        return
    for keyword, wanted in at.form.items():
        if keyword in _REMARKS:
            continue
        if keyword not in KEYWORDS:
            raise NotImplementedError(f"the keyword '{keyword}' of a form is not understood")
        yield from KEYWORDS[keyword](wanted, at)


def _is_number(value: Plain) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


_KINDS: dict[str, Callable[[Plain], bool]] = {
    "object": lambda value: isinstance(value, dict),
    "array": lambda value: isinstance(value, list),
    "string": lambda value: isinstance(value, str),
    "number": _is_number,
    "integer": lambda value: _is_number(value) and float(value).is_integer(),
    "boolean": lambda value: isinstance(value, bool),
    "null": lambda value: value is None,
}


def _same(one: Plain, other: Plain) -> bool:
    """Equality as in JSON: 1 is 1.0, but neither is true."""
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    return bool(one == other)


def _type(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if isinstance(wanted, str):
        if not _KINDS[wanted](at.value):
            yield at.fault("type", [wanted])
    elif not any(_KINDS[kind](at.value) for kind in wanted):
        yield at.fault("type", wanted)


def _enum(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    for value in wanted:
        if _same(at.value, value):
            return
    yield at.fault("enum", wanted)


def _const(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    yield from _enum([wanted], at)


def _required(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if isinstance(at.value, dict):
        for key in wanted:
            if key not in at.value:
                yield at.fault("required", key)


def _properties(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if isinstance(at.value, dict):
        for key, form in wanted.items():
            if key in at.value:
                yield from at.below(key, form)


def _pattern_properties(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if isinstance(at.value, dict):
        for pattern, form in wanted.items():
            for key in at.value:
                if re.search(pattern, key):
                    yield from at.below(key, form)


def _additional_properties(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if not isinstance(at.value, dict):
        return
    known = at.form.get("properties", {})
    patterns = at.form.get("patternProperties", {})
    for key in at.value:
        if key in known or any(re.search(pattern, key) for pattern in patterns):
            continue
        if wanted is False:
            yield Fault((*at.trail, key), "additionalProperties", sorted(known), key, at.form)
        else:
            yield from at.below(key, wanted)


def _property_names(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if isinstance(at.value, dict):
        for key in at.value:
            yield from _look(_Spot(key, wanted, (*at.trail, key), at.root))


def _prefix_items(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if isinstance(at.value, list):
        for position in range(min(len(at.value), len(wanted))):
            yield from at.below(position, wanted[position])


def _items(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if isinstance(at.value, list):
        for position in range(len(at.form.get("prefixItems", [])), len(at.value)):
            yield from at.below(position, wanted)


def _unique_items(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if wanted and isinstance(at.value, list):
        for position, value in enumerate(at.value):
            if any(_same(value, earlier) for earlier in at.value[:position]):
                yield Fault((*at.trail, position), "uniqueItems", wanted, value, at.form)
                return


def _pattern(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if isinstance(at.value, str) and not re.search(wanted, at.value):
        yield at.fault("pattern", wanted)


def _bound(keyword: str, fits: Callable[[float, float], bool]) -> _Check:
    def check(wanted: Plain, at: _Spot) -> Iterator[Fault]:
        if _is_number(at.value) and not fits(at.value, wanted):
            yield at.fault(keyword, wanted)

    return check


def _size(
    keyword: str, kind: type[dict[str, Plain] | list[Plain] | str], fits: Callable[[int, int], bool]
) -> _Check:
    def check(wanted: Plain, at: _Spot) -> Iterator[Fault]:
        if isinstance(at.value, kind) and not fits(len(at.value), wanted):
            yield at.fault(keyword, wanted)

    return check


def _ref(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    start, *steps = wanted.split("/")
    if start != "#":
        raise NotImplementedError(f"a form may only refer to itself, not to '{wanted}'")
    form = at.root
    for step in steps:
        form = form[step]
    yield from at.against(form)


def _all_of(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    for form in wanted:
        yield from at.against(form)


def _any_of(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    tried = []
    for form in wanted:
        faults = at.against(form)
        if not faults:
            return
        tried.append(faults)
    yield from _closest(tried, at.trail)


def _one_of(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    tried = [at.against(form) for form in wanted]
    if all(tried):
        yield from _closest(tried, at.trail)
    elif sum(not faults for faults in tried) > 1:
        yield at.fault("oneOf", wanted)


def _closest(tried: list[list[Fault]], trail: Trail) -> list[Fault]:
    """Take the alternative that was probably meant: same kind, deepest fit, fewest faults."""

    def distance(faults: list[Fault]) -> tuple[bool, int, int]:
        other_kind = any(f.trail == trail and f.keyword in ("type", "enum", "not", "false") for f in faults)
        return (other_kind, -max(len(fault.trail) for fault in faults), len(faults))

    return min(tried, key=distance)


def _not(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    if not at.against(wanted):
        yield at.fault("not", wanted)


def _if(wanted: Plain, at: _Spot) -> Iterator[Fault]:
    yield from at.against(at.form.get("else" if at.against(wanted) else "then", True))


def _read_with_if(_wanted: Plain, _at: _Spot) -> Iterator[Fault]:
    return iter(())


#: Words of a form that ask for nothing.
_REMARKS = frozenset({"$schema", "$id", "$defs", "$comment", "title", "description", "examples", "default"})

#: Every keyword that is understood.
KEYWORDS: Mapping[str, _Check] = {
    "type": _type,
    "enum": _enum,
    "const": _const,
    "required": _required,
    "properties": _properties,
    "patternProperties": _pattern_properties,
    "additionalProperties": _additional_properties,
    "propertyNames": _property_names,
    "minProperties": _size("minProperties", dict, lambda size, wanted: size >= wanted),
    "maxProperties": _size("maxProperties", dict, lambda size, wanted: size <= wanted),
    "prefixItems": _prefix_items,
    "items": _items,
    "minItems": _size("minItems", list, lambda size, wanted: size >= wanted),
    "maxItems": _size("maxItems", list, lambda size, wanted: size <= wanted),
    "uniqueItems": _unique_items,
    "minimum": _bound("minimum", lambda value, wanted: value >= wanted),
    "maximum": _bound("maximum", lambda value, wanted: value <= wanted),
    "exclusiveMinimum": _bound("exclusiveMinimum", lambda value, wanted: value > wanted),
    "exclusiveMaximum": _bound("exclusiveMaximum", lambda value, wanted: value < wanted),
    "minLength": _size("minLength", str, lambda size, wanted: size >= wanted),
    "maxLength": _size("maxLength", str, lambda size, wanted: size <= wanted),
    "pattern": _pattern,
    "$ref": _ref,
    "allOf": _all_of,
    "anyOf": _any_of,
    "oneOf": _one_of,
    "not": _not,
    "if": _if,
    "then": _read_with_if,
    "else": _read_with_if,
}
