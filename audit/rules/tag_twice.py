"""One tag, one ring: which cell is wrong where a tag stands on two rings, or a ring has two tags."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, Literal

from audit.rules.case import At
from audit.rules.crossings import blame_crossing, crossings
from audit.rules.heeded import RINGINGS, TAG_BOOK, together
from audit.rules.ringings import ringings_of
from audit.rules.rule import Rule
from audit.rules.tag_book import TagBook, TagRow, open_tag_book

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.crossings import Verdict
    from audit.rules.ringings import Ringings

__all__ = ["RULE"]

Field = Literal["ring", "tag"]

#: A value that stands nowhere in the season: what was meant is not known.
_UNKNOWN = ""


@dataclass(frozen=True, slots=True)
class _Change:
    """One cell of a knot that was meant otherwise; `weight` is the chance of the slip."""

    row: int
    field: Field
    meant: str
    weight: float = 0.0


@dataclass(frozen=True, slots=True)
class _Account:
    """One way in which a knot can have come about, and how likely it is beside the others."""

    changes: tuple[_Change, ...]
    weight: float


@dataclass(frozen=True, slots=True)
class _Knot:
    """Rows that hang together because they share a tag or a ring, in time order."""

    rows: tuple[TagRow, ...]

    def meant(self, changes: Sequence[_Change]) -> list[tuple[str, str]]:
        """Ring and tag of every row after the changes; unknown ones are told apart by the row."""
        state = [(row.ring, row.key) for row in self.rows]
        for change in changes:
            ring, key = state[change.row]
            value = change.meant or f"?{change.row}"
            state[change.row] = (value, key) if change.field == "ring" else (ring, value)
        return state

    def visit(self, i: int) -> tuple[str, str]:
        """Day and box of a row; a row without a day is a visit of its own."""
        row = self.rows[i]
        return row.visit if row.day else (row.label, "")


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Look for knots of rings and tags, and for the slip that best accounts for each."""
    book = open_tag_book(case)
    rings = ringings_of(case)
    back: dict[str, tuple[str, str]] = {}
    for verdict in crossings(case, rings, book):
        if verdict.likely[0][0].how == "slipped":
            # one ring out of the order of the string is another rule's matter
            continue
        yield blame_crossing(case, rings, book, verdict)
        back |= _put_back(rings, verdict)
    rows = [_mended(row, back.get(row.label)) for row in book.rows if row.ring]
    rows = [row for row in rows if row.ring]
    everywhere = _everywhere(case, rows)
    for key, shared in everywhere.items():
        yield case.blame(
            "everywhere",
            [At(row.label, "tag") for row in shared],
            f"Tag {book.printed(key)} stands on {len({row.ring for row in shared})} rings: the codes were "
            "probably cut off or filled down; take them from the reader or the field sheets.",
        )
    for knot in _knots([row for row in rows if row.key not in everywhere]):
        yield from _untie(case, book, knot)


def _put_back(rings: Ringings, verdict: Verdict) -> dict[str, tuple[str, str]]:
    """Give what is meant in the rows that were blamed: nothing where two accounts are as likely."""
    sure = len(verdict.likely) == 1
    written = rings.written
    return {
        str(rings.labels[place]): (crossing.field, written.get(code, code)) if sure else ("", "")
        for crossing, _ in verdict.likely
        for place, code in crossing.meant
    }


def _mended(row: TagRow, meant: tuple[str, str] | None) -> TagRow:
    """Return the row as it was meant; without its ring where that is not known."""
    if meant is None:
        return row
    field, code = meant
    return replace(row, key=code) if field == "tag" else replace(row, ring=code)


def _everywhere(case: Case, rows: Sequence[TagRow]) -> dict[str, list[TagRow]]:
    shared: dict[str, list[TagRow]] = defaultdict(list)
    for row in rows:
        shared[row.key].append(row)
    least = case.limit("everywhere_from")
    return {key: found for key, found in shared.items() if len({row.ring for row in found}) >= least}


def _knots(rows: Sequence[TagRow]) -> list[_Knot]:
    """Tie rows together that share a tag or a ring; keep those in which not one ring has one tag."""
    by_ring: dict[str, list[TagRow]] = defaultdict(list)
    by_key: dict[str, list[TagRow]] = defaultdict(list)
    for row in rows:
        by_ring[row.ring].append(row)
        by_key[row.key].append(row)
    seeds = [
        row
        for row in rows
        if len({other.key for other in by_ring[row.ring]}) > 1
        or len({other.ring for other in by_key[row.key]}) > 1
    ]
    seen: set[str] = set()
    knots = []
    for seed in seeds:
        if seed.label in seen:
            continue
        found: list[TagRow] = []
        waiting = [seed]
        seen.add(seed.label)
        while waiting:
            row = waiting.pop()
            found.append(row)
            for other in (*by_ring[row.ring], *by_key[row.key]):
                if other.label not in seen:
                    seen.add(other.label)
                    waiting.append(other)
        knots.append(_Knot(tuple(sorted(found, key=lambda row: (row.day, row.place)))))
    return knots


def _untie(case: Case, book: TagBook, knot: _Knot) -> Iterator[Finding]:
    """Weigh all accounts of a knot and blame the cells that are probably wrong."""
    accounts = _accounts(case, book, knot)
    total = sum(account.weight for account in accounts)
    if not total:
        yield _entangled(case, book, knot)
        return
    innocent = sum(account.weight for account in accounts if not account.changes) / total
    if innocent >= case.limit("innocent_from"):
        yield from _tagged_again(case, book, knot)
        return
    yield _blame(case, book, knot, accounts, total)


# --- accounts


def _accounts(case: Case, book: TagBook, knot: _Knot) -> list[_Account]:
    if len(knot.rows) > case.limit("rows_most"):
        return []
    accounts = [_weigh(case, book, knot, (), 1.0)]
    singles = [
        change
        for i in range(len(knot.rows))
        for change in (*_tags(case, book, knot, i), *_rings(case, book, knot, i))
    ]
    accounts += [_weigh(case, book, knot, (change,), change.weight) for change in singles]
    accounts = [account for account in accounts if account.weight]
    if not accounts:
        accounts = [
            _weigh(case, book, knot, (one, two), one.weight * two.weight)
            for one, two in combinations(singles, 2)
            if (one.row, one.field) != (two.row, two.field)
        ]
    return [account for account in accounts if account.weight]


def _weigh(
    case: Case,
    book: TagBook,
    knot: _Knot,
    changes: tuple[_Change, ...],
    weight: float,
) -> _Account:
    """Give an account its weight: 0 where it leaves the knot tied."""
    state = knot.meant(changes)
    again = _tagged_again_rows(knot, state, {change.row for change in changes})
    if again is None:
        return _Account(changes, 0.0)
    for i in again:
        # any tag of the season could have been the new one, a slip makes just this one
        weight *= case.limit("tagged_again_remarked" if _remarked(case, knot.rows[i]) else "tagged_again")
        weight /= len(book.rings_of)
    return _Account(changes, weight * _evidence(case, book, knot, state))


def _remarked(case: Case, row: TagRow) -> bool:
    """Whether the remarks speak of the tag."""
    words = row.remarks.casefold()
    return any(word in words for word in case.limit("remark_words"))


def _tagged_again_rows(knot: _Knot, state: Sequence[tuple[str, str]], changed: set[int]) -> list[int] | None:
    """Rows at which a bird has a new tag; None where a tag is on two rings or a visit contradicts itself."""
    ring_of: dict[str, str] = {}
    at_visit: dict[tuple[tuple[str, str], str], int] = {}
    keys_of: dict[str, list[str]] = {}
    again = []
    for i, (ring, key) in enumerate(state):
        if ring_of.setdefault(key, ring) != ring:
            return None
        twin = at_visit.setdefault((knot.visit(i), ring), i)
        if twin != i and (state[twin][1] != key or changed & {i, twin}):
            return None
        keys = keys_of.setdefault(ring, [key])
        if keys[-1] != key:
            if key in keys:
                return None
            keys.append(key)
            again.append(i)
    return again


def _evidence(case: Case, book: TagBook, knot: _Knot, state: Sequence[tuple[str, str]]) -> float:
    """Weigh what reader and stock say about the tags as they were then meant."""
    weight = 1.0
    unread, unstocked = float(case.limit("unread")), float(case.limit("unstocked"))
    meant_on: dict[str, set[str]] = defaultdict(set)
    for row, (_, key) in zip(knot.rows, state, strict=True):
        meant_on[row.day].add(key)
        read = book.read_on.get(row.day)
        if read and key not in read:
            weight *= unread
    typed = {row.key for row in knot.rows}
    for day, keys in meant_on.items():
        weight *= float(case.limit("read_by_chance")) ** len(
            (book.read_on.get(day, frozenset()) & typed) - keys
        )
    if book.stock:
        known = book.stock | book.read
        keys = {key for _, key in state if not key.startswith("?")}
        weight *= unstocked ** len(keys - known)
    asked = {key for _, key in state} | typed
    weight *= float(case.limit("lone_tag")) ** sum(
        book.gaps_to_mate(key, asked) > case.limit("lone_tag_gaps")
        for key in {key for _, key in state if not key.startswith("?")}
    )
    rings = {ring for ring, _ in state if not ring.startswith("?")}
    weight *= case.limit("odd_ring") ** sum(
        book.share_of_ring_form(ring) < case.limit("odd_ring_share") for ring in rings
    )
    among = {ring for ring, _ in state}
    weight *= case.limit("lone_ring") ** sum(
        book.distance_to_mate(ring, among) > case.limit("mate_distance") for ring in rings
    )
    return float(weight)


def _tags(case: Case, book: TagBook, knot: _Knot, i: int) -> list[_Change]:
    """List tags that may have been meant in a row, with the chance that what stands there came of it."""
    row = knot.rows[i]
    wrong = case.limit("tag_wrong")
    copied = book.above[row.label][1] == row.key
    here = {knot.rows[k].key for k in range(len(knot.rows)) if k != i and knot.visit(k) == knot.visit(i)}
    waiting = book.read_but_not_typed(row.day)
    own = {other.key for other in book.rows_of_ring.get(row.ring, ()) if other.label != row.label}
    meant = {
        *own,
        *(key for key in book.near_known(row.tag) if book.unused(key, row.ring)),
        *(other.key for other in knot.rows),
        *(key for key in waiting if book.unused(key, row.ring)),
    } - {row.key}
    changes = []
    for key in sorted(meant):
        # Which tag of another bird was copied says nothing about the tag that was meant.
        foreign = _foreign(case, copied=copied, here=row.key in here, shared=len(book.rings_of[row.key]) > 1)
        among = 1.0 if key in own else 1.0 / max(1, len(waiting))
        chance = _slip(book, book.printed(key), row.tag) + foreign * among
        changes.append(_Change(i, "tag", key, wrong * chance))
    foreign = _foreign(case, copied=copied, here=row.key in here, shared=len(book.rings_of[row.key]) > 1)
    changes.append(_Change(i, "tag", _UNKNOWN, wrong * (foreign or case.limit("elsewhere"))))
    return changes


def _rings(case: Case, book: TagBook, knot: _Knot, i: int) -> list[_Change]:
    """List rings that may have been meant in a row, as `_tags` does."""
    row = knot.rows[i]
    wrong = case.limit("ring_wrong")
    copied = book.above[row.label][0] == row.ring
    here = {knot.rows[k].ring for k in range(len(knot.rows)) if k != i and knot.visit(k) == knot.visit(i)}
    shared = any(other.ring == row.ring and other.label != row.label for other in knot.rows)
    foreign = _foreign(case, copied=copied, here=row.ring in here, shared=shared)
    changes = [
        _Change(i, "ring", ring, wrong * (_slip(book, ring, row.ring) + foreign))
        for ring in sorted({other.ring for other in knot.rows} - {row.ring})
    ]
    if row.ring in here:
        changes.append(_Change(i, "ring", _UNKNOWN, wrong * foreign))
    return changes


def _foreign(case: Case, *, copied: bool, here: bool, shared: bool) -> float:
    """Chance that another bird's code was written down instead."""
    if copied:
        return float(case.limit("copied"))
    if here:
        return float(case.limit("sibling"))
    return float(case.limit("elsewhere")) if shared else 0.0


def _slip(book: TagBook, meant: str, typed: str) -> float:
    """Chance that one slip of the hand made just this of the code that was meant."""
    return math.exp(book.channel.log_chance(typed, meant))


# --- saying it


def _blame(case: Case, book: TagBook, knot: _Knot, accounts: Sequence[_Account], total: float) -> Finding:
    """Blame the cells that the likely accounts change."""
    wrong: dict[tuple[int, Field], dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for account in accounts:
        for change in account.changes:
            wrong[change.row, change.field][change.meant] += account.weight / total
    chances = {cell: sum(meant.values()) for cell, meant in wrong.items()}
    least = min(case.limit("blame_from"), max(chances.values()))
    cells = sorted((cell for cell, p in chances.items() if p >= least), key=lambda cell: -chances[cell])
    suspects = []
    for i, field in cells:
        meant, p_fix = max(wrong[i, field].items(), key=lambda item: item[1])
        shown = book.printed(meant) if meant and field == "tag" else meant
        suspects.append(
            At(knot.rows[i].label, field, suggested=shown, p_error=min(chances[i, field], 1.0), p_fix=p_fix)
        )
    outcome = _outcome(knot)
    first, field = cells[0]
    clause = ""
    if len(cells) == 1:
        clause = f"; {_why(book, knot.rows[first], field, str(suspects[0].suggested))}"
    elif len({row for row, _ in cells}) > 1:
        clause = "; which of the rows is wrong cannot be told from the sheet alone"
    blamed = {knot.rows[i].label for i, _ in cells}
    return case.blame(
        outcome,
        suspects,
        f"{_says(book, knot, knot.rows[first], outcome)}{clause}.",
        [(row.label, "tag") for row in knot.rows if row.label not in blamed],
    )


def _outcome(knot: _Knot) -> str:
    rings: dict[str, set[str]] = defaultdict(set)
    at_visit: dict[tuple[tuple[str, str], str], set[str]] = defaultdict(set)
    for i, row in enumerate(knot.rows):
        rings[row.key].add(row.ring)
        at_visit[knot.visit(i), row.ring].add(row.key)
    if any(len(found) > 1 for found in rings.values()):
        return "on_two_rings"
    if any(len(found) > 1 for found in at_visit.values()):
        return "two_at_one_visit"
    return "changed_between_visits"


def _says(book: TagBook, knot: _Knot, row: TagRow, outcome: str) -> str:
    if outcome == "on_two_rings":
        shared = [other for other in knot.rows if other.key == row.key and other.ring != row.ring]
        if not shared:
            keys = Counter(other.key for other in knot.rows)
            key = next(k for k in keys if len({o.ring for o in knot.rows if o.key == k}) > 1)
            shared = [other for other in knot.rows if other.key == key]
            row = shared[0]
            shared = [other for other in shared if other.ring != row.ring]
        return (
            f"Tag {book.printed(row.key)} stands on ring {row.ring} ({row.day}) and on ring "
            f"{shared[0].ring} ({shared[0].day})"
        )
    other = next(other for other in knot.rows if other.ring == row.ring and other.key != row.key)
    one, two = sorted((row, other), key=lambda found: (found.day, found.place))
    if outcome == "two_at_one_visit":
        return f"Ring {row.ring} has two tags on {row.day}, {one.tag} and {two.tag}"
    return f"Ring {row.ring} has tag {one.tag} on {one.day} and tag {two.tag} on {two.day}"


_KINDS = {
    "digit": "one digit is wrong",
    "neighbours": "two neighbouring digits are exchanged",
    "dropped": "one digit is missing",
    "extra": "there is one digit too many",
    "jump": "two digits around another are exchanged",
    "twin": "a pair of digits is wrong",
    "jump_twin": "two like digits around another are wrong",
    "phonetic": "a ten and its teen, such as 30 and 13, were confused",
    "look_alike": "a letter and a digit that look alike were confused",
    "two_edits": "two digits are wrong",
}


def _why(book: TagBook, row: TagRow, field: Field, meant: str) -> str:
    """Say what probably happened in the one blamed cell."""
    typed = row.tag if field == "tag" else row.ring
    kind = book.channel.kind(typed, meant) if meant else ""
    above_ring, above_key = book.above[row.label]
    copied = above_key == row.key if field == "tag" else above_ring == row.ring
    if kind in _KINDS:
        return f"{_KINDS[kind]} in {typed}, {meant} is probably meant"
    probably = f", {meant} is probably meant" if meant else ""
    if copied:
        return f"the {field} was probably copied from the row above{probably}"
    return f"the {field} of this row is probably another bird's{probably}"


def _tagged_again(case: Case, book: TagBook, knot: _Knot) -> Iterator[Finding]:
    """Note birds with a new tag and no remark."""
    state = knot.meant(())
    for i in _tagged_again_rows(knot, state, set()) or ():
        row = knot.rows[i]
        if _remarked(case, row):
            continue
        before = [other for other in knot.rows[:i] if other.ring == row.ring][-1]
        yield case.blame(
            "tagged_again",
            [At(row.label, "tag")],
            f"Ring {row.ring} had tag {book.printed(before.key)} on {before.day} and has "
            f"{book.printed(row.key)} on {row.day}: if it was tagged again, say so in the remarks.",
            [(before.label, "tag")],
        )


def _entangled(case: Case, book: TagBook, knot: _Knot) -> Finding:
    """Blame the shared cells of a knot that no one or two slips account for."""
    pairs = Counter((row.ring, row.key) for row in knot.rows)
    rings = defaultdict(set)
    keys = defaultdict(set)
    for row in knot.rows:
        rings[row.key].add(row.ring)
        keys[row.ring].add(row.key)
    tied = [row for row in knot.rows if len(rings[row.key]) > 1 or len(keys[row.ring]) > 1]
    odd = [row for row in tied if pairs[row.ring, row.key] == 1] or tied
    return case.blame(
        _outcome(knot),
        [At(row.label, "tag") for row in odd],
        f"{len(rings)} tags and {len(keys)} rings are tangled in {len(knot.rows)} rows, "
        f"the first is ring {odd[0].ring} with tag {book.printed(odd[0].key)}: "
        "more than two cells are wrong, compare them with the field sheets.",
        [(row.label, "tag") for row in knot.rows if row not in odd],
    )


RULE = Rule(
    slug="tag_twice",
    needs={"handlings": ("ring", "tag")},
    check=check,
    heeds=together(RINGINGS, TAG_BOOK),
)
