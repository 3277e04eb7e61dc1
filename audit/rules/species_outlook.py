"""The outlook of one species, laid out once for all rules that see the same of its birds."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, TypeVar

from audit.rules.heeded import BIRDS
from audit.rules.outlook import outlook_of
from audit.rules.scatter import Grain
from audit.rules.sizes import sizes_of

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

    from audit.rules.birds import Birds
    from audit.rules.case import Case
    from audit.rules.outlook import Outlook
    from audit.rules.sizes import Sizes

__all__ = ["species_outlook", "species_sizes"]

Made = TypeVar("Made")


def species_outlook(case: Case, slug: str, birds: Birds) -> Outlook:
    """Say what is expected of the birds of one declared species.

    Cells that are in doubt to one rule and not to another are mostly those of other species: where nothing of
    these birds has changed, what was laid out stands.

    Parameters
    ----------
    birds : Birds
        All of this species.
    """
    digest = _digest(birds)
    sizes = _sizes(case, slug, birds, digest)
    made: Outlook = case.layouts.get(("outlook", slug, digest), lambda: outlook_of(sizes, birds), BIRDS)
    return made


def species_sizes(case: Case, slug: str, birds: Birds) -> Sizes:
    """Say what sizes the birds of one declared species have, as the outlook does: none of them is foretold.

    Parameters
    ----------
    birds : Birds
        All of this species.
    """
    return _sizes(case, slug, birds, _digest(birds))


def _sizes(case: Case, slug: str, birds: Birds, digest: bytes) -> Sizes:
    def recall(key: Hashable, make: Callable[[], Made], /) -> Made:
        """Recall what was learnt while other cells were in doubt."""
        found: Made = case.layouts.get(("learnt", slug, key), make, BIRDS)
        return found

    made: Sizes = case.layouts.get(
        ("sizes", slug, digest),
        lambda: sizes_of(case.declared.species[slug], birds, Grain.from_case(case), recall),
        BIRDS,
    )
    return made


def _digest(birds: Birds) -> bytes:
    made = hashlib.blake2b()
    for name in birds.__dataclass_fields__:
        column = getattr(birds, name)
        told = "\x1f".join(column.tolist()).encode() if column.dtype == object else column.tobytes()
        made.update(told + b"\x1e")
    return made.digest()
