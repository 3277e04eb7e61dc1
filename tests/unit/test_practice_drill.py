"""What all drills share: codes, sheets of answers, levels, the front door."""

from __future__ import annotations

import csv

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import audit
from audit.cli import main
from audit.declarations import load_declarations
from audit.practice.ageing.drill import ageing_drill
from audit.practice.ageing.round import STAGES
from audit.practice.drill.level import next_level
from audit.practice.drill.mix import next_mix
from audit.practice.drill.paper import Paper
from audit.practice.exercise.drill_record import DrillRecord
from audit.practice.exercise.progress import read_progress
from audit.practice.reading.reading_drill import reading_drill
from audit.practice.weighing_drill.drill import weighing_drill
from audit.practice.weighing_drill.weighing import CELLS
from audit.refusal import DeclarationRefusal, Refusal

DECLARED = load_declarations()
DRILLS = {one.name: one for one in (reading_drill(), weighing_drill(), ageing_drill())}
BEGIN = {"reading": audit.read_practice, "weighing": audit.practise_weighing, "ageing": audit.practise_ageing}
MARK = {"reading": audit.mark_reading, "weighing": audit.mark_weighing, "ageing": audit.mark_ageing}


def right(made):
    """What should be written into a sheet of answers, line by line."""
    if hasattr(made, "shown"):
        return [[one.meant] for one in made.shown]
    if hasattr(made, "weighings"):
        return [
            [f"{one.true(cell):g}" if cell in one.known else "?" for cell in CELLS] for one in made.weighings
        ]
    return [[f"{one.age:.0f}"] for one in made.nestlings] + [[one.verdict] for one in made.broods]


def filled(path, answers):
    head, *rows = csv.reader(path.read_text(encoding="utf-8").splitlines())
    width = len(answers[0])
    return [head, *([*row[:-width], *texts] for row, texts in zip(rows, answers, strict=True))]


def save_csv(path, rows):
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(rows)


@pytest.fixture(params=DRILLS)
def name(request):
    return request.param


def test_every_level_is_made_again_from_its_code(name):
    drill = DRILLS[name]
    for level in drill.levels(DECLARED):
        for number in (1, 7):
            made = drill.make("Ärla_2", number, level.slug, (), DECLARED)
            assert drill.answers.again(f" {made.code} ", DECLARED) == made
            assert level.slug in made.name
    with pytest.raises(Refusal, match="comes out otherwise"):
        drill.answers.again(made.code[:-6] + "00000" + "01"[made.code.endswith("0")], DECLARED)
    for odd in ("", name, made.code[:-8], made.code.replace(name, "flying"), f"{made.code}.x"):
        with pytest.raises(Refusal, match="no code of a round of the"):
            drill.answers.again(odd, DECLARED)


def test_a_filled_sheet_of_any_kind_is_marked_by_its_name_alone(name, tmp_path, capsys):
    out = tmp_path / "practice"
    assert main(["practise", "--out", str(out), "--trainee", "MK", "--drill", name, "--level", "2"]) == 0
    (path,) = out.glob("*.answers.csv")
    made = BEGIN[name]("MK", level=2, seed=1).round
    rows = filled(path, right(made))
    save_csv(path, [rows[0], *reversed(rows[1:])])
    before = path.read_bytes()
    assert main(["practise", "--out", str(out), "--marked", str(path)]) == 0
    assert (out / f"{made.name}.result.html").is_file()
    assert path.read_bytes() == before
    # the same answers out of a spreadsheet program are the same round, kept once
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append([float(text) if text.replace(".", "").isdecimal() else text for text in row])
    book.save(tmp_path / "saved.xlsx")
    marked = MARK[name](tmp_path / "saved.xlsx", out / "practice.progress.jsonl")
    (record,) = read_progress(out / "practice.progress.jsonl").drills_of("MK", name)
    assert record.asked == record.right == len(right(made))
    assert marked.write(tmp_path)[0].name == f"{made.name}.result.html"
    assert "Marked: " in repr(marked)
    capsys.readouterr()


CHANGED = {
    "a line lost": (lambda rows: rows[:-1], "not those of its round"),
    "a line twice": (lambda rows: [*rows, rows[-1]], "not those of its round"),
    "nothing written": (lambda rows: [rows[0], *(row[:2] for row in rows[1:])], "Nothing was written"),
    "no lines": (lambda rows: rows[:1], "no sheet of answers"),
    "something else": (lambda _: [["x" * 200_000]], "no sheet of answers"),
    "a season": (lambda _: [["date", "ring"], ["1", "2"]], "no sheet of answers"),
    "another code": (lambda rows: [rows[0], *(["x", *row[1:]] for row in rows[1:])], "no code"),
}


@pytest.mark.parametrize("what", CHANGED)
def test_another_sheet_is_refused_with_its_cure(name, tmp_path, what):
    change, said = CHANGED[what]
    practice = BEGIN[name]("AB")
    practice.write(tmp_path)
    (path,) = tmp_path.glob("*.answers.csv")
    save_csv(path, change(filled(path, right(practice.round))))
    with pytest.raises(Refusal, match=said) as told:
        MARK[name](path)
    assert told.value.cure
    assert told.value.where


@pytest.mark.parametrize("sign", [pytest.param(one, id=f"{ord(one)}") for one in ",;\t"])
def test_short_lines_and_other_separators_are_read(name, sign, tmp_path):
    practice = BEGIN[name]("AB")
    practice.write(tmp_path)
    (path,) = tmp_path.glob("*.answers.csv")
    head, first, *rows = filled(path, right(practice.round))
    width = len(DRILLS[name].answers.head) - 1
    lines = [head, first, *(row[:-width] for row in rows)]
    path.write_text("\n".join(sign.join(line) for line in lines), encoding="utf-8-sig")
    _, answers = DRILLS[name].answers.read(path, DECLARED)
    made = practice.round
    empty = [[""] * width for _ in rows]
    assert answers == DRILLS[name].answers.taken(made, [first[-width:], *empty])
    if sign == "\t":
        return
    # the same in a workbook, each line in one cell
    book = openpyxl.Workbook()
    for line in lines:
        book.active.append([sign.join(line)])
    book.save(tmp_path / "saved.xlsx")
    assert DRILLS[name].answers.read(tmp_path / "saved.xlsx", DECLARED)[1] == answers


def test_a_sheet_of_answers_to_other_questions_is_not_written_beside(name, tmp_path):
    practice = BEGIN[name]("AB", seed=1)
    practice.write(tmp_path)
    practice.write(tmp_path)
    (path,) = tmp_path.glob("*.answers.csv")
    path.write_text("round,weighing\nweighing.XY.1,1\n", encoding="utf-8")
    with pytest.raises(Refusal, match="belongs to another round"):
        practice.write(tmp_path)


def test_a_round_made_of_what_was_mistaken_is_made_again():
    practice = audit.read_practice("AB")
    practice.answer([one.meant.translate(str.maketrans("0123", "8787")) for one in practice.round.shown])
    again = practice.next().round
    assert again.mistaken
    assert DRILLS["reading"].answers.again(again.code, DECLARED) == again


def test_what_was_right_decides_the_next_level(name):
    levels = DRILLS[name].levels(DECLARED)

    def record(level, share):
        return DrillRecord(level, "", "AB", name, level, level, 10, share)

    def after(*records):
        return next_level(levels, records, DECLARED, name).slug

    first, second = levels[0].slug, levels[1].slug
    assert after() == first
    assert after(record(first, 5)) == first
    assert after(record(first, 10)) == second
    if float(DECLARED.settings[f"practice.{name}.settled"].value) == 0.8:
        assert (after(record(first, 8)), after(record(first, 7))) == (second, first)
    assert after(record(first, 10), record(first, 2)) == first
    assert after(*(record(one.slug, 10) for one in levels)) == levels[-1].slug


def test_the_next_round_goes_on_by_itself_and_stays_at_a_level_that_was_named(name):
    practice = BEGIN[name]("AB")
    levels = [one.slug for one in DRILLS[name].levels(DECLARED)]
    answers = DRILLS[name].answers.taken(practice.round, right(practice.round))
    practice.lesson.hand_in(answers, at="2026-11-30T08:00:00+00:00")
    assert practice.next().lesson.level == levels[1]
    assert practice.next(level=1).lesson.level == levels[0]
    assert practice.next().lesson.level == levels[0]
    with pytest.raises(Refusal, match="has no level '9'"):
        practice.next(level=9)
    assert practice.lesson.level == levels[0]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--drill", "reading", "--species", "barn_owl"], "The reading drill has no species."),
        (["--drill", "weighing", "--level", "9"], "The weighing drill has no level '9'."),
        (["--drill", "ageing", "--level", "9"], "The ageing drill has no level '9'."),
        (["--drill", "ageing", "--species", "starling", "--level", "broods"], "no curve of its wing"),
        (["--drill", "ageing", "--species", "little_owl"], "cannot be aged here"),
    ],
)
def test_a_wish_that_cannot_be_met_is_refused(words, said, tmp_path, capsys):
    assert main(["practise", "--out", str(tmp_path), "--trainee", "AB", *words]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert "cure:" in err


@pytest.mark.parametrize(
    ("drill", "told"),
    [
        ("weighing", "levels:\n    springs:\n      ways: {v}"),
        ("ageing", "levels:\n    edge:\n      verdicts: {v}"),
    ],
)
def test_a_level_of_a_team_with_a_fault_is_refused(drill, told, tmp_path):
    fault = "{value: [feathers], source: ours, grade: common practice}"
    text = f"{drill}:\n  {told.replace('{v}', fault)}\n"
    (tmp_path / "practice.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(DeclarationRefusal, match="something odd"):
        BEGIN[drill]("AB", schemas=tmp_path)


@pytest.mark.parametrize("drill", ["weighing", "ageing"])
def test_intervals_are_called_by_the_declared_level(drill, tmp_path):
    """Ninety per cent of a team stand where 95 % stood."""
    text = f"{drill}:\n  confidence: {{value: 0.9, source: ours, grade: common practice}}\n"
    (tmp_path / "practice.yaml").write_text(text, encoding="utf-8")
    declared = load_declarations(tmp_path)
    made = BEGIN[drill]("AB", schemas=declared)
    rows = right(made.round)
    marked = (
        made.mark(*DRILLS[drill].answers.taken(made.round, rows))
        if drill == "ageing"
        else made.mark(DRILLS[drill].answers.taken(made.round, rows))
    )
    assert "(90 % interval" in repr(marked)
    assert "95 %" not in repr(marked).replace("95 % of your ages", "")


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 30), st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=3, max_size=3))
def test_a_mix_holds_each_kind_and_adds_up(questions, counts):
    asked = {kind: max(pair) for kind, pair in zip(STAGES, counts, strict=True)}
    missed = {kind: min(pair) for kind, pair in zip(STAGES, counts, strict=True)}
    record = DrillRecord("a", "", "AB", "ageing", "s", "birds", 9, 0, {"stages": asked, "missed": missed})
    mix = next_mix(STAGES, "stages", [record], questions=questions, memory=3)
    assert min(mix.values()) >= 1
    assert sum(mix.values()) == max(questions, len(STAGES))


def test_a_paper_is_safe_and_sized():
    told = Paper("a <b> & c", "<p>body</p>")
    assert "a &lt;b&gt; &amp; c" in told.page()
    assert "a &lt;b&gt; &amp; c" in told.piece()
    assert "size:a4 portrait" in told.page()
    assert "size:letter portrait" in told.page("letter")
    with pytest.raises(Refusal, match="no paper 'a3'"):
        told.page("a3")
