"""Words that are none of those allowed, codes that do not have the declared form."""

from __future__ import annotations

import difflib
import re
from collections import Counter
from typing import TYPE_CHECKING

from audit.models.spelling import SlipIndex
from audit.rules.case import At
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding
    from audit.rules.breaches.fault import Fault
    from audit.rules.case import Case

__all__ = ["not_allowed", "odd_form"]


def not_allowed(case: Case, fault: Fault) -> Iterator[Finding]:
    """Say which words are none of those that the column takes."""
    allowed = [plain_text(word) for word in fault.field.allowed_values]
    column = fault.column(case)
    words = [plain_text(word) for word in column[list(fault.labels)]]
    nearest = {word: _nearest(case, word, allowed) for word in set(words)}
    count = Counter(words)
    own = [word for word in count if count[word] >= case.limit("own_word_rows") and not nearest[word][0]]
    for word in own:
        labels = [label for label, other in zip(fault.labels, words, strict=True) if other == word]
        text = (
            f"The column '{fault.header(case, labels[0])}' takes {', '.join(allowed)}; '{word}' is none of "
            f"them and stands in {len(labels)} rows: type one of them, or say what it means in reading.yaml "
            f"of your own folder of declarations."
        )
        yield case.blame("own_word", [At(label, fault.field.name) for label in labels], text)
    for label, word in zip(fault.labels, words, strict=True):
        if word in own:
            continue
        meant, p_fix = nearest[word]
        text = (
            f"The column '{fault.header(case, label)}' takes {', '.join(allowed)}; '{word}' is none of them"
        )
        if meant:
            text += f", {meant} was probably meant"
        yield case.blame("set", [At(label, fault.field.name, meant, p_fix=p_fix)], f"{text}.")


def _nearest(case: Case, word: str, allowed: Sequence[str]) -> tuple[str, float | None]:
    """Find the one allowed word that is the same but for capitals, begins alike, or is spelt nearly so."""
    bare = re.sub(r"[^\w]", "", word).casefold()
    folded = {re.sub(r"[^\w]", "", other).casefold(): other for other in allowed}
    if not bare or len(folded) < len(allowed):
        return "", None
    if bare in folded:
        return folded[bare], case.limit("case_fix")
    if len(set(bare)) > 1 and set(bare) <= set(folded):
        # such as LR, where L and R are both allowed
        return "", None
    alike = [other for key, other in folded.items() if key.startswith(bare) or bare.startswith(key)]
    if len(alike) == 1 and bare.isalpha():
        return alike[0], case.limit("initial_fix")
    near = difflib.get_close_matches(bare, folded, n=2, cutoff=case.limit("likeness"))
    return (folded[near[0]], None) if len(near) == 1 else ("", None)


def odd_form(case: Case, fault: Fault) -> Iterator[Finding]:
    """Say which codes do not have the form that is declared."""
    column = fault.column(case)
    others = SlipIndex(fault.others(case).unique())
    for label in fault.labels:
        near = others.near(column[label])
        text = (
            f"The column '{fault.header(case, label)}' says '{column[label]}', "
            f"which does not have the declared form {fault.field.pattern}"
        )
        meant = near[0] if len(near) == 1 else ""
        if meant:
            text += f"; {meant} was probably meant"
        even = [] if meant else case.evenly("pattern", near)
        yield case.blame("pattern", [At(label, fault.field.name, meant, others=even)], f"{text}.")
