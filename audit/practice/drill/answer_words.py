"""Where the answers of a round go, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from audit.practice.drill.round_code import Coded

__all__ = ["typed_into", "where_to"]


def typed_into(made: Coded) -> str:
    """Say into which file answers are typed."""
    return (
        f"Write here first. To have it marked, type the same into {made.name}.answers.csv, a sheet that lies "
        "beside this page."
    )


def where_to(made: Coded, who: str) -> str:
    """Say where to write and to type, as safe HTML; `who` begins the line with the name: ``read by``."""
    return f"<p>{who} ______________ on ______________</p><p>{safe(typed_into(made))}</p>"
