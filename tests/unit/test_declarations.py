"""Reading declarations, and laying a team's own over the shipped ones key by key."""

from __future__ import annotations

import shutil
import textwrap

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.declarations import load_declarations
from audit.declarations.document import Document, merge, read_document
from audit.declarations.limit import GRADES
from audit.declarations.locate import schemas_folder

FOLDER = schemas_folder()


def write(folder, name, text):
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(textwrap.dedent(text).lstrip("\n"), encoding="utf-8")
    return path


def document(folder, text):
    return read_document(write(folder, "document.yaml", text))


# shipped


def test_every_number_has_a_source_and_a_grade():
    declared = load_declarations()
    limits = [
        *declared.settings.values(),
        *declared.rings.limits.values(),
        *declared.tags.limits.values(),
        *(limit for rule in declared.rules.values() for limit in rule.limits.values()),
        *(limit for species in declared.species.values() for limit in species.limits.values()),
    ]
    assert limits
    assert all(limit.source.strip() and limit.grade in GRADES for limit in limits)


def test_the_contract_names_every_table():
    # the tables and their needed columns are promised to scripts of other people
    tables = load_declarations().tables
    assert set(tables) == {
        "handlings", "visits", "boxes", "ring_stock", "ring_losses", "tag_stock", "tag_reads", "detections",
        "earlier", "heard",
    }  # fmt: skip
    needed = {field.name for field in tables["handlings"].fields if field.needed}
    assert needed == {"date", "box", "ring"}


def test_fields_are_looked_up_by_name():
    handlings = load_declarations().tables["handlings"]
    assert handlings.field("gross_g").unit == "g"
    with pytest.raises(KeyError):
        handlings.field("mass")


# a team's own folder


def test_a_team_writes_only_what_differs(tmp_path):
    write(
        tmp_path,
        "tables/handlings.yaml",
        """
        fields:
          wing_mm:
            constraints: {maximum: 330}
        """,
    )
    own, shipped = load_declarations(tmp_path), load_declarations()
    assert own.tables["handlings"].field("wing_mm").maximum == 330
    assert own.tables["handlings"].field("wing_mm").minimum == 0
    assert (
        own.tables["handlings"].field("wing_mm").headers
        == shipped.tables["handlings"].field("wing_mm").headers
    )
    assert own.tables["visits"] == shipped.tables["visits"]
    assert own.sources == (FOLDER, tmp_path)
    assert shipped.sources == (FOLDER,)


def test_a_list_is_replaced_whole(tmp_path):
    write(tmp_path, "tables/handlings.yaml", "fields:\n  sex:\n    constraints: {enum: [m, f]}\n")
    assert load_declarations(tmp_path).tables["handlings"].field("sex").allowed == ("m", "f")


def test_a_team_may_add_a_column(tmp_path):
    write(
        tmp_path,
        "tables/visits.yaml",
        "fields:\n  prey:\n    {type: integer, title: Prey items., headers: {en: [prey]}}\n",
    )
    assert load_declarations(tmp_path).tables["visits"].names[-1] == "prey"


def test_a_limit_of_a_team_with_its_source(tmp_path):
    write(
        tmp_path,
        "season.yaml",
        "window:\n  first_month: {value: 3, source: our two seasons, grade: computed}\n",
    )
    limit = load_declarations(tmp_path).settings["season.window.first_month"]
    assert (limit.value, limit.source, limit.grade) == (3, "our two seasons", "computed")


def test_a_limit_of_a_team_without_a_source_does_not_borrow_the_shipped_one(tmp_path):
    write(tmp_path, "season.yaml", "# ours\nwindow:\n  first_month:\n    value: 3\n")
    limit = load_declarations(tmp_path).settings["season.window.first_month"]
    assert (limit.value, limit.source, limit.grade) == (3, "season.yaml, line 4; no source given", "memory")


def test_a_limit_that_only_gets_a_better_source(tmp_path):
    write(tmp_path, "season.yaml", "window:\n  first_month: {source: a long trial, grade: computed}\n")
    limit = load_declarations(tmp_path).settings["season.window.first_month"]
    assert (limit.source, limit.grade) == ("a long trial", "computed")
    assert limit.value == load_declarations().settings["season.window.first_month"].value


def test_a_species_of_a_team(tmp_path):
    (tmp_path / "species").mkdir()
    shutil.copy(FOLDER / "species" / "barn_owl.yaml", tmp_path / "species" / "reed_owl.yaml")
    assert "reed_owl" in load_declarations(tmp_path).species


@pytest.mark.parametrize("text", ["", "# nothing yet\n"])
def test_a_file_without_content_changes_nothing(tmp_path, text):
    write(tmp_path, "season.yaml", text)
    assert load_declarations(tmp_path).settings == load_declarations().settings


def test_an_empty_folder_changes_nothing(tmp_path):
    assert load_declarations(tmp_path).tables == load_declarations().tables


def test_other_files_beside_declarations_are_no_matter(tmp_path):
    write(tmp_path, "README.md", "Ours.")
    write(tmp_path, ".git/settings.yaml", "a: 1")
    write(tmp_path, "Tables/notes.txt", "...")
    write(tmp_path, "season.YML", "window:\n  first_month: {value: 4, source: ours, grade: memory}\n")
    assert load_declarations(tmp_path).settings["season.window.first_month"].value == 4


def test_a_byte_order_mark_is_no_key(tmp_path):
    (tmp_path / "season.yaml").write_bytes(
        b"\xef\xbb\xbfwindow:\n  first_month: {value: 4, source: ours, grade: memory}\n"
    )
    assert load_declarations(tmp_path).settings["season.window.first_month"].value == 4


# documents


def test_what_yaml_would_turn_into_something_else_stays_text(tmp_path):
    text = """
    no: NO
    yes: yes
    on: on
    off: Off
    octal: 010
    hex: 0x1F
    clock: 12:30
    date: 2026-06-01
    exponent: 1e3
    grouped: 1_000
    endless: .inf
    quoted: "7"
    true: true
    false: false
    zero: 0
    negative: -3
    point: 1.50
    plus: +4
    nothing:
    tilde: ~
    """
    assert document(tmp_path, text).tree == {
        "no": "NO",
        "yes": "yes",
        "on": "on",
        "off": "Off",
        "octal": "010",
        "hex": "0x1F",
        "clock": "12:30",
        "date": "2026-06-01",
        "exponent": "1e3",
        "grouped": "1_000",
        "endless": ".inf",
        "quoted": "7",
        "true": True,
        "false": False,
        "zero": 0,
        "negative": -3,
        "point": 1.5,
        "plus": 4,
        "nothing": None,
        "tilde": None,
    }


def test_every_key_and_item_knows_its_line(tmp_path):
    made = document(tmp_path, "a:\n  b: 1\n  c:\n    - x\n    - y\nd: 2\n")
    assert {trail: line for trail, (_, line) in made.places.items()} == {
        (): 1, ("a",): 1, ("a", "b"): 2, ("a", "c"): 3, ("a", "c", 0): 4, ("a", "c", 1): 5, ("d",): 6,
    }  # fmt: skip
    assert made.where("a", "c", 1).endswith("document.yaml, line 5")
    assert made.where("a", "gone", "below").endswith("document.yaml, line 1")


def test_the_place_of_an_overridden_value_is_the_team_s_file(tmp_path):
    shipped = read_document(write(tmp_path, "shipped/x.yaml", "a:\n  b: 1\n  c: [1, 2, 3]\nd: 4\n"))
    own = read_document(write(tmp_path, "own/x.yaml", "# ours\n\na:\n  c: [9]\ne: 5\n"))
    merged = merge(shipped, own)
    assert merged.tree == {"a": {"b": 1, "c": [9]}, "d": 4, "e": 5}
    assert merged.place("a", "b") == (tmp_path / "shipped/x.yaml", 2)
    assert merged.place("a", "c") == (tmp_path / "own/x.yaml", 4)
    assert merged.place("a", "c", 0) == (tmp_path / "own/x.yaml", 4)
    # items that are gone leave no place behind
    assert merged.place("a", "c", 2) == (tmp_path / "own/x.yaml", 4)
    assert merged.place("d") == (tmp_path / "shipped/x.yaml", 4)
    assert merged.place("e") == (tmp_path / "own/x.yaml", 5)
    assert shipped.tree == {"a": {"b": 1, "c": [1, 2, 3]}, "d": 4}


keys = st.sampled_from("abc")
trees = st.dictionaries(
    keys,
    st.recursive(st.integers(0, 9), lambda below: st.dictionaries(keys, below) | st.lists(below, max_size=2)),
)


def as_document(tree, name):
    """A document whose places are named but have no lines."""
    places = {}

    def walk(value, trail):
        places[trail] = (name, 1)
        children = (
            value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        )
        for step, child in children:
            walk(child, (*trail, step))

    walk(tree, ())
    return Document(tree, places)


@given(trees, trees)
def test_every_value_of_a_merged_document_has_the_place_it_came_from(below, above):
    merged = merge(as_document(below, "shipped"), as_document(above, "own"))
    expected = set()

    def walk(value, trail):
        expected.add(trail)
        children = (
            value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        )
        for step, child in children:
            walk(child, (*trail, step))

    walk(merged.tree, ())
    assert set(merged.places) == expected
    for trail, (name, _) in merged.places.items():
        inside = above
        for step in trail:
            try:
                inside = inside[step]
            except (KeyError, IndexError, TypeError):
                assert name == "shipped"
                break
        else:
            assert name == "own"


@given(trees)
def test_merging_with_nothing_or_with_itself_changes_nothing(tree):
    nothing = as_document({}, "own")
    shipped = as_document(tree, "shipped")
    assert merge(shipped, nothing).tree == tree
    assert merge(nothing, shipped).tree == tree
    assert merge(shipped, as_document(tree, "own")).tree == tree


def test_what_was_read_is_kept_until_a_file_changes(tmp_path):
    own = tmp_path / "ours"
    own.mkdir()
    first = load_declarations(own)
    assert load_declarations(own) is first
    (own / "gate.yaml").write_text("shut_from: {value: 0.9}\n", encoding="utf-8")
    changed = load_declarations(own)
    assert changed.settings["gate.shut_from"].value == 0.9
    (own / "gate.yaml").unlink()
    assert load_declarations(own).settings["gate.shut_from"].value == first.settings["gate.shut_from"].value
