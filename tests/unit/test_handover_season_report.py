"""The report of the season: what it counts, held against counts made another way; the page and the print."""

from __future__ import annotations

import io
import re
from collections import Counter

import pandas as pd
import pytest
from decided_demo import AT, decide_season, decided_demo
from lxml import etree, html
from pypdf import PdfReader
from pypdfium2 import PdfDocument

from audit.charts.wing_days import Wing
from audit.charts.wing_days import chart as wing_chart
from audit.checking import check, read_season
from audit.findings import SEVERITIES
from audit.handover.season_report.brood_accounts import brood_accounts
from audit.handover.season_report.content import Contents, Drawing, Heading, Items, Rows, Words
from audit.handover.season_report.contents import contents
from audit.handover.season_report.page import page_text
from audit.handover.season_report.part import season_report_part
from audit.handover.season_report.print import print_bytes
from audit.review.decisions import Decision
from audit.review.places import decided_cell

DIGEST = "0123456789abcdef" * 4
HEADINGS = [
    "Broods",
    "Rings and tags",
    "Growth",
    "Checked, found, decided",
    "Writing and typing",
    "What could not be checked",
    "Before anybody goes back to a box",
    "Where this comes from",
]


@pytest.fixture(scope="module")
def demo():
    return decided_demo()


@pytest.fixture(scope="module")
def told(demo):
    return contents(*demo, [("/a/folder/of/somebody/sallow-levels-2026.xlsx", DIGEST)])


@pytest.fixture(scope="module")
def files(told):
    return {
        "sallow-levels-2026.season.html": page_text(told).encode(),
        "sallow-levels-2026.season.pdf": print_bytes(told),
    }


@pytest.fixture(scope="module")
def page(files):
    return files["sallow-levels-2026.season.html"].decode()


@pytest.fixture(scope="module")
def pdf(files):
    return PdfReader(io.BytesIO(files["sallow-levels-2026.season.pdf"]))


@pytest.fixture(scope="module")
def printed(pdf):
    return [one.extract_text() for one in pdf.pages]


def table(told: Contents, caption: str) -> pd.DataFrame:
    (rows,) = [one for one in told.blocks if isinstance(one, Rows) and one.caption.startswith(caption)]
    return pd.DataFrame(list(rows.lines), columns=list(rows.heads))


def numbers(column: pd.Series) -> list[int]:
    return [int(text.replace(",", "")) for text in column]


# counts


def test_the_first_lines_count_what_pandas_counts(demo, told):
    frame = demo[0].clean.frame("handlings")
    first = next(one for one in told.blocks if isinstance(one, Words))
    assert first.text == (
        f"{len(frame)} handlings of {frame['ring'].nunique()} ringed birds at {frame['box'].nunique()} boxes "
        f"from {frame['date'].min():%Y-%m-%d} to {frame['date'].max():%Y-%m-%d}."
    )
    species = table(told, "Species").set_index("species")
    by_name = frame.groupby(frame["species"].replace({"Kestrel": "common kestrel"}).str.lower())
    assert numbers(species["handlings"]) == by_name.size()[species.index].tolist()
    assert numbers(species["rings"]) == by_name["ring"].nunique()[species.index].tolist()
    assert numbers(species["boxes"]) == by_name["box"].nunique()[species.index].tolist()


def test_how_it_stands_before_and_after(demo, told):
    decided, before = demo
    stands = table(told, "How it stands").set_index("severity")
    for severity in SEVERITIES:
        line = stands.loc[f"{severity}s"]
        assert numbers(line) == [
            sum(finding.severity == severity for finding in report.findings)
            for report in (before, decided.report)
        ]
    assert numbers(stands.loc["all"]) == [len(before.findings), len(decided.report.findings)]


def test_broods_count_what_pandas_counts(demo, told):
    season = demo[0].clean
    birds, visits = season.frame("handlings"), season.frame("visits")
    young = birds[(birds["event"] == "ringed") & (birds["age"] == "1")]
    for name, typed in (("Barn owl", "Barn owl"), ("Great tit", "Great tit"), ("Common kestrel", "Kestrel")):
        lines = table(told, f"{name}: ").set_index("box")
        of = young[young["species"] == typed]
        all_of = birds[birds["species"] == typed]
        by_box = lines.drop(index="all")
        ringed = of.groupby("box")["ring"].nunique()
        assert dict(zip(by_box.index, numbers(by_box["ringed"]), strict=True)) == ringed.to_dict()
        assert numbers(lines.loc[["all"], "ringed"]) == [ringed.sum()]
        counted = visits[visits["box"].isin(by_box.index)].groupby("box")[["eggs", "alive", "dead"]].max()
        for column in ("eggs", "alive", "dead"):
            assert numbers(by_box[column]) == counted.loc[by_box.index, column].tolist()
        met = birds.merge(of[["ring", "date"]], on="ring", suffixes=("", "_ringed"))
        again = met[met["date"] > met["date_ringed"]].drop_duplicates("ring")
        assert numbers(lines.loc[["all"], "met again"]) == [len(again)]
        tagged = birds[birds["ring"].isin(of["ring"]) & birds["tag"].notna()]["ring"].nunique()
        assert numbers(lines.loc[["all"], "tagged"]) == [tagged]
        grown = all_of[all_of["age"] == "4"].groupby("box")["ring"].nunique()
        assert numbers(lines.loc[["all"], "grown birds"]) == [grown.sum()]
        days = pd.concat(
            [all_of[["box", "date"]], visits.loc[visits["box"].isin(by_box.index), ["box", "date"]]]
        )
        assert numbers(by_box["visits"]) == days.groupby("box")["date"].nunique()[by_box.index].tolist()


def test_boxes_without_a_brood_and_their_cleaning(demo, told):
    season = demo[0].clean
    boxes = season.frame("boxes")["box"]
    empty = table(told, "Boxes without")
    assert set(empty["box"]) == set(boxes) - set(season.frame("handlings")["box"])
    visits = season.frame("visits")
    ticked = visits[visits["cleaned"].fillna(value=False)].groupby("box")["date"].max()
    assert empty["cleaned"].tolist() == [f"{ticked[box]:%Y-%m-%d}" for box in empty["box"]]
    last = season.frame("handlings").groupby("box")["date"].max().reindex(boxes)
    done = (ticked.reindex(boxes) > last) | (ticked.reindex(boxes).notna() & last.isna())
    text = " ".join(one.text for one in told.blocks if isinstance(one, Words))
    assert f"{done.sum()} of {len(boxes)} boxes are ticked as cleaned" in text
    assert "common practice" in text


def test_rings_and_tags_balance(demo, told):
    season = demo[0].clean
    strings = table(told, "Rings by string")
    stock = season.frame("ring_stock")
    issued = (stock["last"].astype(int) - stock["first"].astype(int) + 1).sum()
    (total,) = strings[strings["string"] == "all"].to_dict("records")
    fates = [int(total[name].replace(",", "")) for name in strings.columns[4:]]
    assert int(total["rings"].replace(",", "")) == issued == sum(fates)
    tags = table(told, "Tags by batch").set_index("batch")
    on_birds = set(season.frame("handlings")["tag"].dropna()) & set(season.frame("tag_stock")["tag"])
    assert numbers(tags.loc["all"])[:2] == [len(season.frame("tag_stock")), len(on_birds)]


def test_decisions_are_counted_by_person_and_column(demo, told):
    decided, before = demo
    people = table(told, "Decisions by person").set_index("person")
    counts = Counter((one.who, one.verb) for one in decided.decisions)
    assert people.index.tolist() == [*sorted({one.who for one in decided.decisions}), "all"]
    for (who, verb), number in counts.items():
        assert numbers(people.loc[[who], verb]) == [number]
    columns = table(told, "Cells changed, by column")
    typed, clean = decided.typed.frame("handlings"), decided.clean.frame("handlings")
    changed = {
        name: int(
            (
                decided.typed.tables["handlings"].typed[name] != decided.clean.tables["handlings"].typed[name]
            ).sum()
        )
        for name in typed.columns
    }
    mine = columns[columns["table"] == "handlings"].set_index("column")["cells changed"]
    assert dict(zip(mine.index, numbers(mine), strict=True)) == {k: v for k, v in changed.items() if v}
    assert len(clean) == len(typed)
    rules = table(told, "Findings by rule")
    assert sum(numbers(rules["as typed"])) == len(before.findings)


def test_kept_asked_conflicting_and_open_cells_are_told(told):
    kept = table(told, "Kept or amended")
    assert kept["reason"].tolist() == ["The notebook says so."]
    assert len(table(told, "Still asked")) == 1
    assert set(table(told, "In conflict")["by"]) >= {"IP (amend)"}
    assert len(table(told, "Found, and nobody has settled it yet")) >= 1


def test_two_species_in_one_box_share_its_visits_by_time(declared):
    rows = [
        {"date": "2026-05-20", "box": "SL-01", "species": "Great tit", "ring": "SP000001", "age": "1"},
        {"date": "2026-07-01", "box": "SL-01", "species": "Barn owl", "ring": "SV01001", "age": "1"},
        {"date": "2026-07-15", "box": "SL-01", "species": "Barn owl", "ring": "SV01001", "age": "1"},
    ]
    visits = [
        {"date": "2026-05-10", "box": "SL-01", "eggs": "9", "alive": "0"},
        {"date": "2026-06-25", "box": "SL-01", "eggs": "4", "alive": "1"},
        {"date": "2026-06-25", "box": "SL-9", "eggs": "3", "alive": "0"},
    ]
    season = read_season({"handlings": pd.DataFrame(rows), "visits": pd.DataFrame(visits)}, schemas=declared)
    accounts = brood_accounts(season, declared)
    told = {(one.species, one.box): (one.eggs, one.alive, one.visits, one.again) for one in accounts.broods}
    assert told == {
        ("great tit", "SL-01"): (9, 0, 2, 0),
        ("barn owl", "SL-01"): (4, 1, 3, 1),
        ("", "SL-9"): (3, 0, 1, 0),
    }


# the page


def test_the_page_stands_alone(page):
    tree = html.fromstring(page)
    assert not tree.xpath(
        "//script | //link | //iframe | //object | //embed | //img | //@onload | //@onclick"
    )
    refs = tree.xpath("//@href | //@src | //*[name()='use']/@*[name()='xlink:href']")
    identities = tree.xpath("//@id")
    assert refs
    assert all(ref.startswith("#") and ref[1:] in identities for ref in refs)
    assert [one for one, times in Counter(identities).items() if times > 1] == []
    assert not re.search(r"url\((?!#)", page)
    etree.fromstring(page.partition("<svg")[1] + page.partition("<svg")[2].partition("</svg>")[0] + "</svg>")
    assert len(page) < 3_000_000


def test_the_page_has_its_sections_in_order(page):
    tree = html.fromstring(page)
    assert [one.text_content() for one in tree.xpath("//h2")] == HEADINGS
    assert len(tree.xpath("//h1")) == 1
    assert all(one.xpath(".//caption") for one in tree.xpath("//table"))
    assert all(one.get("aria-label") for one in tree.xpath("//*[name()='svg']"))


def test_no_folder_of_a_machine_is_named(demo, page, printed):
    both = page + "".join(printed)
    assert "somebody" not in both
    assert not any(str(folder) in both for folder in demo[0].declared.sources)
    assert str(demo[0].typed.source) not in both
    assert page.count(DIGEST) == 1


def test_no_coordinates_are_told(demo, page):
    boxes = demo[0].clean.frame("boxes")
    assert not any(f"{value}" in page for value in boxes["longitude"].iloc[1:4])


# the print


def plain(text: str) -> str:
    return re.sub(r"\s+", "", text)


def test_page_and_print_say_the_same(page, printed):
    shown = plain("".join(printed))
    tree = html.fromstring(page)
    for one in tree.xpath("//h1 | //h2 | //main/p | //li[not(ancestor::nav)] | //th | //figcaption"):
        text = plain(one.text_content())
        # a line at the end of a page is followed by the foot
        assert text in shown or all(text[i : i + 20] in shown for i in (0, max(len(text) - 20, 0))), text
    cells = [plain(one.text_content()) for one in tree.xpath("//td")]
    assert all(text in shown for text in cells if len(text) < 20)
    assert DIGEST in shown


def test_the_print_is_tagged_titled_numbered_and_small(files, pdf, printed):
    data = files["sallow-levels-2026.season.pdf"]
    assert 5 <= len(pdf.pages) <= 12
    assert len(data) < 3_000_000
    assert pdf.metadata.title == "Nest boxes of the Sallow Levels, 2026: report of the season"
    root = pdf.trailer["/Root"]
    # ISO 14289-1 (PDF/UA-1): marked content, a language, a title that is shown, and the part in the metadata
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert b"pdfuaid:part" in root["/Metadata"].get_data()
    # pictures are drawn, not photographed (ISO 32000-1, 8.9.5: an image XObject)
    assert not re.search(rb"/Subtype\s*/Image", data)
    for number, text in enumerate(printed, 1):
        assert f"page {number} of {len(printed)}" in text
        assert "\u200b" not in text
    assert [str(one.title) for one in pdf.outline[1]] == HEADINGS


def test_the_same_season_gives_the_same_bytes(demo, files, tmp_path):
    again = season_report_part(*demo, inputs=[("sallow-levels-2026.xlsx", DIGEST)])
    assert again.title == "Report of the season"
    assert re.match(r"\d+ findings? (is|are) left that nobody has settled", again.told[0])
    for name, write in again.files.items():
        write(tmp_path / name)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == files


# poor seasons

BIRDS = [{"date": f"2026-06-1{i % 3}", "box": f"SL-0{i % 2}", "ring": f"SV0100{i}"} for i in range(6)]
ARABIC = "\u0627\u0644\u0645\u0631\u062d\u0628\u0627"
WEIRD = f"<script>alert('x')</script> & \u202e\u05e9\u05dc\u05d5\u05dd \U0001f989 {'W' * 300}"


def weird_birds():
    rows = [
        {**bird, "species": "Barn owl", "ringer": "<b>", "scribe": WEIRD, "remarks": WEIRD} for bird in BIRDS
    ]
    rows = [{**row, "wing_mm": "150", "net_g": "300"} for row in rows]
    rows[0]["species"], rows[1]["species"], rows[1]["ringer"] = WEIRD, ARABIC, ARABIC
    rows[2]["wing_mm"], rows[3]["net_g"], rows[4]["box"], rows[5]["ring"] = "1e9", "x\x00y", WEIRD, WEIRD
    return rows


POOR = {
    "three columns": {"handlings": BIRDS},
    "one row": {"handlings": BIRDS[:1]},
    "nothing but a wing": {"handlings": [dict.fromkeys(("date", "box", "ring"), "") | {"wing_mm": "120"}]},
    "no ages": {"handlings": [{**bird, "wing_mm": "150", "gross_g": "320"} for bird in BIRDS]},
    "two years": {
        "handlings": [*BIRDS, {"date": "2025-06-10", "box": "SL-00", "ring": "SV00999"}],
        "visits": [{"date": "2025-06-10", "box": "SL-05", "alive": "3"}],
        "boxes": [{"box": "SL-77"}],
    },
    "weird": {"handlings": weird_birds()},
}


def overrunning(path):
    """List letters beyond the margins of 17 mm; a blank at the end of a line may hang over."""
    margin = 17 / 25.4 * 72 - 1
    found = []
    for page in PdfDocument(path):
        width, _ = page.get_size()
        texts = page.get_textpage()
        for i in range(texts.count_chars()):
            left, _, right, _ = texts.get_charbox(i)
            if right > left and not margin <= left < right <= width - margin:
                found.append(texts.get_text_range(i, 1))
    return "".join(found).strip()


@pytest.mark.parametrize("name", POOR)
def test_a_poor_season_has_a_report_too(name, declared, tmp_path):
    frames = {key: pd.DataFrame(rows).fillna("").astype("str") for key, rows in POOR[name].items()}
    season = read_season(frames, schemas=declared)
    before = check(season, schemas=declared)
    log = []
    if name == "weird":
        cells = (decided_cell(season, "handlings!2", "remarks", "ok \U0001f989"),)
        log = [Decision("a", AT, WEIRD, "amend", cells, reason=WEIRD)]
        asked = (decided_cell(season, "handlings!4", "wing_mm", None),)
        log += [Decision("b", AT, ARABIC, "ask", asked, reason=ARABIC)]
    decided = decide_season(season, declared, log)
    part = season_report_part(decided, before, inputs=[(f"{'y' * 200}.xlsx", DIGEST)])
    assert any("sender.yaml" in sentence for sentence in part.told)
    assert any("nobody has settled" in sentence for sentence in part.told) is bool(decided.report.above_notes)
    for file, write in part.files.items():
        write(tmp_path / file)
    tree = html.fromstring((tmp_path / "season.season.html").read_text(encoding="utf-8"))
    assert [one.text_content() for one in tree.xpath("//h2")] == HEADINGS
    assert not tree.xpath("//script")
    assert len(tree.xpath("//@id")) == len(set(tree.xpath("//@id")))
    assert overrunning(tmp_path / "season.season.pdf") == ""
    pages = PdfReader(tmp_path / "season.season.pdf").pages
    assert 1 <= len(pages) <= 9
    assert "No visit for a typing error." in pages[0].extract_text()
    if name == "two years":
        boxes = {one.text_content() for one in tree.xpath("//tbody/tr/th")}
        assert {"SL-00, 2025", "SL-00, 2026", "SL-05, 2025", "SL-77"} <= boxes


def test_a_table_of_many_lines_is_folded_and_text_is_safe():
    lines = tuple((f"<i>{i}", "1") for i in range(200))
    told = Contents(
        "<b>", (Heading("<u>"), Items(("&",)), Rows("<s>", ("a", "n"), lines, frozenset((1,)), total=True))
    )
    page = page_text(told)
    tree = html.fromstring(page)
    assert len(tree.xpath("//details")) == 1
    assert len(tree.xpath("//tr[@class='sum']")) == 1
    assert not tree.xpath("//i | //u | //s | //b")
    assert len(PdfReader(io.BytesIO(print_bytes(told))).pages) > 1


# the picture of wings


def test_wings_are_told_in_words():
    wings = [
        Wing("SV1", 20600, 100.0),
        Wing("SV1", 20610, 150.0),
        Wing("SV2", 20600, 90.0),
        Wing("", 20600, 91.0),
    ]
    drawn = wing_chart([*wings, Wing("SV2", 20605, 100.0)], "barn owl")
    assert "2 birds measured on two days or more" in drawn.description
    assert (
        "grew by 3.5 mm a day in the middle case, 2.0 to 5.0 in all; none became shorter."
        in drawn.description
    )
    assert wing_chart([wings[0], wings[2], wings[3]], "barn owl") is None
    assert wing_chart([], "barn owl") is None
    many = [Wing(f"SV{i}", 20600 + 7 * k, 100.0 + 30 * k - i % 5) for i in range(300) for k in range(2)]
    drawn = wing_chart([*many, *(Wing("", 20600, 80.0 + i % 40) for i in range(700))], "barn owl")
    assert "250 of the lines are drawn, evenly chosen" in drawn.title.subtitle


def test_pictures_are_few_and_told(told):
    drawn = [one for one in told.blocks if isinstance(one, Drawing)]
    assert 3 <= len(drawn) <= 8
    assert all(one.told and len(one.svg) < 300_000 for one in drawn)


def test_what_a_person_amended_against_the_audit_is_not_called_undecided(declared):
    row = {"date": "2026-05-04", "box": "SL-01", "ring": "SV01001", "event": "ringed"}
    frames = {"handlings": pd.DataFrame([row, {**row, "ring": "SV01002"}]).astype("str")}
    season = read_season(frames, schemas=declared)
    cells = (decided_cell(season, "handlings!3", "ring", ""),)
    decided = decide_season(
        season, declared, [Decision("a", AT, "AB", "amend", cells, reason="No ring left.")]
    )
    assert decided.report.above_notes
    told = contents(decided, check(season, schemas=declared), [])
    assert table(told, "Kept or amended")["reason"].tolist() == ["No ring left."]
    text = page_text(told)
    assert "nobody has settled" not in text
    # an accepted suggestion answers nothing that is found afterwards
    decided = decide_season(season, declared, [Decision("a", AT, "AB", "accept", cells)])
    text = page_text(contents(decided, decided.report, []))
    assert "1 cell changed, 0 kept as typed. 1 finding is left that nobody has settled." in text


def test_a_brood_over_new_year_is_one_brood(declared):
    row = {"date": "2025-12-20", "box": "SL-01", "ring": "SV01001", "event": "ringed", "age": "1"}
    later = {**row, "date": "2026-01-06", "event": "re-encountered"}
    visits = [
        {"date": "2026-01-06", "box": "SL-01", "alive": "1"},
        {"date": "2026-02-20", "box": "SL-01", "alive": "0"},
    ]
    frames = {
        "handlings": pd.DataFrame([row, later], dtype="str"),
        "visits": pd.DataFrame(visits, dtype="str"),
    }
    (brood,) = brood_accounts(read_season(frames, schemas=declared), declared).broods
    assert (brood.year, brood.visits, brood.ringed, brood.last_seen) == (2025, 3, 1, "2026-01-06")
    # two northern seasons stay two, also where boxes are visited in winter
    frames["handlings"] = pd.DataFrame(
        [{**row, "date": "2025-06-20"}, {**later, "date": "2026-06-06"}], dtype="str"
    )
    assert {one.year for one in brood_accounts(read_season(frames, schemas=declared), declared).broods} == {
        2025,
        2026,
    }
