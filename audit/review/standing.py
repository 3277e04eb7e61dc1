"""Which of all decisions stand: not taken back, not replaced; and where two people differ.

What stands follows from what the decisions say of each other, never from a clock or from their order in a
log, so that two logs merged either way mean the same.

- An ``undo`` takes back one decision for as long as it is not taken back itself.
- A decision takes the place of those that it replaces, and of those that these replaced, in the cells that
  both are about; in all other cells they go on standing. When it is taken back, they stand again.
- Two that stand on one cell and did not know of each other agree when they come to the same text. Else they
  are in conflict, and none of their cells is changed until one that replaces both has been taken.
- A question beside an answer of somebody else: the answer stands and closes the question, and the pair is
  told of, since the one who answered did not know that it had been asked.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from graphlib import CycleError, TopologicalSorter
from typing import TYPE_CHECKING, TypeVar

from audit.review.decisions import text_of

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Mapping

    from audit.review.decisions import DecidedCell, Decision

__all__ = ["Answered", "Conflict", "Standing", "same_cell", "standing"]

#: Identity of a decision, and number of one of its cells.
_Node = tuple[str, int]
_N = TypeVar("_N", str, _Node)


@dataclass(frozen=True, slots=True)
class Conflict:
    """Decisions on one cell that came to different texts.

    Attributes
    ----------
    choices : tuple of (Decision, DecidedCell)
        Each decision with the cell as it knew it, by identity. Naming all in ``replaces`` settles it.
    label : str
        Row label in the season, where the row was looked for and found.
    """

    choices: tuple[tuple[Decision, DecidedCell], ...]
    label: str = ""

    @property
    def decisions(self) -> tuple[Decision, ...]:
        """The decisions alone."""
        return tuple(decision for decision, _ in self.choices)

    @property
    def cell(self) -> DecidedCell:
        """The cell, as the first of them knew it."""
        return self.choices[0][1]


@dataclass(frozen=True, slots=True)
class Answered:
    """A question that was closed by an answer whose author did not know of it; `label` as in `Conflict`."""

    question: Decision
    answer: Decision
    cell: DecidedCell
    label: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands, by identity.

    Attributes
    ----------
    live : tuple of Decision
        Not taken back, each with those of its cells that nothing replaced; those in conflict are among them.
    conflicts : tuple of Conflict
        Cells on which those that stand differ.
    answered : tuple of Answered
        Questions that were closed unawares.
    undone, replaced : frozenset of str
        Identities of decisions that were taken back, and of those replaced in all their cells.
    """

    live: tuple[Decision, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    answered: tuple[Answered, ...] = ()
    undone: frozenset[str] = frozenset()
    replaced: frozenset[str] = frozenset()


def same_cell(cell: DecidedCell) -> Hashable:
    """Return what two decisions on one cell have in common, as long as nobody touched its row."""
    return cell.sheet, cell.field, frozenset(cell.as_typed.items()), cell.twin


def standing(
    decisions: Iterable[Decision], cell_of: Callable[[DecidedCell], Hashable] = same_cell
) -> Standing:
    """Work out what stands.

    Parameters
    ----------
    decisions : iterable of Decision
        In any order. One that names another which is not among them has no effect on it until it is.
    cell_of : callable
        Names the cell that a decision is about. By default by what its row held when it was decided: where a
        row was mended in the sheet between two decisions, only the season can tell that they are about one
        cell, as `audit.review.replay` does, and until then both stand.
    """
    known = {decision.identity: decision for decision in decisions}
    known = {identity: known[identity] for identity in sorted(known)}
    keys = {
        (identity, at): cell_of(cell)
        for identity, decision in known.items()
        for at, cell in enumerate(decision.cells)
    }
    undone = _undone(known)
    gone = _replaced(known, keys, undone)
    live = []
    replaced = set()
    choices: dict[Hashable, list[tuple[Decision, DecidedCell]]] = {}
    for identity, decision in known.items():
        if decision.verb == "undo" or identity in undone:
            continue
        left = [at for at in range(len(decision.cells)) if (identity, at) not in gone]
        if decision.cells and not left:
            replaced.add(identity)
            continue
        cells = tuple(decision.cells[at] for at in left)
        now = decision if len(cells) == len(decision.cells) else replace(decision, cells=cells)
        live.append(now)
        for at in left:
            choices.setdefault(keys[identity, at], []).append((now, decision.cells[at]))
    conflicts, answered = _differing(choices)
    return Standing(tuple(live), conflicts, answered, frozenset(undone), frozenset(replaced))


def _differing(
    choices: Mapping[Hashable, list[tuple[Decision, DecidedCell]]],
) -> tuple[tuple[Conflict, ...], tuple[Answered, ...]]:
    conflicts: list[Conflict] = []
    answered: list[Answered] = []
    for here in choices.values():
        said = [one for one in here if one[0].verb != "ask"]
        if len({text_of(*one) for one in said}) > 1:
            conflicts.append(Conflict(tuple(said)))
        elif said:
            answered += [Answered(one, said[0][0], cell) for one, cell in here if one.verb == "ask"]
    return tuple(conflicts), tuple(answered)


def _undone(known: Mapping[str, Decision]) -> set[str]:
    """Decisions that were taken back, undos included."""
    undos: dict[str, list[str]] = {}
    for identity, decision in known.items():
        if decision.verb == "undo" and decision.undoes in known:
            undos.setdefault(decision.undoes, []).append(identity)
    undone: set[str] = set()
    for identity in _in_order(undos):
        if any(undo not in undone for undo in undos.get(identity, ())):
            undone.add(identity)
    return undone


def _replaced(known: Mapping[str, Decision], keys: Mapping[_Node, Hashable], undone: set[str]) -> set[_Node]:
    """Cells of decisions in whose place another one stands."""
    later: dict[_Node, list[_Node]] = {}
    for identity, decision in known.items():
        mine = {keys[identity, at]: at for at in range(len(decision.cells))}
        for former in decision.replaces:
            if former not in known or former == identity:
                continue
            for at in range(len(known[former].cells)):
                if (here := mine.get(keys[former, at])) is not None:
                    later.setdefault((former, at), []).append((identity, here))
    gone: set[_Node] = set()
    for node in _in_order(later):
        if any(other[0] not in undone or other in gone for other in later.get(node, ())):
            gone.add(node)
    return gone


def _in_order(later: dict[_N, list[_N]]) -> list[_N]:
    """List those that are spoken of after those that speak of them.

    Where words go round in a ring they are dropped from `later`: only a log written by hand holds a ring.
    """
    while True:
        try:
            return list(TopologicalSorter(later).static_order())
        except CycleError as ring:
            members = set(ring.args[1])
            for one in members & later.keys():
                later[one] = [other for other in later[one] if other not in members]
