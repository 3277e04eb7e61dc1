"""Rows of an archive that contradict each other, as findings: two cells of which one is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.archive.told_species import beside, told_species
from audit.findings import Cell, Finding, RowMarks, Suspect
from audit.season import row_label

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.declarations import Declarations

    #: A row of an excerpt: canonical column -> text, with ``file`` and ``row``.
    Row = Mapping[str, str]

__all__ = ["accounting", "clash_finding", "explained", "renumbered"]

#: Cells of the row, and of the other row, of which one is wrong.
_CELLS: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "repeated": (("ring",), ()),
    "ringed_twice": (("ring",), ("ring",)),
    "met_before_ringed": (("ring",), ("ring",)),
    "two_species": (("species",), ("species",)),
    "two_sexes": (("sex",), ("sex",)),
    "nestling_again": (("age",), ()),
    "ringed_after_death": (("ring",), ("condition",)),
    "alive_after_death": (("ring",), ("condition",)),
    "two_boxes": (("ring",), ("ring",)),
    "too_far": (("ring",), ("ring",)),
    "two_tags": (("tag",), ("tag",)),
    "two_rings": (("tag",), ("tag",)),
}
#: What rows share, and what they say of it, where the one that says something else alone is the odd one.
_COUNTED = {
    "two_species": ("ring", "species"),
    "two_sexes": ("ring", "sex"),
    "two_tags": ("ring", "tag"),
    "two_rings": ("tag", "ring"),
}
#: Rules of which the other row says what was meant.
_SAYS_WHAT = ("two_species", "two_sexes", "two_tags")
#: Cells of a row that says of a bird that it is dead.
_OF_DEATH = ("ring", "condition")
#: Cells that may be wrong instead of those, whatever the rule.
_INSTEAD = ("ring", "tag", "date", "event", "box")
#: Notes of a season by which a bird has two numbers with good reason: it was given another ring, or tag.
_REASONS = {"two_rings": "earlier.new_ring", "two_tags": "earlier.new_tag"}
_MARKS = ("box", "date", "ring", "tag")


def clash_finding(
    rule: str,
    row: Row,
    other: Row,
    kin: Sequence[Row],
    declared: Declarations,
    rows: Sequence[Row] = (),
) -> Finding:
    """Word a contradiction.

    Parameters
    ----------
    rule : str
        One of the rules of ``rules/archive.yaml``.
    row, other : mapping of str to str
        The two rows as typed.
    kin : sequence of mapping
        All rows of the same ring or tag, these two included: where one of the two stands alone against
        several, it is blamed alone.
    declared : Declarations
    rows : sequence of mapping
        The rows of the visits of both, as far as they are known.
    """
    outcome = declared.rules["archive"].outcomes[rule]
    here, there = _CELLS[rule]
    alone = _alone(rule, row, other, kin) if there else None
    says, why = rule, ""
    suspects: tuple[Suspect, ...]
    witnesses: tuple[Cell, ...]
    told = told_species(row, other, beside(row, rows), beside(other, rows)) if rule == "two_species" else None
    if told is not None:
        numbers = declared.settings
        p_error, p_fix = (
            float(numbers[f"archive.weighed.{name}"].value) for name in ("odd_one_out", "as_the_others")
        )
        cell = _cell(told.row, told.field)
        suspects = (Suspect(cell, told.meant, p_error, p_fix if told.meant else None),)
        even = other if told.row is row else row
        witnesses = (_cell(even, "species"),)
        why = f", {told.why}"
    elif rule == "alive_after_death" and _dead(row, declared):
        says = "dead_before"
        # the bird was met alive again and again, so it is this row that has a wrong ring, or a wrong word
        p_error = float(declared.settings["archive.weighed.odd_one_out"].value) / len(_OF_DEATH)
        suspects = tuple(Suspect(_cell(row, name), p_error=p_error) for name in _OF_DEATH)
        witnesses = tuple(_cell(other, name) for name in _OF_DEATH)
    elif alone is None:
        cells = [_cell(row, name) for name in here] + [_cell(other, name) for name in there]
        suspects = tuple(Suspect(cell, p_error=outcome.p_error) for cell in cells)
        witnesses = () if there else (_cell(other, here[0]),)
    else:
        odd, even = (row, other) if alone is row else (other, row)
        numbers = declared.settings
        p_error, p_fix = (
            float(numbers[f"archive.weighed.{name}"].value) for name in ("odd_one_out", "as_the_others")
        )
        suggested = even.get(here[0], "") if rule in _SAYS_WHAT else ""
        suspects = (Suspect(_cell(odd, here[0]), suggested, p_error, p_fix if suggested else None),)
        witnesses = (_cell(even, here[0]),)
    return Finding(
        rule=outcome.slug,
        severity=outcome.severity,
        suspects=suspects,
        message=_message(says, row, other).removesuffix(".") + f"{why}.",
        witnesses=witnesses,
    )


def _alone(rule: str, row: Row, other: Row, kin: Sequence[Row]) -> Row | None:
    """Name the one of two rows that says what no other row of the same ring or tag says."""
    if rule not in _COUNTED:
        return None
    key, says = _COUNTED[rule]
    same = [one for one in kin if _plain(one, key) == _plain(row, key)]
    many = {id(side): sum(_plain(one, says) == _plain(side, says) for one in same) for side in (row, other)}
    lone = [side for side in (row, other) if many[id(side)] <= 1]
    return lone[0] if len(lone) == 1 else None


def _dead(row: Row, declared: Declarations) -> bool:
    words = {str(word).lower() for word in declared.rules["history"].limits["dead_words"].value}
    return row.get("condition", "").strip().lower() in words


def _plain(row: Row, name: str) -> str:
    return "".join(sign for sign in row.get(name, "").upper() if sign.isalnum())


def explained(
    rule: str,
    labels: Sequence[str],
    blamed: Mapping[str, frozenset[str]],
    noted: Mapping[str, frozenset[str]] | None = None,
) -> bool:
    """Whether the rules of a season blame a cell that accounts for a contradiction, or know its reason.

    Parameters
    ----------
    rule : str
    labels : sequence of str
        Of the two rows.
    blamed : mapping of str to frozenset of str
        Row label -> columns that errors and suspects blame.
    noted : mapping of str to frozenset of str, optional
        Row label -> rules of the notes on it.
    """
    if any(_REASONS.get(rule) in (noted or {}).get(label, frozenset()) for label in labels):
        return True
    return any(accounting(rule) & blamed.get(label, frozenset()) for label in labels)


def accounting(rule: str) -> frozenset[str]:
    """Name the columns of a row that, where one is wrong, account for a contradiction.

    Parameters
    ----------
    rule : str
    """
    return frozenset({*_INSTEAD, *(name for part in _CELLS[rule] for name in part)})


def renumbered(rule: str, row: Row, other: Row, kin: Sequence[Row]) -> bool:
    """Whether a remark on the bird names the number that it bore besides: it was given another one.

    Parameters
    ----------
    rule : str
    row, other : mapping of str to str
    kin : sequence of mapping
        All rows of the same ring or tag: the remark stands where the number was changed, which may be
        neither of the two.
    """
    if rule not in _REASONS:
        return False
    key, says = _COUNTED[rule]
    numbers = {_plain(side, says) for side in (row, other)} - {""}
    same = [one for one in (row, other, *kin) if _plain(one, key) == _plain(row, key)]
    return any(number in _plain(one, "remarks") for one in same for number in numbers - {_plain(one, says)})


def _cell(row: Row, field: str) -> Cell:
    number = int(row["row"])
    return Cell(
        sheet=row["file"],
        row=number,
        column=field,
        address=str(number),
        field=field,
        observed=row.get(field, ""),
        label=row_label(row["file"], number),
        marks=RowMarks(*(row.get(name, "") for name in _MARKS)),
    )


def _message(rule: str, row: Row, other: Row) -> str:
    ring, tag = row.get("ring", ""), row.get("tag", "")
    day, then = row.get("date", ""), other.get("date", "")
    box, there = row.get("box", ""), other.get("box", "")
    where = f"row {other['row']} of {other['file']}"
    before = f"box {there} on {then} ({where})"
    return {
        "repeated": f"This row repeats {where} in every cell.",
        "ringed_twice": f"Ring {ring} was put on a bird in box {box} on {day}, and in {before} already.",
        "met_before_ringed": f"Ring {ring} was put on on {day}, but was met in {before} before that.",
        "two_species": f"Ring {ring} is on a {row.get('species', '')} here, and on a "
        f"{other.get('species', '')} in {before}.",
        "two_sexes": f"Ring {ring} is on a bird of sex {row.get('sex', '')} here, and of sex "
        f"{other.get('sex', '')} in {before}.",
        "nestling_again": f"Ring {ring} is on a nestling (age {row.get('age', '')}) here, and was on a bird "
        f"of age {other.get('age', '') or 'not told'} in {before}.",
        "ringed_after_death": f"Ring {ring} was put on a bird on {day}, and was on a dead one in {before}.",
        "alive_after_death": f"Ring {ring} is on a live bird on {day}, and was on a dead one in {before}.",
        "dead_before": f"Ring {ring} is on a dead bird on {day}, and was met alive several times after that, "
        f"first in {before}.",
        "two_boxes": f"Ring {ring} was seen in box {box} and in {before}, on one day.",
        "too_far": f"Ring {ring} was seen in box {box} on {day} and in {before}: too far to go.",
        "two_tags": f"Ring {ring} bears tag {tag} here, and {other.get('tag', '')} in {before}, which it "
        "bears again later or on the same day.",
        "two_rings": f"Tag {tag} is on ring {ring} here, and on ring {other.get('ring', '')} in {before}.",
    }[rule]
