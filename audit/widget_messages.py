"""The order in which a person's acts in widgets are heard."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import Any

__all__ = ["hear_in_order"]


def hear_in_order(*widgets: object) -> None:
    """Have all that a person does in widgets heard by one thread, in the order in which it was done.

    From version 7.4 on, ipykernel hears what comes from a widget in a second thread (a subshell) as soon as
    that widget was once told something in answer to a person, and from the others in the first. A button
    would overtake the text that was typed before it was pressed. Where the kernel has one thread only, or
    none runs, nothing is changed.

    Parameters
    ----------
    *widgets : ipywidgets.Widget
        With all that they hold.
    """
    for widget in _with_all_held(widgets):
        comm: Any = getattr(widget, "comm", None)
        if hasattr(comm, "_reply_subshell_for"):
            comm._reply_subshell_for = _in_the_first  # noqa: SLF001 - there is no public way to say it


def _in_the_first(_told: object, _asked: object) -> None:
    """Name the thread in which the cells of the notebook run, as the kernel does: by none."""


def _with_all_held(widgets: tuple[object, ...]) -> Iterator[object]:
    for widget in widgets:
        yield widget
        yield from _with_all_held(tuple(getattr(widget, "children", ())))
