"""What the desks of all drills have in common: a lesson, its levels, a round handed in, the next one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from audit.practice.desk import PracticeDesk
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.practice.drill.lesson import DrillLesson

__all__ = ["DrillDesk"]


class DrillDesk(PracticeDesk):
    """A round of a drill, and what came of it.

    Parameters
    ----------
    lesson : DrillLesson
        The state; the desk only shows it and hands over what is written.
    now : callable
        Gives the moment at which a round is handed in, ISO 8601.
    """

    def __init__(self, lesson: DrillLesson[Any, Any, Any], now: Callable[[], str]) -> None:
        self.lesson = lesson
        levels = lesson.drill.levels(lesson.declared)
        super().__init__(
            now,
            name=lesson.drill.name,
            levels=[
                ("by what was right so far", None),
                *((f"{one.number} {one.title}", one.slug) for one in levels),
            ],
            level=lesson.wish,
            what="round",
        )
        self.next.on_click(lambda _: self._go_on())

    def lay_out(self) -> None:
        """Lay the round at hand on the desk, with nothing written yet."""
        raise NotImplementedError

    def is_begun(self) -> bool:
        """Tell whether something was written that is not handed in."""
        raise NotImplementedError

    def hand_in(self, answers: Any) -> bool:  # noqa: ANN401 - as the drill takes them
        """Have the round marked and show what came of it; tell whether it is."""
        try:
            self.lesson.hand_in(answers, at=self.now())
        except Refusal as refusal:
            self.say_refused(refusal, "What you wrote is still here.")
            return False
        result = self.lesson.result
        self.result.value = "" if result is None else result.piece()
        self.say("The round is marked.")
        return True

    def page(self) -> tuple[str, str]:
        """Return the round as a page, and its name."""
        sheet = self.lesson.sheet
        return sheet.piece(), sheet.title

    def _go_on(self) -> None:
        is_left = self.is_begun() and self.lesson.score is None
        try:
            self.lesson.choose(self.level.value)
            self.lesson.next()
        except Refusal as refusal:
            self.say_refused(refusal)
            return
        self.result.value = ""
        self.lay_out()
        if is_left:
            self.say("The round before was not finished, and is not kept.")
