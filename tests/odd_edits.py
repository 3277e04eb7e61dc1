"""Cells typed anew without sense, one after the other, the same for each seed."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.season import Season

#: Texts that belong nowhere, or somewhere else.
ODD = ("", "7", "395", "0", "x", "20.5 cm", "2026-06-31", '"', "SV0100I", "99910419006580", "SL-4", "1O3")


def edits_of(season: Season, seed: int) -> Iterator[tuple[str, str, str]]:
    """Cells of all columns and what to type there: another cell of the column, a slip, what was there."""
    rng = random.Random(seed)  # noqa: S311 - edits to be made the same again, no secret
    typed = {name: table.typed for name, table in season.tables.items()}
    done: list[tuple[str, str, str]] = []
    tables = ["handlings"] * 5 + [name for name in typed if name != "handlings"]
    while True:
        frame = typed[rng.choice(tables)]
        if done and rng.random() < 0.3:
            # mended again
            yield done.pop(rng.randrange(len(done)))
            continue
        label, field = rng.choice(list(frame.index)), rng.choice(list(frame.columns))
        stood = frame.loc[label, field]
        done.append((label, field, stood))
        text = rng.choice(
            [rng.choice(ODD), frame.loc[rng.choice(list(frame.index)), field], _slip(stood, rng)]
        )
        yield label, field, text


def _slip(text: str, rng: random.Random) -> str:
    digits = [i for i, sign in enumerate(text) if sign.isdigit()]
    if not digits:
        return text[::-1]
    i = rng.choice(digits)
    return text[:i] + rng.choice("0123456789") + text[i + 1 :]
