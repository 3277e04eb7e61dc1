"""What a grid sends to the browser, what it takes from it, and what it leaves in a saved notebook."""

from __future__ import annotations

import json

import pytest
from lxml import html

from audit.charts.palette import INK, PAPER, TONES
from audit.review.exhibit import Line
from audit.review.grid import MARKS, Grid, Head, Pressed

HEADS = (Head("ring", "Ring no."), Head("net", "Net", align="right"))
LINES = (
    Line("Ringing 2026!2", "2", ("BX10001", "395")),
    Line("Ringing 2026!3", "3", ("BX10002", "")),
    Line("", "earlier", ("BX10001", "380")),
    Line("", "earlier", ("BX10002", "377")),
)
FIRST, SECOND = LINES[0].label, LINES[1].label


class Sent(Grid):
    """A grid that keeps what it sends."""

    def __init__(self, *args, **others):
        self.sent = []
        super().__init__(*args, **others)
        self.sent.clear()

    def send_state(self, key=None):
        names = {key} if isinstance(key, str) else set(key or self.keys)
        self.sent.append({name: getattr(self, name) for name in names})


def packed(grid):
    return json.loads(grid._packed)


def seen(grid):
    """What a browser shows that has every state that was sent: texts, marks and state by label."""
    got = packed(grid)
    rows = dict(zip(got["labels"], zip(*got["columns"], strict=True), strict=True))
    return {
        label: (
            tuple((change := grid._changed.get(label, {})).get("texts", texts)),
            change.get("marks", grid._marks.get(label, {})),
            change.get("row_mark", grid._row_marks.get(label, "")),
        )
        for label, texts in rows.items()
    }


def test_lines_are_sent_column_by_column():
    grid = Grid(HEADS, LINES)
    assert packed(grid) == {
        "labels": [line.label for line in LINES],
        "places": ["2", "3", "earlier", "earlier"],
        "columns": [["BX10001", "BX10002", "BX10001", "BX10002"], ["395", "", "380", "377"]],
    }
    assert [head["key"] for head in grid._heads] == ["ring", "net"]


def test_half_a_character_pair_is_sent_as_typed():
    odd = "\ud83d \x00 <b> ö"
    grid = Grid(HEADS, [Line("a", "1", (odd, ""))])
    assert packed(grid)["columns"][0] == [odd]


def test_no_lines_are_sent_as_none():
    assert packed(Grid(HEADS, ())) == {"labels": [], "places": [], "columns": [[], []]}


def test_other_lines_come_in_one_message():
    grid = Sent(HEADS, LINES, marks={(FIRST, "net"): "suspect"})
    grid.show(HEADS[:1], [Line("x", "9", ("BX10009",))], chosen="x", chosen_key="ring", caption="Others")
    assert len(grid.sent) == 1
    assert {"_packed", "_marks", "_heads", "chosen", "chosen_key", "caption"} <= set(grid.sent[0])
    assert grid.marks == {}


def test_the_choice_stays_where_its_line_stays():
    grid = Grid(HEADS, LINES, chosen=SECOND, chosen_key="net")
    grid.show(HEADS, LINES[1:])
    assert (grid.chosen, grid.chosen_key) == (SECOND, "net")
    grid.show(HEADS, LINES[:1])
    assert (grid.chosen, grid.chosen_key) == ("", "")


def test_a_changed_line_goes_alone():
    grid = Sent(HEADS, LINES, row_marks={FIRST: "open", SECOND: "open"}, marks={(SECOND, "net"): "suspect"})
    grid.change(FIRST, row_mark="decided", marks={"net": "amended"}, texts=("BX10001", "359"))
    assert [set(message) for message in grid.sent] == [{"_changed"}]
    assert grid._changed == {
        FIRST: {"row_mark": "decided", "marks": {"net": "amended"}, "texts": ["BX10001", "359"]}
    }
    assert seen(grid)[FIRST] == (("BX10001", "359"), {"net": "amended"}, "decided")
    assert seen(grid)[SECOND] == (("BX10002", ""), {"net": "suspect"}, "open")
    assert grid.texts(FIRST) == ("BX10001", "359")
    assert grid.row_marks == {FIRST: "decided", SECOND: "open"}
    assert grid.marks == {(FIRST, "net"): "amended", (SECOND, "net"): "suspect"}


def test_changes_of_one_line_add_up():
    grid = Grid(HEADS, LINES)
    grid.change(FIRST, row_mark="asked")
    grid.change(FIRST, marks={"ring": "witness"})
    grid.change("not shown", row_mark="asked")
    assert grid._changed == {FIRST: {"row_mark": "asked", "marks": {"ring": "witness"}}}


def test_what_is_set_anew_is_not_hidden_by_an_earlier_change():
    grid = Grid(HEADS, LINES)
    grid.change(FIRST, row_mark="asked", marks={"ring": "witness"})
    grid.row_marks = {FIRST: "open"}
    assert seen(grid)[FIRST] == (("BX10001", "395"), {"ring": "witness"}, "open")
    grid.marks = {}
    assert seen(grid)[FIRST] == (("BX10001", "395"), {}, "open")
    assert grid._changed == {}


def test_many_changes_are_sent_as_a_whole_again():
    lines = [Line(f"r{number}", str(number), (str(number), "")) for number in range(900)]
    grid = Sent(HEADS, lines, row_marks={"r899": "asked"})
    for line in lines[:800]:
        grid.change(line.label, row_mark="decided", texts=("now", ""))
    whole = [message for message in grid.sent if "_packed" in message]
    assert len(whole) == 1
    assert len(grid._changed) <= 400
    assert all(seen(grid)[line.label] == (("now", ""), {}, "decided") for line in lines[:800])
    assert seen(grid)["r850"] == (("850", ""), {}, "")
    assert seen(grid)["r899"][2] == "asked"


@pytest.mark.parametrize(
    ("heads", "lines", "marks", "said"),
    [
        (HEADS, (LINES[0], LINES[0]), {}, "same label"),
        (HEADS, (Line("a", "1", ("only one",)),), {}, "more or fewer texts"),
        ((HEADS[0], HEADS[0]), (), {}, "same key"),
        (HEADS, LINES, {(FIRST, "net"): "odd"}, "marked as 'odd'"),
    ],
)
def test_what_cannot_be_shown_is_refused(heads, lines, marks, said):
    with pytest.raises(ValueError, match=said):
        Grid(heads, lines, marks=marks)


def test_a_refused_change_leaves_all_as_it_was():
    grid = Grid(HEADS, LINES)
    with pytest.raises(ValueError, match="more or fewer"):
        grid.change(FIRST, row_mark="asked", texts=("one",))
    assert grid.row_marks == {}
    assert grid._changed == {}


def press(grid, **content):
    grid._handle_custom_msg({"kind": "pressed", "rested": 1.5, "column": "net"} | content, [])


def test_a_key_says_whether_its_line_was_looked_at():
    grid = Grid(HEADS, LINES, chosen=FIRST, bound_keys=["a"])
    heard = []
    grid.on_key(heard.append)
    press(grid, key="a", line=FIRST)
    press(grid, key="a", line=SECOND)
    press(grid, key="b", line=FIRST)
    grid._handle_custom_msg({"kind": "other"}, [])
    grid._handle_custom_msg("odd", [])
    assert heard == [Pressed("a", FIRST, "net", True, 1.5), Pressed("a", SECOND, "net", False, 1.5)]
    # a key never chooses
    assert grid.chosen == FIRST


def test_line_and_column_chosen_in_the_browser_arrive_together():
    grid = Grid(HEADS, LINES)
    told = []
    grid.observe(lambda _: told.append((grid.chosen, grid.chosen_key)), names=["chosen", "chosen_key"])
    grid.set_state({"chosen": FIRST, "chosen_key": "net"})
    assert told == [(FIRST, "net")] * 2


# without a program


def test_a_saved_notebook_keeps_a_table():
    odd = Line("odd", "4", ("<script>alert(1)</script>", "\x00"))
    grid = Grid(
        HEADS,
        (*LINES, odd),
        caption="Ringing 2026 <as typed>",
        state_head="state",
        marks={(FIRST, "net"): "error amended", (FIRST, "ring"): "witness", (SECOND, "net"): "suspect"},
        row_marks={FIRST: "decided"},
        chosen=FIRST,
    )
    bundle, _ = grid._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in bundle
    page = html.fromstring(bundle["text/html"])
    assert page.xpath("string(//caption)") == "Ringing 2026 <as typed>"
    assert [cell.text_content().strip() for cell in page.xpath("//thead//th")] == [
        "row",
        "state",
        "Ring no.",
        "Net",
    ]
    assert len(page.xpath("//tbody/tr")) == 5
    assert [cell.get("title") for cell in page.xpath("//td[@title]")] == [
        "witness",
        "error, amended",
        "suspect",
    ]
    assert page.xpath("//td[contains(@class, 'suspect')]")[0].text_content().strip() == "(empty)"
    assert page.xpath("//tr[@class='at']/th")[0].text_content().strip() == "2"
    assert page.xpath("//script") == []
    assert "\x00" not in bundle["text/html"]
    assert bundle["text/plain"].splitlines()[:4] == [
        "Ringing 2026 <as typed>",
        "row\tstate\tRing no.\tNet",
        "2\tdecided\tBX10001 (witness)\t395 (error, amended)",
        "3\t\tBX10002\t(empty) (suspect)",
    ]


@pytest.mark.parametrize(
    ("count", "said"), [(200, ""), (201, "1 more line is not"), (2200, "2,000 more lines are not")]
)
def test_a_long_table_says_what_it_leaves_out(count, said):
    lines = [Line(f"r{number}", str(number), ("", "")) for number in range(count)]
    still = Grid(HEADS, lines).still()
    assert len(html.fromstring(still.table()).xpath("//tbody/tr")) == 200
    assert ("not shown here" in still.text()) == bool(said)
    assert said in still.text()
    assert said in still.table()


def test_an_empty_grid_says_so():
    still = Grid(HEADS, (), caption="Worklist", otherwise="Everything is decided.").still()
    assert still.text() == "Worklist\nEverything is decided."
    assert "Everything is decided." in still.table()


# the look


def test_the_look_is_made_of_the_palette():
    look = Grid._css
    for word, tone in TONES.items():
        assert word in MARKS
        (box, line) = [part.split("}")[0] for part in look.split(f'[data-mark~="{word}"]')[1:]]
        assert tone.fill in box
        assert tone.mark in box
        assert tone.underline in line
    assert f"--ink:{INK}" in look
    assert f"--paper:{PAPER}" in look
    borders = {look.split(f'[data-mark~="{word}"]{{')[1].split("}")[0].split()[1] for word in TONES}
    assert len(borders) == len(TONES)
    assert all(f'[data-mark~="{word}"]' in look for word in MARKS)


def test_nothing_is_fetched_and_nothing_is_set_as_markup():
    for source in (str(Grid._esm), Grid._css):
        assert "http" not in source
        assert "import" not in source
        assert "innerHTML" not in source
        assert "url(" not in source
