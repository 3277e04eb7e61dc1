"""The verdict: what shuts the gate, what is only listed, and the exact words of it."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from decided_small import decided, say, small_season
from golden_file import hold_against_golden

import audit
from audit.declarations import load_declarations, to_gx, to_pandera
from audit.declarations.breach import Breach
from audit.declarations.document import Document, merge, read_document
from audit.declarations.gate import check_gate
from audit.declarations.locate import schemas_folder
from audit.demo import demo_season
from audit.findings import NotRun
from audit.handover.clean.decided_season import DecidedSeason
from audit.handover.gate.gate import ask_gate
from audit.handover.gate.part import gate_part
from audit.handover.gate.wording import headline
from audit.refusal import DeclarationRefusal
from audit.review.decisions import decide
from audit.review.log_records import Damaged
from audit.review.places import decided_cell
from audit.review.replay import Replayed, replay
from audit.rules.round import FAULT

KEY = Path(__file__).parents[1] / "demo" / "planted-slips.csv"

#: One slip that a rule finds, one of a declared word, one that cannot be read, one box that nobody has.
SLIPS = (("Net", 3, "395"), ("Sex", 4, "x"), ("Gross", 6, "abc"), ("Box", 5, "SL-2O"))


@pytest.fixture(scope="module", autouse=True)
def one_context():
    """One context of the engine for all: making one takes longer than most tests."""
    context = to_gx.quiet_context()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(to_gx, "quiet_context", lambda: context)
        yield


@pytest.fixture(scope="module")
def slips(declared):
    season = small_season(declared, *SLIPS)
    return decided(season, declared)


@pytest.fixture(scope="module")
def clean(declared):
    return decided(small_season(declared), declared)


@pytest.fixture(scope="module")
def mixed(declared):
    """Something of every sort: kept, asked, in conflict, without a place, answered unawares, damaged."""
    season = small_season(declared, *SLIPS)
    log = [
        say(
            season,
            "keep",
            (3, "net_g", None),
            reason="The field sheet says 395.",
            rules=["tare.not_subtracted"],
        ),
        say(season, "ask", (4, "sex", None), who="MK", reason="Which sex?", rules=["declared.set"]),
        say(season, "amend", (7, "net_g", "320"), who="AB"),
        say(season, "amend", (7, "net_g", "321"), who="IP"),
        say(season, "ask", (2, "bag_g", None), who="MK", reason="Was the bag wet?"),
        say(season, "keep", (2, "bag_g", None), who="IP", reason="Weighed twice."),
    ]
    gone = say(season, "amend", (2, "ring", "SV01009"), who="IP")
    lost = replace(gone.cells[0], as_typed={"ring": "SV09999", "date": "2026-01-01"}, observed="SV09999")
    made = decided(season, declared, [*log, replace(gone, cells=(lost,))])
    return replace(made, damaged=(Damaged(None, 7, "it is no JSON", "{..."),))


@pytest.fixture(scope="module")
def gate(mixed):
    return ask_gate(mixed)


def sorts(gate):
    return [(item.sort, item.where) for item in gate.items if item.sort != "not_run"]


def test_what_shuts_comes_first_then_by_sort_and_sheet(gate):
    assert sorts(gate) == [
        ("error", "handlings D6"),
        ("breach", "handlings B5"),
        ("conflict", "handlings F7"),
        ("orphan", "handlings row 2"),
        ("question", "handlings G4"),
        ("answered", "handlings E2"),
        ("damaged", ""),
        ("kept", "handlings F3"),
    ]
    assert not gate.is_open
    assert gate.counts() == {"error": 1, "breach": 1, "conflict": 1, "orphan": 1, "question": 1}
    assert gate.verdict.startswith("The gate is shut: 1 error, ")
    assert gate.verdict in " ".join(repr(gate).split())
    shut = [item.shuts for item in gate.items]
    assert shut == sorted(shut, reverse=True)


def test_the_gate_in_words(gate):
    text = re.sub(r"great-expectations [0-9.]+", "great-expectations 1.2.3", repr(gate))
    hold_against_golden("gate.txt", f"{text}\n")


def test_a_finding_is_told_of_by_the_question_that_it_waits_for(gate):
    (question,) = gate.of_sort("question")
    assert question.says == "To be looked up: Which sex?"
    assert question.who == "MK (ask)"
    assert [text[:40] for text in question.beside] == ["The column 'Sex' takes M, F, U; 'x' is n"]


def test_what_is_kept_says_who_when_and_why(gate):
    (kept,) = gate.of_sort("kept")
    assert (kept.who, kept.why, kept.rule) == (
        "kept by AB on 2026-07-02",
        "The field sheet says 395.",
        "tare.not_subtracted",
    )
    assert (kept.label, kept.field, kept.typed) == ("handlings!3", "net_g", "395")


def test_a_box_that_no_rule_could_look_up_is_seen_by_the_second_engine(gate):
    assert "boxes.unknown" in {item.rule for item in gate.of_sort("not_run")}
    (breach,) = gate.of_sort("breach")
    assert breach.says == (
        "The column 'Box' says 'SL-2O', which does not stand in the column 'box' of the table boxes."
    )


def test_a_clean_season_opens_the_gate(clean):
    gate = ask_gate(clean)
    assert gate.is_open
    assert repr(gate).splitlines()[0] == "The gate is open: nothing holds the 6 handlings of season back."


def test_slips_that_are_mended_open_it(slips, declared):
    season = slips.typed
    log = [
        say(season, "accept", (3, "net_g", "373"), rules=["tare.not_subtracted"]),
        say(season, "amend", (4, "sex", "U")),
        say(season, "amend", (6, "gross_g", "350")),
    ]
    assert sorts(ask_gate(decided(season, declared, log))) == [("breach", "handlings B5")]
    log.append(say(season, "amend", (5, "box", "SL-02")))
    assert ask_gate(decided(season, declared, log)).is_open


def test_a_breach_is_told_once_and_falls_to_a_finding_of_the_same_cell(slips):
    gate = ask_gate(slips)
    assert [(b.label, b.check) for v in gate.validations for b in v.breaches] == [
        ("handlings!4", "enum"),
        ("handlings!5", "foreign_key"),
    ]
    assert [(item.sort, item.label) for item in gate.shutting] == [
        ("error", "handlings!3"),
        ("error", "handlings!4"),
        ("error", "handlings!6"),
        ("breach", "handlings!5"),
    ]


def test_a_cell_that_could_not_be_read_is_empty_to_the_engines_and_shuts_by_its_rule(slips):
    gate = ask_gate(slips)
    assert gate.unseen.told == (("handlings!6", "gross_g"),)
    assert gate.unseen.untold == ()
    # as if the rule had not looked there: nothing else would tell of it
    silent = replace(
        slips.report, findings=tuple(f for f in slips.report.findings if "reading" not in f.rule)
    )
    gate = ask_gate(replace(slips, report=silent))
    (unread,) = gate.of_sort("unread")
    assert unread.shuts
    assert unread.says == "'abc' in the column 'Gross' could not be read, and no rule tells of it."


def test_who_keeps_a_cell_that_could_not_be_read_is_told_that_it_goes_out_empty(declared):
    season = small_season(declared, ("Gross", 6, "abc"))
    kept = say(
        season, "keep", (6, "gross_g", None), reason="As in the notebook.", rules=["reading.unreadable"]
    )
    gate = ask_gate(decided(season, declared, [kept]))
    assert gate.is_open
    assert [item.remark for item in gate.of_sort("kept")] == [
        "It could not be read, so that it goes out without a value."
    ]


def test_without_handlings_there_is_nothing_to_hand_over(declared):
    frames = {
        "boxes": pd.DataFrame({"box": ["SL-01"]}),
        "handlings": pd.DataFrame(columns=["date", "box", "ring"]),
    }
    season = audit.read_season(frames, schemas=declared)
    made = DecidedSeason(season, Replayed(season), (), audit.check(season, schemas=declared), declared)
    (item,) = ask_gate(made).shutting
    assert (item.sort, item.says) == ("no_rows", "The season has no row of handlings.")


def test_where_the_engines_differ_the_gate_is_shut(clean, monkeypatch):
    assert ask_gate(clean).is_open
    first = to_pandera.blame

    def blind(table, frame, references=None):
        extra = [Breach("handlings!2", "net_g", "minimum")] if table.name == "handlings" else []
        return first(table, frame, references) + extra

    monkeypatch.setattr(to_pandera, "blame", blind)
    (fault,) = ask_gate(clean).shutting
    assert (fault.sort, fault.where) == ("engines", "handlings F2")
    assert fault.says == (
        "The check 'minimum' of the column 'net_g' is broken by the word of pandera, the first engine, and "
        "not by great-expectations, the second."
    )


def test_a_breach_that_the_first_engine_misses_shuts_although_the_cell_was_kept(declared, monkeypatch):
    season = small_season(declared, ("Sex", 4, "x"))
    kept = decided(season, declared, [say(season, "keep", (4, "sex", None), reason="So it is.")])
    assert ask_gate(kept).is_open
    monkeypatch.setattr(to_pandera, "blame", lambda *_: [])
    (fault,) = ask_gate(kept).shutting
    assert fault.sort == "engines"
    assert "by the word of great-expectations, the second engine, and not by pandera" in fault.says


def test_a_column_that_the_reader_did_not_type_is_a_fault_and_no_crash(clean):
    table = clean.clean.tables["handlings"]
    frame = table.frame.assign(
        net_g=table.frame["net_g"].astype(object).where(table.frame["net_g"] > 300, "light")
    )
    season = replace(clean.clean, tables={**clean.clean.tables, "handlings": replace(table, frame=frame)})
    faults = ask_gate(replace(clean, replayed=replace(clean.replayed, season=season))).of_sort("engines")
    assert len(faults) == 1
    assert faults[0].says.startswith("The table handlings could not be checked: net_g: ")
    assert faults[0].says.endswith("the column is not typed as declared.")


def with_setting(made, key, value):
    settings = made.declared.settings
    limit = replace(settings[key], value=value)
    return replace(made, declared=replace(made.declared, settings={**settings, key: limit}))


def test_a_rule_that_must_run_shuts_and_another_is_listed(clean):
    named = ["ring_stock", "boxes.unknown", "tag_code", "double_entry"]
    gate = ask_gate(with_setting(clean, "gate.must_run", named))
    assert [(item.identity, item.says) for item in gate.shutting] == [
        ("double_entry", "It was not asked of this season."),
        ("ring_stock.not_issued", "no table 'ring_stock' with first and last ring"),
        ("tag_code", "'handlings' has no column 'tag'"),
    ]
    assert {item.sort for item in gate.shutting} == {"must_run"}
    assert "earlier" in {item.rule for item in gate.of_sort("not_run")}


def test_a_rule_that_failed_shuts(clean):
    failed = NotRun("tare", f"{FAULT} (ValueError: no). Please report it.")
    gate = ask_gate(replace(clean, report=replace(clean.report, not_run=(failed,))))
    assert [(item.sort, item.rule) for item in gate.shutting] == [("failed", "tare")]


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        (
            "must_run: {value: [ring_stok]}",
            1,
            "'ring_stok' under 'must_run.value' is no rule, and no part of one.",
        ),
        ("must_run:\n  value:\n    - boxes\n    - 7\n", 4, "'7' under 'must_run.value' is no rule"),
        ("must_run: {value: boxes}", 1, "'must_run.value' is no list."),
        ("shut_from: {value: 50}", 1, "'50' under 'shut_from.value' is no probability."),
        ("shut_from: {value: true}", 1, "'True' under 'shut_from.value' is no probability."),
    ],
)
def test_a_wrong_declaration_is_refused_with_its_place(tmp_path, text, line, said):
    own = tmp_path / "gate.yaml"
    own.write_text(text)
    rules = {
        slug: Document({"outcomes": {"unknown": {}}}, {(): (own, 1)}) for slug in ("boxes", "ring_stock")
    }
    shipped = read_document(schemas_folder() / "gate.yaml")
    check_gate(shipped, rules)
    with pytest.raises(DeclarationRefusal) as refusal:
        check_gate(merge(shipped, read_document(own)), rules)
    assert said in refusal.value.what
    assert refusal.value.where == f"{own}, line {line}"
    assert refusal.value.cure


def test_a_near_name_is_asked_about(tmp_path):
    (tmp_path / "gate.yaml").write_text("must_run: {value: [ring_stok]}")
    with pytest.raises(DeclarationRefusal, match="Did you mean 'ring_stock'"):
        load_declarations(tmp_path)


def test_a_team_that_shuts_later_hands_over_more(slips):
    suspect = replace(slips.report.findings[0], severity="suspect")
    suspect = replace(suspect, suspects=(replace(suspect.suspects[0], p_error=0.6),))
    report = replace(slips.report, findings=(suspect,))
    assert ask_gate(replace(slips, report=report)).counts()["suspect"] == 1
    later = ask_gate(with_setting(replace(slips, report=report), "gate.shut_from", 0.7))
    assert "suspect" not in later.counts()
    assert later.of_sort("suspect")[0].remark == "Less likely wrong than 70 %."


def test_the_demo_season_mended_to_the_truth_opens_the_gate():
    path, schemas = demo_season()
    declared = load_declarations(schemas)
    season = audit.read_season(path, schemas=declared)
    with KEY.open(encoding="utf-8") as stream:
        truth = [
            decide(
                "AB",
                "amend",
                [decided_cell(season, f"{one['sheet']}!{one['row']}", one["field"], one["true"])],
            )
            for one in csv.DictReader(stream)
        ]
    replayed = replay(season, declared, truth)
    made = DecidedSeason(
        season, replayed, tuple(truth), audit.check(replayed.season, schemas=declared), declared
    )
    gate = ask_gate(made)
    assert gate.is_open
    assert sum(len(validation.judged) for validation in gate.validations) > 40
    assert {item.sort for item in gate.items} == {"not_run"}


def test_the_part_writes_the_same_bytes_each_time(mixed, gate, tmp_path):
    part = gate_part(gate, mixed)
    again = gate_part(ask_gate(mixed), mixed)
    assert list(part.files) == ["gate/gate.html", "gate/validation.json"]
    written = []
    for one in (part, again):
        for name, write in one.files.items():
            path = tmp_path / name.replace("/", " ")
            write(path)
            written.append(path.read_bytes())
    assert written[:2] == written[2:]
    assert part.told[0] == headline(gate)


def test_the_document_holds_the_results_of_the_engine_itself(mixed, gate, tmp_path):
    path = tmp_path / "validation.json"
    gate_part(gate, mixed).files["gate/validation.json"](path)
    tree = json.loads(path.read_text(encoding="utf-8"))
    assert (tree["format"], tree["version"], tree["holds"]) == ("nestproof-validation", 1, False)
    assert tree["engine"].startswith("great-expectations ")
    handlings = tree["tables"][1]
    assert handlings["broken"] == [
        {
            "cell": {
                "sheet": "handlings",
                "row": 4,
                "column": "Sex",
                "cell": "G4",
                "field": "sex",
                "text": "x",
            },
            "check": "enum",
            "expected": "one of M, F, U",
        },
        {
            "cell": {
                "sheet": "handlings",
                "row": 5,
                "column": "Box",
                "cell": "B5",
                "field": "box",
                "text": "SL-2O",
            },
            "check": "foreign_key",
            "expected": "one that stands in the column 'box' of the table boxes",
        },
    ]
    failing = [one for one in handlings["results"]["results"] if not one["success"]]
    assert [one["expectation_config"]["type"] for one in failing] == ["expect_column_values_to_be_in_set"] * 2
    assert failing[1]["result"]["unexpected_index_list"] == [{"sex": "x", "row label": "handlings!4"}]
