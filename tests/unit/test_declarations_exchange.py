"""The exchange code as declared: what was read is verified, everything else is not."""

from __future__ import annotations

import textwrap

import pytest

from audit.declarations import load_declarations
from audit.handover.exchange.encounter import NAMES
from audit.handover.exchange.round import lay_round
from audit.models.age_code import hatching_years
from audit.refusal import DeclarationRefusal
from audit.season import Season

EXCHANGE = load_declarations().exchange


def own(folder, text):
    (folder / "exchange.yaml").write_text(textwrap.dedent(text), encoding="utf-8")
    return load_declarations(folder)


def test_the_fields_are_those_of_a_record():
    assert tuple(field.name for field in EXCHANGE.fields) == NAMES
    assert [len(EXCHANGE.forms[form]) for form in ("2000", "2000+", "2020")] == [33, 60, 64]


def test_the_fixed_form_has_94_characters():
    # 94 characters is what is known of the form; the widths, from memory, add up to it
    assert sum(field.width for field in EXCHANGE.fields) == 94


def test_only_what_was_read_is_verified():
    codes = [
        (f"{name}.{code.code}", code)
        for name, table in EXCHANGE.codes.items()
        for code in (*table.values.values(), *([table.numbers] if table.numbers else []))
    ]
    fields = [(field.name, field.layout) for field in EXCHANGE.fields]
    rows = [*codes, *fields, *EXCHANGE.rules.items()]
    verified = {name for name, row in rows if row.verified}
    # pages 21 and 25 of the manual of 17 May 2010; five digits and ages 3 to 5 elsewhere
    assert verified == {
        "code_identifier.0", "code_identifier.1", "code_identifier.2", "code_identifier.3",
        "code_identifier.4", "age.3", "age.4", "age.5", "species_mentioned", "species_concluded",
        "place_code", "code_identifier", "distance",
    }  # fmt: skip
    assert all((row.grade == "read") == row.verified and row.source for _, row in rows)


def test_labels_of_ages_are_those_of_the_formula():
    numbers = ["three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]
    numbers += ["thirteen", "fourteen", "fifteen"]
    for back, (exact, after) in enumerate(zip("9BDFHJLNPRTVX", "ACEGIKMOQSUWY", strict=True)):
        values = EXCHANGE.codes["age"].values
        assert values[exact].label == f"hatched {numbers[back]} years ago"
        assert values[after].label == f"hatched over {numbers[back]} years ago"
        assert hatching_years(exact, 2026) == (2023 - back, 2023 - back)
        assert hatching_years(after, 2026) == (None, 2022 - back)


@pytest.mark.parametrize(
    ("text", "fits"),
    [
        # form of a place code, manual of 17 May 2010, page 21: letters first, hyphens for unknown
        ("NL--", True), ("NL12", True), ("NLAB", True), ("NL00", True), ("----", True),
        ("12NL", False), ("NL-1", False), ("nl--", False), ("NL", False),
    ],
)  # fmt: skip
def test_the_form_of_a_place_code(text, fits):
    field = EXCHANGE.fields[NAMES.index("place_code")]
    assert bool(field.form.fullmatch(text)) is fits


@pytest.mark.parametrize(
    ("name", "text", "fits"),
    [
        # read: a scheme, and five digits with a zero in front
        ("scheme", "CZP", True), ("species_mentioned", "05820", True), ("species_mentioned", "5820", False),
        # from memory: the padding of rings
        ("ring", "A...123456", True), ("ring", "...1234567", True), ("ring", "..........", True),
        ("ring", "A..1.23456", False), ("ring", "123A...456", True),
    ],
)  # fmt: skip
def test_forms_of_fields(name, text, fits):
    assert bool(EXCHANGE.fields[NAMES.index(name)].form.fullmatch(text)) is fits


def test_a_team_ticks_what_it_has_compared(tmp_path):
    declared = own(
        tmp_path,
        """
        codes:
          catching_method:
            values:
              N: {verified: true, grade: read, source: "manual of 2024, page 12"}
        choices:
          caught_full_grown: {value: N, source: our scheme asks for it, grade: read}
        """,
    )
    code = declared.exchange.codes["catching_method"].values["N"]
    assert (code.verified, code.source) == (True, "manual of 2024, page 12")
    assert declared.exchange.code("caught_full_grown") == "N"
    assert not declared.exchange.codes["catching_method"].values["H"].verified


@pytest.mark.parametrize(
    ("text", "what", "cure"),
    [
        (
            "codes: {sex: {values: {M: {verified: true}}}}",
            "'codes.sex.values.M' is called verified, but its grade is 'memory'.",
            "Write where it was read, and the grade: {verified: true, grade: read, source: ...}.",
        ),
        (
            "choices: {caught_nestling: {value: Y, source: x, grade: memory}}",
            "'Y' is no code for 'caught_nestling'.",
            "Known codes: -, M, N, H, Z, V, A, B, C, D, F, G, L, P, U, R, S, T, W, O. In quotes, when it",
        ),
        (
            "fields: {sex_mentioned: {codes: sexes}}",
            "There is no table of codes 'sexes'.",
            "Did you mean 'sex'? ",
        ),
        (
            'fields: {sex_mentioned: {form: "["}}',
            "The form of 'sex_mentioned' is no regular expression: unterminated character set at position 0.",
            "Compare with the shipped exchange.yaml.",
        ),
        (
            "choices: {caught_nestlings: {value: N, source: x, grade: memory}}",
            "The key 'caught_nestlings' under 'choices' is not known.",
            "Did you mean 'caught_nestling'? ",
        ),
    ],
)
def test_faults_are_refused_with_line_and_cure(tmp_path, text, what, cure):
    with pytest.raises(DeclarationRefusal) as caught:
        own(tmp_path, text)
    assert caught.value.what == what
    assert caught.value.cure.startswith(cure)
    assert "exchange.yaml, line 1" in caught.value.where


def test_every_check_that_asks_is_declared():
    # a caution names its grounds; what is not declared would stop a handover
    import ast
    from pathlib import Path

    import audit.handover.exchange

    folder = Path(audit.handover.exchange.__file__).parent
    asked = set()
    for path in folder.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            named = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "say"
            if named and len(node.args) == 3 and isinstance(node.args[0], ast.Constant):
                asked.add(node.args[0].value)
            if isinstance(node, ast.Tuple) and len(node.elts) == 3 and isinstance(node.elts[0], ast.Constant):
                name, field, _ = node.elts
                if isinstance(field, ast.Constant) and field.value in NAMES:
                    asked.add(name.value)
    assert len(asked) > 20
    assert asked <= set(EXCHANGE.checks)


def test_an_empty_season_is_laid_out():
    around = lay_round(Season("none", {}), load_declarations())
    assert (around.rows, around.points) == ((), {})
