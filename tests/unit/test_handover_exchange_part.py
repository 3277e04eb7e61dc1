"""The files for the ringing scheme: lines of the demo season, what to verify, what is refused."""

from __future__ import annotations

import csv
import re
from dataclasses import replace

import pytest
from exchanged_rows import ADULT, BOXES, DAY, DECLARED, PULLUS, SHIPPED, made, with_sender
from golden_file import hold_against_golden
from typed_season import typed_season

import audit
from audit.declarations import load_declarations
from audit.demo import demo_season
from audit.handover.clean.decided_season import DecidedSeason
from audit.handover.exchange.part import LEFT_OUT_COLUMNS, VERIFY_COLUMNS, WARNING_COLUMNS, exchange_part
from audit.handover.exchange.read_back import hold_against
from audit.handover.exchange.reading import read_lines
from audit.handover.exchange.records import exchange_records
from audit.handover.exchange.round import lay_round
from audit.handover.table_file import unguard
from audit.refusal import Refusal
from audit.review.replay import replay


@pytest.fixture(scope="module")
def decided():
    path, schemas = demo_season()
    declared = load_declarations(schemas)
    season = audit.read_season(path, schemas=declared)
    # records take no notice of what the audit says
    return DecidedSeason(season, replay(season, declared, []), (), None, declared)


@pytest.fixture(scope="module")
def folder(decided, tmp_path_factory):
    out = tmp_path_factory.mktemp("handover")
    (out / "exchange").mkdir()
    for name, write in exchange_part(decided).files.items():
        write(out / name)
    return out / "exchange"


def table(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


# the demo season


def test_the_files(folder):
    assert sorted(path.name for path in folder.iterdir()) == [
        "check-before-sending.html",
        "left-out.csv",
        "records.csv",
        "sallow-levels-2026-2000plus.txt",
        "sallow-levels-2026-2020.txt",
        "to-verify.csv",
        "warnings.csv",
    ]


def test_some_lines_of_the_demo(folder):
    chosen = []
    for name in ("sallow-levels-2026-2000plus.txt", "sallow-levels-2026-2020.txt"):
        lines = (folder / name).read_text(encoding="utf-8").splitlines()
        # a nestling, a small bird without a tag, an old bird, a nestling met again, a tag replaced
        wanted = ("SV03001-20260527", "SP008001-2026", "SV03001-202606", "tag ring lost")
        chosen += [next(line for line in lines if word in line) for word in wanted]
        chosen.append(next(line for line in lines if "|4|4|N|" in line))
    hold_against_golden("exchange.txt", "\n".join(chosen) + "\n")


def test_one_record_for_each_handling(folder, decided):
    lines = (folder / "sallow-levels-2026-2020.txt").read_text(encoding="utf-8")
    records = read_lines(lines, decided.declared.exchange)
    rows = table(folder / "records.csv")
    assert len(records) == len(rows) == len(decided.clean.frame("handlings"))
    assert [row["reference"] for row in rows] == [record.reference for record in records]
    assert len({record.reference for record in records}) == len(records)
    # sheet and row lead back to the cell
    first = rows[0]
    typed = decided.typed.tables["handlings"].typed
    assert typed.loc[f"{first['sheet']}!{first['row']}", "ring"] == "SV03001"


def test_the_same_season_gives_the_same_bytes(folder, decided, tmp_path):
    (tmp_path / "exchange").mkdir()
    for name, write in exchange_part(decided).files.items():
        write(tmp_path / name)
        assert (tmp_path / name).read_bytes() == (folder / name.partition("/")[2]).read_bytes()


def test_the_tables_have_their_columns(folder):
    heads = {"to-verify": VERIFY_COLUMNS, "left-out": LEFT_OUT_COLUMNS, "warnings": WARNING_COLUMNS}
    for name, columns in heads.items():
        head = (folder / f"{name}.csv").read_text(encoding="utf-8").splitlines()[0]
        assert head == ",".join(columns)


def test_no_cell_is_run_by_a_spreadsheet(folder):
    for path in folder.glob("*.csv"):
        for row in table(path):
            for text in row.values():
                number = re.fullmatch(r"[+-]\d+(\.\d+)?", text)
                assert number or not text.startswith(("=", "+", "-", "@")), (path.name, text)


def test_the_page_stands_alone(folder, decided):
    page = (folder / "check-before-sending.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert "http" not in page.replace("http-equiv", "")
    for sentence in exchange_part(decided).told:
        assert sentence.split(":")[0].split("'")[0] in page
    for word in ("Before you send", "To compare with the manual", "exact nest sites", "licence"):
        assert word in page


# what to verify


def test_every_unverified_code_that_was_written_is_listed(folder, decided):
    exchange = decided.declared.exchange
    rows = table(folder / "to-verify.csv")
    listed = {(row["order"], unguard(row["code"])): row for row in rows}
    records = [one.record for one in exchange_records(decided).coded]
    seen = 0
    for field in exchange.fields:
        if not field.codes:
            continue
        # fields that share a table stand in one line, under the first of them
        order = str(min(other.order for other in exchange.fields if other.codes == field.codes))
        for text in {getattr(record, field.name) for record in records}:
            code = exchange.codes[field.codes].find(text)
            if not code.verified:
                row = listed[order, code.code]
                assert field.title in row["field"]
                assert (row["label"], row["source"]) == (code.label, code.source) or not code.code
                seen += 1
    assert seen > 30
    # the code identifier was read, so nobody has to look it up
    assert not any(row["field"] == "code identifier" for row in rows)
    assert all(int(row["records"]) <= len(records) for row in rows)


def test_species_from_memory_are_listed_with_their_names(folder):
    species = {row["code"]: row["label"] for row in table(folder / "to-verify.csv") if row["order"] == "7"}
    assert species["07350"] == "barn owl (Tyto alba)"


def test_each_line_can_be_ticked_where_it_says(folder, decided):
    exchange = decided.declared.exchange
    for row in table(folder / "to-verify.csv"):
        kind, _, rest = row["marked_at"].partition(".")
        if kind == "rules":
            assert exchange.rules[rest].label == row["label"]
        elif kind == "codes":
            name, part, *code = rest.split(".", 2)
            held = exchange.codes[name]
            assert (held.values[code[0]] if part == "values" else held.numbers).label == row["label"]
        else:
            slug = row["marked_at"].removeprefix("species/").removesuffix(".yaml, euring")
            assert decided.declared.species[slug].euring == row["code"]


def test_what_a_team_has_compared_is_not_listed(tmp_path):
    (tmp_path / "exchange.yaml").write_text(
        "codes: {catching_method: {values: {N: {verified: true, grade: read, source: manual of 2024}}}}\n"
        "rules: {ring_padding: {verified: true, grade: read, source: manual of 2024}}\n",
        encoding="utf-8",
    )
    own = load_declarations(tmp_path)
    before, after = made(PULLUS), made(PULLUS, declared=replace(own, sender=DECLARED.sender))
    fewer = set(before.to_verify) - set(after.to_verify)
    assert {(one.order, one.code) for one in fewer} == {(11, "N"), (3, "")}


# what is told


def test_what_is_told_of_the_demo(decided):
    told = exchange_part(decided).told
    assert told[0] == "461 records for the scheme, written and read back in two forms."
    assert re.fullmatch(
        r"\d+ codes and rules were written from memory and not from the manual: compare "
        r"exchange/to-verify.csv with the current manual before you send anything.",
        told[1],
    )


def test_without_a_scheme_there_is_a_draft_alone():
    records = made(PULLUS, declared=with_sender(scheme=""))
    assert not records.can_be_sent
    assert records.told[0] == (
        "1 record for the scheme cannot be sent, as no scheme code is declared: the first field is empty, "
        "and the files are drafts. Write 'scheme:' and its three letters into sender.yaml of your own folder."
    )
    with pytest.raises(Refusal, match="No scheme code is declared"):
        records.lines("2020")
    assert records.draft("2020")[0].startswith("|A0|")
    # the tables are there all the same
    path, _ = demo_season()
    season = audit.read_season(path)
    files = exchange_part(DecidedSeason(season, replay(season, SHIPPED, []), (), None, SHIPPED)).files
    assert sorted(files) == [
        "exchange/check-before-sending.html", "exchange/left-out.csv", "exchange/records.csv",
        "exchange/sallow-levels-2026-2000plus.draft.txt", "exchange/sallow-levels-2026-2020.draft.txt",
        "exchange/to-verify.csv", "exchange/warnings.csv",
    ]  # fmt: skip


def test_a_season_without_birds():
    records = made()
    assert (records.coded, records.to_verify, records.cautions) == ((), (), ())
    assert records.told == ("No handling has both a ring and a day, so there is no record for the scheme.",)


def test_unknown_accuracy_of_coordinates_is_told():
    limits = {"uncertainty_m": replace(SHIPPED.sender.limits["uncertainty_m"], value=0)}
    told = made(PULLUS, declared=with_sender(limits=limits)).told
    assert any("go out as good to 5 km" in sentence for sentence in told)


def test_what_a_notebook_shows(decided):
    records = exchange_records(decided)
    text, look = repr(records), records._repr_html_()
    assert text.startswith("Season sallow-levels-2026 in the exchange code.\n461 records")
    assert "To compare with the manual" in look
    assert len(look) < 60_000


def test_typed_texts_are_escaped_on_the_page():
    records = made({**ADULT, "condition": "<b>dead</b> & gone"}, {**PULLUS, "ring": "<script>1"})
    look = records._repr_html_()
    assert "&lt;b&gt;dead" in look
    assert "<script>" not in look


# read back


def around(*rows):
    return lay_round(typed_season(DECLARED, handlings=list(rows), boxes=BOXES), DECLARED)


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("ring", "SV...03002"),
        ("date", "13062026"),
        ("time", "0931"),
        ("species_mentioned", "03040"),
        ("wing", "139.0"),
        ("mass", "304.0"),
        ("coordinates", "+450212-0295718"),
    ],
)
def test_a_record_that_does_not_say_what_the_row_says_is_refused(field, text):
    # the line is what was coded, but what was coded is wrong: the row itself is the witness
    records = made(PULLUS)
    wrong = replace(records.coded[0], record=replace(records.coded[0].record, **{field: text}))
    line = "\n".join(replace(records, coded=(wrong,)).lines("2000+"))
    with pytest.raises(Refusal) as caught:
        hold_against(line, "2000+", (wrong,), around(PULLUS))
    assert caught.value.where == f"handlings!2, {field}, form 2000+"
    assert "Nothing was handed out" in caught.value.cure


def test_a_line_that_was_changed_or_lost_is_refused():
    records = made(PULLUS, {**PULLUS, "ring": "SV03002"})
    lines = records.lines("2020")
    with pytest.raises(Refusal, match="2 records were written and 1 read back"):
        hold_against(lines[0], "2020", records.coded, around(PULLUS))
    text = "\n".join(lines).replace("|N|0|N|", "|N|0|H|", 1)
    with pytest.raises(Refusal, match="catching_method"):
        hold_against(text, "2020", records.coded, around(PULLUS))


def test_earlier_seasons_make_no_records():
    earlier = [{**PULLUS, "date": DAY.replace(year=2025), "ring": "SV01001"}]
    assert len(made(PULLUS, earlier=earlier).coded) == 1
