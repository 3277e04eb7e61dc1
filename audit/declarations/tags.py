"""Declared tag formats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.declarations.limit import Limit, limits_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document

__all__ = ["TagDeclarations", "tags_from"]


@dataclass(frozen=True, slots=True)
class TagDeclarations:
    """Declared tag formats and the numbers that go with them."""

    limits: Mapping[str, Limit]


def tags_from(document: Document) -> TagDeclarations:
    """Build tag formats from a document that fits the form ``tags``."""
    return TagDeclarations(limits=dict(limits_in(document.tree)))
