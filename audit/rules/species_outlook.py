"""The outlook of one species, laid out once for all rules that see the same of its birds."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from audit.rules.heeded import BIRDS
from audit.rules.outlook import outlook_of
from audit.rules.scatter import Grain
from audit.rules.sizes import sizes_of

if TYPE_CHECKING:
    from audit.rules.birds import Birds
    from audit.rules.case import Case
    from audit.rules.outlook import Outlook

__all__ = ["species_outlook"]


def species_outlook(case: Case, slug: str, birds: Birds) -> Outlook:
    """Say what is expected of the birds of one declared species.

    Cells that are in doubt to one rule and not to another are mostly those of other species: where nothing of
    these birds has changed, what was laid out stands.

    Parameters
    ----------
    birds : Birds
        All of this species.
    """
    key = "outlook", slug, _digest(birds)
    made: Outlook = case.layouts.get(key, lambda: _lay_out(case, slug, birds), BIRDS)
    return made


def _lay_out(case: Case, slug: str, birds: Birds) -> Outlook:
    return outlook_of(sizes_of(case.declared.species[slug], birds, Grain.from_case(case)), birds)


def _digest(birds: Birds) -> bytes:
    made = hashlib.blake2b()
    for name in birds.__dataclass_fields__:
        column = getattr(birds, name)
        told = "\x1f".join(column.tolist()).encode() if column.dtype == object else column.tobytes()
        made.update(told + b"\x1e")
    return made.digest()
