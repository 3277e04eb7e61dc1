"""What holds a season back: the numbers and names of ``gate.yaml``, checked as no form can."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.declarations.form import near_words
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document

__all__ = ["check_gate"]


def check_gate(document: Document, rules: Mapping[str, Document]) -> None:
    """Check that a probability is one, and that each rule that must run is there.

    Parameters
    ----------
    document : Document
        ``gate.yaml``, with a team's own laid over it.
    rules : mapping of str to Document
        The declared rules by slug.

    Raises
    ------
    DeclarationRefusal
        With file, line and cure.
    """
    least = document.tree["shut_from"]["value"]
    if isinstance(least, bool) or not isinstance(least, int | float) or not 0 <= least <= 1:
        raise DeclarationRefusal(
            f"'{least}' under 'shut_from.value' is no probability.",
            where=document.where("shut_from", "value"),
            cure="Write a number from 0 to 1, such as 0.5.",
        )
    named = document.tree["must_run"]["value"]
    if not isinstance(named, list):
        raise DeclarationRefusal(
            "'must_run.value' is no list.",
            where=document.where("must_run", "value"),
            cure="Write the names of rules in brackets, such as [ring_stock, boxes.unknown], or [].",
        )
    parts = [f"{slug}.{outcome}" for slug, rule in rules.items() for outcome in rule.tree["outcomes"]]
    for position, name in enumerate(named):
        if name not in rules and name not in parts:
            raise DeclarationRefusal(
                f"'{name}' under 'must_run.value' is no rule, and no part of one.",
                where=document.where("must_run", "value", position),
                cure=f"{near_words(str(name), [*rules, *parts])}Known rules: {', '.join(rules)}.",
            )
