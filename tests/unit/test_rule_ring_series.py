"""Does each ring number have the form of its series?"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import pytest
from clean_round import broods, clean_round, old_birds, seen_again
from typed_season import ask, blamed, typed_season

from audit.declarations import Declarations, load_declarations
from audit.findings import Finding, NotRun
from audit.refusal import DeclarationRefusal
from audit.rules.ring_series import RULE

if TYPE_CHECKING:
    from pathlib import Path


def with_ring(rows: list[dict], index: int, ring: str | None, **extra: object) -> list[dict]:
    return [{**row, "ring": ring, **extra} if i == index else row for i, row in enumerate(rows)]


def messages(answers: list) -> list[str]:
    return [answer.message for answer in answers if isinstance(answer, Finding)]


@pytest.mark.parametrize(
    ("typed", "outcome", "meant"),
    [
        ("SV0136", "digits", "SV01036"),
        ("SV010366", "digits", "SV01036"),
        ("SV0I036", "letter", "SV01036"),
        ("SVO1036", "letter", "SV01036"),
        ("5V01036", "letter", "SV01036"),
        ("SV-01036", "hyphen", "SV01036"),
        ("01036", "prefix", "SV01036"),
        ("SW01036", "prefix", "SV01036"),
        ("VS01036", "prefix", "SV01036"),
        ("SV01X36", "form", "SV01036"),
        (";SV01036#", "form", "SV01036"),
        # W touches 2 and 3 on the keyboard, and only 1036 is missing
        ("SV010W6", "form", "SV01036"),
        ("SV0306", "digits", "SV01036"),
        ("SV1306", "digits", "SV01036"),
    ],
)
def test_a_number_off_form_is_found_and_mended(typed: str, outcome: str, meant: str) -> None:
    season = typed_season(handlings=with_ring(broods(3, 5, 4), 5, typed))
    assert blamed(ask(RULE, season)) == {("handlings!7", "ring"): (f"ring_series.{outcome}", meant)}


def met_again(ring: str, **extra: object) -> list[dict]:
    """Add a full-grown bird with a ring that was put on in an earlier year."""
    rows = broods(3, 5, 4)
    return [*rows, {**rows[-1], "ring": ring, "event": "re-encountered", "age": "6", **extra}]


@pytest.mark.parametrize("typed", ["SV002T2", "SV00A22"])
def test_an_old_ring_of_an_own_series_with_a_letter_in_it_is_found(typed: str) -> None:
    answers = ask(RULE, typed_season(handlings=met_again(typed)))
    assert blamed(answers) == {("handlings!14", "ring"): ("ring_series.form", "")}
    # another scheme may have the same letters, so this is less sure than of a bird ringed here
    assert answers[0].suspects[0].p_error == pytest.approx(0.9)


@pytest.mark.parametrize("ring", ["SV0222", "SV000222", "SVA0B22", "GA1T345", "GA1234", "SV00222"])
def test_a_ring_that_may_be_from_elsewhere_is_let_be(ring: str) -> None:
    answers = ask(RULE, typed_season(handlings=met_again(ring)))
    assert {one.rule for one in answers if isinstance(one, Finding)} <= {"ring_series.other_width"}


def test_ring_and_tag_in_each_others_column() -> None:
    rows = broods(3, 5, 4)
    rows[5] = {**rows[5], "ring": "999104000000113", "tag": rows[5]["ring"]}
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {
        ("handlings!7", "ring"): ("ring_series.columns", "SV01036"),
        ("handlings!7", "tag"): ("ring_series.columns", "999104000000113"),
    }
    assert messages(answers) == ["Ring 999104000000113 and tag SV01036 stand in each other's column."]


def test_a_missing_ring_is_named_by_the_tag() -> None:
    rows = [{**row, "tag": f"9991040000001{i:02d}"} for i, row in enumerate(broods(3, 5, 4))]
    rows += with_ring(seen_again(rows), 5, None)
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!19", "ring"): ("ring_series.missing", "SV01036")}


def test_the_sentence_names_digits_and_the_missing_ring() -> None:
    answers = ask(RULE, typed_season(handlings=with_ring(broods(3, 5, 4), 5, "SV0136")))
    (message,) = messages(answers)
    assert message == (
        "Ring SV0136 has 4 digits after SV, but the other 11 rings of this prefix have 5: "
        "one character is missing from SV01036, the ring that is missing here."
    )


def test_a_later_encounter_is_mended_from_its_brood() -> None:
    rows = broods(3, 5, 4)
    rows += with_ring(seen_again(rows), 5, "SV0136")
    answers = ask(RULE, typed_season(handlings=rows))
    assert blamed(answers) == {("handlings!19", "ring"): ("ring_series.digits", "SV01036")}


def test_a_chain_of_malformed_rings_is_mended_one_after_the_other() -> None:
    # As in a real series of bands where four numbers in a row had lost a digit (Hawks, Stat2Data).
    rows = broods(*[4] * 10, prefix="1177-", start=4711)
    for index, typed in ((30, "1177-0471"), (31, "1177-0472"), (32, "1177-0743")):
        rows = with_ring(rows, index, typed)
    found = blamed(ask(RULE, typed_season(handlings=rows)))
    assert [suggested for _, suggested in found.values()] == ["1177-04741", "1177-04742", "1177-04743"]


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("12044-5876", "1204-45876"),
        ("120445876", "1204-45876"),
        ("12-04-45876", "1204-45876"),
        ("1204045876", "1204-45876"),
    ],
)
def test_hyphens_of_real_malformed_bands(typed: str, meant: str) -> None:
    # Forms read off the Hawks data set (Stat2Data); the numbers around them are made up.
    rows = with_ring(broods(3, 4, 3, prefix="1204-", start=45872), 4, typed)
    assert {s for _, s in blamed(ask(RULE, typed_season(handlings=rows))).values()} == {meant}


def test_a_ringed_bird_without_a_ring_is_an_error_with_the_missing_number() -> None:
    answers = ask(RULE, typed_season(handlings=with_ring(broods(3, 5, 4), 5, None)))
    assert blamed(answers) == {("handlings!7", "ring"): ("ring_series.missing", "SV01036")}
    assert messages(answers) == [
        "This bird was ringed, but no ring number is given: SV01036 is missing from this visit."
    ]


@pytest.mark.parametrize("remark", ["Too small", "not ringed, will come back", "dead in box"])
def test_a_remark_explains_a_missing_ring(remark: str) -> None:
    rows = with_ring(broods(3, 5, 4), 5, None, remarks=remark)
    assert ask(RULE, typed_season(handlings=rows)) == []


def test_a_bird_without_event_and_ring_is_only_a_note() -> None:
    (answer,) = ask(RULE, typed_season(handlings=with_ring(broods(3, 5, 4), 5, None, event=None)))
    assert isinstance(answer, Finding)
    assert (answer.rule, answer.severity) == ("ring_series.not_given", "note")


@pytest.mark.parametrize("ring", ["DEK123456", "H-A1234", "5123456", "2N-5354", "888-88801"])
def test_rings_of_other_schemes_on_birds_seen_again_are_innocent(ring: str) -> None:
    rows = with_ring(broods(3, 5, 4), 5, ring, event="re-encountered", age="4")
    assert ask(RULE, typed_season(handlings=rows)) == []


def test_two_prefixes_of_different_length_are_both_forms() -> None:
    rows = broods(3, 4, 3, prefix="877-", start=76317) + broods(3, 4, 3, prefix="1207-", start=55910)
    assert ask(RULE, typed_season(handlings=rows)) == []


def two_species() -> list[dict]:
    owls = broods(*[5] * 6)
    return owls + [{**row, "species": "kestrel"} for row in broods(*[5] * 6, prefix="EK", start=2031)]


def test_a_series_on_another_species_blames_the_species_when_the_nest_mates_agree() -> None:
    rows = two_species()
    rows[7] = {**rows[7], "species": "kestrel"}
    rows[31] = {**rows[31], "box": "SL-50"}
    answers = ask(RULE, typed_season(handlings=rows[:30]))
    assert blamed(answers) == {("handlings!9", "species"): ("ring_series.species", rows[0]["species"])}


def test_a_series_on_another_species_splits_the_blame_for_a_single_bird() -> None:
    rows = two_species()
    rows.append({**rows[-1], "ring": "SV01061", "box": "SL-60", "date": dt.date(2026, 7, 1)})
    found = [a for a in ask(RULE, typed_season(handlings=rows)) if isinstance(a, Finding)]
    (finding,) = found
    assert {s.cell.field for s in finding.suspects} == {"ring", "species"}
    assert sum(s.p_error for s in finding.suspects) <= 1


def team(tmp_path: Path, text: str) -> Declarations:
    (tmp_path / "rings.yaml").write_text(text, encoding="utf-8")
    return load_declarations(tmp_path)


def test_a_declared_series_tells_the_form_of_a_single_ring(tmp_path: Path) -> None:
    declared = team(tmp_path, "series:\n  owls:\n    prefix: SV\n    digits: 5\n    species: [barn_owl]\n")
    row = {**broods(1)[0], "ring": "SV0123"}
    season = typed_season(declared, handlings=[row])
    assert set(blamed(ask(RULE, season, declared))) == {("handlings!2", "ring")}
    season = typed_season(declared, handlings=[{**row, "ring": "SV01234", "species": "kestrel"}])
    assert set(blamed(ask(RULE, season, declared))) == {("handlings!2", "ring"), ("handlings!2", "species")}


def test_a_declaration_that_nearly_all_rings_gainsay_is_told(tmp_path: Path) -> None:
    declared = team(tmp_path, "series:\n  owls:\n    prefix: SV\n    digits: 6\n")
    answers = ask(RULE, typed_season(declared, handlings=broods(*[5] * 6)), declared)
    assert blamed(answers) == {}
    (told,) = [a for a in answers if isinstance(a, NotRun)]
    assert told.reason == (
        "series 'owls' is declared with 6 digits, but 30 of 30 rings beginning with SV have 5: "
        "mend rings.yaml"
    )


def test_a_typing_mistake_in_a_series_is_refused_with_its_line(tmp_path: Path) -> None:
    with pytest.raises(DeclarationRefusal) as refusal:
        team(tmp_path, "series:\n  owls:\n    prefix: SV\n    digit: 5\n")
    assert refusal.value.where.endswith("rings.yaml, line 4")
    assert "Did you mean 'digits'?" in refusal.value.cure


@pytest.mark.parametrize(
    ("seed", "options"),
    [(1, {}), (2, {"event": False}), (3, {"prefix": "", "digits": 7}), (4, {"prefix": "1177-"})],
)
def test_a_clean_round_is_innocent(options: dict, seed: int) -> None:
    tables = clean_round(30, seed=seed, **options)
    rows = old_birds(tables["handlings"])
    for handlings in (rows, sorted(rows, key=lambda row: (row["box"], row["ring"]))):
        assert ask(RULE, typed_season(handlings=handlings, ring_losses=tables["ring_losses"])) == []


def test_a_raised_figure_is_no_digit() -> None:
    answers = ask(RULE, typed_season(handlings=with_ring(broods(3, 4), 5, "SV0103²")))
    assert {label for label, _ in blamed(answers)} == {"handlings!7"}
