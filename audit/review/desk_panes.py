"""What is seen of the desk: the worklist, one finding with its evidence, the ways to decide it."""

from __future__ import annotations

import ipywidgets as widgets

from audit.review.desk_picture import PicturePane
from audit.review.desk_words import MADE, NOTES, SHOWN
from audit.review.grid import Grid

__all__ = ["DeskPanes"]

_REASONS = ("as in the field notebook", "seen in the hand", "measured twice", "known to the ringer")
_LIST_ROWS, _SHEET_ROWS = 7, 8
_KEYS = [*"akqnum123456789"]
_HELP = (
    "In the lists: arrows move, 1 to 9 choose a value, a accepts it, m goes to another value, k keeps, "
    "q asks, n goes to the next, u takes back. Tab leaves a list."
)


class DeskPanes(widgets.VBox):  # type: ignore[misc]  # ipywidgets carries no types
    """The widgets of the desk in their places; nothing in them is filled and nothing happens yet.

    Parameters
    ----------
    who : str
        Initials of who decides, as far as they are known.
    """

    def __init__(self, who: str) -> None:
        self._make_list(who)
        self._make_evidence()
        self._make_acts()
        super().__init__([*self._list_parts(), *self._evidence_parts(), *self._act_parts()])
        self.add_class("nestproof-desk")
        self.what.add_class("nestproof-sentence")
        self.told.add_class("nestproof-told")

    def _make_list(self, who: str) -> None:
        self.who = widgets.Text(
            value=who,
            description="Initials",
            placeholder="who decides",
            layout=widgets.Layout(width="14em"),
        )
        self.shown = widgets.Dropdown(
            options=[*SHOWN, MADE, NOTES], description="Show", layout=widgets.Layout(width="16em")
        )
        self.counted = widgets.HTML()
        self.undo = _button("Undo", "Take back your last decision (u)")
        self.progress = widgets.IntProgress(
            description="Auditing", layout=widgets.Layout(width="100%", visibility="hidden", height="1.4em")
        )
        self.list = Grid(
            caption="What to look at, the greatest expected harm first",
            place_head="no.",
            state_head="state",
            height=_LIST_ROWS,
            whole_lines=True,
            otherwise="Nothing is left here.",
            bound_keys=_KEYS,
        )

    def _make_evidence(self) -> None:
        self.what = widgets.HTML(layout=widgets.Layout(min_height="3.4em"))
        self.about = widgets.Dropdown(description="About", layout=widgets.Layout(width="100%"))
        self.rows = Grid(
            caption="Rows as typed", height=_SHEET_ROWS, bound_keys=_KEYS, otherwise="No rows to show."
        )
        self.others = widgets.HTML()
        self.picture = PicturePane(_pane())

    def _make_acts(self) -> None:
        self.meant = widgets.RadioButtons(description="Meant", layout=widgets.Layout(width="100%"))
        self.accept = _button("Accept", "Put the chosen value in its place (a)")
        self.keep = _button("Keep as it stands", "It is right; say why beside (k)")
        self.ask = _button("Ask", "Put it on the query sheet (q)")
        self.next = _button("Next", "Go to the next one to decide (n)")
        self.reason = widgets.Combobox(
            options=_REASONS,
            description="Why",
            placeholder="why it is right, or what to look up",
            ensure_option=False,
            layout=widgets.Layout(width="26em"),
        )
        self.cell = widgets.Dropdown(description="Cell", layout=widgets.Layout(width="22em"))
        self.text = widgets.Text(
            description="Should be", placeholder="another value", layout=widgets.Layout(width="18em")
        )
        self.amend = _button("Amend", "Put the typed value in the place of what stands there (m)")
        self.sure = widgets.Checkbox(description="I have read this, take it", value=False, indent=False)
        self.objections = widgets.HTML()
        self.told = widgets.HTML()

    def _list_parts(self) -> list[widgets.Widget]:
        return [_row(self.who, self.shown, self.undo, self.counted), self.progress, self.list]

    def _evidence_parts(self) -> list[widgets.Widget]:
        """Evidence in a pane of one height, so that the buttons below never move away from under the hand."""
        sheet = widgets.VBox([self.rows, self.others], layout=_pane())
        side_by_side = widgets.HBox(
            [sheet, self.picture], layout=widgets.Layout(flex_flow="row wrap", width="100%")
        )
        return [self.about, self.what, side_by_side]

    def _act_parts(self) -> list[widgets.Widget]:
        return [
            self.meant,
            _row(self.accept, self.keep, self.ask, self.next, self.reason),
            _row(self.cell, self.text, self.amend, self.sure),
            self.objections,
            self.told,
            widgets.HTML(f"<small>{_HELP}</small>"),
        ]


def _button(name: str, tip: str) -> widgets.Button:
    return widgets.Button(description=name, tooltip=tip, layout=widgets.Layout(width="auto"))


def _row(*parts: widgets.Widget) -> widgets.HBox:
    return widgets.HBox(parts, layout=widgets.Layout(flex_flow="row wrap", align_items="center"))


def _pane() -> widgets.Layout:
    return widgets.Layout(
        flex="1 1 34em", min_width="0", height="27em", overflow="auto", flex_flow="column nowrap"
    )
