"""Each string as a strip of cells."""

from __future__ import annotations

from audit.charts.palette import FATES
from audit.charts.ring_strings import Piece, Strip, Words, chart
from audit.charts.still import still

WORDS = Words("What became of every ring?", "string", "strings", "ring")


def strip(name: str, fates: list[str], start: int = 1, torn: bool = False) -> Strip:
    return Strip(name, [Piece(f"SV{start + i:05d}", fate, torn=torn) for i, fate in enumerate(fates)])


def drawn(strips: list[Strip], **options: int) -> dict:
    made = chart(strips, WORDS, **options)
    assert made is not None
    tree = made.to_dict()
    for layer in tree["layer"]:
        layer["data"] = {"values": tree["datasets"][layer["data"]["name"]]}
    return tree


def test_one_cell_per_ring_with_colour_and_sign() -> None:
    fates = list(FATES)
    tree = drawn([strip("AB", fates)])
    cells, signs, *frames = tree["layer"]
    assert [cell["code"] for cell in cells["data"]["values"]] == [f"SV{i + 1:05d}" for i in range(len(fates))]
    assert [mark["sign"] for mark in signs["data"]["values"]] == [
        tone.sign for tone in FATES.values() if tone.sign
    ]
    assert frames == []
    scale = cells["encoding"]["color"]["scale"]
    assert dict(zip(scale["domain"], scale["range"], strict=True)) == {
        word: tone.fill for word, tone in FATES.items()
    }
    assert [tip["title"] for tip in cells["encoding"]["tooltip"]] == ["ring", "fate", "date", "box", "remark"]


def test_the_most_used_string_comes_first_and_what_is_left_out_is_said() -> None:
    strips = [
        strip("AB", ["in hand"] * 100, 1001),
        strip("IP", ["on a bird"] * 60 + ["in hand"] * 40, 2001),
        strip("MK", ["on a bird"] * 3 + ["in hand"] * 397, 3001),
    ]
    tree = drawn(strips)
    codes = [cell["code"] for cell in tree["layer"][0]["data"]["values"]]
    assert (codes[0], codes[100], codes[150], len(codes)) == ("SV02001", "SV03001", "SV01001", 250)
    below = tree["title"]["subtitle"]
    assert below[0] == "600 rings in 3 strings: 63 on a bird, 537 in hand"
    assert below[1] == (
        "7 more lines of up to 50 rings are not drawn: "
        "the least used strings, and lines of which nothing was used"
    )
    tree = drawn(strips, most_lines=1)
    assert len(tree["layer"][0]["data"]["values"]) == 50
    assert tree["title"]["subtitle"][1].startswith("11 more lines")


def test_contradictions_are_framed_and_said() -> None:
    tree = drawn([strip("AB", ["on a bird"]), strip("IP", ["lost"], 5, torn=True)])
    assert [cell["code"] for cell in tree["layer"][2]["data"]["values"]] == ["SV00005"]
    assert tree["title"]["subtitle"][1] == "framed: the tables contradict each other"


def test_nothing_is_no_chart() -> None:
    assert chart([], WORDS) is None
    assert chart([Strip("AB", [])], WORDS) is None


def test_the_still_picture_names_every_string_and_fate() -> None:
    made = chart([strip("AB", ["on a bird", "lost", "unaccounted", "in hand"])], WORDS)
    assert made is not None
    text = still(made)
    assert text.startswith('<svg role="img" aria-label="What became of every ring? 4 rings in 1 string: ')
    for word in ("SV00001 AB", "L  lost", "?  unaccounted", "in hand"):
        assert word in text
