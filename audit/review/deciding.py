"""What has been decided so far and what is left: the state of a desk, without any widget."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.checked import recheck_all
from audit.findings import SEVERITIES, Finding
from audit.named_findings import join_groups
from audit.refusal import Refusal
from audit.review.board import Board
from audit.review.decided_findings import NAMED, conflict, looked_back, said_of
from audit.review.decisions import decide, undo_of
from audit.review.objections import objections
from audit.review.outcome import Outcome, refused
from audit.review.picture import lay_out
from audit.review.places import decided_cell
from audit.review.shelves import shelves_of
from audit.review.worklist import Item, notes, worklist
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

    from audit.checked import Checked
    from audit.review.decisions import Decision, Verb
    from audit.review.log import DecisionLog
    from audit.review.objections import Objection
    from audit.review.worklist import State

__all__ = ["Deciding", "Place", "places_of", "prepare", "suspects_of"]

#: The state that needs most, first.
_URGENCY: tuple[State, ...] = ("open", "asked", "kept", "decided")
#: Row label and canonical column.
Place = tuple[str, str]


class Deciding:
    """The findings of a season and what was decided about them.

    A decision is written to the log before anything else happens. The audit is behind until `catch_up` has
    asked again what depends on the cells that were changed; `overtake` takes what was audited elsewhere.

    Parameters
    ----------
    checked : Checked
        The season as typed, audited.
    log : DecisionLog
        Decisions made before, by whomever; new ones are appended.
    who : str
        Initials of the person.
    also : sequence of Finding
        Findings beside those of the audit, such as the differences between two typings. They stand until
        their cells are decided.
    """

    def __init__(
        self, checked: Checked, log: DecisionLog, who: str = "", also: Sequence[Finding] = ()
    ) -> None:
        self.as_typed = checked.season
        self.checked = checked
        self.declared = checked.declared
        self.log = log
        self.who = who
        self.also = tuple(also)
        self._audited: dict[Place, str] = {}
        self._look_up()

    # -- what stands ---------------------------------------------------------------------------------------

    def _look_up(self) -> None:
        """Read from the log what stands now."""
        self.board = Board(self.as_typed, self.log.decisions)
        self._forget()

    def _forget(self) -> None:
        self._items: tuple[Item, ...] | None = None
        self._notes: tuple[Item, ...] | None = None

    def news(self) -> bool:
        """Take in what somebody else has written to the same log meanwhile."""
        if not self.log.news():
            return False
        self._look_up()
        return True

    @property
    def edits(self) -> Mapping[Place, str]:
        """Texts that take the place of what was typed, as decided so far."""
        return self.board.edits

    @property
    def behind(self) -> bool:
        """Whether the audit has not yet seen all that was decided."""
        return dict(self.edits) != self._audited

    def text(self, place: Place) -> str:
        """Text of a cell as it stands now: amended, or else as typed."""
        return self.board.text(place)

    def state(self, finding: Finding) -> State:
        """Whether a finding is still to be decided."""
        places = places_of(finding)
        if any(self.text(suspect_place) != observed for suspect_place, observed in places.items()):
            return "decided"
        if self.board.disputed.keys() & places.keys():
            return "open"
        verbs = [self.board.verb(one) for one in places]
        if all(verb == "keep" for verb in verbs):
            return "kept"
        return "asked" if "ask" in verbs else "open"

    def item_state(self, item: Item) -> State:
        """State of the finding of an item that needs most: open before asked before the others."""
        states = [self.state(finding) for finding in item.findings if finding.severity != "note"]
        return min(states, key=_URGENCY.index, default="decided")

    @property
    def items(self) -> tuple[Item, ...]:
        """All that is or was to be decided, the greatest harm first."""
        if self._items is None:
            self._items = worklist(self._findings(), self.declared)
        return self._items

    @property
    def notes(self) -> tuple[Item, ...]:
        """What is worth knowing, and needs no decision."""
        if self._notes is None:
            self._notes = notes(self.checked.report.findings, self.declared)
        return self._notes

    @property
    def made(self) -> tuple[Item, ...]:
        """Decisions that stand and are no questions, the last one first, to be looked at again."""
        return tuple(
            Item(decision.identity, (looked_back(self.as_typed, decision, places),), 0.0)
            for decision in reversed(self.board.live)
            if decision.verb != "ask" and (places := self.board.places(decision))
        )

    def _findings(self) -> tuple[Finding, ...]:
        beside = [
            finding
            for finding in self.also
            if all(self.text(place) == observed for place, observed in places_of(finding).items())
        ]
        beside += [conflict(self.as_typed, place, choices) for place, choices in self.board.disputed.items()]
        found = self.checked.report.findings
        return join_groups((*found, *beside)) if beside else found

    # -- acts ----------------------------------------------------------------------------------------------

    def accept(self, findings: Sequence[Finding], values: Mapping[Place, str]) -> Outcome:
        """Put suggested values in the place of what was typed."""
        if not values:
            return refused("Choose a value first.")
        if gone := self._without_column(values):
            return refused(gone)
        same = [place for place, text in values.items() if self.text(place) == text]
        if same:
            return refused(f"{self.name(same[0])} holds {values[same[0]]} already.")
        said = "; ".join(f"{self.name(place)}: {text}" for place, text in list(values.items())[:NAMED])
        more = len(values) - NAMED
        tail = f" and {more:,} more cells" if more > 0 else ""
        return self._take("accept", findings, dict(values), "", f"Accepted {said}{tail}.")

    def object_to(self, place: Place, text: str) -> tuple[Objection, ...]:
        """Say what is wrong with a text before it is taken."""
        return objections(self.checked.season, self.declared, *place, text)

    def amend(
        self, findings: Sequence[Finding], place: Place, text: str, reason: str = "", *, sure: bool = False
    ) -> Outcome:
        """Put a value that the person typed in the place of what stands in a cell.

        Parameters
        ----------
        sure : bool
            Whether the person has read the objections: what is unlikely is then taken, what cannot be is not.
        """
        text = text.strip()
        if gone := self._without_column([place]):
            return refused(gone)
        if self.text(place) == text:
            return refused(f"{self.name(place)} holds {text or 'nothing'} already: keep it instead.")
        told = self.object_to(place, text)
        grave = [one for one in told if one.severity == "error"]
        if grave:
            return refused(f"Not taken. {grave[0].message}", told)
        doubts = [one for one in told if one.severity == "suspect"]
        if doubts and not sure:
            return refused(f"Not yet taken. {doubts[0].message}", told)
        said = f"Amended {self.name(place)}: {text or 'emptied'}."
        return self._take("amend", findings, {place: text}, reason, said, told)

    def keep(self, findings: Sequence[Finding], reason: str, places: Collection[Place] = ()) -> Outcome:
        """Say that cells are right as they stand.

        Parameters
        ----------
        places : collection of (label, field), optional
            Only these of the suspect cells.
        """
        if not reason.strip():
            return refused("Say why it is right: what was looked up, or by whom it was seen.")
        cells = dict.fromkeys(places or suspects_of(findings))
        return self._take("keep", findings, cells, reason, f"Kept as it stands: {reason.strip()}.")

    def ask(self, findings: Sequence[Finding], question: str = "") -> Outcome:
        """Put a question on the query sheet."""
        cells = dict.fromkeys(suspects_of(findings))
        return self._take("ask", findings, cells, question, "Put on the query sheet.")

    def undo(self, identity: str = "") -> Outcome:
        """Take back a decision, by default the last one of this person that stands."""
        if not self.who.strip():
            return refused(_NOBODY)
        found = [
            one
            for one in self.board.live
            if one.identity == identity or (not identity and one.who == self.who)
        ]
        if not found:
            return refused("You have no decision here that could be taken back.")
        last = found[-1]
        return self._write(undo_of(last, self.who.strip()), (), f"Taken back: {said_of(last)}.")

    def _take(
        self,
        verb: Verb,
        findings: Sequence[Finding],
        cells: Mapping[Place, str | None],
        reason: str,
        said: str,
        told: tuple[Objection, ...] = (),
    ) -> Outcome:
        if not self.who.strip():
            return refused(_NOBODY)
        places = list(cells)
        decision = decide(
            self.who.strip(),
            verb,
            [decided_cell(self.as_typed, *place, self._instead(place, cells[place])) for place in places],
            reason=reason.strip(),
            findings=[finding.identity for finding in findings],
            rules=dict.fromkeys(finding.rule for finding in findings),
            asked=" ".join(dict.fromkeys(finding.message for finding in findings)),
            replaces=[one.identity for one in self.board.on(places)],
        )
        return self._write(decision, places, said, told)

    def _write(
        self, decision: Decision, places: Sequence[Place], said: str, told: tuple[Objection, ...] = ()
    ) -> Outcome:
        """Put a decision into the log; only then does it stand."""
        known = len(self.log.decisions)
        try:
            self.log.append(decision)
        except Refusal as refusal:
            return refused(f"Not taken. {refusal.what} {refusal.cure}")
        if len(self.log.decisions) > known + 1:
            # somebody else has written to the same log meanwhile
            self._look_up()
            return Outcome(f"{said} Decisions of somebody else were taken in, too.", told)
        self.board.add(decision, places)
        return Outcome(said, told)

    def _without_column(self, places: Iterable[Place]) -> str:
        """Say where a text could not be put, since the sheet has no such column."""
        for label, field in places:
            if field not in self.fields(label):
                return f"Sheet '{split_label(label)[0]}' has no column '{field}': add it there first."
        return ""

    def _instead(self, place: Place, text: str | None) -> str | None:
        """Text that a decision puts into a cell: a kept cell that was amended before keeps what it holds."""
        return text if text is not None else self.edits.get(place)

    def fields(self, label: str) -> list[str]:
        """Columns of the sheet that a row stands in, as they were read."""
        sheet = split_label(label)[0]
        table = self.as_typed.tables[self.as_typed.table_of(label)]
        return [field for page, field in table.columns if page == sheet]

    def name(self, place: Place) -> str:
        """Name a cell as the sheet does: ``Ringing 2026 F17``."""
        cell = self.as_typed.cell(*place)
        return f"{cell.sheet} {cell.address}"

    # -- the audit follows ---------------------------------------------------------------------------------

    def catch_up(self, progress: Callable[[str, int, int], None] | None = None) -> None:
        """Audit again what depends on the cells decided since."""
        self.overtake(*self.audited_again(progress))

    def audited_again(
        self, progress: Callable[[str, int, int], None] | None = None
    ) -> tuple[Checked, Mapping[Place, str]]:
        """Audit with all that is decided now, and lay out its sheets, without taking it in.

        Safe in another thread than that of the desk.
        """
        wanted = dict(self.edits)
        changed = [
            (*place, wanted[place] if place in wanted else self.board.typed(place))
            for place in {**self._audited, **wanted}
            if self._audited.get(place) != wanted.get(place)
        ]
        checked = recheck_all(self.checked, changed, progress) if changed else self.checked
        prepare(checked)
        return checked, wanted

    def overtake(self, checked: Checked, edits: Mapping[Place, str]) -> None:
        """Take in what was audited with some edits."""
        self.checked, self._audited = checked, dict(edits)
        self._forget()


_NOBODY = "Type your initials first: every decision bears them."


def prepare(checked: Checked) -> None:
    """Lay out what evidence and pictures are taken from, so that no finding has to wait for it."""
    shelves_of(checked.season, checked.declared).prepare()
    lay_out(checked)


def places_of(finding: Finding) -> dict[Place, str]:
    """Suspect cells of a finding with the texts that it is about."""
    return {(s.cell.label, s.cell.field): s.cell.observed for s in finding.suspects}


def suspects_of(findings: Sequence[Finding]) -> list[Place]:
    """Suspect cells of several findings, each once, the gravest finding first."""
    ranked = sorted(findings, key=lambda one: SEVERITIES.index(one.severity))
    return list(dict.fromkeys(place for finding in ranked for place in places_of(finding)))
