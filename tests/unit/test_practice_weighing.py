"""The weighing drill: pictures that can be read back, slips classed, rounds made again, files."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.cli import main
from audit.declarations import load_declarations
from audit.practice.drill.files import write_round
from audit.practice.exercise.drill_record import DrillRecord
from audit.practice.exercise.progress import read_progress
from audit.practice.weighing_drill.balance import Balance, spring_for, springs_of
from audit.practice.weighing_drill.classing import class_weighing, number_in
from audit.practice.weighing_drill.drawing import display_picture, spring_picture
from audit.practice.weighing_drill.drill import weighing_drill
from audit.practice.weighing_drill.levels import mix_for
from audit.practice.weighing_drill.marking import advice, mark_round
from audit.practice.weighing_drill.page import key_paper, result_paper, round_paper
from audit.practice.weighing_drill.round import make_round, round_of_code
from audit.practice.weighing_drill.weighing import CELLS, WAYS, Weighing
from audit.practice.weighing_drill.words import CAUTIONS, KINDS, PRACTISE, answer_words
from audit.refusal import Refusal
from audit.review.typed_rows import safe
from audit.weighing_practice import practise_weighing

if TYPE_CHECKING:
    from pathlib import Path

DECLARED = load_declarations()
LARGE = Balance(600.0, 5.0, 50.0, 2.5)
SMALL = Balance(60.0, 0.5, 5.0, 0.25)
DISPLAY = Balance(float("inf"), 1.0)
BALANCES = ("spring", "display", "mixed", "tared")
MIX, ONE = (2, 2, 2, 2, 0, 0, 0), (1, 1, 1, 1, 0, 0, 0)
DRILL = weighing_drill()

#: Which segments of a seven-segment digit are lit, top first and clockwise, middle last: common practice,
#: as on any such display; written out here apart from the drawing.
SEVEN = {
    "0": (1, 1, 1, 1, 1, 1, 0),
    "1": (0, 1, 1, 0, 0, 0, 0),
    "2": (1, 1, 0, 1, 1, 0, 1),
    "3": (1, 1, 1, 1, 0, 0, 1),
    "4": (0, 1, 1, 0, 0, 1, 1),
    "5": (1, 0, 1, 1, 0, 1, 1),
    "6": (1, 0, 1, 1, 1, 1, 1),
    "7": (1, 1, 1, 0, 0, 0, 0),
    "8": (1, 1, 1, 1, 1, 1, 1),
    "9": (1, 1, 1, 1, 0, 1, 1),
}


def owl(way: str = "spring") -> Weighing:
    """A barn owl of 373 g in a bag of 22 g, gross 395 g: common practice of weighing in a bag."""
    large, small = {
        "spring": (LARGE, SMALL),
        "display": (DISPLAY, DISPLAY),
        "mixed": (LARGE, DISPLAY),
        "tared": (DISPLAY, DISPLAY),
        "written": (DISPLAY, DISPLAY),
        "no_bag": (LARGE, DISPLAY),
        "tared_no_bag": (DISPLAY, DISPLAY),
    }[way]
    return Weighing(way, 395.0, 22.0, large, small)


def kinds(weighing: Weighing, gross: str, bag: str, net: str) -> tuple[str, ...]:
    verdicts = class_weighing(weighing, {"gross": gross, "bag": bag, "net": net})
    return tuple(one.kind for one in verdicts)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(springs_of(DECLARED)), st.floats(0, 1))
def test_a_pointer_is_read_back_off_its_picture(balance: Balance, part: float) -> None:
    """A line through the numbered marks gives the load back, to far less than half a mark."""
    grams = part * balance.most
    drawn = spring_picture(grams, balance, "")
    marks = [(float(g), float(y)) for g, y in re.findall(r'data-g="([\d.]+)" d="M[\d.]+ ([\d.]+)h', drawn)]
    (first, top), (last, bottom) = marks[0], marks[-1]
    pointer = float(re.search(r'class="pointer" d="M[\d.]+ ([\d.]+)H', drawn)[1])
    read = first + (pointer - top) / (bottom - top) * (last - first)
    assert len(marks) >= 2
    assert abs(read - grams) < balance.mark / 100
    # between two numbers stand as many marks as are declared
    places = [float(y) for y in re.findall(r'class="mark"[^>]* d="M[\d.]+ ([\d.]+)h', drawn)]
    between = [y for y in places if marks[0][1] < y < marks[1][1]]
    assert len(between) == round(balance.number / balance.mark) - 1


@pytest.mark.parametrize("text", ["395", "0", "1076", "17.6", "204.8"])
def test_a_display_is_read_back_off_its_segments(text: str) -> None:
    drawn = display_picture(text, "")
    digits = re.findall(r'<g class="digit" transform="translate\((-?[\d.]+) 66\)">(.*?)</g>', drawn)
    seen = []
    for x, digit in digits:
        lit = set(re.findall(r'data-bar="(.)" class="lit"', digit))
        seen.append(
            (
                float(x),
                next(
                    d
                    for d, on in SEVEN.items()
                    if lit == {bar for bar, is_on in zip("abcdefg", on, strict=True) if is_on}
                ),
            )
        )
    points = [(float(x), ".") for x in re.findall(r'class="point" cx="(-?[\d.]+)"', drawn)]
    assert "".join(sign for _, sign in sorted([*seen, *points])) == text


def test_the_lamp_burns_only_where_the_display_was_tared() -> None:
    assert "TARE" in display_picture("373", "", tared=True)
    assert "TARE" not in display_picture("373", "")


def test_an_owl_of_395_g_in_a_bag_of_22_g_weighs_373_g() -> None:
    """Common practice: net is gross less bag."""
    for way in (*BALANCES, "written"):
        assert owl(way).net == 373
        assert kinds(owl(way), "395", "22", "373") == ("right", "right", "right")
    assert answer_words(owl()) == "395 g gross less a bag of 22 g is 373 g net."
    assert answer_words(owl("tared")) == (
        "The tared display shows net, 373 g. With the bag of 22 g, gross is 395 g."
    )


def test_a_pointer_may_be_read_to_half_a_mark() -> None:
    assert kinds(owl(), "397", "22", "375") == ("right", "right", "right")
    assert kinds(owl(), "392.5", "22,25", "370.25") == ("right", "right", "right")
    # a display has no marks
    assert kinds(owl("display"), "394", "22", "372")[0] != "right"


@pytest.mark.parametrize(
    ("way", "gross", "bag", "net", "kind"),
    [
        ("spring", "395", "22", "395", ("right", "right", "not_subtracted")),
        ("spring", "395", "22", "351", ("right", "right", "subtracted_twice")),
        ("spring", "395", "22", "417", ("right", "right", "added")),
        ("spring", "400", "22", "378", ("by_a_mark", "right", "carried")),
        ("spring", "390", "22", "368", ("by_a_mark", "right", "carried")),
        ("spring", "395", "22.5", "372.5", ("right", "by_a_mark", "right")),
        ("spring", "445", "22", "423", ("by_a_number", "right", "carried")),
        # nine marks past 350 taken for nine grams, which is 395 with its digits exchanged, too
        ("spring", "359", "22", "337", ("wrong_scale", "right", "carried")),
        ("spring", "440", "22", "418", ("wrong_scale", "right", "carried")),
        ("spring", "22", "395", "373", ("exchanged", "exchanged", "right")),
        ("spring", "373", "22", "395", ("exchanged", "right", "exchanged")),
        ("display", "359", "22", "337", ("neighbours", "right", "carried")),
        ("display", "385", "22", "363", ("digit", "right", "carried")),
        ("display", "3950", "22", "3928", ("tenfold", "right", "carried")),
        ("display", "0.395", "22", "373", ("kilograms", "right", "right")),
        ("display", "395", "22", "337", ("right", "right", "neighbours")),
        ("display", "395", "22", "383", ("right", "right", "borrow")),
        ("display", "395", "22", "321", ("right", "right", "sum_wrong")),
        ("display", "395", "22", "", ("right", "right", "missing")),
        ("display", "395", "22", "heavy", ("right", "right", "not_a_number")),
        ("display", "512", "22", "490", ("unknown", "right", "carried")),
        ("tared", "373", "22", "351", ("tare_unseen", "right", "subtracted_twice")),
        ("tared", "373", "22", "373", ("tare_unseen", "right", "right")),
        ("tared", "395", "22", "395", ("right", "right", "not_subtracted")),
        ("written", "395", "22", "363", ("right", "right", "borrow")),
        ("written", "395", "?", "373", ("right", "asked", "right")),
        # the bag was not weighed: nobody knows bag and net
        ("no_bag", "395", "?", "?", ("right", "open", "open")),
        ("no_bag", "395", "", "", ("right", "open", "open")),
        ("no_bag", "395", "22", "373", ("right", "guessed", "guessed")),
        ("no_bag", "395", "?", "395", ("right", "open", "not_subtracted")),
        ("no_bag", "400", "?", "?", ("by_a_mark", "open", "open")),
        ("no_bag", "?", "?", "?", ("asked", "open", "open")),
        # tared with a bag that nobody weighed: net stands on the display
        ("tared_no_bag", "?", "?", "373", ("open", "open", "right")),
        ("tared_no_bag", "373", "?", "?", ("tare_unseen", "open", "asked")),
        ("tared_no_bag", "395", "22", "373", ("guessed", "guessed", "right")),
        ("tared_no_bag", "?", "a few", "337", ("open", "not_a_number", "neighbours")),
    ],
)
def test_each_slip_is_classed(way: str, gross: str, bag: str, net: str, kind: tuple[str, ...]) -> None:
    assert kinds(owl(way), gross, bag, net) == kind


def test_two_slips_that_account_equally_well_are_both_named() -> None:
    (gross, _, _) = class_weighing(owl(), {"gross": "359", "bag": "22", "net": "337"})
    assert (gross.kind, gross.also) == ("wrong_scale", "neighbours")


def test_numbers_are_read_as_people_write_them() -> None:
    assert [number_in(one) for one in ("373", " 373 g", "37,5g", "nan", "1e3", "-4", "")] == [
        373, 373, 37.5, None, None, None, None
    ]  # fmt: skip


def test_every_kind_has_its_words() -> None:
    assert set(KINDS) - {"right", "carried", "open"} == set(PRACTISE)


@pytest.mark.parametrize("species", ["barn_owl", "great_tit", "jackdaw"])
def test_all_answers_add_up_and_are_right(species: str) -> None:
    for number in range(1, 6):
        made = make_round("AB", number, species, "all_balances", MIX, DECLARED)
        assert sorted(one.way for one in made.weighings) == sorted(BALANCES * 2)
        for one in made.weighings:
            assert one.gross > one.net > 0
            assert one.gross <= one.gross_on.most
            told = {cell: f"{one.true(cell):g}" for cell in CELLS}
            assert float(told["gross"]) - float(told["bag"]) == pytest.approx(float(told["net"]))
            assert all(verdict.kind == "right" for verdict in class_weighing(one, told))


def test_a_round_comes_out_the_same_byte_for_byte() -> None:
    made = make_round("AB", 3, "barn_owl", "all_balances", MIX, DECLARED)
    again = round_of_code(made.code, DECLARED)
    assert again == made
    assert round_paper(again).page() == round_paper(made).page()
    assert make_round("MK", 3, "barn_owl", "all_balances", MIX, DECLARED).weighings != made.weighings


def test_every_page_warns_and_tells_no_answer() -> None:
    made = make_round("AB", 3, "barn_owl", "all_balances", MIX, DECLARED)
    page = round_paper(made).page()
    assert all(safe(one) in page and safe(one) in key_paper(made).page() for one in CAUTIONS)
    assert all(answer_words(one) not in page for one in made.weighings)


def test_what_was_missed_comes_more_often() -> None:
    assert mix_for("all_balances", [], DECLARED) == MIX
    counts = {"ways": dict.fromkeys(BALANCES, 2), "missed": {"tared": 2}}
    record = DrillRecord("a", "", "AB", "weighing", "s", "barn_owl", 8, 6, counts)
    mix = mix_for("all_balances", [record], DECLARED)
    assert sum(mix) == 8
    assert mix[WAYS.index("tared")] == max(mix) > 2
    assert min(mix[:4]) >= 1
    assert mix[4:] == (0, 0, 0)


def test_the_sentence_names_the_slip_and_what_helps() -> None:
    made = make_round("AB", 1, "barn_owl", "all_balances", (0, 4, 0, 0, 0, 0, 0), DECLARED)
    told = [{cell: f"{one.true(cell):g}" for cell in CELLS} for one in made.weighings]
    assert advice(mark_round(made, told, DECLARED)) == (
        "All is right. Go on to the next level, or to another round of this one."
    )
    for one in told[:3]:
        one["net"] = one["gross"]
    marked = mark_round(made, told, DECLARED)
    assert advice(marked) == (
        "Most often, 3 of 3, the bag was not subtracted: write gross and bag first, and net only after you "
        "have subtracted."
    )
    # Wilson 1927: of 1 in 4 the 95 % interval is 0.05 to 0.70 (common calculators, from memory)
    assert "Weighings wholly right: 1 of 4 right (95 % interval 0.05 to 0.70)." in result_paper(marked).text


def test_files_from_the_command_line_and_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "practice"
    assert main(["practise", "--out", str(out), "--trainee", "AB", "--drill", "weighing"]) == 0
    names = {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}
    stem = "weighing-AB-barn_owl-first_steps-1"
    assert names == {f"{stem}.html", f"{stem}.answers.csv", f"keys/{stem}.key.html"}
    answers = out / f"{stem}.answers.csv"
    mark = ["practise", "--out", str(out), "--marked", str(answers)]
    assert main(mark) == 2
    assert "Nothing was written into the sheet" in capsys.readouterr().err
    code = answers.read_text(encoding="utf-8").splitlines()[1].split(",")[0]
    lines = [
        f"{code};{number};{one.gross:g};{one.bag:g};{one.net:g}".replace(".", ",").replace(
            code.replace(".", ","), code
        )
        for number, one in enumerate(round_of_code(code, DECLARED).weighings, 1)
    ]
    answers.write_text("round;weighing;gross_g;bag_g;net_g\n" + "\n".join(lines), encoding="utf-8")
    before = answers.read_bytes()
    assert main(mark) == 0
    assert main(mark) == 0
    assert "All is right." in capsys.readouterr().out
    assert answers.read_bytes() == before
    (record,) = read_progress(out / "practice.progress.jsonl").drills_of("AB", "weighing")
    assert (record.asked, record.right) == (8, 8)
    told = main(["practise", "--out", str(out), "--overview"])
    assert told == 0
    assert "Weighing drill: 1 round, 8 of 8 weighings right (0.68 to 1.00)." in capsys.readouterr().out
    assert practise_weighing("AB", progress=out / "practice.progress.jsonl").round.number == 2


def test_answers_already_written_are_left(tmp_path: Path) -> None:
    made = make_round("AB", 1, "barn_owl", "all_balances", ONE, DECLARED)
    write_round(DRILL, made, DECLARED, tmp_path)
    path = tmp_path / f"{made.name}.answers.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",1,,,", ",1,395,22,373"), encoding="utf-8")
    write_round(DRILL, made, DECLARED, tmp_path)
    assert DRILL.answers.read(path, DECLARED)[1][0] == {"gross": "395", "bag": "22", "net": "373"}


def test_refusals_name_place_and_cure(tmp_path: Path) -> None:
    made = make_round("AB", 1, "barn_owl", "all_balances", ONE, DECLARED)
    other = tmp_path / "other.csv"
    other.write_text("a,b\n1,2\n", encoding="utf-8")
    for wrong in (
        lambda: make_round("AB", 1, "dodo", "all_balances", ONE, DECLARED),
        lambda: make_round("AB", 1, "barn_owl", "all_balances", (0,) * 7, DECLARED),
        lambda: round_of_code("weighing", DECLARED),
        lambda: round_of_code(made.code[:-6] + "000000", DECLARED),
        lambda: mark_round(made, [{}], DECLARED),
        lambda: mark_round(made, [{"wing": "1"}] * 4, DECLARED),
        lambda: DRILL.answers.read(other, DECLARED),
        lambda: spring_for(5000.0, DECLARED),
        lambda: round_paper(made).page("a3"),
    ):
        with pytest.raises(Refusal) as told:
            wrong()
        assert told.value.where
        assert told.value.cure
