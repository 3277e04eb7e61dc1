"""A page of practice set in print: a PDF, made offline by typst with the letters that it brings along."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from audit.handover.query.print import PAPERS, is_brought_along
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["paper_named", "typeset"]


def paper_named(paper: str) -> str:
    """Return the name of a paper in typst: of ``a4`` or ``letter``.

    Raises
    ------
    audit.refusal.Refusal
        There is no such paper.
    """
    if paper not in PAPERS:
        raise Refusal(f"There is no paper '{paper}'.", where="paper", cure=f"Name {' or '.join(PAPERS)}.")
    return PAPERS[paper][0]


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
