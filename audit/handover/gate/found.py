"""What the audit finds in the clean season, held against what people have said of its cells."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from audit.handover.gate.item import ItemCell, OpenItem, cell_at
from audit.review.wording import chance, suggestion

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from audit.findings import Finding, Suspect
    from audit.handover.gate.said import Place, Said, Stand
    from audit.season import Season

__all__ = ["found_items", "waiting_for"]


def found_items(
    findings: Sequence[Finding],
    season: Season,
    said: Said,
    shut_from: float,
    unread: Collection[Place] = (),
) -> Iterator[OpenItem]:
    """Make an item of every error and suspect that is not told of by the question or conflict it waits for.

    Parameters
    ----------
    findings : sequence of Finding
        Of the clean season; notes are left out.
    shut_from : float
        A cell that is as likely wrong as this, and that nobody has decided, holds the season back.
    unread : collection of (label, field)
        Cells that hold a text and no value: who keeps one is told that it goes out empty.

    Yields
    ------
    OpenItem
        - An error shuts where nobody has answered any of its cells, and where one that was not answered is
          as likely wrong as `shut_from`.
        - A suspect shuts where a cell on which nobody has decided is as likely wrong as that.
        - Where a person kept or amended a cell knowing of the rule, and no such cell is left, it is ``kept``.
    """
    for finding in findings:
        if finding.severity == "note":
            continue
        stands = [said.stand(_place(one), finding.rule, finding.identity) for one in finding.suspects]
        if not (_waits(stands) and not _left(finding, stands, shut_from)):
            item = _item(finding, stands, season, said, shut_from)
            empty = item.sort == "kept" and (item.label, item.field) in unread
            yield replace(item, remark=_GOES_OUT_EMPTY) if empty else item


_GOES_OUT_EMPTY = "It could not be read, so that it goes out without a value."


def waiting_for(findings: Sequence[Finding], said: Said, shut_from: float) -> dict[Place, tuple[str, ...]]:
    """Sentences of the findings that wait for a cell which is asked about, in conflict or held back."""
    told: dict[Place, tuple[str, ...]] = {}
    for finding in findings:
        stands = [said.stand(_place(one), finding.rule, finding.identity) for one in finding.suspects]
        if finding.severity == "note" or not _waits(stands) or _left(finding, stands, shut_from):
            continue
        for suspect, stand in zip(finding.suspects, stands, strict=True):
            if stand == "waiting":
                place = _place(suspect)
                told[place] = (*told.get(place, ()), finding.message)
    return told


def _place(suspect: Suspect) -> Place:
    return suspect.cell.label, suspect.cell.field


def _waits(stands: Sequence[Stand]) -> bool:
    return "waiting" in stands


def _left(finding: Finding, stands: Sequence[Stand], shut_from: float) -> list[Suspect]:
    """Cells that are still to be decided, and as likely wrong as it takes."""
    undecided = {"open", "decided"} if finding.severity == "error" else {"open"}
    return [
        suspect
        for suspect, stand in zip(finding.suspects, stands, strict=True)
        if stand in undecided and suspect.p_error >= shut_from
    ]


def _item(
    finding: Finding, stands: Sequence[Stand], season: Season, said: Said, shut_from: float
) -> OpenItem:
    left = _left(finding, stands, shut_from)
    answered = [
        _place(suspect)
        for suspect, stand in zip(finding.suspects, stands, strict=True)
        if stand == "answered"
    ]
    decided = [
        _place(suspect) for suspect, stand in zip(finding.suspects, stands, strict=True) if stand == "decided"
    ]
    kept = bool(answered) and not left
    shuts = not kept and (bool(left) or finding.severity == "error")
    # cells that are still open come first: that is where a person has to look
    order = sorted(range(len(stands)), key=lambda i: stands[i] == ("open" if kept else "answered"))
    who, why = _people(said, answered or decided)
    return OpenItem(
        sort="kept" if kept else "error" if finding.severity == "error" else "suspect",
        shuts=shuts,
        says=finding.message,
        cells=tuple(_cell(finding.suspects[i], season, said) for i in order),
        identity=finding.identity,
        rule=finding.rule,
        who=who,
        why=why,
        remark="" if kept else _remark(finding, said, answered, decided, shut_from, shuts=shuts),
    )


def _people(said: Said, places: Sequence[Place]) -> tuple[str, str]:
    who = dict.fromkeys(text for place in places if (text := said.by(place)))
    why = dict.fromkeys(text for place in places if (text := said.why(place)))
    return ", ".join(who), " ".join(why)


def _cell(suspect: Suspect, season: Season, said: Said) -> ItemCell:
    label, field = _place(suspect)
    cell = cell_at(season, label, field)
    meant = suggestion(suspect)
    others = [f"{value} ({chance(p)})" for value, p in suspect.others]
    if others:
        meant = f"{meant}, or {' or '.join(others)}" if meant else f"perhaps {' or '.join(others)}"
    return ItemCell(
        label=label,
        field=field,
        where=cell.where,
        column=cell.column,
        text=cell.text,
        suggested=meant,
        p_error=suspect.p_error,
        said=said.by((label, field)),
        marks=cell.marks,
    )


def _remark(
    finding: Finding,
    said: Said,
    answered: Sequence[Place],
    decided: Sequence[Place],
    shut_from: float,
    *,
    shuts: bool,
) -> str:
    if decided and not answered:
        by = said.by(decided[0])
        end = "look once more" if shuts else "it is listed only"
        return f"A cell was {by} without knowing of this: {end}."
    if answered and shuts:
        return f"Only some of its cells were decided ({said.by(answered[0])})."
    if not shuts and max(suspect.p_error for suspect in finding.suspects) < shut_from:
        return f"Less likely wrong than {chance(shut_from)}."
    return ""
