"""Tag declarations: prefix classes, a team's own expectations, and refusals with file and line."""

from __future__ import annotations

import pycountry
import pytest

from audit.declarations import load_declarations
from audit.refusal import DeclarationRefusal


def test_prefix_classes(declared):
    classes = {
        prefix: declared.tags.prefix_class(prefix)
        for prefix in (0, 1, 3, 4, 40, 276, 528, 894, 895, 899, 900, 901, 985, 998, 999, 1000, 1023)
    }
    assert classes == {
        0: "senseless",
        1: "senseless",
        3: "senseless",
        4: "country",
        40: "country",
        276: "country",
        528: "country",
        894: "country",
        895: "senseless",
        899: "senseless",
        900: "shared",
        901: "maker",
        985: "maker",
        998: "maker",
        999: "test",
        1000: "senseless",
        1023: "senseless",
    }
    assert [prefix for prefix in (0, 4, 900, 985, 999) if declared.tags.on_bird(prefix)] == [4, 900, 985]


def test_every_country_of_the_register_is_one(declared):
    # pycountry 26.2.16: ISO 3166-1 numeric
    assert {declared.tags.prefix_class(int(country.numeric)) for country in pycountry.countries} == {
        "country"
    }


@pytest.mark.parametrize("prefix", [200, 278, 280, 810, 891])
def test_withdrawn_country_codes(declared, prefix):
    assert declared.tags.prefix_class(prefix) == "withdrawn"
    assert declared.tags.on_bird(prefix)


def test_a_team_narrows_what_it_expects(tmp_path):
    (tmp_path / "tags.yaml").write_text(
        'expected:\n  formats: [iso_decimal]\n  prefixes: [985, "040"]\n', encoding="utf-8"
    )
    tags = load_declarations(tmp_path).tags
    assert tags.expected_formats == ("iso_decimal",)
    assert tags.expected_prefixes == (985, 40)
    assert tags.prefix_class(999) == "test"


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("expected:\n  format: [iso_decimal]\n", 2, "Did you mean 'formats'?"),
        ("expected:\n  formats:\n    - iso_decimals\n", 3, "Did you mean 'iso_decimal'?"),
        ("formats:\n  iso_dezimal:\n    title: x\n", 2, "Did you mean 'iso_decimal'?"),
        ("prefixes:\n  test:\n    on_bird: perhaps\n", 3, "true or false"),
        ("expected:\n  prefixes:\n    - 98\n    - 98x\n", 4, "98x"),
    ],
)
def test_a_typo_is_refused_with_file_and_line(tmp_path, text, line, says):
    path = tmp_path / "tags.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DeclarationRefusal) as refused:
        load_declarations(tmp_path)
    assert refused.value.where == f"{path}, line {line}"
    assert says in str(refused.value)
