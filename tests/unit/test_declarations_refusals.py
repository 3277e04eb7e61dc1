"""Every kind of fault in a declaration is refused with the file, the line and the cure. Golden sentences."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import pytest

from audit.declarations import load_declarations
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from pathlib import Path


def refused(folder: Path, name: str, text: str | bytes) -> tuple[str, str, str]:
    """What, where (without the folder) and cure of the refusal of one file of a team."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    if isinstance(text, str):
        text = textwrap.dedent(text).lstrip("\n").encode()
    path.write_bytes(text)
    with pytest.raises(DeclarationRefusal) as caught:
        load_declarations(folder)
    refusal = caught.value
    return refusal.what, refusal.where.replace(f"{folder}/", "").replace(str(folder), "."), refusal.cure


FAULTS = {
    "unknown key": (
        "tables/visits.yaml",
        """
        fields:
          eggs:
            titel: Eggs.
        """,
        "The key 'titel' under 'fields.eggs' is not known.",
        "tables/visits.yaml, line 3",
        (
            "Did you mean 'title'? Known keys: constraints, false_words, grade, headers, needed, source, "
            "title, true_words, type, unit."
        ),
    ),
    "unknown key that is near nothing": (
        "tables/visits.yaml",
        "colour: blue\n",
        "The key 'colour' is not known.",
        "tables/visits.yaml, line 1",
        "Known keys: fields, foreign_keys, name, sheets, title.",
    ),
    "wrong type": (
        "tables/handlings.yaml",
        """
        fields:
          gross_g:
            constraints:
              minimum: heavy
        """,
        "'heavy' under 'fields.gross_g.constraints.minimum' is not a number.",
        "tables/handlings.yaml, line 4",
        "Write a number.",
    ),
    "text where a mapping belongs": (
        "tables/handlings.yaml",
        """
        fields:
          gross_g: number
        """,
        "'number' under 'fields.gross_g' is not a mapping of keys to values.",
        "tables/handlings.yaml, line 2",
        "Write a mapping of keys to values.",
    ),
    "nothing after a key": (
        "tables/handlings.yaml",
        """
        fields:
          gross_g:
            title:
        """,
        "An empty value under 'fields.gross_g.title' is not text (in quotes).",
        "tables/handlings.yaml, line 3",
        "Write text (in quotes).",
    ),
    "number where text belongs": (
        "tables/visits.yaml",
        "title: 7\n",
        "'7' under 'title' is not text (in quotes).",
        "tables/visits.yaml, line 1",
        "Write text (in quotes).",
    ),
    "wrong grade word": (
        "season.yaml",
        """
        # the team's own
        window:
          first_month: {value: 3, source: two seasons, grade: practise}
        """,
        "'practise' under 'window.first_month.grade' is not allowed.",
        "season.yaml, line 3",
        "Did you mean 'common practice'? Allowed: read, computed, common practice, memory.",
    ),
    "missing source": (
        "reading.yaml",
        """
        units:
          our_own:
            value: 0.6
            grade: memory
        """,
        "The key 'source' is missing under 'units.our_own'.",
        "reading.yaml, line 2",
        "Add 'source:' (where the number comes from).",
    ),
    "missing grade": (
        "reading.yaml",
        """
        units:
          our_own: {value: 0.6, source: two seasons}
        """,
        "The key 'grade' is missing under 'units.our_own'.",
        "reading.yaml, line 2",
        "Add 'grade:' (how well it is known: one of read, computed, common practice, memory).",
    ),
    "slip in the word value": (
        "reading.yaml",
        """
        units:
          our_own: {valeu: 0.6, source: two seasons, grade: memory}
        """,
        "The key 'valeu' under 'units.our_own' is not known.",
        "reading.yaml, line 2",
        "Did you mean 'value'? Known keys: grade, source, unit, value.",
    ),
    "slip in the name of a number": (
        "season.yaml",
        """
        window:
          frist_month: {value: 3, source: two seasons, grade: memory}
        """,
        "Nothing asks for 'window.frist_month'.",
        "season.yaml, line 2",
        "Did you mean 'first_month'? Known here: first_month, last_month.",
    ),
    "slip in the name of a number of loggers": (
        "loggers.yaml",
        """
        engine:
          megabites: {value: 500}
        """,
        "Nothing asks for 'engine.megabites'.",
        "loggers.yaml, line 2",
        "Did you mean 'megabytes'? Known here: megabytes, reads_at_once, learn_reads, learn_boxes, hands.",
    ),
    "slip in the name of what is read": (
        "reading.yaml",
        """
        joined:
          rowz: {value: 4, source: two seasons, grade: memory}
        """,
        "Nothing asks for 'joined.rowz'.",
        "reading.yaml, line 2",
        "Did you mean 'rows'? Known here: rows.",
    ),
    "slip in the name of an outcome": (
        "rules/tag_leg.yaml",
        """
        outcomes:
          same_legs: {severity: note}
        """,
        "Nothing asks for 'outcomes.same_legs'.",
        "rules/tag_leg.yaml, line 2",
        (
            "Did you mean 'same_leg'? "
            "Known here: same_leg, same_leg_open, against_habit, legs_exchanged, changed_leg."
        ),
    ),
    "word for a number": (
        "season.yaml",
        """
        window:
          first_month: {value: April}
        """,
        "'April' under 'window.first_month.value' is not of the kind that is asked for.",
        "season.yaml, line 2",
        "Write a number, such as 2.",
    ),
    "number for a list of words": (
        "reading.yaml",
        """
        units:
          cm:
            words: {value: [cm, 4]}
        """,
        "'[cm, 4]' under 'units.cm.words.value' is not of the kind that is asked for.",
        "reading.yaml, line 3",
        "Write a list, such as [cm, cms, centimetre, ...].",
    ),
    "wrong word of a set": (
        "tables/visits.yaml",
        """
        fields:
          eggs: {type: interger}
        """,
        "'interger' under 'fields.eggs.type' is not allowed.",
        "tables/visits.yaml, line 2",
        "Did you mean 'integer'? Allowed: string, code, number, integer, date, time, datetime, boolean.",
    ),
    "probability above one": (
        "rules/declared.yaml",
        """
        outcomes:
          missing:
            p_error:
              value: 95
        """,
        "'95' under 'outcomes.missing.p_error.value' is out of range.",
        "rules/declared.yaml, line 4",
        "Write a number not above 1.",
    ),
    "not YAML": (
        "season.yaml",
        """
        window:
          first_month: {value: 3
        """,
        "This is not valid YAML: did not find expected ',' or '}'.",
        "season.yaml, line 3",
        "Check indentation (blanks, no tabs), colons and quotes in this line and the one above.",
    ),
    "tab": (
        "season.yaml",
        "window:\n\tfirst_month: 1\n",
        "This is not valid YAML: found character that cannot start any token.",
        "season.yaml, line 2",
        "Check indentation (blanks, no tabs), colons and quotes in this line and the one above.",
    ),
    "control character": (
        "season.yaml",
        b"window:\n  doubt\x07: 1\n",
        "This is not valid YAML: control characters are not allowed.",
        "season.yaml, line 2",
        "Check indentation (blanks, no tabs), colons and quotes in this line and the one above.",
    ),
    "a list, not a mapping": (
        "season.yaml",
        "# numbers\n- 1\n- 2\n",
        "A declaration file must be a mapping of keys to values.",
        "season.yaml, line 2",
        "Start each line with a key and a colon, such as 'title: One box.'",
    ),
    "key twice": (
        "tables/visits.yaml",
        """
        fields:
          eggs: {title: Eggs.}
          alive: {title: Young.}
          eggs: {title: Eggs seen.}
        """,
        "The key 'eggs' stands here twice, first in line 2.",
        "tables/visits.yaml, line 4",
        "Remove one of the two.",
    ),
    "a key that is a list": (
        "season.yaml",
        "? [a, b]\n: 1\n",
        "A key must be plain text.",
        "season.yaml, line 1",
        "Write a word and a colon.",
    ),
    "an alias to itself": (
        "season.yaml",
        "round: &round\n  again: *round\n",
        "The keys are nested too deeply, or an alias (*) refers to itself.",
        "season.yaml, line 1",
        "Write the values out without aliases.",
    ),
    "a tag of another program": (
        "season.yaml",
        "window:\n  first_month: !!binary abc\n",
        "The tag 'tag:yaml.org,2002:binary' has no meaning here.",
        "season.yaml, line 2",
        "Write plain text, a number, true or false.",
    ),
    "not UTF-8": (
        "season.yaml",
        "# Führung\nround: 1\n".encode("latin-1"),
        "The file is not UTF-8 text.",
        "season.yaml, line 1",
        "Save it with the encoding UTF-8.",
    ),
    "table named differently": (
        "tables/visits.yaml",
        "name: vists\n",
        "The table is named 'vists' in a file named 'visits'.",
        "tables/visits.yaml, line 1",
        "Write 'name: visits'.",
    ),
    "rule named differently": (
        "rules/declared.yaml",
        "rule: declares\n",
        "The rule is named 'declares' in a file named 'declared'.",
        "rules/declared.yaml, line 1",
        "Write 'rule: declared'.",
    ),
    "foreign key from no column": (
        "tables/visits.yaml",
        "foreign_keys:\n  - {field: bx, table: boxes, column: box}\n",
        "The foreign key names 'bx', which is no declared column.",
        "tables/visits.yaml, line 2",
        (
            "Did you mean 'box'? Known: date, time, box, ringer, eggs, alive, dead, cleaned, camera_cleaned, "
            "logger_downloaded, entrance_checked, remarks."
        ),
    ),
    "foreign key to no table": (
        "tables/visits.yaml",
        "foreign_keys:\n  - field: box\n    table: box\n    column: box\n",
        "The foreign key names 'box', which is no declared table.",
        "tables/visits.yaml, line 3",
        (
            "Did you mean 'boxes'? Known: boxes, detections, earlier, handlings, heard, ring_losses, "
            "ring_stock, tag_reads, tag_stock, visits."
        ),
    ),
    "foreign key to no column": (
        "tables/visits.yaml",
        "foreign_keys:\n  - {field: box, table: boxes, column: label}\n",
        "The foreign key names 'label', which is no declared column of 'boxes'.",
        "tables/visits.yaml, line 2",
        "Known: box, latitude, longitude, capacity, antennas, camera, since, until.",
    ),
    "not a regular expression": (
        "tables/boxes.yaml",
        """
        fields:
          box:
            constraints: {pattern: "SL-(0[1-9]"}
        """,
        "The pattern of 'box' is not a regular expression: missing ), unterminated subpattern at position 3.",
        "tables/boxes.yaml, line 3",
        "Close brackets, and write a backslash before a sign that is meant as itself.",
    ),
    "minimum above maximum": (
        "tables/boxes.yaml",
        """
        fields:
          latitude:
            constraints:
              maximum: -100
        """,
        "The minimum of 'latitude' is above its maximum: -90 and -100.",
        "tables/boxes.yaml, line 4",
        "Exchange the two, or mend the wrong one.",
    ),
    "pattern on a number": (
        "tables/boxes.yaml",
        """
        fields:
          latitude:
            constraints:
              pattern: "5[0-9].*"
        """,
        "'latitude' is of type number, which can have no 'pattern'.",
        "tables/boxes.yaml, line 4",
        "Remove 'pattern', or declare one of the types string, code, time.",
    ),
    "words for a number": (
        "tables/boxes.yaml",
        """
        fields:
          antennas:
            constraints:
              enum: [0, 1, two]
        """,
        "'two' is not a number, and 'antennas' is of type integer.",
        "tables/boxes.yaml, line 4",
        "Write a number without quotes.",
    ),
    "the same word twice in a set": (
        "tables/handlings.yaml",
        "fields:\n  sex:\n    constraints:\n      enum: [M, F, F]\n",
        "'F' under 'fields.sex.constraints.enum.2' stands in the list twice.",
        "tables/handlings.yaml, line 4",
        "Remove one.",
    ),
    "an empty set": (
        "tables/handlings.yaml",
        "fields:\n  sex:\n    constraints:\n      enum: []\n",
        "The list [] under 'fields.sex.constraints.enum' has the wrong length.",
        "tables/handlings.yaml, line 4",
        "Write at least 1 entries.",
    ),
    # YAML 1.1 takes these three for false, true and eight
    "yes is text": (
        "tables/visits.yaml",
        "fields:\n  eggs:\n    needed: yes\n",
        "'yes' under 'fields.eggs.needed' is not true or false.",
        "tables/visits.yaml, line 3",
        "Write true or false.",
    ),
    "on is text": (
        "tables/visits.yaml",
        "fields:\n  eggs:\n    constraints: {required: on}\n",
        "'on' under 'fields.eggs.constraints.required' is not true or false.",
        "tables/visits.yaml, line 3",
        "Write true or false.",
    ),
    "010 is text": (
        "tables/visits.yaml",
        "fields:\n  eggs:\n    constraints: {maximum: 010}\n",
        "'010' under 'fields.eggs.constraints.maximum' is not a number.",
        "tables/visits.yaml, line 3",
        "Write a number.",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_says_what_where_and_how_to_mend_it(fault, tmp_path):
    name, text, what, where, cure = FAULTS[fault]
    said = refused(tmp_path, name, text)
    assert said == (what, where, cure)


def test_a_slip_in_a_name_that_has_its_value_beside_it(tmp_path):
    what, where, cure = refused(tmp_path, "loggers.yaml", 'reading:\n  marker_momentz: ["13:37"]\n')
    assert (what, where) == ("Nothing asks for 'reading.marker_momentz'.", "loggers.yaml, line 2")
    assert cure.startswith("Did you mean 'marker_moments'? Known here: ")


def test_a_team_names_its_own_forms_of_files_and_words(tmp_path):
    (tmp_path / "loggers.yaml").write_text("forms:\n  ours: {files: 'x*.csv'}\n", encoding="utf-8")
    words = "units:\n  grain: {words: {value: [gr], source: our balance, grade: memory}}\n"
    (tmp_path / "reading.yaml").write_text(words, encoding="utf-8")
    declared = load_declarations(tmp_path)
    assert "ours" in [form.name for form in declared.loggers.forms]
    assert declared.settings["reading.units.grain.words"].value == ["gr"]


def test_an_empty_file_of_a_new_species(tmp_path):
    what, where, cure = refused(tmp_path, "species/marsh_owl.yaml", "")
    assert what.endswith("' is missing.")
    assert where == "species/marsh_owl.yaml, line 1"
    assert cure.startswith("Add '")


def test_a_file_of_unknown_name(tmp_path):
    what, where, cure = refused(tmp_path, "seson.yaml", "a: 1\n")
    assert (what, where) == ("No declaration has this name.", "seson.yaml")
    assert cure.startswith("Did you mean 'season.yaml'? Known: ")
    assert "tables/handlings.yaml" in cure


def test_a_table_of_unknown_name(tmp_path):
    what, where, cure = refused(tmp_path, "tables/handling.yaml", "name: handling\n")
    assert (what, where) == ("No declaration has this name.", "tables/handling.yaml")
    assert cure.startswith("Did you mean 'tables/handlings.yaml'?")


def test_a_known_file_in_the_wrong_folder(tmp_path):
    _, where, cure = refused(tmp_path, "tare.yaml", "rule: tare\n")
    assert where == "tare.yaml"
    assert cure.startswith("Did you mean 'rules/tare.yaml'?")


def test_the_same_file_twice(tmp_path):
    (tmp_path / "season.yaml").write_text("# nothing\n", encoding="utf-8")
    said = refused(tmp_path, "season.yml", "# nothing\n")
    assert said == ("This file and season.yaml declare the same.", "season.yml", "Keep one of the two.")


def test_a_missing_folder(tmp_path):
    with pytest.raises(DeclarationRefusal) as caught:
        load_declarations(tmp_path / "own")
    assert caught.value.what == "This folder of declarations does not exist."
    assert caught.value.where == str(tmp_path / "own")
    assert caught.value.cure


def test_a_folder_of_something_else(tmp_path):
    (tmp_path / "season.xlsx").write_bytes(b"")
    with pytest.raises(DeclarationRefusal, match="This folder holds no declaration"):
        load_declarations(tmp_path)


def test_an_unreadable_file(tmp_path):
    (tmp_path / "season.yaml").mkdir()
    (tmp_path / "tags.yaml").symlink_to(tmp_path / "nowhere")
    with pytest.raises(DeclarationRefusal) as caught:
        load_declarations(tmp_path)
    assert caught.value.what == "The file cannot be read: Is a directory."


def test_of_several_faults_the_first_line_is_named(tmp_path):
    # line 10 sorts before line 9 as text
    lines = ["fields:", "  eggs:", "    title: Eggs.", *["    # what was seen"] * 5]
    text = "\n".join([*lines, "    needed: perhaps", "    unit: 5", "    type: 5"])
    _, where, _ = refused(tmp_path, "tables/visits.yaml", text)
    assert where == "tables/visits.yaml, line 9"
