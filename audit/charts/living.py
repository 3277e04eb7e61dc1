"""A chart that answers to the mouse where a kernel runs, and stays a still picture everywhere else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from audit.charts.still import description_of, still, still_image

if TYPE_CHECKING:
    import altair as alt
    from altair import JupyterChart

__all__ = ["Living"]


class Living:
    """A chart as a widget (tooltips, zoom) with its still picture behind it.

    Neither needs the network. A saved notebook that is opened without a kernel shows the still picture.

    Parameters
    ----------
    chart : altair.LayerChart or None
        None shows `otherwise` instead.
    otherwise : str
        What to say when there is nothing to draw.
    """

    def __init__(self, chart: alt.LayerChart | None, otherwise: str = "There is nothing to draw.") -> None:
        self.chart = chart
        self.otherwise = otherwise

    def live(self) -> JupyterChart | None:
        """Make the widget alone, None where there is nothing to draw; it needs nothing from the network."""
        if self.chart is None:
            return None
        from altair import JupyterChart

        JupyterChart.enable_offline()
        return JupyterChart(self.chart)

    def _repr_mimebundle_(self, **_: object) -> dict[str, Any]:
        live = self.live()
        if self.chart is None or live is None:
            return {"text/plain": self.otherwise}
        shown = live._repr_mimebundle_()
        bundle: dict[str, Any] = dict((shown[0] if isinstance(shown, tuple) else shown) or {})
        bundle["image/svg+xml"] = still(self.chart)
        bundle["text/html"] = still_image(self.chart)
        bundle["text/plain"] = description_of(self.chart)
        return bundle
