"""The house rules that a reader can check by eye, checked by the syntax tree.

Every check is a pure function on sources, and is fed small bad sources below: a test that cannot fail says
nothing.
"""

from __future__ import annotations

import ast
import re
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

import audit
from audit.declarations import load_declarations
from audit.declarations.locate import schemas_folder
from audit.rules import RULES

PACKAGE = Path(audit.__file__).parent
TESTS = Path(__file__).parent

#: From left to right; a part imports only parts of its own layer's folder or to its left.
LAYERS: tuple[tuple[str, ...], ...] = (
    ("refusal", "widget_messages"),
    ("findings",),
    ("season", "models", "named_findings"),
    ("declarations",),
    ("intake",),
    ("rules", "charts"),
    ("explain",),
    ("checked",),
    ("review",),
    ("handover",),
    ("practice",),
    ("antennas",),
    ("archive",),
    ("checking", "demo"),
    ("drilling",),
    ("showing", "desk", "comparing", "querying", "decided", "handing_over", "passing", "practising"),
    ("hearing", "archiving", "remeasuring", "reading_practice", "weighing_practice", "ageing_practice"),
    # the package itself offers what stands in checking
    ("__init__",),
    ("call",),
    ("commands",),
    ("cli",),
    ("__main__",),
)

#: Libraries that may be imported in few places only.
KEPT_TO = {
    "ipywidgets": lambda module: module.split(".")[-1].split("_")[0] == "desk",
    "altair": lambda module: module.split(".")[1] == "charts",
    "pandera": lambda module: module == "audit.declarations.to_pandera",
    "great_expectations": lambda module: module == "audit.declarations.to_gx",
    "openpyxl": lambda module: module.split(".")[-1] == "workbook",
    "anywidget": lambda module: module.split(".")[-1] == "grid",
    "duckdb": lambda module: module.split(".")[1] in {"antennas", "archive"},
    "narwhals": lambda module: module.split(".")[1] in {"antennas", "archive"},
    "py4j": lambda module: module.startswith("audit.archive.spark"),
    "pyspark": lambda module: module.startswith("audit.archive.spark"),
}

#: Too slow to import before they are used.
SLOW = frozenset(
    {"altair", "anywidget", "duckdb", "great_expectations", "ipywidgets", "narwhals"}
    | {"openpyxl", "pandera", "pyspark", "vl_convert"}
)

#: Layers whose modules may not know pandas: mathematics on arrays.
PLAIN_PARTS = {"models": ("pandas", "audit.season", "audit.findings", "audit.declarations")}

VAGUE = {"utils", "util", "helpers", "helper", "common", "core", "base", "misc", "manager", "tools", "shared"}

#: Numbers that carry no knowledge of birds, rings or sheets.
PLAIN_NUMBERS = {0, 1, 2, -1, 10, 100}

#: Other numbers in rule code, each with the reason why it is no limit.
UNIT_NUMBERS: dict[tuple[str, float], str] = {
    ("audit.rules.tare", 1000): "grams in a kilogram",
    ("audit.rules.growth", 20): "birds weighed together, which change no finding",
    ("audit.rules.layouts", 300): "layouts kept in memory, which change no finding",
    ("audit.rules.code_mates", 16): "base of hexadecimal numbers",
    ("audit.rules.tag_book", 16): "base of hexadecimal numbers",
    ("audit.rules.tag_codes.known", 16): "base of hexadecimal numbers",
    ("audit.rules.tag_codes.form", 3): "digits of the country or maker in a tag number (ISO 11784)",
    ("audit.rules.expected_rings", 3): "name of a kind of ringing, by number",
    ("audit.rules.digits", 5): "the digit that the rule asks about: readings rounded to fives",
    ("audit.rules.broods.strangers", -2): "position of the last but one in a list",
}


@dataclass(frozen=True)
class Import:
    """One import: who, what, in which line, at module level, for the type checker only."""

    module: str
    target: str
    line: int
    at_start: bool
    for_types: bool

    def __str__(self) -> str:
        return f"{self.module}, line {self.line}: imports {self.target}"


@cache
def sources(package: Path = PACKAGE) -> dict[str, str]:
    """Dotted name of each module -> source text."""
    return {
        ".".join(("audit", *path.relative_to(package).with_suffix("").parts)): path.read_text(
            encoding="utf-8"
        )
        for path in sorted(package.rglob("*.py"))
    }


@cache
def imports_of(module: str, source: str) -> list[Import]:
    found: list[Import] = []

    def walk(node: ast.AST, *, at_start: bool, for_types: bool) -> None:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.Import):
                found.extend(Import(module, a.name, child.lineno, at_start, for_types) for a in child.names)
            elif isinstance(child, ast.ImportFrom):
                assert not child.level, f"{module}, line {child.lineno}: relative import"
                found.extend(
                    Import(module, f"{child.module}.{a.name}", child.lineno, at_start, for_types)
                    for a in child.names
                )
            elif isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
                for line in child.body:
                    walk(ast.Module([line], []), at_start=at_start, for_types=True)
                for line in child.orelse:
                    walk(ast.Module([line], []), at_start=at_start, for_types=for_types)
            else:
                inside = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
                walk(child, at_start=at_start and not inside, for_types=for_types)

    walk(ast.parse(source), at_start=True, for_types=False)
    return found


def part_of(module: str) -> str:
    """Part of the package that a module belongs to: ``audit.rules.tare`` -> ``rules``."""
    return [*module.split("."), "__init__"][1]


def resolve(target: str, modules: set[str]) -> str | None:
    """Module that an import reaches, ``audit.rules.__init__`` for ``audit.rules.RULES``; None outside."""
    parts = target.split(".")
    if parts[0] != "audit":
        return None
    for end in range(len(parts), 0, -1):
        name = ".".join(parts[:end])
        if name in modules:
            return name
        if f"{name}.__init__" in modules:
            return f"{name}.__init__"
    raise AssertionError(f"nothing stands at {target}")


def wrong_directions(texts: dict[str, str], layers: tuple[tuple[str, ...], ...] = LAYERS) -> list[str]:
    place = {part: position for position, layer in enumerate(layers) for part in layer}
    wrong = []
    for module, text in texts.items():
        for made in imports_of(module, text):
            reached = resolve(made.target, set(texts))
            if reached is None:
                continue
            here, there = part_of(module), part_of(reached)
            if here != there and place[there] >= place[here]:
                wrong.append(str(made))
    return wrong


def cycles(texts: dict[str, str]) -> list[str]:
    """Modules that reach themselves through imports at run time; imports for types do not count."""
    reached: dict[str, set[str]] = {}
    for module, text in texts.items():
        targets = (
            resolve(made.target, set(texts)) for made in imports_of(module, text) if not made.for_types
        )
        reached[module] = {target for target in targets if target is not None and target != module}
    found = []
    for module in texts:
        seen: set[str] = set()
        open_ends = list(reached[module])
        while open_ends:
            other = open_ends.pop()
            if other not in seen:
                seen.add(other)
                open_ends += reached[other]
        if module in seen:
            found.append(module)
    return found


def strays(texts: dict[str, str]) -> list[str]:
    """Imports of a library outside the place that is kept for it."""
    return [
        str(made)
        for module, text in texts.items()
        for made in imports_of(module, text)
        if (library := made.target.split(".")[0]) in KEPT_TO and not KEPT_TO[library](module)
    ]


def loaded_with(start: str, texts: dict[str, str]) -> dict[str, str]:
    """Every module and library that importing one module loads at once -> the import that brings it in."""
    modules = set(texts)
    loaded = {start: ""}
    waiting = [start]
    while waiting:
        module = waiting.pop()
        for made in imports_of(module, texts[module]):
            if not made.at_start or made.for_types:
                continue
            reached = resolve(made.target, modules)
            if reached is None:
                loaded.setdefault(made.target.split(".")[0], str(made))
                continue
            # a module brings the packages that it stands in
            parts = reached.split(".")
            for end in range(2, len(parts) + 1):
                for name in (".".join(parts[:end]), ".".join((*parts[:end], "__init__"))):
                    if name in modules and name not in loaded:
                        loaded[name] = str(made)
                        waiting.append(name)
    return loaded


def impure(texts: dict[str, str]) -> list[str]:
    """Mathematics that knows of tables or birds."""
    return [
        str(made)
        for module, text in texts.items()
        for made in imports_of(module, text)
        for barred in PLAIN_PARTS.get(part_of(module), ())
        if made.target == barred or made.target.startswith(f"{barred}.")
    ]


def bare_numbers(module: str, source: str) -> list[str]:
    """Numbers in code that belong in ``schemas/``."""
    found = []

    def walk(node: ast.AST) -> None:
        if isinstance(node, ast.UnaryOp) and isinstance(node.operand, ast.Constant):
            sign = -1 if isinstance(node.op, ast.USub) else 1
            if is_number(node.operand.value):
                note(sign * node.operand.value, node.lineno)
                return
        if isinstance(node, ast.Constant) and is_number(node.value):
            note(node.value, node.lineno)
        for child in ast.iter_child_nodes(node):
            walk(child)

    def is_number(value: object) -> bool:
        return isinstance(value, int | float) and not isinstance(value, bool)

    def note(value: float, line: int) -> None:
        if value not in PLAIN_NUMBERS and (module, value) not in UNIT_NUMBERS:
            found.append(f"{module}, line {line}: {value}")

    walk(ast.parse(source))
    return found


def vague_names(modules: list[str]) -> list[str]:
    return [module for module in modules if VAGUE & {part.strip("_") for part in module.split(".")[1:]}]


@cache
def words_and_beginnings(source: str) -> tuple[frozenset[str], frozenset[str]]:
    """Words of a source, and what stands before the first brace of a text in quotes."""
    return frozenset(re.findall(r"\w+", source)), frozenset(re.findall(r'"([^"{\n]+)\{', source))


def is_named(limit: str, source: str) -> bool:
    """Whether code names a limit, whole or by its beginning, as in ``f"p_fix_{kind}"``."""
    words, beginnings = words_and_beginnings(source)
    whole = limit in words if limit.isidentifier() else re.search(rf"\b{re.escape(limit)}\b", source)
    return bool(whole) or any(limit.startswith(begun) and limit != begun for begun in beginnings)


# the package


def test_imports_point_left():
    assert wrong_directions(sources()) == []


def test_every_part_has_its_layer():
    known = {part for layer in LAYERS for part in layer}
    assert {part_of(module) for module in sources()} <= known


def test_nothing_imports_in_a_circle():
    assert cycles(sources()) == []


def test_each_library_keeps_to_its_place():
    assert strays(sources()) == []


def test_the_package_itself_needs_the_standard_library_only():
    loaded = loaded_with("audit.__init__", sources())
    libraries = {name: by for name, by in loaded.items() if not name.startswith("audit")}
    assert {name: by for name, by in libraries.items() if name not in sys.stdlib_module_names} == {}


@pytest.mark.parametrize("start", ["audit.checking", "audit.cli"])
def test_slow_libraries_wait_until_they_are_used(start):
    loaded = loaded_with(start, sources())
    assert {name: by for name, by in loaded.items() if name in SLOW} == {}


def test_the_models_are_mathematics():
    assert impure(sources()) == []


def test_no_module_has_a_vague_name():
    assert vague_names(list(sources())) == []


def test_rules_hold_no_numbers_of_their_own():
    found = [
        number
        for module, text in sources().items()
        if part_of(module) == "rules"
        for number in bare_numbers(module, text)
    ]
    assert found == []


def test_every_excused_number_is_in_use():
    texts = sources()
    for module, value in UNIT_NUMBERS:
        numbers = {
            node.value for node in ast.walk(ast.parse(texts[module])) if isinstance(node, ast.Constant)
        }
        assert abs(value) in numbers, f"{module} no longer holds {value}"


#: Declared like a rule, and asked of two typings, or of an archive, rather than of one season.
ASKED_ELSEWHERE = {"double_entry", "archive"}


def test_every_rule_is_declared_and_every_declared_rule_is_asked():
    files = {path.stem for path in (schemas_folder() / "rules").glob("*.yaml")}
    assert {rule.slug for rule in RULES} == files - ASKED_ELSEWHERE


def test_every_rule_stands_in_its_own_file_and_is_tested():
    texts = sources()
    tested = {path.stem for path in TESTS.rglob("test_rule_*.py")}
    for rule in RULES:
        assert f"audit.rules.{rule.slug}" in texts
        assert any(name.startswith(f"test_rule_{rule.slug}") for name in tested), f"{rule.slug} has no test"


def test_every_limit_of_a_rule_is_used():
    text = "\n".join(text for module, text in sources().items() if part_of(module) in ("rules", "models"))
    declared = load_declarations()
    unused = [
        f"{slug}: {name}"
        for slug, rule in declared.rules.items()
        for name in rule.limits
        if not is_named(name, text)
    ]
    assert unused == []


def test_nothing_imports_relative_to_itself():
    for module, text in sources().items():
        imports_of(module, text)


# the checks themselves: each is shown something bad


def test_a_wrong_direction_is_seen():
    texts = {"audit.findings": "from audit.season import Season", "audit.season": ""}
    assert wrong_directions(texts) == ["audit.findings, line 1: imports audit.season.Season"]


def test_a_wrong_direction_inside_a_function_is_seen():
    texts = {"audit.intake.reading": "def f():\n    import audit.rules.tare\n", "audit.rules.tare": ""}
    assert wrong_directions(texts) == ["audit.intake.reading, line 2: imports audit.rules.tare"]


def test_a_wrong_direction_for_types_is_seen():
    text = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from audit.rules.case import Case\n"
    texts = {"audit.models.growth": text, "audit.rules.case": ""}
    assert wrong_directions(texts) == ["audit.models.growth, line 3: imports audit.rules.case.Case"]


def test_neighbours_in_one_layer_do_not_import_each_other():
    texts = {"audit.charts.palette": "import audit.rules.case", "audit.rules.case": ""}
    assert len(wrong_directions(texts)) == 1


def test_a_step_left_is_fine():
    texts = {"audit.rules.tare": "from audit.models import weighing", "audit.models.weighing": ""}
    assert wrong_directions(texts) == []


def test_the_front_door_is_no_short_cut():
    texts = {"audit.rules.tare": "from audit import check", "audit.__init__": ""}
    assert wrong_directions(texts) == ["audit.rules.tare, line 1: imports audit.check"]


def test_a_circle_is_seen():
    texts = {
        "audit.rules.a": "from audit.rules import b",
        "audit.rules.b": "def f():\n    from audit.rules.c import C\n",
        "audit.rules.c": "import audit.rules.a",
        "audit.rules.d": "import audit.rules.a",
    }
    assert cycles(texts) == ["audit.rules.a", "audit.rules.b", "audit.rules.c"]


def test_types_make_no_circle():
    types = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from audit.rules.a import A\n"
    assert cycles({"audit.rules.a": "import audit.rules.b", "audit.rules.b": types}) == []


def test_an_import_of_nothing_is_seen():
    with pytest.raises(AssertionError, match=r"nothing stands at audit\.thing"):
        resolve("audit.thing", {"audit.rules.tare"})


@pytest.mark.parametrize(
    ("module", "text"),
    [
        ("audit.review.worklist", "import ipywidgets as w"),
        ("audit.rules.growth", "from altair import Chart"),
        ("audit.rules.declared", "def f():\n    import pandera.pandas as pa\n"),
        ("audit.declarations.to_pandera", "import great_expectations"),
        ("audit.intake.reading", "import openpyxl.utils"),
    ],
)
def test_a_stray_library_is_seen(module, text):
    assert len(strays({module: text})) == 1


@pytest.mark.parametrize(
    ("module", "text"),
    [
        ("audit.review.desk", "import ipywidgets"),
        ("audit.charts.growth", "import altair"),
        ("audit.declarations.to_gx", "import great_expectations"),
        ("audit.intake.workbook", "from openpyxl import load_workbook"),
    ],
)
def test_a_library_in_its_place_is_fine(module, text):
    assert strays({module: text}) == []


TYPES = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import altair\n"


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("import altair", True),
        ("class A:\n    import altair\n", True),
        ("def f():\n    import altair\n", False),
        (TYPES, False),
    ],
)
def test_an_early_import_is_seen(text, seen):
    texts = {
        "audit.checking": "from audit.charts.growth import chart",
        "audit.charts.__init__": "",
        "audit.charts.growth": text,
    }
    assert ("altair" in loaded_with("audit.checking", texts)) is seen


def test_an_import_through_a_package_is_seen():
    texts = {
        "audit.checking": "def f(): pass\nimport audit.charts.growth",
        "audit.charts.__init__": "from audit.charts.palette import x",
        "audit.charts.palette": "import altair",
        "audit.charts.growth": "",
    }
    assert loaded_with("audit.checking", texts)["altair"] == "audit.charts.palette, line 1: imports altair"


def test_tables_in_the_models_are_seen():
    assert impure({"audit.models.growth": "import pandas as pd"})
    assert impure({"audit.models.growth": "from audit.findings import Finding"})
    assert not impure({"audit.models.growth": "import numpy", "audit.rules.growth": "import pandas"})


@pytest.mark.parametrize("name", ["audit.utils", "audit.rules._helpers", "audit.core.season"])
def test_a_vague_name_is_seen(name):
    assert vague_names([name]) == [name]
    assert vague_names(["audit.season", "audit.rules.basement"]) == []


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("x = 3.5", ["3.5"]),
        ("x = -7", ["-7"]),
        ("def f(x=0.95): return x > 1", ["0.95"]),
        ("x = 'a 17'\ny = True\nz = -1 + 0 + 1 + 2 + 10 + 100", []),
        ('"""Doc 42."""\nx = f"{1:.2f}"', []),
    ],
)
def test_a_bare_number_is_seen(text, numbers):
    assert bare_numbers("audit.rules.x", text) == [
        f"audit.rules.x, line {line}: {n}" for line, n in enumerate(numbers, 1)
    ]


def test_a_limit_that_nobody_names_is_seen():
    assert is_named("bag_most", 'case.limit("bag_most")')
    assert is_named("p_fix_bird", 'case.limit(f"p_fix_{kind}")')
    assert not is_named("bag_most", 'case.limit("bag_mostly")')


def test_a_relative_import_is_seen():
    with pytest.raises(AssertionError, match="relative import"):
        imports_of("audit.rules.x", "from . import y")
