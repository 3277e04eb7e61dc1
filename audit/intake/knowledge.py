"""What is known before a sheet is looked at: declared tables, words of headers, a saved mapping."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.ambiguity import vague_words
from audit.intake.headers import vocabulary_of
from audit.intake.layout import row_habits
from audit.intake.mapping import NO_MAPPING

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.intake.ambiguity import VagueWords
    from audit.intake.headers import Vocabulary
    from audit.intake.layout import RowHabits
    from audit.intake.mapping import SavedMapping

__all__ = ["Knowledge", "knowledge_of"]


@dataclass(frozen=True, slots=True)
class Knowledge:
    """What is known before a sheet is looked at.

    Attributes
    ----------
    where : str
        The source, for messages.
    mapping_file : str
        Name of the mapping file that would be found beside the source.
    """

    declared: Declarations
    vocabulary: Vocabulary
    habits: RowHabits
    vague: VagueWords
    digits_share: float
    saved: SavedMapping
    where: str
    mapping_file: str


def knowledge_of(
    declared: Declarations, where: str, mapping_file: str, saved: SavedMapping = NO_MAPPING
) -> Knowledge:
    """Gather what is known before a sheet is looked at."""
    return Knowledge(
        declared=declared,
        vocabulary=vocabulary_of(declared),
        habits=row_habits(declared),
        vague=vague_words(declared),
        digits_share=declared.settings["reading.files.header.digits_share"].value,
        saved=saved,
        where=where,
        mapping_file=mapping_file,
    )
