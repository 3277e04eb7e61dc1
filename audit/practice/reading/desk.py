"""The reading desk: one drawing at a time, shown for a chosen time, and what is typed of it; view only."""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from audit.practice.reading.reading_levels import reading_levels
from audit.practice.reading.reading_page import result_piece, round_piece
from audit.practice.reading.reading_words import CAUTION, HOW_TO, title
from audit.refusal import Refusal
from audit.review.page_look import piece
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.practice.reading.reading_lesson import ReadingLesson

__all__ = ["ReadingDesk"]

_SHORTEST, _LONGEST = 0.5, 60.0
_HELP = (
    "Press Show. The drawing stays for the chosen time; type what you read and press Enter, and the next one "
    "is shown at once. Type ? where a number could not be read. Leaving the field takes the text, too."
)


class ReadingDesk(widgets.VBox):  # type: ignore[misc]  # ipywidgets carries no types
    """A round of reading, and what came of it.

    Parameters
    ----------
    lesson : ReadingLesson
        The state; the desk only shows it and hands over what is typed.
    now : callable
        Gives the moment at which a round is handed in, ISO 8601.
    clock : callable
        Gives seconds from any start on, for how long an answer takes.
    """

    def __init__(
        self, lesson: ReadingLesson, now: Callable[[], str], clock: Callable[[], float] = monotonic
    ) -> None:
        self.lesson = lesson
        self._now, self._clock = now, clock
        self._answers: list[str] = []
        self._seconds: list[float] = []
        self._since = 0.0
        self._filling = False
        self.words = widgets.HTML()
        shown = float(lesson.declared.settings["practice.reading.seconds"].value)
        self.time = widgets.BoundedFloatText(
            value=shown,
            min=_SHORTEST,
            max=_LONGEST,
            step=0.5,
            description="Seconds",
            layout=widgets.Layout(width="12em"),
        )
        self.show = _button("Show", "Show the first drawing of the round")
        self.drawing = widgets.HTML(layout=widgets.Layout(min_height="11em"))
        self.text = widgets.Text(
            description="You read",
            placeholder="the whole number, or ?",
            continuous_update=False,
            layout=widgets.Layout(width="22em"),
        )
        self.level = widgets.Dropdown(
            options=[(f"{one.number} {one.title}", one.slug) for one in reading_levels(lesson.declared)],
            value=lesson.round.level.slug,
            description="Level",
            layout=widgets.Layout(width="20em"),
        )
        self.next = _button("Next round", "Go on to other numbers")
        self.told = widgets.HTML()
        self.result = widgets.HTML()
        super().__init__(
            [
                self.words,
                _row(self.time, self.show),
                self.drawing,
                self.text,
                self.told,
                _row(self.level, self.next),
                widgets.HTML(f"<small>{_HELP}</small>"),
                self.result,
            ]
        )
        for part, name in ((self, "reading"), (self.told, "told"), (self.result, "result")):
            part.add_class(f"nestproof-{name}")
        self.show.on_click(lambda _: self._begin())
        self.text.observe(lambda _: self._typed(), names="value")
        self.next.on_click(lambda _: self._next())
        self._lay_out()

    def _lay_out(self) -> None:
        steps = "".join(f"<li>{safe(step)}</li>" for step in HOW_TO)
        round_ = self.lesson.round
        self.words.value = piece(
            f'<h2>{safe(title(round_))}</h2><p class="lead">{safe(round_.level.says)}</p>'
            f"<details><summary>What to do</summary><ol>{steps}</ol></details>"
            f'<section class="caution"><p>{safe(CAUTION)}</p></section>'
        )
        self._answers, self._seconds = [], []
        self.drawing.value = self.result.value = ""
        self.show.disabled = False
        self._may_answer(may=False)
        self._say(f"{len(round_.shown)} numbers lie ready.")

    def _begin(self) -> None:
        self.show.disabled = True
        if len(self._answers) == len(self.lesson.round.shown):
            self._hand_in()
            return
        self._may_answer(may=True)
        self._show_one()
        self.text.focus()

    def _show_one(self) -> None:
        """Show the next drawing; the browser itself takes it away after its time."""
        place, round_ = len(self._answers), self.lesson.round
        one = round_.shown[place]
        name = f"nestproof-gone-{round_.seed}-{place}"
        self.drawing.value = (
            f"<style>@keyframes {name}{{to{{visibility:hidden}}}}</style>"
            f'<div class="nestproof-shown" style="animation:{name} 0s linear {self.time.value:g}s forwards">'
            f"{one.svg}</div>"
        )
        self._since = self._clock()
        self._say(f"Number {place + 1} of {len(round_.shown)}.")

    def _typed(self) -> None:
        """Take a text with Enter, or when the field is left."""
        if not self._filling and self.text.value.strip() and not self.text.disabled:
            self._answer(self.text.value)

    def _answer(self, text: str) -> None:
        self._answers.append(text)
        self._seconds.append(round(self._clock() - self._since, 2))
        self._filling = True
        self.text.value = ""
        self._filling = False
        if len(self._answers) < len(self.lesson.round.shown):
            self._show_one()
        else:
            self._hand_in()

    def _hand_in(self) -> None:
        self._may_answer(may=False)
        self.drawing.value = ""
        try:
            score = self.lesson.answer(self._answers, at=self._now(), seconds=self._seconds)
        except Refusal as refusal:
            self.show.disabled = False
            self._say(f"{refusal.what} {refusal.cure} Then press Show: what you typed is still here.")
            return
        self.result.value = result_piece(score, self.lesson.advice, self.lesson.beside_others)
        self._say("The round is marked.")

    def _next(self) -> None:
        is_left = bool(self._answers) and self.lesson.score is None
        try:
            self.lesson.next(level=self.level.value)
        except Refusal as refusal:
            self._say(f"{refusal.what} {refusal.cure}")
            return
        self._lay_out()
        if is_left:
            self._say("The round before was not finished, and is not kept.")

    def _may_answer(self, *, may: bool) -> None:
        self.text.disabled = not may

    def _say(self, text: str) -> None:
        self.told.value = f'<div role="status">{safe(text)}</div>'

    def _repr_mimebundle_(self, **about: object) -> dict[str, Any]:
        """Carry the round as a page, for a notebook that is opened without a kernel."""
        bundle = super()._repr_mimebundle_(**about)
        return {**bundle, "text/html": round_piece(self.lesson.round), "text/plain": title(self.lesson.round)}


def _button(name: str, tip: str) -> widgets.Button:
    return widgets.Button(description=name, tooltip=tip, layout=widgets.Layout(width="auto"))


def _row(*parts: widgets.Widget) -> widgets.HBox:
    return widgets.HBox(parts, layout=widgets.Layout(flex_flow="row wrap", align_items="center"))
