"""The weighing desk: one weighing at a time, and what is written of it; view only."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from audit.practice.desk import button, row
from audit.practice.drill.desk import DrillDesk
from audit.practice.weighing_drill.page import STYLE, cautions, figures_of
from audit.practice.weighing_drill.weighing import CELLS
from audit.practice.weighing_drill.words import HEADS, LEAD, how_to, level_words, title
from audit.review.page_look import piece
from audit.review.typed_rows import safe
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.practice.drill.lesson import DrillLesson

__all__ = ["WeighingDesk"]

_HELP = (
    "Fill in the three masses and press Write down; ? stands for a mass that cannot be known. Back goes to "
    "the weighing before. Hand in once all are written."
)


class WeighingDesk(DrillDesk):
    """A round of weighing, and what came of it; it takes what `DrillDesk` takes."""

    def __init__(self, lesson: DrillLesson[Any, Any, Any], now: Callable[[], str]) -> None:
        super().__init__(lesson, now)
        self._place = 0
        self._written: list[dict[str, str]] = []
        self._is_sure = False
        self.shown = widgets.HTML()
        self.cells = {
            cell: widgets.Text(description=HEADS[cell], layout=widgets.Layout(width="13em")) for cell in CELLS
        }
        self.write = button("Write down", "Write these masses down and go on to the next weighing")
        self.back = button("Back", "Go to the weighing before")
        self.done = button("Hand in", "Have the round marked")
        self.sheet = widgets.HTML()
        self.lay(
            [
                self.shown,
                row(*self.cells.values(), self.write),
                row(self.back, self.done, self.level, self.next),
                self.sheet,
            ],
            _HELP,
        )
        self.write.on_click(lambda _: self._write())
        self.back.on_click(lambda _: self._show(self._place - 1))
        self.done.on_click(lambda _: self._finish())
        self.lay_out()

    def lay_out(self) -> None:
        """Lay the round at hand on the desk, with nothing written yet."""
        made = self.lesson.round
        steps = "".join(f"<li>{safe(step)}</li>" for step in how_to(made))
        self.words.value = piece(
            f'<h2>{safe(title(made))}</h2><p class="lead">{safe(LEAD)}</p>'
            f"<p>{safe(level_words(made))}</p>"
            f"<details open><summary>What to do</summary><ol>{steps}</ol></details>"
            f'<section class="caution">{cautions()}</section>'
        )
        self._written = [{} for _ in made.weighings]
        self._is_sure = False
        self._may_write(may=True)
        self._show(0)
        self._list()
        self.say(f"{counted(len(made.weighings), 'weighing')} lie ready.")

    def is_begun(self) -> bool:
        """Tell whether something was written."""
        return any(self._written)

    def _show(self, place: int) -> None:
        weighings = self.lesson.round.weighings
        self._place = place
        # emptied before the picture changes, so that nothing that is typed of it is lost
        for cell, field in self.cells.items():
            field.value = self._written[place].get(cell, "")
        self.shown.value = piece(
            f"<style>.nestproof{{{STYLE}}}</style><h3>Weighing {place + 1} of {len(weighings)}</h3>"
            f'<div class="weighing">{figures_of(weighings[place])}</div>'
        )
        self.back.disabled = place == 0

    def _write(self) -> None:
        texts = {cell: field.value.strip() for cell, field in self.cells.items()}
        empty = [cell for cell, text in texts.items() if not text]
        if empty:
            self.say(f"Write {' and '.join(empty)}, too, or ? where it cannot be known.")
            self.cells[empty[0]].focus()
            return
        self._written[self._place] = texts
        self._is_sure = False
        self._list()
        left = self._left()
        if left:
            after = [place for place in left if place > self._place]
            self._show((after or left)[0])
            self.say(f"Written down. {counted(len(left), 'weighing')} to go.")
            self.cells[CELLS[0]].focus()
        else:
            self.say("All are written down. Look them over, and hand in.")
            self.done.focus()

    def _left(self) -> list[int]:
        return [place for place, texts in enumerate(self._written) if not texts]

    def _list(self) -> None:
        """Show what is written so far, as a page of the field notebook."""
        lines = "".join(
            f'<tr><th scope="row">{number}</th>'
            f"{''.join(f'<td>{safe(texts.get(cell, str()))}</td>' for cell in CELLS)}</tr>"
            for number, texts in enumerate(self._written, 1)
        )
        heads = "".join(f'<th scope="col">{safe(HEADS[cell])}</th>' for cell in CELLS)
        self.sheet.value = piece(
            '<table><caption>Written down</caption><thead><tr><th scope="col">weighing</th>'
            f"{heads}</tr></thead><tbody>{lines}</tbody></table>"
        )

    def _finish(self) -> None:
        left = self._left()
        if left and not self._is_sure:
            self._is_sure = True
            self.say(f"{counted(len(left), 'weighing')} not written down. Hand in once more to leave it so.")
            return
        if self.hand_in(self._written):
            self._may_write(may=False)

    def _may_write(self, *, may: bool) -> None:
        for part in (*self.cells.values(), self.write, self.back, self.done):
            part.disabled = not may
