"""Question of the list of tags: is each in stock once? A line copied hides the tag that belongs there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.models.tag_text import comparable
from audit.rules.case import At
from audit.rules.rule import Rule
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find tags that stand more than once in the stock, however they are written."""
    rows: dict[str, list[str]] = {}
    for label, tag in case.sure("tag_stock")["tag"].dropna().items():
        rows.setdefault(comparable(str(tag)), []).append(str(label))
    for key, labels in rows.items():
        if len(labels) > 1:
            numbers = ", ".join(str(split_label(label)[1]) for label in labels)
            message = f"Tag {key} stands {len(labels)} times in the stock, in rows {numbers}."
            suspects = [At(label, "tag") for label in labels[1:]]
            yield case.blame("twice", suspects, message, [(labels[0], "tag")])


RULE = Rule("tag_stock", {"tag_stock": ("tag",)}, check, heeds={"tag_stock": ("tag",)})
