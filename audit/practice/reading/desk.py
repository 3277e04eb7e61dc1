"""The reading desk: one drawing at a time, shown for a chosen time, and what is typed of it; view only."""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from audit.practice.desk import button, row
from audit.practice.drill.desk import DrillDesk
from audit.practice.reading.reading_words import CAUTION, HOW_TO, title
from audit.review.page_look import piece
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.practice.drill.lesson import DrillLesson

__all__ = ["ReadingDesk"]

_SHORTEST, _LONGEST = 0.5, 60.0
_HELP = (
    "Press Show. The drawing stays for the chosen time; type what you read and press Enter, and the next one "
    "is shown at once. Type ? where a number could not be read. Leaving the field takes the text, too."
)


class ReadingDesk(DrillDesk):
    """A round of reading, and what came of it.

    Parameters
    ----------
    lesson, now
        As for `DrillDesk`.
    clock : callable
        Gives seconds from any start on, for how long an answer takes.
    """

    def __init__(
        self,
        lesson: DrillLesson[Any, Any, Any],
        now: Callable[[], str],
        clock: Callable[[], float] = monotonic,
    ) -> None:
        super().__init__(lesson, now)
        self._clock = clock
        self._answers: list[str] = []
        self._seconds: list[float] = []
        self._since = 0.0
        self._filling = False
        shown = float(lesson.declared.settings["practice.reading.seconds"].value)
        self.time = widgets.BoundedFloatText(
            value=shown,
            min=_SHORTEST,
            max=_LONGEST,
            step=0.5,
            description="Seconds",
            layout=widgets.Layout(width="12em"),
        )
        self.show = button("Show", "Show the first drawing of the round")
        self.drawing = widgets.HTML(layout=widgets.Layout(min_height="11em"))
        self.text = widgets.Text(
            description="You read",
            placeholder="the whole number, or ?",
            continuous_update=False,
            layout=widgets.Layout(width="22em"),
        )
        self.lay([row(self.time, self.show), self.drawing, self.text, row(self.level, self.next)], _HELP)
        self.show.on_click(lambda _: self._begin())
        self.text.observe(lambda _: self._typed(), names="value")
        self.lay_out()

    def lay_out(self) -> None:
        """Lay the round at hand on the desk, with nothing typed yet."""
        steps = "".join(f"<li>{safe(step)}</li>" for step in HOW_TO)
        round_ = self.lesson.round
        self.words.value = piece(
            f'<h2>{safe(title(round_))}</h2><p class="lead">{safe(round_.level.says)}</p>'
            f"<details open><summary>What to do</summary><ol>{steps}</ol></details>"
            f'<section class="caution"><p>{safe(CAUTION)}</p></section>'
        )
        self._answers, self._seconds = [], []
        self.drawing.value = ""
        self.show.disabled = False
        self._may_answer(may=False)
        self.say(f"{len(round_.shown)} numbers lie ready.")

    def is_begun(self) -> bool:
        """Tell whether something was typed."""
        return bool(self._answers)

    def _begin(self) -> None:
        self.show.disabled = True
        if len(self._answers) == len(self.lesson.round.shown):
            self._finish()
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
        self.say(f"Number {place + 1} of {len(round_.shown)}.")

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
            self._finish()

    def _finish(self) -> None:
        self._may_answer(may=False)
        self.drawing.value = ""
        # a round that could not be kept is handed in again by the same button
        self.show.disabled = self.hand_in((self._answers, self._seconds))

    def _may_answer(self, *, may: bool) -> None:
        self.text.disabled = not may
