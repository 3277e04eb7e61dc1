"""One round of rules: order, doubt, what cannot run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from typed_season import reported, typed_season

from audit.checking import check
from audit.findings import Finding, NotRun
from audit.rules import RULES
from audit.rules.case import At, Case
from audit.rules.layouts import Layouts
from audit.rules.round import FAULT, ask
from audit.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations

SEASON = typed_season(
    handlings=[
        {"date": "2026-06-06", "box": "SL-01", "ring": "SV01001", "gross_g": 395, "bag_g": 22, "net_g": 373},
        {"date": "2026-06-06", "box": "SL-01", "ring": "SV01002", "gross_g": 390, "bag_g": 22, "net_g": 368},
    ]
)


def blames_net(case: Case) -> Iterator[Finding | NotRun]:
    yield case.blame("arithmetic", [At("handlings!2", "net_g", suggested=1.0)], "First.")


def sees_no_net(case: Case) -> Iterator[Finding | NotRun]:
    net = case.sure("handlings")["net_g"]
    assert net.isna().tolist() == [True, False]
    assert case.in_doubt("handlings!2", "net_g")
    yield case.not_run("arithmetic", "a part was left out")


def fails(_: Case) -> Iterator[Finding | NotRun]:
    raise ZeroDivisionError("three birds in no bag")


def needs(slug: str, check_: object, **tables: tuple[str, ...]) -> Rule:
    return Rule(slug, tables, check_)  # type: ignore[arg-type]  # a test passes what it likes


def test_a_cell_in_doubt_is_no_witness(declared: Declarations) -> None:
    report = reported(SEASON, declared, [needs("tare", blames_net), needs("tare", sees_no_net)])
    assert [finding.message for finding in report.findings] == ["First."]
    assert report.not_run == (NotRun("tare.arithmetic", "a part was left out"),)


def test_a_look_again_stands_beside_nothing_that_says_what_is_wrong(declared: Declarations) -> None:
    def looks_again(case: Case) -> Iterator[Finding | NotRun]:
        yield case.blame("unusual", [At("handlings!2", "net_g")], "Look again.")
        yield case.blame("unusual", [At("handlings!3", "net_g")], "Look again, too.")

    found = reported(SEASON, declared, [needs("growth", looks_again), needs("tare", blames_net)]).findings
    assert [finding.message for finding in found] == ["First.", "Look again, too."]


def test_what_one_rule_has_laid_out_lies_there_for_the_next(declared: Declarations) -> None:
    laid: list[Case] = []

    def lays_out(case: Case) -> Iterator[Finding | NotRun]:
        yield case.not_run("arithmetic", str(case.lay_out(_count, {"handlings": ("ring",)})))

    def _count(case: Case) -> int:
        laid.append(case)
        return len(laid)

    rule, layouts = needs("tare", lays_out), Layouts()
    for kept, said in ((layouts, "1"), (layouts, "1"), (None, "2"), (None, "3")):
        answered = ask(rule, SEASON, declared, frozenset(), kept)
        assert answered.not_run == (NotRun("tare.arithmetic", said),)


def test_a_rule_says_what_it_lacks(declared: Declarations) -> None:
    report = reported(SEASON, declared, [needs("tare", blames_net, handlings=("wing_mm",), visits=())])
    assert report.not_run == (NotRun("tare", "'handlings' has no column 'wing_mm'; no table 'visits'"),)
    assert report.rules_run == ()


def test_a_fault_in_one_rule_leaves_the_others(declared: Declarations) -> None:
    report = reported(SEASON, declared, [needs("growth", fails), needs("tare", blames_net)])
    assert len(report.findings) == 1
    assert (
        report.not_run[0].reason == f"{FAULT} (ZeroDivisionError: three birds in no bag). Please report it."
    )
    assert report.rules_run == ("tare",)


def test_no_shipped_rule_fails_on_the_least_season(declared: Declarations) -> None:
    least = typed_season(handlings=[{"date": "2026-06-06", "box": "SL-01", "ring": "SV01001"}])
    report = check(least, schemas=declared)
    assert [part for part in report.not_run if FAULT in part.reason] == []
    assert report.above_notes == ()
    assert len(report.rules_run) < len(RULES)
