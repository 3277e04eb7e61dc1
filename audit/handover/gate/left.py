"""What the log leaves to settle, and what the audit could not ask."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.gate.item import ItemCell, OpenItem, cell_at
from audit.review.decisions import text_of
from audit.rules.round import FAULT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.findings import Report
    from audit.handover.gate.said import Place
    from audit.review.decisions import DecidedCell, Decision
    from audit.review.log_records import Damaged
    from audit.review.replay import Replayed, Settled
    from audit.season import Season

__all__ = ["log_items", "rule_items"]


def log_items(
    replayed: Replayed, damaged: Sequence[Damaged], waiting: Mapping[Place, tuple[str, ...]]
) -> Iterator[OpenItem]:
    """Make an item of whatever the log leaves to settle.

    Questions, conflicts, decisions without a place and decisions held back shut: each is a cell of which
    somebody has said that it is not settled. A line that cannot be read shuts nothing: it decides nothing, so
    its cells stay as typed and are judged as that, and whatever it would have mended is open by itself.

    Parameters
    ----------
    waiting : mapping of (label, field) to tuple of str
        What the audit says of these cells.
    """
    season = replayed.season
    for conflict in replayed.conflicts:
        cell = _cell(season, conflict.label, conflict.cell)
        said = [
            f"{decision.who} says {text_of(decision, one) or 'nothing'}" for decision, one in conflict.choices
        ]
        yield OpenItem(
            sort="conflict",
            shuts=True,
            says=f"Two decisions on this cell differ: {' and '.join(said)}.",
            cells=(cell,),
            identity="-".join(decision.identity for decision in conflict.decisions),
            who=_names(conflict.decisions),
            why=_reasons(conflict.decisions),
            beside=waiting.get((cell.label, cell.field), ()),
        )
    for orphan in replayed.orphans:
        yield OpenItem(
            sort="orphan",
            shuts=True,
            says=orphan.why,
            cells=(_cell(season, orphan.label, orphan.cell),),
            identity=orphan.decision.identity,
            who=_names([orphan.decision]),
            why=orphan.decision.reason,
        )
    for one in replayed.held:
        yield _standing(one, season, "held", "It stays as typed until the conflict is settled.", waiting)
    for one in replayed.asked:
        asked = _reasons([decision for decision, _ in one.choices])
        said_before = " ".join(dict.fromkeys(decision.asked for decision, _ in one.choices if decision.asked))
        says = f"To be looked up: {asked or said_before or 'what stands in the field notebook.'}"
        yield _standing(
            one, season, "question", says if says.endswith((".", "?", "!")) else f"{says}.", waiting
        )
    for answer in replayed.answered:
        yield OpenItem(
            sort="answered",
            shuts=False,
            says=f"{answer.answer.who} answered what {answer.question.who} asked without knowing of it.",
            cells=(_cell(season, answer.label, answer.cell),),
            identity=answer.question.identity,
            who=_names([answer.question, answer.answer]),
            why=answer.question.reason,
        )
    for line in damaged:
        yield OpenItem(sort="damaged", shuts=False, says=str(line), identity=f"line {line.line}")


def _standing(
    one: Settled, season: Season, sort: str, says: str, waiting: Mapping[Place, tuple[str, ...]]
) -> OpenItem:
    decisions = [decision for decision, _ in one.choices]
    return OpenItem(
        sort="held" if sort == "held" else "question",
        shuts=True,
        says=says,
        cells=(_cell(season, one.label, one.choices[0][1]),),
        identity=decisions[0].identity,
        who=_names(decisions),
        why=_reasons(decisions) if sort == "held" else "",
        beside=waiting.get((one.label, one.field), ()),
    )


def _cell(season: Season, label: str, cell: DecidedCell) -> ItemCell:
    if label:
        return cell_at(season, label, cell.field)
    return ItemCell("", cell.field, f"{cell.sheet} row {cell.row}", cell.field, cell.observed)


def _names(decisions: Sequence[Decision]) -> str:
    return ", ".join(dict.fromkeys(f"{decision.who} ({decision.verb})" for decision in decisions))


def _reasons(decisions: Sequence[Decision]) -> str:
    return " ".join(dict.fromkeys(decision.reason for decision in decisions if decision.reason))


def rule_items(report: Report, must_run: Sequence[str]) -> Iterator[OpenItem]:
    """Make an item of every rule, or part of one, that did not run.

    A rule that lacks a table or a column is listed: few teams have every table. One that the team names in
    ``must_run``, with all its parts or one part of it, shuts; so does one that failed by a fault of the
    program, since nobody chose to do without it.
    """
    for part in report.not_run:
        failed = part.reason.startswith(FAULT)
        wanted = any(_asks_for(name, part.rule) for name in must_run)
        yield OpenItem(
            sort="failed" if failed else "must_run" if wanted else "not_run",
            shuts=failed or wanted,
            says=part.reason,
            identity=part.rule,
            rule=part.rule,
        )
    told = {part.rule.partition(".")[0] for part in report.not_run}
    for name in must_run:
        rule = name.partition(".")[0]
        if rule not in report.rules_run and rule not in told:
            yield OpenItem(
                "must_run", shuts=True, says="It was not asked of this season.", identity=name, rule=name
            )


def _asks_for(name: str, rule: str) -> bool:
    """Whether a name in ``must_run`` means a rule or part that did not run."""
    return rule == name or rule.startswith(f"{name}.") or name.startswith(f"{rule}.")
