"""The desk: findings looked at and decided, one after the other, in a notebook; view only."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from audit.review.deciding import places_of, prepare
from audit.review.desk_page import desk_page, desk_text, excerpts_html, record_html
from audit.review.desk_panes import DeskPanes
from audit.review.desk_words import (
    HEADS,
    MADE,
    NOTES,
    SHOWN,
    counted_states,
    grid_of,
    line_of,
    name_of,
    needs_reading,
    objections_html,
    options_of,
    sentence,
    told_html,
)
from audit.review.excerpts import Line
from audit.review.exhibit import exhibit
from audit.review.following import Following
from audit.review.outcome import Outcome, refused
from audit.widget_messages import hear_in_order

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import ipywidgets as widgets

    from audit.checked import Checked
    from audit.findings import Finding
    from audit.review.deciding import Deciding, Place
    from audit.review.desk_words import Option
    from audit.review.excerpts import Excerpt
    from audit.review.exhibit import Exhibit
    from audit.review.grid import Pressed
    from audit.review.worklist import Item

__all__ = ["Desk"]


class Desk(DeskPanes):
    """The worklist above one finding with its evidence, and the ways to decide it.

    Parameters
    ----------
    deciding : Deciding
        What stands and what is left.
    evidence : callable, optional
        Gives a further excerpt for a finding, such as the row of a second typing.
    """

    def __init__(
        self, deciding: Deciding, evidence: Callable[[Finding], Excerpt | None] | None = None
    ) -> None:
        self.deciding = deciding
        self._evidence = evidence
        self._items: dict[str, Item] = {}
        self._item: Item | None = None
        self._findings: tuple[Finding, ...] = ()
        self._exhibits: tuple[Exhibit, ...] = ()
        self._options: tuple[Option, ...] = ()
        self._places: list[Place] = []
        self._settling = self._looking = False
        self.following = Following(deciding, self._show_progress, self._audited, self._failed)
        super().__init__(deciding.who)
        self._bind()
        hear_in_order(self)
        self._list_again()
        self.following.soon(self._first_look)

    def _first_look(self) -> None:
        """Lay out the first finding; the list is seen before its evidence is looked up."""
        self._looking = True
        self._lay_out()
        self._audit_again()
        self.following.beside(partial(_prepare, self.deciding.checked), self._hang)

    # -- what a person does --------------------------------------------------------------------------------

    def _bind(self) -> None:
        self.who.observe(self._named, names="value")
        self.shown.observe(lambda _: self._list_again(), names="value")
        self.about.observe(lambda _: self._lay_out(), names="value")
        self.list.observe(lambda change: self._choose(change["new"]), names="chosen")
        self.rows.observe(lambda change: self.picture.light(change["new"]), names="chosen")
        self.rows.observe(lambda change: self._point_at(change["new"]), names="chosen_key")
        self.text.observe(lambda _: self._object(), names="value")
        self.cell.observe(lambda _: self._object(), names="value")
        for button, act in self._acts().values():
            button.on_click(lambda _, act=act: act())
        self.list.on_key(self._key)
        self.rows.on_key(lambda pressed: self._key(replace(pressed, looked_at=True)))

    def _acts(self) -> dict[str, tuple[widgets.Button, Callable[[], None]]]:
        return {
            "a": (self.accept, self._accept),
            "k": (self.keep, self._keep),
            "q": (self.ask, self._ask),
            "n": (self.next, self._go_next),
            "u": (self.undo, self._undo),
            "m": (self.amend, self._amend),
        }

    # -- the list ------------------------------------------------------------------------------------------

    def _list_again(self) -> None:
        """Fill the worklist, and stay with what was looked at where it is still there."""
        if self.shown.value == NOTES:
            items = self.deciding.notes
        elif self.shown.value == MADE:
            items = self.deciding.made
        else:
            wanted = SHOWN[self.shown.value]
            items = tuple(item for item in self.deciding.items if self.deciding.item_state(item) in wanted)
        self._items = {item.group: item for item in items}
        stays = _overlapping(self._item, items) or next(iter(items), None)
        chosen = "" if stays is None else stays.group
        lines = [Line(item.group, f"{number:,}", line_of(item)) for number, item in enumerate(items, 1)]
        self.list.show(HEADS, lines, row_marks=self._states(), chosen=chosen)
        self.counted.value = counted_states(self.deciding)
        self._choose(chosen)

    def _states(self) -> dict[str, str]:
        if self.shown.value == MADE:
            return dict.fromkeys(self._items, "decided")
        return {group: self.deciding.item_state(item) for group, item in self._items.items()}

    def _states_again(self) -> None:
        """Show what was decided in the lines that are there: none of them jumps away under the hand."""
        before = self.list.row_marks
        changed = {group: state for group, state in self._states().items() if before.get(group) != state}
        self.list.change_all({group: {"row_mark": state} for group, state in changed.items()})
        self.counted.value = counted_states(self.deciding)

    def _choose(self, group: str) -> None:
        item = self._items.get(group)
        if self.list.chosen != group:
            self.list.chosen = group
        if item is not None and self._item is not None and _is_same(item, self._item):
            self._item = item
            return
        self._item = item
        findings = () if item is None else item.findings
        whole = [(f"all {len(findings)} findings of this slip", findings)] if len(findings) > 1 else []
        self._settling = True
        self.about.options = [*whole, *((_short(one), (one,)) for one in findings)]
        self.about.index = 0 if findings else None
        self._settling = False
        self._lay_out()

    def _go_next(self) -> None:
        """Go to the next item below that is open, or else the first."""
        groups = list(self._items)
        here = groups.index(self._item.group) + 1 if self._item and self._item.group in self._items else 0
        for group in (*groups[here:], *groups[:here]):
            if self.deciding.item_state(self._items[group]) == "open":
                self._choose(group)
                return
        self.told.value = told_html(Outcome("Nothing in this list is left to decide."))

    # -- what lies on the desk -----------------------------------------------------------------------------

    def _lay_out(self) -> None:
        """Lay out the finding with its evidence; nothing is chosen, nothing is filled in.

        What can be done is cleared first and the sentence changes last: nobody acts on what is not yet seen.
        """
        if self._settling or not self._looking:
            return
        self._findings = self.about.value or ()
        self._clear_acts()
        self.picture.wait(self._findings)
        checked = self.deciding.checked
        self._exhibits = tuple(
            exhibit(checked, one, as_typed=self.deciding.as_typed) for one in self._findings
        )
        self._show_rows()
        self._offer()
        self.about.layout.display = "" if len(self.about.options) > 1 else "none"
        self.what.value = sentence(self._findings)
        self.following.soon(self._draw)

    def _draw(self) -> None:
        self.picture.draw(self.deciding.checked, self._findings)

    def _hang(self) -> None:
        """Put up the chart: the drawing library is loaded beside the first look at the rows."""
        self.picture.hang(self._picked)
        self._draw()

    def _clear_acts(self) -> None:
        self._settling = True
        self._options = ()
        self.meant.options = ()
        self.cell.options = ()
        self.text.value = self.reason.value = ""
        self._settling = False
        self._object()

    def _offer(self) -> None:
        """Offer what may have been meant, and the cells that may be typed anew."""
        self._options = options_of(self._exhibits)
        suspects = list(dict.fromkeys(place for one in self._findings for place in places_of(one)))
        rows = dict.fromkeys(label for label, _ in suspects)
        others = [(label, field) for label in rows for field in self.deciding.fields(label)]
        self._places = list(dict.fromkeys([*suspects, *others]))
        self._settling = True
        self.meant.options = [option.said for option in self._options]
        self.meant.index = None
        self.cell.options = [(self.deciding.name(place), place) for place in self._places]
        self.cell.value = suspects[0] if len(suspects) == 1 else None
        self._settling = False

    def _show_rows(self) -> None:
        excerpts = [one for exhibit in self._exhibits for one in exhibit.excerpts]
        own = [one for one in excerpts if one.kind == "own"]
        if own:
            heads, lines, marks, caption, first = grid_of(own[0], self._findings)
            self.rows.show(heads, lines, marks=marks, caption=caption, chosen=first[0], chosen_key=first[1])
        else:
            self.rows.show([], [], caption="Rows as typed")
        further = [self._evidence(one) for one in self._findings] if self._evidence is not None else []
        others = [*own[1:], *further, *(one for one in excerpts if one.kind != "own")]
        self.others.value = excerpts_html([one for one in others if one is not None])

    def _picked(self, label: str) -> None:
        """Go to what is said of the record that was picked in the picture, or else show it."""
        for group, item in self._items.items():
            if any(label == where for one in item.findings for where, _ in places_of(one)):
                self._choose(group)
                return
        if label in self.rows.labels:
            self.rows.chosen = label
        self.told.value = record_html(self.deciding.checked.season, label)

    def _point_at(self, field: str) -> None:
        """Let the cell that is chosen among the rows be the one to amend."""
        place = (self.rows.chosen, field)
        if place in self._places:
            self.cell.value = place

    # -- acts ----------------------------------------------------------------------------------------------

    def _accept(self) -> None:
        option = None if self.meant.index is None else self._options[self.meant.index]
        self._done(self.deciding.accept(self._findings, {} if option is None else option.values))

    def _keep(self) -> None:
        outcome = self.deciding.keep(self._findings, self.reason.value)
        if not outcome.taken:
            self.reason.focus()
        self._done(outcome)

    def _ask(self) -> None:
        self._done(self.deciding.ask(self._findings, self.reason.value))

    def _amend(self) -> None:
        if self.cell.value is None or not self.text.value.strip():
            (self.cell if self.cell.value is None else self.text).focus()
            self._done(refused("Choose the cell and type what should stand in it."))
            return
        place, text, why = self.cell.value, self.text.value, self.reason.value
        self._done(self.deciding.amend(self._findings, place, text, why, sure=self.sure.value))

    def _undo(self) -> None:
        looked_back = self.shown.value == MADE and self._item is not None
        outcome = self.deciding.undo(self._item.group if looked_back and self._item else "")
        self.told.value = told_html(outcome)
        if outcome.taken:
            self._list_again() if looked_back else self._states_again()
            self._audit_again()

    def _done(self, outcome: Outcome) -> None:
        """Say what became of an act; once it is in the log, go on to the next."""
        self.told.value = told_html(outcome)
        if not outcome.taken:
            return
        self._states_again()
        self._go_next()
        self.told.value = told_html(outcome)
        self._audit_again()

    def _object(self) -> None:
        """Say at once what is wrong with what is being typed."""
        if self._settling:
            return
        place, text = self.cell.value, self.text.value.strip()
        objected = self.deciding.object_to(place, text) if place is not None and text else ()
        self._settling = True
        self.sure.value = False
        self._settling = False
        self.sure.layout.display = "" if needs_reading(objected) else "none"
        self.objections.value = objections_html(objected)

    def _named(self, change: dict[str, Any]) -> None:
        self.deciding.who = change["new"].strip()

    def _key(self, pressed: Pressed) -> None:
        key = pressed.key
        if not pressed.looked_at:
            self.told.value = told_html(refused("Not done: the line had only just been reached."))
            return
        if key.isdigit():
            if int(key) <= len(self._options):
                self.meant.index = int(key) - 1
            return
        if key == "m":
            self.text.focus()
            return
        self._acts()[key][1]()

    # -- the audit follows ---------------------------------------------------------------------------------

    def _audit_again(self) -> None:
        self.following.go_on()
        self._show_progress("", 0, 1)

    def _show_progress(self, asked: str, done: int, of: int) -> None:
        self.progress.max, self.progress.value = of, done
        self.progress.tooltip = asked
        self.progress.layout.visibility = "hidden" if self.following.is_idle else "visible"

    def _audited(self) -> None:
        self._show_progress("", 0, 1)
        self._list_again()

    def _failed(self, fault: str) -> None:
        self._show_progress("", 0, 1)
        said = f"The audit could not be done again ({fault}). Your decisions are in the log."
        self.told.value = told_html(refused(said))

    def wait(self, seconds: float) -> bool:
        """Wait until the audit has caught up, for work without a person; say whether it has."""
        return self.following.wait(seconds)

    def _ipython_display_(self) -> None:
        """Show a page of what is left and what was decided, and the desk, before which the page gives way.

        A saved notebook that is opened without a kernel shows the page.
        """
        from IPython.display import display

        page = f'<div class="nestproof-still">{desk_page(self.deciding)}</div>'
        text = {"text/plain": desk_text(self.deciding)}
        for shown in ({"text/html": page, **text}, {**self._repr_mimebundle_(), **text}):
            display(shown, raw=True)  # type: ignore[no-untyped-call]  # the library carries no types


def _prepare(checked: Checked) -> None:
    from audit.charts.picked import load_library

    load_library()
    prepare(checked)


def _short(finding: Finding) -> str:
    cell = finding.suspects[0].cell
    return f"{name_of(cell)}: {finding.message}"


def _is_same(one: Item, other: Item) -> bool:
    """Whether two items ask the same of the same cells, though their chances may have moved a little."""
    return [(f.rule, places_of(f)) for f in one.findings] == [(f.rule, places_of(f)) for f in other.findings]


def _overlapping(before: Item | None, items: Sequence[Item]) -> Item | None:
    """Find the item about the same cells as the one looked at before: it may have another name now."""
    if before is None:
        return None
    places = {place for finding in before.findings for place in places_of(finding)}
    for item in items:
        if any(place in places for finding in item.findings for place in places_of(finding)):
            return item
    return None
