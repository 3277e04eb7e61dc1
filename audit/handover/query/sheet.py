"""The query sheet of a season as a record, and the files made of it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from audit.declarations.species import species_index
from audit.handover.file_stem import file_stem
from audit.handover.folder import write_whole
from audit.handover.query.words import lead, title
from audit.review.field_pages import natural
from audit.review.questions import open_questions, stand_now

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding
    from audit.review.decisions import Decision
    from audit.review.field_pages import Visit
    from audit.review.places import Orphan
    from audit.review.questions import Question
    from audit.season import Season

__all__ = ["Page", "QuerySheet", "make_query", "query_writers", "write_query"]


@dataclass(frozen=True, slots=True)
class Page:
    """The questions of one page of the field notebook."""

    visit: Visit
    questions: tuple[Question, ...]


@dataclass(frozen=True, slots=True, repr=False)
class QuerySheet:
    """What must be looked up in the field notebook.

    Attributes
    ----------
    season : str
        Name of the season.
    questions : tuple of Question
        In the order of the pages of the notebook.
    lost : tuple of str
        One sentence for each question whose row is no longer in the sheet.
    cautions : tuple of (str, str)
        Names of species, and what is to be minded with them.
    suggestions : bool
        Whether a last page says what was probably meant.
    source : str
        File that the season was read from; it is never written to.
    """

    season: str
    questions: tuple[Question, ...]
    lost: tuple[str, ...] = ()
    cautions: tuple[tuple[str, str], ...] = ()
    suggestions: bool = False
    source: str = ""

    @property
    def pages(self) -> tuple[Page, ...]:
        """The questions by page of the notebook."""
        by_visit = groupby(self.questions, key=lambda question: question.place.visit)
        return tuple(Page(visit, tuple(inside)) for visit, inside in by_visit)

    def by_box(self) -> tuple[tuple[str, tuple[Page, ...]], ...]:
        """Index: the pages of each box, SL-9 before SL-10; what belongs to no box comes last."""
        boxes: dict[str, list[Page]] = {}
        names: dict[str, str] = {}
        for page in self.pages:
            name = page.visit.box
            key = "" if page.visit.sheet else name.upper()
            names.setdefault(key, name)
            boxes.setdefault(key, []).append(page)
        return tuple((names[key], tuple(boxes[key])) for key in sorted(boxes, key=natural))

    def write(self, out: str | Path, *, paper: str = "a4") -> list[Path]:
        """Write page, print and workbook into a folder; see `write_query`."""
        return write_query(self, Path(out), [Path(self.source)] if self.source else [], paper=paper)

    def __repr__(self) -> str:
        from audit.handover.query.words import bird_words, visit_name

        told = [title(self.season), lead(len(self.questions), len(self.pages))]
        for page in self.pages:
            told.append(visit_name(page.visit))
            told += [
                f"  {question.number}. {bird_words(question)}: {question.column} {question.typed}"
                for question in page.questions
            ]
        return "\n".join([*told, *self.lost])

    def _repr_html_(self) -> str:
        from audit.handover.query.page import page_piece

        return page_piece(self)


def make_query(
    season: Season,
    declared: Declarations,
    decisions: Sequence[Decision],
    findings: Iterable[Finding] = (),
    *,
    unasked: bool = False,
    suggestions: bool = False,
) -> QuerySheet:
    """Make the query sheet of a season.

    Parameters
    ----------
    season : Season
        As typed.
    decisions : sequence of Decision
        All decisions of the log.
    findings : iterable of Finding
        Of the season with the decisions applied.
    unasked : bool
        Whether open errors and suspects are listed, too, although nobody has asked about them.
    suggestions : bool
        Whether a last page says what was probably meant.
    """
    questions = open_questions(season, decisions, findings, unasked=unasked)
    orphans = stand_now(season, decisions).orphans
    lost = [_lost(orphan) for orphan in orphans if orphan.decision.verb == "ask"]
    return QuerySheet(
        season.name,
        questions,
        tuple(dict.fromkeys(lost)),
        tuple(_cautions(season, declared)),
        suggestions=suggestions,
        source=season.source,
    )


def _lost(orphan: Orphan) -> str:
    decision, cell = orphan.decision, orphan.cell
    marks = " ".join(text for field in ("date", "box", "ring") if (text := cell.as_typed.get(field, "")))
    why = f", because: {decision.reason}" if decision.reason else ""
    return (
        f"{marks or f'{cell.sheet} row {cell.row}'}: {cell.field} {cell.observed or '(nothing)'}, "
        f"asked by {decision.who or 'somebody'}{why}. {orphan.why}"
    )


def _cautions(season: Season, declared: Declarations) -> Iterator[tuple[str, str]]:
    """List what is to be minded with the species of the season, those of one text together."""
    if not season.has("handlings", "species"):
        return
    index = species_index(declared.species)
    words = season.frame("handlings")["species"].dropna().value_counts().index
    by_text: dict[str, list[str]] = {}
    for slug in dict.fromkeys(index.resolve(str(word)) for word in words):
        one = declared.species.get(slug) if slug else None
        if one is not None and one.caution:
            by_text.setdefault(one.caution, []).append(one.english)
    for text, names in by_text.items():
        yield ", ".join(names).capitalize(), text


def write_query(
    sheet: QuerySheet, out: Path, inputs: Sequence[Path | None] = (), *, paper: str = "a4"
) -> list[Path]:
    """Write the query sheet as page, print and workbook.

    Parameters
    ----------
    out : Path
        Folder for the results, made when it is not there.
    inputs : sequence of Path or None
        Files that were read: no result may replace them.
    paper : str
        ``a4`` or ``letter``, for the print.

    Returns
    -------
    list of Path
        ``<season>.questions.html``, ``.pdf`` and ``.xlsx``.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or a result would replace what was read.
    """
    return write_whole(query_writers(sheet, paper=paper), out, inputs)


def query_writers(sheet: QuerySheet, *, paper: str = "a4") -> dict[str, Callable[[Path], None]]:
    """Name the files of the query sheet, each with what writes it to a path."""
    from audit.handover.query.page import write_page
    from audit.handover.query.print import write_print
    from audit.handover.query.workbook import write_workbook

    name = file_stem(sheet.season)
    return {
        f"{name}.questions.html": lambda path: write_page(sheet, path),
        f"{name}.questions.pdf": lambda path: write_print(sheet, path, paper=paper),
        f"{name}.questions.xlsx": lambda path: write_workbook(sheet, path),
    }
