"""The lines of a grid without a program: an ordinary table, and text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.review.page_look import piece
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.review.grid import Head

__all__ = ["StillGrid"]

#: Lines that a still table has at most.
_KEPT = 200


@dataclass(frozen=True, slots=True)
class StillGrid:
    """What a grid shows, at one moment.

    Attributes
    ----------
    heads : sequence of Head
    labels, places, texts
        Of each line.
    marks : mapping of label to mapping of key to str
    states : mapping of label to str
    chosen : str
        Label of the chosen line, or empty.
    caption, place_head, state_head, otherwise : str
        As in the grid.
    """

    heads: Sequence[Head]
    labels: Sequence[str]
    places: Sequence[str]
    texts: Sequence[Sequence[str]]
    marks: Mapping[str, Mapping[str, str]]
    states: Mapping[str, str]
    chosen: str
    caption: str
    place_head: str
    state_head: str
    otherwise: str

    def html(self) -> str:
        """Return the first lines as a table that needs no program, with its look."""
        return piece(self.table())

    def table(self) -> str:
        """Return the first lines as a table of safe HTML, without a look of its own."""
        caption = f'<div class="typed"><table><caption>{safe(self.caption)}</caption>'
        if not self.labels:
            return f"{caption}<tbody><tr><td>{safe(self.otherwise)}</table></div>"
        parts = [caption, f'<thead><tr><th scope="col" class="n">{safe(self.place_head)}']
        if self.state_head:
            parts.append(f'<th scope="col">{safe(self.state_head)}')
        parts.extend(f'<th scope="col"{_side(head)}>{safe(head.text)}' for head in self.heads)
        parts.append("</thead><tbody>\n")
        for label, place, texts in self._lines():
            at = ' class="at"' if label and label == self.chosen else ""
            parts.append(f'<tr{at}><th scope="row" class="n">{safe(place)}')
            if self.state_head:
                parts.append(f"<td>{safe(self.states.get(label, ''))}")
            parts.extend(
                _cell(text, self._words(label, head), head)
                for text, head in zip(texts, self.heads, strict=True)
            )
            parts.append("\n")
        parts.append("</tbody></table></div>")
        if self._left_out():
            parts.append(f'<p class="quiet">{self._left_out()}</p>')
        return "".join(parts)

    def text(self) -> str:
        """Return the first lines as text, a tab between cells."""
        rows = []
        if self.labels:
            state = [self.state_head] if self.state_head else []
            rows.append([self.place_head, *state, *(head.text for head in self.heads)])
        for label, place, texts in self._lines():
            state = [self.states.get(label, "")] if self.state_head else []
            told = [
                f"{text or '(empty)'} ({words.replace(' ', ', ')})"
                if (words := self._words(label, head))
                else text
                for text, head in zip(texts, self.heads, strict=True)
            ]
            rows.append([place, *state, *told])
        body = ["\t".join(_plain(text) for text in row) for row in rows] or [self.otherwise]
        return "\n".join(part for part in (_plain(self.caption), *body, self._left_out()) if part)

    def _lines(self) -> Iterator[tuple[str, str, Sequence[str]]]:
        yield from zip(self.labels[:_KEPT], self.places[:_KEPT], self.texts[:_KEPT], strict=True)

    def _words(self, label: str, head: Head) -> str:
        return self.marks.get(label, {}).get(head.key, "") if label else ""

    def _left_out(self) -> str:
        more = len(self.labels) - _KEPT
        return f"{more:,} more {'line is' if more == 1 else 'lines are'} not shown here." if more > 0 else ""


def _side(head: Head) -> str:
    return ' class="n"' if head.align == "right" else ""


def _cell(text: str, words: str, head: Head) -> str:
    if not words:
        return f"<td{_side(head)}>{safe(text)}"
    # witnesses have their own short name in the look of the page; amended cells look like them
    kinds = dict.fromkeys({"witness": "w", "amended": "w"}.get(word, word) for word in words.split())
    side = ["n"] if head.align == "right" else []
    told = words.replace(" ", ", ")
    return f'<td class="{" ".join([*kinds, *side])}" title="{told}"><b>{safe(text) or "(empty)"}</b>'


def _plain(text: str) -> str:
    return "".join(sign if sign.isprintable() else "\ufffd" for sign in text)
