"""One read of the hand reader, with its moment set right and the row that it belongs to."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["StoredRead"]


@dataclass(frozen=True, slots=True)
class StoredRead:
    """One read of the hand reader.

    Attributes
    ----------
    label : str
        Row label in ``tag_reads``.
    reader, tag, key : str
        Which reader, the text, the same tag however written.
    stored, moment : str
        What the reader's clock showed and when it really was, ISO 8601; empty where missing.
    segment : int
        Number of the segment of its reader's clock; -1 where no moment is given.
    role : str
        ``bird`` (a row of its day has the tag), ``slip`` (paired with a row that says something else),
        ``test`` (a tag that tests the reader), ``again`` (the same tag just before) or ``no_row``.
    row : str
        Label of the handling that it belongs to; empty where none.
    """

    label: str
    reader: str
    tag: str
    key: str
    stored: str
    moment: str
    segment: int
    role: str = "no_row"
    row: str = ""

    @property
    def day(self) -> str:
        """Day on which it really was."""
        return self.moment.partition("T")[0]
