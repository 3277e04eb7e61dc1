"""The practice desk: a sheet in a notebook, marked cell by cell and handed in; view only."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from audit.practice.desk import PracticeDesk, button, row
from audit.practice.exercise.answers import ASK
from audit.practice.exercise.levels import levels_of
from audit.practice.exercise.result_page import result_piece
from audit.practice.exercise.sheet_page import sheet_piece, words_piece
from audit.practice.exercise.words import heading, title
from audit.refusal import Refusal
from audit.review.excerpts import Line
from audit.review.grid import Grid, Head
from audit.review.typed_rows import safe
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.practice.exercise.lesson import Lesson
    from audit.review.grid import Pressed

    Place = tuple[str, str]

__all__ = ["SheetDesk"]

_ROWS = 14
_ASK_KEY, _CLEAR_KEY, _HAND_IN_KEY = "q", "u", "h"
_HELP = (
    "Choose a cell by click or arrows. Type what was meant and press Enter or Mark; q asks the field "
    "notebook, u takes the mark away, h hands the sheet in."
)
#: What became of a cell -> how the grid marks it, and what stands behind its text.
_LOOK = {
    "mended": ("amended", "right"),
    "asked": ("amended", "rightly asked"),
    "asked_right": ("amended", "rightly asked"),
    "seen": ("suspect", "found, not mended"),
    "missed": ("error", "missed"),
    "near": ("note", "was right"),
    "blamed": ("note", "was right"),
    "unneeded": ("note", "asked without need"),
}


class SheetDesk(PracticeDesk):
    """A practice sheet to mark, and what came of it.

    Parameters
    ----------
    lesson : Lesson
        The state; the desk only shows it and hands over what is done.
    now : callable
        Gives the moment at which a sheet is handed in, ISO 8601.
    """

    def __init__(self, lesson: Lesson, now: Callable[[], str]) -> None:
        super().__init__(
            now,
            name="practice",
            levels=[
                ("by what was missed and is due", None),
                *((f"{one.number} {one.title}", one.slug) for one in levels_of(lesson.declared)),
            ],
            level=None,
            what="sheet",
        )
        self.lesson = lesson
        self._is_sure = self._filling = False
        self.sheet = Grid(
            place_head="line",
            height=_ROWS,
            bound_keys=[_ASK_KEY, _CLEAR_KEY, _HAND_IN_KEY],
            caption="The page",
        )
        self.at = widgets.HTML(layout=widgets.Layout(min_width="18em"))
        self.text = widgets.Text(
            description="Was meant",
            placeholder="what should stand there",
            continuous_update=False,
            layout=widgets.Layout(width="20em"),
        )
        self.mark = button("Mark", "This cell is wrong, and this was meant (Enter)")
        self.ask = button("Ask", "This must be looked up in the field notebook (q)")
        self.clear = button("Take mark away", "Leave this cell as it stands (u)")
        self.hand_in = button("Hand in", "Have the sheet marked (h)")
        self.lay(
            [
                self.sheet,
                row(self.at, self.text, self.mark, self.ask, self.clear),
                row(self.hand_in, self.level, self.next),
            ],
            _HELP,
        )
        self._bind()
        self._lay_out()

    def _bind(self) -> None:
        self.sheet.observe(lambda _: self._point_at(), names=["chosen", "chosen_key"])
        self.text.observe(lambda _: self._typed(), names="value")
        self.mark.on_click(lambda _: self._mark())
        self.ask.on_click(lambda _: self._put(ASK))
        self.clear.on_click(lambda _: self._clear())
        self.hand_in.on_click(lambda _: self._hand_in())
        self.next.on_click(lambda _: self._next())
        self.sheet.on_key(self._key)

    @property
    def _place(self) -> Place | None:
        label, field = self.sheet.chosen, self.sheet.chosen_key
        return (label, field) if label and field else None

    def _lay_out(self) -> None:
        exercise = self.lesson.exercise
        self.words.value = words_piece(exercise, self.lesson.aids)
        self._draw(exercise.labels[0], "")
        self.result.value = ""
        self._is_sure = False
        self._may_mark(may=True)
        self._point_at()

    def _may_mark(self, *, may: bool) -> None:
        for part in (self.text, self.mark, self.ask, self.clear, self.hand_in):
            part.disabled = not may

    def _point_at(self) -> None:
        place, exercise = self._place, self.lesson.exercise
        if place is None:
            self.at.value = "Choose a cell."
            self._fill("")
            return
        number, name = exercise.line(place[0]), heading(place[1])
        self.at.value = f"Line {number}, {safe(name)}: <b>{safe(exercise.typed(place)) or '(nothing)'}</b>"
        noted = self.lesson.pending.get(place, "")
        self._fill("" if noted == ASK else noted)

    def _fill(self, text: str) -> None:
        self._filling = True
        self.text.value = text
        self._filling = False

    def _typed(self) -> None:
        """Take a text with Enter, or when the field is left."""
        if not self._filling and self.text.value.strip():
            self._mark()

    def _mark(self) -> None:
        if not self.text.value.strip():
            self.say("Type what was meant, or press Ask where the page does not tell.")
            return
        self._put(self.text.value)

    def _put(self, text: str) -> None:
        place, exercise = self._place, self.lesson.exercise
        if place is None:
            self.say("Choose a cell first.")
            return
        try:
            self.lesson.put(place, text)
        except Refusal as refusal:
            self.say_refused(refusal)
            return
        self._is_sure = False
        self._draw()
        where = f"Line {exercise.line(place[0])}, {heading(place[1])}"
        noted = self.lesson.pending.get(place)
        said = {None: "no mark", ASK: "ask the field notebook"}.get(noted, f"{noted} was meant")
        self.say(f"{where}: {said}. {self._count()}")

    def _clear(self) -> None:
        place = self._place
        if place is not None:
            self._put(self.lesson.exercise.typed(place))
            self._point_at()

    def _count(self) -> str:
        number = len(self.lesson.pending)
        return f"{counted(number, 'cell')} marked." if number else "Nothing is marked."

    def _draw(self, chosen: str | None = None, chosen_key: str | None = None) -> None:
        """Show all lines as they are marked now: widths go with what stands in the columns."""
        exercise, noted = self.lesson.exercise, self.lesson.pending
        outcomes = _outcomes(self.lesson)
        marks = {place: _LOOK[outcome][0] for place, outcome in outcomes.items()}
        if self.lesson.score is None:
            marks = dict.fromkeys(noted, "witness")

        def text(place: Place) -> str:
            typed = _beside(exercise.typed(place), noted.get(place))
            return f"{typed} ({_LOOK[outcomes[place]][1]})" if place in outcomes else typed

        self.sheet.show(
            [Head(field, heading(field)) for field in exercise.fields],
            [
                Line(label, str(number), tuple(text((label, field)) for field in exercise.fields))
                for number, label in enumerate(exercise.labels, 1)
            ],
            marks=marks,
            chosen=chosen,
            chosen_key=chosen_key,
            caption="The page: what stands there, and what was meant",
        )

    def _hand_in(self) -> None:
        if not self.lesson.pending and not self._is_sure:
            self._is_sure = True
            self.say("Nothing is marked. Hand in once more if nothing is wrong on this page.")
            return
        try:
            score = self.lesson.hand_in(at=self.now())
        except Refusal as refusal:
            self.say_refused(refusal)
            return
        self._may_mark(may=False)
        self._draw()
        self.result.value = result_piece(score, self.lesson.titles, self.lesson.advice)
        self.say("Handed in.")

    def _next(self) -> None:
        try:
            self.lesson.next(level=self.level.value)
        except Refusal as refusal:
            self.say_refused(refusal)
            return
        self._lay_out()
        self.say("Another sheet lies before you.")
        self.sheet.focus()

    def _key(self, pressed: Pressed) -> None:
        acts = {_ASK_KEY: lambda: self._put(ASK), _CLEAR_KEY: self._clear, _HAND_IN_KEY: self._hand_in}
        if not self.hand_in.disabled:
            acts[pressed.key]()

    def page(self) -> tuple[str, str]:
        """Return the sheet as a page, and its name."""
        return sheet_piece(self.lesson.exercise, self.lesson.aids), title(self.lesson.exercise)


def _outcomes(lesson: Lesson) -> dict[Place, str]:
    """Tell what became of each cell of a sheet that is handed in."""
    if lesson.score is None:
        return {}
    slips = (cell for slip in lesson.score.slips for cell in slip.cells)
    return {cell.place: cell.outcome for cell in (*slips, *lesson.score.marks)}


def _beside(typed: str, noted: str | None) -> str:
    if noted is None:
        return typed
    return f"{typed} \N{RIGHTWARDS ARROW} {noted or '(nothing)'}"
