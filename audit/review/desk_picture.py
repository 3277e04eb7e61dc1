"""The picture beside the rows of a finding; view only."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from audit.charts.picture import BEING_DRAWN
from audit.review.picture import NO_PICTURE, picture_of
from audit.widget_messages import hear_in_order

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from audit.charts.picked import PickedChart
    from audit.checked import Checked
    from audit.findings import Finding

__all__ = ["PicturePane"]

#: Width and height of a picture, in pixels.
_SIZE = (470, 370)


class PicturePane(widgets.VBox):  # type: ignore[misc]  # ipywidgets carries no types
    """The place of the picture: it is never that of another finding than the one that is read beside it.

    Parameters
    ----------
    layout : ipywidgets.Layout

    Attributes
    ----------
    chart : PickedChart or None
        None until the drawing library is there.
    told : ipywidgets.HTML
        What is said where no picture stands.
    """

    def __init__(self, layout: widgets.Layout) -> None:
        self.chart: PickedChart | None = None
        self.told = widgets.HTML()
        super().__init__([self.told], layout=layout)

    def hang(self, on_pick: Callable[[str], None]) -> None:
        """Put up the chart, which needs the drawing library; `on_pick` is told of each point picked in it."""
        from audit.charts.picked import PickedChart

        self.chart = PickedChart(_SIZE)
        self.chart.on_pick(on_pick)
        self.children = [self.chart.widget, self.told]
        hear_in_order(self.chart.widget)

    def wait(self, findings: Sequence[Finding]) -> None:
        """Take the former picture away, and say that the next one is being drawn."""
        if self.chart is not None:
            self.chart.show(None)
        self._tell(BEING_DRAWN if findings else "")

    def draw(self, checked: Checked, findings: Sequence[Finding]) -> None:
        """Draw what answers the question of the first finding, once the chart hangs."""
        if self.chart is None:
            return
        picture = picture_of(checked, findings[0]) if findings else None
        self.chart.show(picture)
        self._tell(NO_PICTURE if findings and picture is None else "")

    def light(self, label: str) -> None:
        """Light up the record of a row in the picture, if it has one."""
        if self.chart is not None:
            self.chart.light(label)

    def _tell(self, text: str) -> None:
        self.told.value = f"<small>{text}</small>" if text else ""
