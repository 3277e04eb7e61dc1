"""One chart widget for all pictures: what is picked in it is told, what is chosen elsewhere is lit up."""

from __future__ import annotations

import json
from functools import cache
from typing import TYPE_CHECKING

import altair as alt
import traitlets
from altair.jupyter.jupyter_chart import load_js_src

from audit.charts.palette import PAPER
from audit.charts.picture import BEING_DRAWN
from audit.charts.records import CHOSEN, PICKED, unchecked

if TYPE_CHECKING:
    from collections.abc import Callable

    from traitlets import Bunch

    from audit.charts.picture import Picture

__all__ = ["PickedChart", "load_library"]

#: What is put in the place of what in altair's own widget code: one drawing after the other, only the newest
#: of those that wait; the old one is taken away at once and hears of no change any more, and one that was
#: overtaken while it was being made tells nothing, since the model speaks of the next by then.
_MENDED = {
    "const reembed = async () => {": f"""let turn = 0, drawing = Promise.resolve();
    const reembed = () => {{
        const mine = ++turn;
        model.off("change:_params");
        el.textContent = {json.dumps(BEING_DRAWN)};
        drawing = drawing.then(() => mine === turn ? draw() : undefined);
        return drawing;
    }};
    const draw = async () => {{
        const mine = turn;""",
    # the parameters of the next one may be told before its specification, in the same message
    "api.view.signal(param, value);": "if (param in initialParams) api.view.signal(param, value);",
    "finalize = api.finalize;": """if (mine !== turn) { api.finalize(); return; }
        finalize = api.finalize;""",
}
#: So often a record is lit up again when the drawing, just made, says that another one is.
_TRIES = 3


class _Chart(alt.JupyterChart):
    """A chart widget that needs no network, lets go of what it has drawn, and bears late messages."""

    @traitlets.observe("_vl_selections")
    def _on_change_selections(self, change: Bunch) -> None:
        """Pass over what a drawing says that was replaced by one without such a selection."""
        known = {name: told for name, told in change["new"].items() if name in self._selection_types}
        super()._on_change_selections(type(change)({**change, "new": known}))

    @classmethod
    def ready(cls) -> _Chart:
        """Make one that shows nothing yet."""
        cls._esm = _source()
        blank = alt.Chart(alt.InlineData(values=[])).mark_point().properties(background=PAPER)
        # the menu of the drawing library offers a page that is not on this computer
        return cls(blank, embed_options={"actions": False})

    def taken(self) -> str:
        """Take the label that was picked, empty where none was; then the same point can be picked again."""
        told = self._vl_selections.get(PICKED) or {}
        points = (told.get("value") or {}).get("vlPoint", {}).get("or", [])
        if not points or PICKED not in self._selection_types:
            return ""
        self._vl_selections = {**self._vl_selections, PICKED: {"value": None, "store": []}}
        return str(points[-1].get("label", ""))


@cache
def _source() -> str:
    """Bundle the drawing library with altair's own widget code, for use without the network."""
    import vl_convert
    from altair.utils._importers import vl_version_for_vl_convert

    lines = load_js_src().split("\n")
    kept = [line for line in lines if not line.startswith("import")]
    code = "\n".join(kept)
    for place, instead in _MENDED.items():
        code = code.replace(place, instead)
    return str(vl_convert.javascript_bundle(code, vl_version=vl_version_for_vl_convert()))


def load_library() -> None:
    """Load the drawing library ahead, once for all charts: it takes a second or two."""
    _source()


def _fitted(chart: alt.LayerChart, width: int, height: int) -> alt.LayerChart:
    return chart.properties(
        width=width, height=height, autosize=alt.AutoSizeParams(type="fit", contains="padding")
    )


class PickedChart:
    """A chart widget that is reused, since each carries the whole drawing library.

    Parameters
    ----------
    size : (int, int), optional
        Width and height, in pixels, into which every picture is fitted with its axes and titles.

    Attributes
    ----------
    widget : altair.JupyterChart
        Hidden where there is no picture.
    picture : Picture or None
        What is shown.
    """

    def __init__(self, size: tuple[int, int] | None = None) -> None:
        self._size = size
        self.picture: Picture | None = None
        self._hearers: list[Callable[[str], None]] = []
        self._lit, self._tries = "", 0
        self.widget = _Chart.ready()
        self.widget.observe(self._heard, ["_vl_selections"])
        self.widget.layout.display = "none"

    def show(self, picture: Picture | None, lit: str | None = None) -> None:
        """Show another picture, or none; nobody is told of a pick by this.

        Parameters
        ----------
        lit : str, optional
            Label of the record to light up; by default the first that the finding blames.
        """
        self.picture = None
        if picture is not None:
            chart = picture.chart if self._size is None else _fitted(picture.chart, *self._size)
            with unchecked():
                self.widget.chart = chart
            if self.widget.params.has_trait(CHOSEN):
                self._lit, self._tries = str(getattr(self.widget.params, CHOSEN)), 0
                # of all parameters, so that altair hears of a change before we change it back
                self.widget.params.observe(self._echoed)
        self.picture = picture
        self.widget.layout.display = "none" if picture is None else ""
        if lit is not None:
            self.light(lit)

    def light(self, label: str) -> None:
        """Light up the record with a label; nothing is lit where the picture has no such point."""
        if self.picture is None or not self.widget.params.has_trait(CHOSEN):
            return
        self._lit, self._tries = label if label in self.picture.labels else "", 0
        setattr(self.widget.params, CHOSEN, self._lit)

    def on_pick(self, hearer: Callable[[str], None]) -> None:
        """Have a function called with the label of each point that is picked."""
        self._hearers.append(hearer)

    def _heard(self, _: Bunch) -> None:
        label = self.widget.taken()
        if label and self.picture is not None and label in self.picture.labels:
            for hearer in self._hearers:
                hearer(label)

    def _echoed(self, change: Bunch) -> None:
        """Light up again: a drawing that has just been made tells what it was made with."""
        if change["new"] != self._lit and self._tries < _TRIES:
            self._tries += 1
            setattr(self.widget.params, CHOSEN, self._lit)
