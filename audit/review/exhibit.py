"""What lies on the desk for one finding: the rows as typed, other sheets, what may have been meant."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.review.evidence_boxes import box_sheets, meant_visits, visit_sheets
from audit.review.evidence_lives import life_sheets
from audit.review.evidence_rings import ring_sheets
from audit.review.evidence_tags import read_sheets, tag_stock_sheets
from audit.review.excerpts import Excerpt, Line
from audit.review.matter import Candidate, Matter, candidates
from audit.review.own_sheet import own_sheets
from audit.review.shelves import shelves_of
from audit.review.together import wrong_together

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from audit.checked import Checked
    from audit.findings import Cell, Finding
    from audit.season import Season

__all__ = ["Candidate", "Choice", "Excerpt", "Exhibit", "Line", "exhibit"]

#: Rows of one table that led to a finding and stand in no other excerpt.
_MOST_WITNESSES = 60

#: In the order in which a person would turn to them.
_SHEETS: tuple[Callable[[Matter], Iterable[Excerpt | None]], ...] = (
    read_sheets,
    tag_stock_sheets,
    ring_sheets,
    life_sheets,
    meant_visits,
    visit_sheets,
    box_sheets,
)


@dataclass(frozen=True, slots=True)
class Choice:
    """One suspect cell with what may have been meant.

    Attributes
    ----------
    cell : Cell
        As it stands now.
    p_error : float
        Probability that it is wrong.
    candidates : tuple of Candidate
        The likeliest first: the suggestion, then the runner-up.
    """

    cell: Cell
    p_error: float
    candidates: tuple[Candidate, ...]


@dataclass(frozen=True, slots=True)
class Exhibit:
    """All that a person needs to decide one finding.

    Attributes
    ----------
    finding : Finding
    choices : tuple of Choice
        One for each suspect cell.
    together : bool
        Whether all suspect cells are wrong together (two tags exchanged): the suggestions are accepted
        as one; else one of them is wrong and the person says which.
    excerpts : tuple of Excerpt
        The sheet itself first, then what other sheets say.
    """

    finding: Finding
    choices: tuple[Choice, ...]
    together: bool
    excerpts: tuple[Excerpt, ...]


def exhibit(checked: Checked, finding: Finding, *, as_typed: Season | None = None) -> Exhibit:
    """Lay out all that a person needs to decide one finding.

    Parameters
    ----------
    checked : Checked
        The season as it stands now, with what was accepted so far.
    finding : Finding
        Of the report of this season.
    as_typed : Season, optional
        The season as it stands in the file: cells that differ are named in ``Excerpt.amended``.

    Returns
    -------
    Exhibit
        Rows that the season has not are left out.
    """
    matter = Matter.of(shelves_of(checked.season, checked.declared), finding, as_typed)
    own = tuple(own_sheets(matter))
    others = tuple(one for sheets in _SHEETS for one in sheets(matter) if one is not None)
    return Exhibit(
        finding,
        tuple(_choices(checked.season, matter)),
        wrong_together(finding, checked.declared),
        (*own, *others, *_witnesses(matter, (*own, *others))),
    )


def _choices(season: Season, matter: Matter) -> Iterator[Choice]:
    for suspect in matter.finding.suspects:
        known = matter.shelves.row(suspect.cell.label) is not None
        cell = season.cell(suspect.cell.label, suspect.cell.field) if known else suspect.cell
        yield Choice(cell, suspect.p_error, candidates(suspect))


def _witnesses(matter: Matter, shown: Iterable[Excerpt]) -> Iterator[Excerpt]:
    """Cut out what led to the finding and stands in no excerpt yet."""
    left = matter.marks.witnesses - {cell for one in shown for cell in one.witnesses}
    by_table: dict[str, set[int]] = {}
    for label, _ in left:
        row = matter.shelves.row(label)
        if row is not None:
            by_table.setdefault(matter.shelves.season.table_of(label), set()).add(row)
    for table in sorted(by_table):
        cut = matter.cut(
            table, sorted(by_table[table]), f"{_NAMES.get(table, table)} that tell", most=_MOST_WITNESSES
        )
        if cut is not None:
            yield cut


_NAMES = {
    "handlings": "Other birds",
    "earlier": "Earlier seasons",
    "visits": "Visits",
    "boxes": "Boxes",
    "ring_stock": "Strings of rings",
    "ring_losses": "Lost rings",
    "tag_stock": "Tags in stock",
    "tag_reads": "Reads of the hand reader",
    "detections": "Reads at the boxes",
}
