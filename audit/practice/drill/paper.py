"""A page of a drill: whole, as a piece of another page, and as plain text."""

from __future__ import annotations

from dataclasses import dataclass

from audit.handover.paper import page_size
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe

__all__ = ["Paper"]


@dataclass(frozen=True, slots=True)
class Paper:
    """One page.

    Attributes
    ----------
    title : str
        As a person reads it.
    body, style : str
        Safe HTML below the title, and further lines of style.
    text : str
        The same in plain text.
    """

    title: str
    body: str
    style: str = ""
    text: str = ""

    def page(self, paper: str = "a4") -> str:
        """Return it as a whole page that stands alone, for a paper: ``a4`` or ``letter``.

        Raises
        ------
        audit.refusal.Refusal
            There is no such paper.
        """
        return whole_page(safe(self.title), self.body, self.style + page_size(paper))

    def piece(self) -> str:
        """Return it for use in another page, such as a notebook."""
        style = f"<style>.nestproof{{{self.style}}}</style>" if self.style else ""
        return piece(f"{style}<h2>{safe(self.title)}</h2>\n{self.body}")
