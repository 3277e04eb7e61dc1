"""What the text of a cell on condition says, where it says nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.declarations.exchange import ExchangeDeclarations

__all__ = ["CODES_OF_WORDS", "words_that_fit"]

#: Lists of words -> condition that a cell of nothing else means; the first that fits.
CODES_OF_WORDS = {"words_dead": "1", "words_freshly_dead": "2", "words_long_dead": "3", "words_hurt": "5"}


def words_that_fit(text: str, exchange: ExchangeDeclarations) -> str:
    """Name the list of words in ``exchange.yaml`` that holds a whole text; empty for none."""
    plain = text.strip(" .!").casefold()
    for name in CODES_OF_WORDS:
        if plain and plain in {str(word).casefold() for word in exchange.choice(name)}:
            return name
    return ""
