"""README, DEVELOPERS.md and the figures say what is there."""

from __future__ import annotations

import re
from pathlib import Path

from audit.call import parser

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
FIGURES = (ROOT / "tests" / "benchmarks" / "FIGURES.md").read_text(encoding="utf-8")


def test_readme_has_exactly_two_commands_to_copy() -> None:
    commands = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)
    assert len(commands) == 2
    assert all(len(command.strip().splitlines()) == 1 for command in commands)


def test_readme_names_every_command() -> None:
    verbs = next(action for action in parser()._actions if action.choices)
    missing = [verb for verb in verbs.choices or () if f"nestproof {verb}" not in README]
    assert missing == []


def test_top_level_holds_only_what_the_house_allows() -> None:
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "requirements.lock",
        "audit",
        "notebooks",
        "tests",
        "schemas",
    }
    made_by_tools = {"build", "dist", "first-audit"}
    present = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert present - made_by_tools <= allowed


def test_paths_named_in_the_guide_exist() -> None:
    named = set(re.findall(r"`((?:audit|tests|schemas|notebooks)/[\w./-]*)`", DEVELOPERS + FIGURES + README))
    assert named
    assert [path for path in sorted(named) if not (ROOT / path).exists()] == []


def test_every_number_of_a_shipped_rule_has_source_and_grade() -> None:
    from audit.declarations import load_declarations
    from audit.declarations.limit import GRADES

    declared = load_declarations()
    limits = [limit for rule in declared.rules.values() for limit in rule.limits.values()]
    limits += [limit for one in declared.species.values() for limit in one.limits.values()]
    limits += [*declared.settings.values(), *declared.rings.limits.values(), *declared.tags.limits.values()]
    assert len(limits) > 100
    assert [limit for limit in limits if not limit.source.strip() or limit.grade not in GRADES] == []
