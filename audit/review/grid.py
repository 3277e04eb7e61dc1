"""A table of many lines for a notebook, drawn only where it is seen: the worklist, and the rows as typed.

A line, and in it a column, is chosen by click or keyboard; the grid computes nothing and decides nothing.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import anywidget
import traitlets

from audit.charts.palette import TONES
from audit.review.grid_look import grid_look
from audit.review.still_grid import StillGrid

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from audit.review.exhibit import Line

__all__ = ["MARKS", "Grid", "Head", "Pressed"]

#: Words that a cell may be marked with, the gravest first.
MARKS: tuple[str, ...] = (*TONES, "amended", "witness")

#: Changed lines that are sent beside the first state; beyond that all is sent again.
_BESIDE = 400


@dataclass(frozen=True, slots=True)
class Head:
    """One column of a grid.

    Attributes
    ----------
    key : str
        Name of the column for the program, such as a canonical column name; unique in a grid.
    text : str
        What stands at its head.
    align : {'left', 'right'}
    width : int or None
        Width in digits; None: as wide as its texts, within bounds.
    grow : bool
        Whether it takes the room that is left.
    """

    key: str
    text: str
    align: Literal["left", "right"] = "left"
    width: int | None = None
    grow: bool = False


@dataclass(frozen=True, slots=True)
class Pressed:
    """A key that was pressed in the grid.

    Attributes
    ----------
    key : str
        As in `Grid.bound_keys`.
    line, column : str
        Label and column key that were chosen in the browser when it was pressed; the column may be empty.
    looked_at : bool
        Whether this is the line that the program, too, holds for chosen. It is not when the key overtook the
        choice, or was pressed again before the program had moved on: then nobody has seen what it is about.
    rested : float
        Seconds since this line was chosen.
    """

    key: str
    line: str
    column: str
    looked_at: bool
    rested: float


class Grid(anywidget.AnyWidget):
    """A table of many lines, one of them chosen.

    Parameters
    ----------
    heads : sequence of Head
    lines : sequence of Line
        Its label names a line; a line without one can be walked over, but is never chosen. The place stands
        in the first column.
    marks : mapping of (label, key) to str
        Words of `MARKS`, several of them with a space between.
    row_marks : mapping of label to str
        State of a line, such as ``open``, ``asked``, ``kept``, ``decided``, ``conflict``.
    **others
        Any of the traits below.

    Attributes
    ----------
    chosen : str
        Label of the chosen line, or empty; set from either side.
    chosen_key : str
        Key of the chosen column; empty for the line as a whole.
    whole_lines : bool
        Whether only lines are chosen, never a cell.
    caption : str
        Stands above the grid and names it.
    place_head, state_head : str
        Head of the first column, and of the column of states; no head, no column of states.
    height : int
        Lines shown at once, at most.
    bound_keys : list of str
        Keys to hand over, as browsers name them: ``a``, ``Enter``, ``?``, ``Shift+Enter``, ``Ctrl+z``.
    otherwise : str
        What to say when there are no lines.
    """

    _esm = Path(__file__).with_name("grid.js")
    _css = grid_look()

    chosen = traitlets.Unicode("").tag(sync=True)
    chosen_key = traitlets.Unicode("").tag(sync=True)
    whole_lines = traitlets.Bool(default_value=False).tag(sync=True)
    caption = traitlets.Unicode("").tag(sync=True)
    place_head = traitlets.Unicode("row").tag(sync=True)
    state_head = traitlets.Unicode("").tag(sync=True)
    height = traitlets.Int(12).tag(sync=True)
    bound_keys = traitlets.List(traitlets.Unicode()).tag(sync=True)
    otherwise = traitlets.Unicode("Nothing here.").tag(sync=True)

    # what was sent as a whole, and on top of it the lines that changed since, each as it stands now
    _heads: traitlets.List[Any] = traitlets.List().tag(sync=True)
    _packed = traitlets.Bytes(b"").tag(sync=True)
    _marks = traitlets.Dict().tag(sync=True)
    _row_marks = traitlets.Dict().tag(sync=True)
    _changed = traitlets.Dict().tag(sync=True)

    def __init__(
        self,
        heads: Sequence[Head] = (),
        lines: Sequence[Line] = (),
        *,
        marks: Mapping[tuple[str, str], str] | None = None,
        row_marks: Mapping[str, str] | None = None,
        **others: object,
    ) -> None:
        self._columns: tuple[Head, ...] = ()
        self._labels: list[str] = []
        self._places: list[str] = []
        self._texts: list[tuple[str, ...]] = []
        self._place_of: dict[str, int] = {}
        self._marked: dict[str, dict[str, str]] = {}
        self._states: dict[str, str] = {}
        self._hearers: list[Callable[[Pressed], None]] = []
        super().__init__(**others)
        self.on_msg(self._heard)
        self.show(heads, lines, marks=marks or {}, row_marks=row_marks or {})

    def show(
        self,
        heads: Sequence[Head],
        lines: Sequence[Line],
        *,
        marks: Mapping[tuple[str, str], str] | None = None,
        row_marks: Mapping[str, str] | None = None,
        chosen: str | None = None,
        chosen_key: str | None = None,
        caption: str | None = None,
    ) -> None:
        """Show other lines, in one go.

        Parameters
        ----------
        heads, lines, marks, row_marks
            As for the grid; no marks when left out.
        chosen, chosen_key : str, optional
            What is chosen then. When left out it stays as it is, where that is still there.
        caption : str, optional
            Stays as it is when left out.

        Raises
        ------
        ValueError
            Two lines have one label, a line has more or fewer texts than there are heads, a mark is unknown.
        """
        labels = [line.label for line in lines]
        place_of = {label: at for at, label in enumerate(labels) if label}
        if len(place_of) != len(labels) - labels.count(""):
            raise ValueError("two lines of a grid have the same label")
        if len({head.key for head in heads}) != len(heads):
            raise ValueError("two columns of a grid have the same key")
        texts = [tuple(line.texts) for line in lines]
        if any(len(row) != len(heads) for row in texts):
            raise ValueError("a line of a grid has more or fewer texts than there are heads")
        marked = _by_line(marks or {})
        self._columns, self._labels, self._texts = tuple(heads), labels, texts
        self._places = [line.place for line in lines]
        self._place_of, self._marked, self._states = place_of, marked, dict(row_marks or {})
        with self.hold_sync():
            self._heads = [asdict(head) for head in heads]
            self._send_all()
            wanted = self.chosen if chosen is None else chosen
            self.chosen = wanted if wanted in place_of else ""
            key = self.chosen_key if chosen_key is None else chosen_key
            self.chosen_key = key if self.chosen and any(head.key == key for head in heads) else ""
            if caption is not None:
                self.caption = caption

    def change(
        self,
        label: str,
        *,
        row_mark: str | None = None,
        marks: Mapping[str, str] | None = None,
        texts: Sequence[str] | None = None,
    ) -> None:
        """Change one line; the others are not sent again. What is left out stays as it is.

        Parameters
        ----------
        label : str
            The line; nothing happens when it is not shown.
        row_mark : str, optional
            Its state; empty for none.
        marks : mapping of key to str, optional
            All marks of its cells.
        texts : sequence of str, optional
            Its texts.
        """
        self.change_all({label: {"row_mark": row_mark, "marks": marks, "texts": texts}})

    def change_all(self, changes: Mapping[str, Mapping[str, Any]]) -> None:
        """Change several lines at once: by label, what `change` is given."""
        beside = dict(self._changed)
        for label, change in changes.items():
            if label not in self._place_of:
                continue
            new = {name: value for name, value in change.items() if value is not None}
            if len(new.get("texts", self._columns)) != len(self._columns):
                raise ValueError("a line of a grid has more or fewer texts than there are heads")
            for words in new.get("marks", {}).values():
                _known(words)
            beside[label] = beside.get(label, {}) | new
        for label in changes.keys() & beside.keys():
            now = beside[label]
            if "row_mark" in now:
                self._states[label] = now["row_mark"]
            if "marks" in now:
                self._marked[label] = now["marks"] = dict(now["marks"])
            if "texts" in now:
                now["texts"] = list(now["texts"])
                self._texts[self._place_of[label]] = tuple(now["texts"])
        if len(beside) > _BESIDE:
            with self.hold_sync():
                self._send_all()
        else:
            self._changed = beside

    @property
    def marks(self) -> dict[tuple[str, str], str]:
        """Marks of cells by (label, key); set to put others in their place."""
        return {(label, key): words for label, cells in self._marked.items() for key, words in cells.items()}

    @marks.setter
    def marks(self, marks: Mapping[tuple[str, str], str]) -> None:
        self._marked = _by_line(marks)
        with self.hold_sync():
            self._marks = {label: dict(cells) for label, cells in self._marked.items()}
            self._changed = _without(self._changed, "marks")

    @property
    def row_marks(self) -> dict[str, str]:
        """State of each line by label; set to put others in their place."""
        return dict(self._states)

    @row_marks.setter
    def row_marks(self, row_marks: Mapping[str, str]) -> None:
        self._states = dict(row_marks)
        with self.hold_sync():
            self._row_marks = dict(self._states)
            self._changed = _without(self._changed, "row_mark")

    @property
    def labels(self) -> tuple[str, ...]:
        """Labels of the lines, in order."""
        return tuple(self._labels)

    def texts(self, label: str) -> tuple[str, ...]:
        """Texts of one line as they stand now."""
        return self._texts[self._place_of[label]]

    def on_key(self, hearer: Callable[[Pressed], None]) -> None:
        """Have a function called with each key of `bound_keys` that is pressed in the grid."""
        self._hearers.append(hearer)

    def focus(self) -> None:
        """Put the keyboard into the grid, at the chosen line."""
        self.send({"kind": "focus"})

    def _send_all(self) -> None:
        self._packed = _pack(self._labels, self._places, self._texts, len(self._columns))
        self._marks = {label: dict(cells) for label, cells in self._marked.items()}
        self._row_marks = dict(self._states)
        self._changed = {}

    def _heard(self, _: object, content: object, __: object) -> None:
        if not isinstance(content, dict) or content.get("kind") != "pressed":
            return
        line = str(content.get("line", ""))
        pressed = Pressed(
            key=str(content.get("key", "")),
            line=line,
            column=str(content.get("column", "")),
            looked_at=line == self.chosen,
            rested=float(content.get("rested", 0)),
        )
        if pressed.key in self.bound_keys:
            for hearer in self._hearers:
                hearer(pressed)

    def _repr_mimebundle_(self, **_: object) -> tuple[dict[str, Any], dict[str, Any]]:
        """Carry the first lines as an ordinary table, for a notebook that is opened without a kernel."""
        bundle, about = super()._repr_mimebundle_() or ({}, {})
        still = self.still()
        return bundle | {"text/html": still.html(), "text/plain": still.text()}, about

    def still(self) -> StillGrid:
        """Return the grid as it stands, as text and as an ordinary table."""
        return StillGrid(
            heads=self._columns,
            labels=tuple(self._labels),
            places=tuple(self._places),
            texts=tuple(self._texts),
            marks=self._marked,
            states=self._states,
            chosen=self.chosen,
            caption=self.caption,
            place_head=self.place_head,
            state_head=self.state_head,
            otherwise=self.otherwise,
        )


def _pack(labels: Sequence[str], places: Sequence[str], texts: Iterable[Sequence[str]], width: int) -> bytes:
    """Pack lines column by column; ASCII only, so that half a character pair as typed does no harm."""
    columns: list[Sequence[str]] = list(zip(*texts, strict=True)) if labels else [()] * width
    return json.dumps({"labels": labels, "places": places, "columns": columns}, separators=(",", ":")).encode(
        "ascii"
    )


def _by_line(marks: Mapping[tuple[str, str], str]) -> dict[str, dict[str, str]]:
    marked: dict[str, dict[str, str]] = {}
    for (label, key), words in marks.items():
        marked.setdefault(label, {})[key] = _known(words)
    return marked


def _known(words: str) -> str:
    if unknown := set(words.split()) - set(MARKS):
        raise ValueError(f"a cell cannot be marked as {min(unknown)!r}")
    return words


def _without(changed: Mapping[str, Mapping[str, Any]], part: str) -> dict[str, dict[str, Any]]:
    left = {
        label: {name: value for name, value in change.items() if name != part}
        for label, change in changed.items()
    }
    return {label: change for label, change in left.items() if change}
