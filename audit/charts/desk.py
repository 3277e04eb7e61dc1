"""Pick what a chart is about: a list above a chart, for a notebook; view only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from audit.charts.picture import BEING_DRAWN
from audit.charts.still import description_of, still_image
from audit.widget_messages import hear_in_order

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Sequence

    from audit.charts.living import Living

__all__ = ["PictureDesk", "Shown"]


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture, and what stands below it.

    Attributes
    ----------
    picture : Living
        A chart, or what to say where there is nothing to draw.
    below : str
        Safe HTML; empty where nothing stands below.
    """

    picture: Living
    below: str = ""


class PictureDesk(widgets.VBox):  # type: ignore[misc]  # ipywidgets carries no types
    """A list to choose from, and the chart of what is chosen.

    Parameters
    ----------
    asked : str
        What is chosen, such as ``Box``.
    choices : sequence of (str, hashable)
        What the list says, and what `show` is given; the first is shown to begin with.
    show : callable
        Makes the picture of one choice.
    otherwise : str
        What to say when there is nothing to choose.
    """

    def __init__(
        self,
        asked: str,
        choices: Sequence[tuple[str, Hashable]],
        show: Callable[[Any], Shown],
        otherwise: str,
    ) -> None:
        self._show = show
        self._otherwise = otherwise
        self.choice = widgets.Dropdown(
            options=list(choices), description=asked, layout=widgets.Layout(width="34em", max_width="100%")
        )
        self.told = widgets.HTML()
        self.below = widgets.HTML()
        self.shown: Shown | None = None
        self._live: widgets.Widget | None = None
        # a chart is as wide as it is: on a narrow screen it is moved sideways
        self._pane = widgets.Box([], layout=widgets.Layout(overflow="auto", max_width="100%"))
        super().__init__([])
        self.choice.observe(lambda _: self._draw(), names="value")
        self._draw()

    def _draw(self) -> None:
        """Draw what is chosen; one widget serves all charts, since each carries the whole library."""
        # the former picture goes first, so that it never stands below another choice
        self.told.value, self.below.value = BEING_DRAWN, ""
        self._pane.layout.display = "none"
        self.shown = self._show(self.choice.value) if self.choice.options else None
        chart = self.shown.picture.chart if self.shown else None
        if self.shown is None:
            self.told.value = self._otherwise
        else:
            self.told.value = "" if chart is not None else self.shown.picture.otherwise
            self.below.value = self.shown.below
        if chart is not None and self.shown is not None:
            if self._live is None:
                self._live = self.shown.picture.live()
                self._pane.children = [self._live]
            else:
                self._live.chart = chart
        self._pane.layout.display = ""
        drawn = [self._pane] if chart is not None else []
        self.children = [self.choice, self.told, *drawn, self.below]
        hear_in_order(self)

    def _repr_mimebundle_(self, **kwargs: object) -> dict[str, Any]:
        """Carry a still picture of what is chosen, for a notebook that is opened without a kernel."""
        bundle: dict[str, Any] = dict(super()._repr_mimebundle_(**kwargs) or {})
        chart = self.shown.picture.chart if self.shown else None
        if self.shown is None or chart is None:
            bundle["text/plain"] = self.shown.picture.otherwise if self.shown else self._otherwise
            return bundle
        bundle["text/plain"] = description_of(chart)
        bundle["text/html"] = f"<figure>{still_image(chart)}</figure>{self.shown.below}"
        return bundle
