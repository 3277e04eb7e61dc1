"""The picture that answers the question of one finding."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import altair as alt

__all__ = ["BEING_DRAWN", "BY_KEYBOARD", "Picture"]

#: A chart cannot be reached by the keyboard; the rows beside it can. Said in each description.
BY_KEYBOARD = "Points are picked with the mouse; the rows as typed offer the same by keyboard."

#: What stands in the place of a picture until it is there.
BEING_DRAWN = "The picture is being drawn."


@dataclass(frozen=True, slots=True)
class Picture:
    """A chart for one finding.

    Attributes
    ----------
    chart : altair.LayerChart
        Has the selection ``picked`` of records by their label and the parameter ``chosen``, the label of the
        record that is lit up.
    labels : frozenset of str
        Labels of the rows that are drawn as points of their own.
    question : str
        What the picture answers.
    description : str
        The same in words, with the numbers.
    """

    chart: alt.LayerChart
    labels: frozenset[str]
    question: str
    description: str
