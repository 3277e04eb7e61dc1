"""What a person is told about the program: help, the list of rules, the README."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from end_to_end.season_files import three_birds
from sheets import BIRDS, HEADER, workbook

import audit
from audit.cli import main
from audit.declarations import load_declarations
from audit.rules import RULES

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
VERBS = ("check", "demo", "rules", "power")


def words_of(text):
    return " ".join(text.split())


def examples(text):
    """Command lines that a text shows."""
    return re.findall(r"(nestproof (?:check|demo|rules|power)\b[^`.\n]*(?:\.\w+[^`.\n]*)*)", text)


def test_the_help_of_the_program_names_every_verb(nestproof, tmp_path):
    told = nestproof("--help", out=tmp_path)
    assert told.code == 0
    for verb in VERBS:
        assert re.search(rf"^    {verb} +\w", told.out, re.MULTILINE)
    assert "Example: nestproof check season.xlsx --out checked" in words_of(told.out)


@pytest.mark.parametrize("verb", VERBS)
def test_the_help_of_each_verb_shows_an_example_that_is_understood(nestproof, tmp_path, verb):
    told = nestproof(verb, "--help", out=tmp_path)
    assert told.code == 0
    (example,) = re.findall(rf"Example: (nestproof {verb}[^.]*(?:\.\w[^.]*)*)", words_of(told.out))
    told = nestproof(*shlex.split(example)[1:], "--help", out=tmp_path)
    assert told.code == 0, example
    # each option is explained, with what it takes
    for option in re.findall(r"^  (--\w+ [A-Z]+)", told.out, re.MULTILINE):
        assert re.search(rf"^  {option} +\w|^  {option}\n +\w", told.out, re.MULTILINE)


def test_the_help_says_what_the_codes_mean(nestproof, tmp_path):
    said = words_of(nestproof("check", "--help", out=tmp_path).out)
    assert "0 nothing above a note, 1 errors or suspects, 2 could not be read" in said
    assert "The file itself is never changed." in said


@pytest.mark.parametrize("verb", VERBS)
def test_the_readme_mentions_each_command(verb):
    assert f"nestproof {verb}" in README


def test_the_readme_shows_only_commands_that_are_understood(tmp_path, monkeypatch):
    shown = examples(README)
    assert len(shown) >= 4
    path = three_birds(tmp_path, "season.xlsx")
    for name in ("2026.xlsx", "2025.xlsx"):
        three_birds(tmp_path, name)
    (tmp_path / "2024.csv").write_text("date,box,ring\n2024-06-06,SL-09,SV00901\n", encoding="utf-8")
    (tmp_path / "reader.csv").write_text("read_at,tag\n2026-06-06 10:00,528140000795552\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "ours").mkdir()
    (tmp_path / "ours" / "season.yaml").write_text("window: {first_month: {value: 3}}\n", encoding="utf-8")
    for command in shown:
        if command.startswith("nestproof demo"):
            continue
        if command.startswith("nestproof power"):
            # one slip of each kind is enough here
            command += " --each 1"  # noqa: PLW2901 - the same command, in less time
        assert main(shlex.split(command.strip())[1:]) == 0, command
    assert path.is_file()
    assert (tmp_path / "checked" / "season.marked.xlsx").is_file()


def test_the_readme_names_every_file_that_is_written(nestproof, tmp_path):
    path = three_birds(tmp_path, "season.xlsx")
    told = nestproof("check", path, "--out", tmp_path / "checked", out=tmp_path / "checked")
    assert told.written
    for name in told.written:
        assert f"`{name}`" in README


def test_the_list_of_rules_tells_every_rule_and_every_answer(nestproof, tmp_path):
    told = nestproof("rules", out=tmp_path)
    assert told.code == 0
    declared = load_declarations()
    lines = told.out.splitlines()
    asked = [line for line in lines if not line.startswith(" ")]
    assert asked == [f"{rule.slug}: {declared.rules[rule.slug].question}" for rule in RULES]
    answers = [line.split(maxsplit=2) for line in lines if line.startswith(" ")]
    assert answers == [
        [outcome.slug, outcome.severity, outcome.says]
        for rule in RULES
        for outcome in declared.rules[rule.slug].outcomes.values()
    ]
    assert all(line.endswith("?") for line in asked)


def test_the_list_of_rules_obeys_a_teams_own_numbers(nestproof, tmp_path):
    own = tmp_path / "ours" / "rules"
    own.mkdir(parents=True)
    (own / "tag_code.yaml").write_text("outcomes: {test_season: {severity: suspect}}\n", encoding="utf-8")
    said = nestproof("rules", "--schemas", own.parent, out=tmp_path).out
    assert re.search(r"tag_code\.test_season +suspect ", said)


def test_the_summary_says_what_could_not_be_checked(check, tmp_path):
    said = check(three_birds(tmp_path)).out
    assert said.startswith("Season round: handlings 3 rows read.\nNothing found.\n")
    assert "Net mass alone cannot show a bag that was not subtracted." in said
    assert "tag_code: 'handlings' has no column 'tag'" in said
    assert f"\nWritten:\n  {tmp_path / 'out' / 'findings.csv'}\n" in said


def test_a_report_reads_well_at_a_prompt(tmp_path):
    report = audit.check(with_a_slip(tmp_path))
    assert repr(report) == (
        "round: 1 error, 0 suspects and 0 notes. Rows read: handlings 3.\n"
        "error handlings D3: '19?9' cannot be read as a wing; 199 mm was probably meant (? is one sign too "
        "many, over 99 %)."
    )


def with_a_slip(folder):
    birds = [list(bird) for bird in BIRDS]
    birds[1][3] = "19?9"
    return workbook(folder / "round.xlsx", {"handlings": [HEADER, *birds]})
