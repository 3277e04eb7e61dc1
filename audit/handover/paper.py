"""Pages set for paper: sizes, and a PDF made offline by typst with the letters that it brings along."""

from __future__ import annotations

import json
import unicodedata
from typing import TYPE_CHECKING, Any

from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["is_brought_along", "page_size", "paper_named", "shown", "typeset"]

#: Name of each paper, also in style sheets -> its name in typst, and its height in mm.
_PAPERS = {"a4": ("a4", 297), "letter": ("us-letter", 279)}

#: A code of more signs than this gets places where it may break.
_UNBROKEN = 24
_BREAK = "\N{ZERO WIDTH SPACE}"
#: Scripts whose letters are in the fonts that typst brings along.
_BROUGHT_ALONG = ("LATIN", "GREEK", "CYRILLIC")


def paper_named(paper: str) -> tuple[str, int]:
    """Return the name of a paper in typst, and its height in mm.

    Raises
    ------
    audit.refusal.Refusal
        There is no such paper.
    """
    if paper not in _PAPERS:
        raise Refusal(f"There is no paper '{paper}'.", where="paper", cure=f"Name {' or '.join(_PAPERS)}.")
    return _PAPERS[paper]


def page_size(paper: str) -> str:
    """Return the rule of a style sheet that prints a page on a paper.

    Raises
    ------
    audit.refusal.Refusal
        There is no such paper.
    """
    paper_named(paper)
    return f"@media print{{@page{{size:{paper} portrait;margin:12mm}}}}"


def typeset(setting: Path, told: Mapping[str, Any]) -> bytes:
    """Return a PDF; the same words give the same bytes.

    Parameters
    ----------
    setting : Path
        How it is set; the words come to it as data under the name ``told``, never as markup.
    told : mapping
        All words, as JSON has them.
    """
    import typst

    words = json.dumps(told, ensure_ascii=False)
    # Letters of other scripts come from the machine's own fonts, where it has them.
    fonts = typst.Fonts(include_system_fonts=not is_brought_along(words), include_embedded_fonts=True)
    return bytes(typst.compile(setting.read_bytes(), font_paths=fonts, sys_inputs={"told": words}))


def is_brought_along(text: str) -> bool:
    """Whether the fonts that typst brings along have all letters of a text."""
    return all(
        unicodedata.name(sign, "LATIN").startswith(_BROUGHT_ALONG) for sign in set(text) if sign.isalpha()
    )


def shown(text: str, unbroken: int = _UNBROKEN) -> str:
    """Make text fit for print: signs that cannot be shown become a replacement sign, long codes may break."""
    plain = "".join(sign if sign.isprintable() else " " if sign.isspace() else "\ufffd" for sign in text)
    return " ".join(word if len(word) <= unbroken else _BREAK.join(word) for word in plain.split(" "))
