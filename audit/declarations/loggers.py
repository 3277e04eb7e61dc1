"""How the loggers of box antennas write their files."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

from audit.declarations.held_tags import held_tags
from audit.declarations.limit import limits_in
from audit.declarations.marker_moments import MarkerMoments, marker_moments
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document
    from audit.declarations.limit import Limit

__all__ = ["LogForm", "LoggerDeclarations", "loggers_from"]


@dataclass(frozen=True, slots=True)
class LogForm:
    """How one kind of file is written; what is not told is found from the file itself.

    Attributes
    ----------
    name, files : str
        Name of the form; names of its files, with ``*`` for any signs.
    separator : str
        Sign between columns; empty where not told.
    skip_lines : int
        Lines before the header, or before the first read.
    header : bool or None
        Whether a line names the columns; None where not told.
    columns : mapping of str to str or int
        Header or number from 1 of ``box``, ``antenna``, ``detected_at`` (or ``date`` and ``time``),
        ``milliseconds``, ``tag``.
    time_format : str
        As `datetime.strptime` has it, or ``seconds`` or ``milliseconds`` since 1970.
    minutes_to_add : float
        Brings each moment to the clock of the season.
    antenna, box : str
        The one antenna or box of these files.
    antennas : mapping of str to str
        Name or number -> ``outer`` or ``inner``.
    box_in_name : str
        Pattern that takes the box from the name of the file.
    """

    name: str
    files: str = "*"
    separator: str = ""
    skip_lines: int = 0
    header: bool | None = None
    columns: Mapping[str, str | int] = field(default_factory=dict)
    time_format: str = ""
    minutes_to_add: float = 0.0
    antenna: str = ""
    box: str = ""
    antennas: Mapping[str, str] = field(default_factory=dict)
    box_in_name: str = ""


@dataclass(frozen=True, slots=True)
class LoggerDeclarations:
    """Forms of files of box antennas, and how a file is read that has none.

    Attributes
    ----------
    forms : tuple of LogForm
        In the order in which they are written.
    limits : mapping of str to Limit
        Numbers and words under dotted keys such as ``reading.sample_lines``.
    moments : MarkerMoments
        When marker tags beat, as far as that is declared.
    held : mapping of str to mapping of str to tuple of int
        Test tag -> box -> moments at which it was held to the antennas there, in milliseconds since 1970 by
        the time of the season.
    """

    forms: tuple[LogForm, ...]
    limits: Mapping[str, Limit]
    moments: MarkerMoments = field(default_factory=MarkerMoments)
    held: Mapping[str, Mapping[str, tuple[int, ...]]] = field(default_factory=dict)

    def form_of(self, file_name: str) -> LogForm | None:
        """Return the first form whose files have such a name."""
        name = file_name.casefold()
        return next((form for form in self.forms if fnmatchcase(name, form.files.casefold())), None)


def loggers_from(document: Document) -> LoggerDeclarations:
    """Build the declarations from a document that fits the form ``loggers``.

    Raises
    ------
    DeclarationRefusal
        A pattern cannot be used, a moment is told both whole and in parts, or moments of marker tags or test
        tags are none.
    """
    tree = document.tree
    forms = []
    for name, body in (tree["forms"] or {}).items():
        _check_pattern(document, name, body.get("box_in_name", ""))
        columns = body.get("columns") or {}
        if "detected_at" in columns and ("date" in columns or "time" in columns):
            raise DeclarationRefusal(
                "The moment of a read is declared twice: whole, and as date and time.",
                where=document.where("forms", name, "columns"),
                cure="Keep either detected_at, or date and time.",
            )
        forms.append(LogForm(str(name), **body))
    limits = {key: limit for part in ("reading", "engine") for key, limit in limits_in(tree[part], part)}
    return LoggerDeclarations(tuple(forms), limits, marker_moments(document), held_tags(document))


def _check_pattern(document: Document, name: str, pattern: str) -> None:
    if not pattern:
        return
    try:
        groups = re.compile(pattern).groups
    except re.error as fault:
        raise DeclarationRefusal(
            f"This pattern cannot be used: {fault}.",
            where=document.where("forms", name, "box_in_name"),
            cure="Write it as a regular expression, such as (SL-[0-9]+).",
        ) from fault
    if groups != 1:
        raise DeclarationRefusal(
            f"This pattern has {groups} pairs of brackets.",
            where=document.where("forms", name, "box_in_name"),
            cure="Put one pair of round brackets around the box, such as (SL-[0-9]+).",
        )
