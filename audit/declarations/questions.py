"""Declared rules: the question, the numbers used and the possible answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.declarations.limit import Limit, limits_in
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document
    from audit.findings import Severity

__all__ = ["Outcome", "RuleDeclaration", "check_rules", "rule_from"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """One possible answer of a rule.

    Attributes
    ----------
    severity : {'error', 'suspect', 'note'}
        How grave it is.
    says : str
        One short sentence for the summary.
    p_error : float
        Probability that the blamed cell is wrong, where the rule itself names none.
    p_fix : float or None
        Probability that a suggestion is right, where the rule itself names none.
    """

    slug: str
    severity: Severity
    says: str
    p_error: float
    p_fix: float | None


@dataclass(frozen=True, slots=True)
class RuleDeclaration:
    """What a rule asks, the numbers it uses and what it may answer."""

    slug: str
    question: str
    limits: Mapping[str, Limit]
    outcomes: Mapping[str, Outcome]


def rule_from(document: Document) -> RuleDeclaration:
    """Build a rule's declaration from a document that fits the form ``rule``."""
    tree = document.tree
    slug = tree["rule"]
    return RuleDeclaration(
        slug=slug,
        question=tree["question"],
        limits=dict(limits_in(tree.get("limits", {}))),
        outcomes={
            name: Outcome(
                slug=f"{slug}.{name}",
                severity=body["severity"],
                says=body["says"],
                p_error=float(body["p_error"]["value"]),
                p_fix=float(body["p_fix"]["value"]) if "p_fix" in body else None,
            )
            for name, body in tree["outcomes"].items()
        },
    )


def check_rules(documents: Mapping[str, Document]) -> None:
    """Check that each rule bears the name of its file.

    Raises
    ------
    DeclarationRefusal
        With file, line and cure.
    """
    for stem, document in documents.items():
        name = document.tree["rule"]
        if name != stem:
            raise DeclarationRefusal(
                f"The rule is named '{name}' in a file named '{stem}'.",
                where=document.where("rule"),
                cure=f"Write 'rule: {stem}'.",
            )
