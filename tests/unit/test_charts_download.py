"""The download beside the sheet: levels, differing signs, what is alone, as picture and as table."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from audit.charts import download
from audit.charts.download_lines import Beside, ReadTag, TypedTag, differing, levels
from audit.charts.still import still
from audit.review.download_table import download_table, download_text

RINGS = ("SV01001", "SV01002", "SV01003")
TAGS = ("999104190066801", "999104190066802", "999104190066803")


def typed(number, tag=None, **more):
    return TypedTag(
        f"handlings!{number + 2}", "SL-07", RINGS[number], TAGS[number] if tag is None else tag, **more
    )


def read(tag, minute=0, **more):
    return ReadTag(tag, f"09:{minute:02d}:00", **more)


def agreeing():
    return Beside(
        "2026-06-13, SL-07",
        tuple(typed(i) for i in range(3)),
        tuple(read(tag, i) for i, tag in enumerate(TAGS)),
        {0: 0, 1: 1, 2: 2},
    )


def troubled():
    """A slip, a row that was not read, a row without a tag, a read on no row."""
    slip = typed(0, "999104190066301", severity="suspect", message="One digit differs.", meant=TAGS[0])
    rows = (slip, typed(1), typed(2, ""))
    reads = (read(TAGS[0], 1), read("999104190066899", 2))
    return Beside("2026-06-13, SL-07", rows, reads, {0: 0}, ("the clock of reader R1 was 1 h ahead",))


def texts_of(chart, style=None):
    return [
        row["text"].strip("\u200b").replace("\u00a0", " ")
        for values in chart.to_dict()["datasets"].values()
        for row in values
        if "style" in row and style in (None, row["style"])
    ]


@given(st.permutations(range(7)), st.sets(st.integers(0, 6)), st.sets(st.integers(0, 6)))
def test_every_row_and_every_read_stands_once_in_its_order(order, unread, unclaimed):
    pairs = {row: order[row] for row in range(7) if row not in unread and order[row] not in unclaimed}
    laid = levels(Beside("x", (typed(0),) * 7, (read("1"),) * 7, pairs))
    assert [row for row, _ in laid if row is not None] == list(range(7))
    assert [one for _, one in laid if one is not None] == list(range(7))
    # what stands level belongs together
    assert all(pairs[row] == one for row, one in laid if row is not None and one is not None)


def test_what_agrees_in_order_stands_level():
    assert levels(agreeing()) == [(0, 0), (1, 1), (2, 2)]


def test_two_exchanged_leave_all_others_level():
    beside = Beside("x", (typed(0),) * 4, (read("1"),) * 4, {0: 1, 1: 0, 2: 2, 3: 3})
    laid = levels(beside)
    assert (2, 2) in laid
    assert (3, 3) in laid
    assert len(laid) == 5


def test_signs_that_differ_are_found():
    assert differing("123", "123") == (frozenset(), frozenset())
    assert differing("999104", "999704") == ({3}, {3})
    assert differing("99914", "999104") == (frozenset(), {4})
    assert differing("9991004", "999104")[1] == frozenset()


def test_a_slip_is_dashed_with_its_word_and_the_signs_marked():
    chart = download.chart(troubled())
    links = [row for values in chart.to_dict()["datasets"].values() for row in values if "line" in row]
    assert [(link["line"], link["word"]) for link in links] == [("tags differ", "SUSPECT")]
    assert texts_of(chart, "typed_mark") == ["            3  ", "            _  "]
    assert texts_of(chart, "read_mark") == ["            8  ", "            _  "]
    assert "SUSPECT" in texts_of(chart, "word")


def test_what_is_alone_has_a_word():
    texts = texts_of(download.chart(troubled()))
    assert "– not read" in texts
    assert "no tag" in texts
    assert "on no row –" in texts


def test_counts_are_told():
    assert download.counts_of(agreeing()) == "3 rows and 3 reads, 3 agree"
    assert download.counts_of(troubled()) == (
        "3 rows and 2 reads, 1 differs, 1 not read, 1 without a tag, 1 on no row"
    )
    assert download.counts_of(Beside("x", (), (), {})) == "0 rows and 0 reads"


def test_nothing_to_draw_is_none():
    assert download.chart(Beside("x", (), (), {})) is None


def test_no_legend_of_nothing():
    """An empty legend pushes the chart out of its picture."""
    for beside in (agreeing(), Beside("x", (typed(0),), (), {}), Beside("x", (), (read("1"),), {})):
        tree = download.chart(beside).to_dict()
        domains = [
            encoded["scale"]["domain"]
            for layer in tree["layer"]
            for encoded in layer["encoding"].values()
            if isinstance(encoded, dict) and encoded.get("legend")
        ]
        assert all(domains)
        assert 'height="0"' not in still(download.chart(beside))


def test_long_codes_are_cut_and_many_lines_counted_aloud():
    rows = tuple(typed(0, "9" * 400) for _ in range(90))
    chart = download.chart(Beside("x", rows, (), {}))
    assert max(len(text) for text in texts_of(chart, "typed")) <= 24
    assert "30 more lines not drawn" in str(chart.to_dict()["title"])


def test_boxes_are_named_where_there_are_several():
    one = typed(0)
    other = TypedTag("handlings!9", "SL-08", "SV01009", "1")
    assert "SL-08" in texts_of(download.chart(Beside("2026-06-13", (one, other), (), {})))
    assert "SL-07" not in texts_of(download.chart(agreeing()))


def test_the_still_picture_reads_in_words():
    svg = still(download.chart(troubled()), "one")
    words = " ".join(etree.fromstring(svg.encode()).itertext())
    assert "Do the tags agree with the reader? 2026-06-13, SL-07" in words
    assert "the clock of reader R1 was 1 h ahead" in words
    assert "SV01001" in words


def test_the_table_says_the_same():
    page = download_table(troubled())
    tree = etree.fromstring(page.replace("\n", ""))
    cells = [["".join(cell.itertext()) for cell in row] for row in tree.iterfind(".//tbody/tr")]
    assert cells == [
        ["2", "SL-07", "SV01001", "999104190066301", TAGS[0], "09:01:00", "SUSPECT One digit differs."],
        ["3", "SL-07", "SV01002", TAGS[1], "", "", "not read"],
        ["4", "SL-07", "SV01003", "", "", "", "no tag"],
        ["", "", "", "", "999104190066899", "09:02:00", "on no row"],
    ]
    marked = ["".join(one.itertext()) for one in tree.iterfind(".//u")]
    assert marked == ["3", "8"]


def test_what_was_typed_cannot_break_the_table():
    page = download_table(Beside("<b>", (typed(0, "<script>", message="& so on", severity="error"),), (), {}))
    assert "<script>" not in page
    etree.fromstring(page.replace("\n", ""))


def test_in_plain_words():
    assert download_text(troubled()).splitlines() == [
        f"2026-06-13, SL-07: {download.counts_of(troubled())}; the clock of reader R1 was 1 h ahead",
        "row 2 SV01001 999104190066301; read 999104190066801 at 09:01:00; One digit differs.",
        "row 3 SV01002 999104190066802; not read",
        "row 4 SV01003 no tag; no tag",
        "read 999104190066899 at 09:02:00; on no row",
    ]
