"""What the desks of practice have in common: words above, one line that tells, what came of it below."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from audit.review.typed_rows import safe
from audit.widget_messages import hear_in_order

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from audit.refusal import Refusal

__all__ = ["PracticeDesk", "button", "row"]


class PracticeDesk(widgets.VBox):  # type: ignore[misc]  # ipywidgets carries no types
    """A desk at which something is done, handed in and marked; view only.

    Parameters
    ----------
    now : callable
        Gives the moment at which something is handed in, ISO 8601.
    name : str
        Of its class in the page, after ``nestproof-``.
    levels : sequence of (str, str or None)
        Titles and names of the levels to choose from.
    level : str or None
        The one chosen at first.
    what : str
        What comes next, such as ``round``.

    Attributes
    ----------
    words, told, result : widgets.HTML
        What is asked, the line that tells, what came of it.
    level : widgets.Dropdown
    next : widgets.Button
    """

    def __init__(
        self,
        now: Callable[[], str],
        *,
        name: str,
        levels: Sequence[tuple[str, str | None]],
        level: str | None,
        what: str,
    ) -> None:
        self.now = now
        self.words, self.told, self.result = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.level = widgets.Dropdown(
            options=list(levels),
            # of a value that is None the widget would show nothing
            index=[slug for _, slug in levels].index(level),
            description="Level",
            layout=widgets.Layout(width="24em"),
        )
        self.next = button(f"Next {what}", f"Go on to another {what}")
        super().__init__()
        for part, called in ((self, name), (self.told, "told"), (self.result, "result")):
            part.add_class(f"nestproof-{called}")

    def lay(self, parts: Sequence[widgets.Widget], help_words: str) -> None:
        """Lay the desk: words, its own parts, the line that tells, what helps, what came of it."""
        helps = widgets.HTML(f"<small>{safe(help_words)}</small>")
        self.children = [self.words, *parts, self.told, helps, self.result]
        hear_in_order(self)

    def say(self, text: str) -> None:
        """Tell something in the line that is read aloud, too."""
        self.told.value = f'<div role="status">{safe(text)}</div>'

    def say_refused(self, refusal: Refusal, more: str = "") -> None:
        """Tell why something cannot be done, what helps, and what is still here."""
        self.say(" ".join(part for part in (refusal.what, refusal.cure, more) if part))

    def page(self) -> tuple[str, str]:
        """Return what lies on the desk as safe HTML and as a line, for whoever has no kernel."""
        raise NotImplementedError

    def _repr_mimebundle_(self, **about: object) -> dict[str, Any]:
        """Carry the page, for a notebook that is opened without a kernel."""
        page, line = self.page()
        return {**super()._repr_mimebundle_(**about), "text/html": page, "text/plain": line}


def button(name: str, tip: str) -> widgets.Button:
    """Make a button as wide as its name."""
    return widgets.Button(description=name, tooltip=tip, layout=widgets.Layout(width="auto"))


def row(*parts: widgets.Widget) -> widgets.HBox:
    """Lay parts side by side, or below each other where there is no room."""
    return widgets.HBox(parts, layout=widgets.Layout(flex_flow="row wrap", align_items="center"))
