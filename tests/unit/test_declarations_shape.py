"""Forms against the reference implementation of JSON Schema, jsonschema (PyPI)."""

from __future__ import annotations

import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from audit.declarations.document import read_document
from audit.declarations.load import _FORMS
from audit.declarations.locate import schemas_folder
from audit.declarations.shape import KEYWORDS, faults_in

FOLDER = schemas_folder()
FORMS = {path.stem: read_document(path).tree for path in sorted((FOLDER / "forms").glob("*.yaml"))}
SHIPPED = {
    path.relative_to(FOLDER).with_suffix("").as_posix(): read_document(path).tree
    for path in sorted(FOLDER.rglob("*.yaml"))
    if path.parent.name != "forms"
}

words = st.sampled_from(["a", "b", "value", "source", "grade", "fields", "10"])
plain = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 12) | st.sampled_from([0.5, 1.0, -2.5]) | words | st.just(""),
    lambda below: st.lists(below, max_size=4) | st.dictionaries(words, below, max_size=4),
    max_leaves=8,
)


def keywords(below):
    """Values that each keyword may have."""
    size = st.integers(0, 3)
    return {
        "type": st.sampled_from(["object", "array", "string", "number", "integer", "boolean", "null"])
        | st.lists(st.sampled_from(["object", "string", "number", "null"]), min_size=1, unique=True),
        "enum": st.lists(plain, min_size=1, max_size=4),
        "const": plain,
        "required": st.lists(words, max_size=2, unique=True),
        "properties": st.dictionaries(words, below, max_size=3),
        "patternProperties": st.dictionaries(st.sampled_from(["^a", "e$", "[0-9]"]), below, max_size=2),
        "additionalProperties": below,
        "propertyNames": below,
        "minProperties": size,
        "maxProperties": size,
        "prefixItems": st.lists(below, min_size=1, max_size=2),
        "items": below,
        "minItems": size,
        "maxItems": size,
        "uniqueItems": st.booleans(),
        "minimum": st.integers(-2, 3),
        "maximum": st.integers(-2, 3),
        "exclusiveMinimum": st.integers(-2, 3),
        "exclusiveMaximum": st.integers(-2, 3),
        "minLength": size,
        "maxLength": size,
        "pattern": st.sampled_from(["^a", "e$", "^[0-9]+$"]),
        "allOf": st.lists(below, min_size=1, max_size=2),
        "anyOf": st.lists(below, min_size=1, max_size=3),
        "oneOf": st.lists(below, min_size=1, max_size=3),
        "not": below,
        "if": below,
        "then": below,
        "else": below,
        "title": st.just("said"),
    }


def simple(below):
    return st.fixed_dictionaries({}, optional=keywords(below))


# few keywords at a time, so that trees that fit are not too rare
forms = st.recursive(st.booleans() | simple(st.booleans()), simple, max_leaves=6)


@settings(max_examples=80, deadline=None)
@given(plain, forms)
def test_any_form_is_understood_as_the_reference_does(tree, form):
    Draft202012Validator.check_schema(form)
    assert bool(faults_in(tree, form)) is not Draft202012Validator(form).is_valid(tree)


def test_every_keyword_is_in_the_trial_above():
    assert set(KEYWORDS) - set(keywords(st.booleans())) == {"$ref"}


@pytest.mark.parametrize("name", FORMS)
def test_each_form_is_a_valid_schema_without_foreign_keywords(name):
    Draft202012Validator.check_schema(FORMS[name])
    faults_in({}, FORMS[name])  # raises on a keyword that is not understood


@pytest.mark.parametrize("name", SHIPPED)
def test_each_shipped_document_fits_by_the_reference_too(name):
    form = FORMS[_FORMS[name.split("/")[0]]]
    assert list(Draft202012Validator(form).iter_errors(SHIPPED[name])) == []
    assert faults_in(SHIPPED[name], form) == []


def trails(tree, here=()):
    yield here
    children = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    for step, child in children:
        yield from trails(child, (*here, step))


@settings(max_examples=80, deadline=None)
@given(st.data())
def test_a_shipped_document_spoilt_at_random(data):
    name = data.draw(st.sampled_from(sorted(SHIPPED)))
    form = FORMS[_FORMS[name.split("/")[0]]]
    tree = copy.deepcopy(SHIPPED[name])
    trail = data.draw(st.sampled_from(list(trails(tree))[1:] or [()]))
    if trail:
        parent = tree
        for step in trail[:-1]:
            parent = parent[step]
        slip = data.draw(st.sampled_from(["remove", "replace", "rename"]))
        if slip == "remove" or (slip == "rename" and isinstance(parent, list)):
            del parent[trail[-1]]
        elif slip == "rename":
            parent[f"{trail[-1]}x"] = parent.pop(trail[-1])
        else:
            parent[trail[-1]] = data.draw(plain)
    theirs = list(Draft202012Validator(form).iter_errors(tree))
    assert bool(faults_in(tree, form)) is bool(theirs)


@pytest.mark.parametrize(
    ("tree", "form", "fits"),
    [
        # JSON Schema draft 2020-12: 1.0 is an integer, true is no number, 1 equals 1.0 but not true
        (1.0, {"type": "integer"}, True),
        (True, {"type": "number"}, False),
        (True, {"enum": [1]}, False),
        (1, {"enum": [1.0]}, True),
        ([1, True], {"uniqueItems": True}, True),
        # additionalProperties leaves alone what properties or patternProperties have taken
        ({"ab": 1}, {"patternProperties": {"^a": True}, "additionalProperties": False}, True),
        ({"b": 1}, {"patternProperties": {"^a": True}, "additionalProperties": False}, False),
        ({"a": 1}, {"properties": {"a": True}, "additionalProperties": False}, True),
        # items begins where prefixItems ends
        (["x", 1], {"prefixItems": [{"type": "string"}], "items": {"type": "number"}}, True),
        (["x", "y"], {"prefixItems": [{"type": "string"}], "items": {"type": "number"}}, False),
        ([{"a": 1}, {"a": 1.0}], {"uniqueItems": True}, False),
    ],
)
def test_corners_of_the_standard(tree, form, fits):
    assert Draft202012Validator(form).is_valid(tree) is fits
    assert (faults_in(tree, form) == []) is fits


def test_a_reference_inside_a_form():
    form = {"$defs": {"n": {"type": "number"}}, "additionalProperties": {"$ref": "#/$defs/n"}}
    assert [fault.trail for fault in faults_in({"a": 1, "b": "x"}, form)] == [("b",)]


@pytest.mark.parametrize("form", [{"contains": {}}, {"$ref": "other.yaml#/x"}])
def test_a_form_beyond_the_subset_is_not_passed_over(form):
    with pytest.raises(NotImplementedError):
        faults_in({}, form)


def test_of_several_alternatives_the_nearest_is_explained():
    form = {
        "anyOf": [
            {"type": "string"},
            {"type": "object", "required": ["value"], "properties": {"value": {"type": "number"}}},
        ]
    }
    (fault,) = faults_in({"value": "x"}, form)
    assert (fault.trail, fault.keyword) == (("value",), "type")
