"""Where the answers of a round go, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.practice.drill.round_code import Coded

__all__ = ["where_to"]


def where_to(made: Coded, who: str) -> str:
    """Say where to write and to type; `who` begins the line with the name, such as ``read by``."""
    return (
        f"<p>{who} ______________ on ______________</p><p>Write here first. To have it marked, type the same "
        f"into {made.name}.answers.csv, a sheet that lies beside this page.</p>"
    )
