"""The ageing desk: all nestlings and broods of a round, and what is answered of each; view only."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from audit.practice.ageing.page import STYLE, introduction
from audit.practice.ageing.words import how_far, look_words, size_words, title, window_words
from audit.practice.desk import button, row
from audit.practice.drill.desk import DrillDesk
from audit.review.page_look import piece
from audit.review.typed_rows import safe
from audit.review.wording import counted
from audit.widget_messages import hear_in_order

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.practice.drill.lesson import DrillLesson

__all__ = ["AgeingDesk"]

_HELP = (
    "Write the age of each nestling in days, choose an answer for each brood, and hand in. What came of it "
    "is shown below, beside the curve."
)
_STYLE = {"description_width": "17em"}


class AgeingDesk(DrillDesk):
    """A round of ageing, and what came of it; it takes what `DrillDesk` takes."""

    def __init__(self, lesson: DrillLesson[Any, Any, Any], now: Callable[[], str]) -> None:
        super().__init__(lesson, now)
        self._is_sure = False
        self.ages: list[widgets.Text] = []
        self.verdicts: list[widgets.Dropdown] = []
        self.birds = widgets.VBox()
        self.window = widgets.HTML()
        self.broods = widgets.VBox()
        self.done = button("Hand in", "Have the round marked")
        self.lay([self.birds, self.window, self.broods, row(self.done, self.level, self.next)], _HELP)
        self.done.on_click(lambda _: self._finish())
        self.lay_out()

    def lay_out(self) -> None:
        """Lay the round at hand on the desk, with nothing answered yet."""
        made, declared = self.lesson.round, self.lesson.declared
        self.words.value = piece(
            f"<style>.nestproof{{{STYLE}}}</style><h2>{safe(title(made))}</h2>{introduction(made, declared)}"
            f"<p>{safe(how_far(declared))}</p>"
        )
        wide = widgets.Layout(width="26em")
        self.ages = [
            widgets.Text(
                description=f"Nestling {number}: {size_words(bird)}",
                placeholder="age, days",
                style=_STYLE,
                layout=wide,
            )
            for number, bird in enumerate(made.nestlings, 1)
        ]
        self.verdicts = [
            widgets.Dropdown(
                description=f"Brood {number}: {', '.join(f'{bird.wing:.0f}' for bird in brood.birds)} mm",
                options=[("choose", ""), *((one, one) for one in made.verdicts)],
                value="",
                style=_STYLE,
                layout=wide,
            )
            for number, brood in enumerate(made.broods, 1)
        ]
        self.birds.children = [
            widgets.VBox([field, widgets.HTML(piece(f"<p>{safe(look_words(bird))}</p>"))])
            if bird.plumage
            else field
            for bird, field in zip(made.nestlings, self.ages, strict=True)
        ]
        self.window.value = piece(f"<p>{safe(window_words(made, declared))}</p>") if made.broods else ""
        self.broods.children = self.verdicts
        hear_in_order(self.birds, self.broods)
        self._is_sure = False
        self._may_answer(may=True)
        self.say(f"{counted(len(self.ages) + len(self.verdicts), 'question')} lie ready.")

    def is_begun(self) -> bool:
        """Tell whether something was answered."""
        return any(field.value for field in (*self.ages, *self.verdicts))

    def _finish(self) -> None:
        left = sum(not field.value.strip() for field in (*self.ages, *self.verdicts))
        if left and not self._is_sure:
            self._is_sure = True
            self.say(f"{counted(left, 'question')} not answered. Hand in once more to leave it so.")
            return
        self._is_sure = False
        if self.hand_in(([field.value for field in self.ages], [field.value for field in self.verdicts])):
            self._may_answer(may=False)

    def _may_answer(self, *, may: bool) -> None:
        for field in (*self.ages, *self.verdicts, self.done):
            field.disabled = not may
