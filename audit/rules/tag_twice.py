"""One tag, one ring: which cell is wrong where a tag stands on two rings, or a ring has two tags."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from audit.rules.case import At
from audit.rules.crossed.blame import blame_crossing
from audit.rules.crossed.judged import crossings
from audit.rules.heeded import RINGINGS, TAG_BOOK, together
from audit.rules.ringings import ringings_of
from audit.rules.rings_again import LOSSES
from audit.rules.rule import Rule
from audit.rules.tag_book import TagBook, TagRow, open_tag_book
from audit.rules.tied.knots import knots_of
from audit.rules.tied.untangled import untangled
from audit.rules.tied.weigher import weigher_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.crossed.judged import Verdict
    from audit.rules.ring_rows import Ringings
    from audit.rules.tied.knots import Account, Change, Field, Knot
    from audit.rules.tied.weigher import Weigher

__all__ = ["RULE"]


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
    weigher = weigher_of(case, rings, book)
    for knot in knots_of([row for row in rows if row.key not in everywhere]):
        yield from _untie(weigher, knot)


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


def _untie(weigher: Weigher, knot: Knot) -> Iterator[Finding]:
    """Weigh all accounts of a knot and blame the cells that are probably wrong."""
    case = weigher.case
    accounts = weigher.accounts(knot)
    total = sum(account.weight for account in accounts)
    if not total:
        yield _entangled(weigher, knot)
        return
    innocent = [account for account in accounts if not account.changes]
    if sum(account.weight for account in innocent) / total >= case.limit("innocent_from"):
        yield from _renewed(weigher, knot, innocent[0])
        return
    yield _blame(weigher, knot, accounts, total)


# --- saying it


def _blame(weigher: Weigher, knot: Knot, accounts: Sequence[Account], total: float) -> Finding:
    """Blame the cells that the likely accounts change."""
    case, book = weigher.case, weigher.book
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
        shown = {code: book.printed(code) if code and field == "tag" else code for code in wrong[i, field]}
        suspects.append(
            At(
                knot.rows[i].label,
                field,
                suggested=shown[meant],
                p_error=min(chances[i, field], 1.0),
                p_fix=p_fix,
                others=[(shown[code], p) for code, p in wrong[i, field].items()],
            )
        )
    outcome = _outcome(knot)
    first, field = cells[0]
    clause = ""
    if len(cells) == 1:
        clause = f"; {_why(weigher, knot.rows[first], field, str(suspects[0].suggested))}"
    elif len({row for row, _ in cells}) > 1:
        days = sorted({knot.rows[i].day for i, _ in cells} - {""})
        clause = (
            "; which of the rows is wrong cannot be told from the sheet alone: "
            f"{_would_tell(case, book, days, {field for _, field in cells})} would tell"
        )
    blamed = {knot.rows[i].label for i, _ in cells}
    return case.blame(
        outcome,
        suspects,
        f"{_says(book, knot, knot.rows[first], outcome)}{clause}.",
        [(row.label, "tag") for row in knot.rows if row.label not in blamed],
    )


def _outcome(knot: Knot) -> str:
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


def _says(book: TagBook, knot: Knot, row: TagRow, outcome: str) -> str:
    if outcome == "on_two_rings":
        shared = [other for other in knot.rows if other.key == row.key and other.ring != row.ring]
        if not shared:
            keys = Counter(other.key for other in knot.rows)
            key = next(k for k in keys if len({o.ring for o in knot.rows if o.key == k}) > 1)
            shared = [other for other in knot.rows if other.key == key]
            row = shared[0]
            shared = [other for other in shared if other.ring != row.ring]
        days = [f" ({found.day})" if found.day else "" for found in (row, shared[0])]
        return (
            f"Tag {book.printed(row.key)} stands on ring {row.ring}{days[0]} and on ring "
            f"{shared[0].ring}{days[1]}"
        )
    other = next(other for other in knot.rows if other.ring == row.ring and other.key != row.key)
    one, two = sorted((row, other), key=lambda found: (found.day, found.place))
    if outcome == "two_at_one_visit":
        return f"Ring {row.ring} has two tags {_when(row)}, {one.tag} and {two.tag}"
    return f"Ring {row.ring} has tag {one.tag} {_when(one)} and tag {two.tag} {_when(two)}"


def _when(row: TagRow) -> str:
    return f"on {row.day}" if row.day else "at a visit whose day is in doubt"


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


def _would_tell(case: Case, book: TagBook, days: Sequence[str], fields: set[Field]) -> str:
    """Name what is not there and would decide between two rows, the surest first."""
    ways = []
    if not any(book.read_on.get(day) for day in days):
        ways.append("the download of the reader")
    if not book.stock and "tag" in fields:
        ways.append("the list of tags in stock")
    if "ring" in fields and not case.season.has("ring_stock"):
        ways.append("the list of strings issued")
    named = f"of {days[0]}" if len(days) == 1 else "of either day"
    ways.append(f"the field sheet {named}" if days else "the field sheets")
    return ", ".join([*ways, "or the bird read once more"])


def _why(weigher: Weigher, row: TagRow, field: Field, meant: str) -> str:
    """Say what probably happened in the one blamed cell."""
    book = weigher.book
    typed = row.tag if field == "tag" else row.ring
    kind = book.channel.kind(typed, meant) if meant else ""
    if kind in _KINDS:
        return f"{_KINDS[kind]} in {typed}, {meant} is probably meant"
    probably = f", {meant} is probably meant" if meant else ""
    if weigher.signs.copied(row, field):
        return f"the {field} was probably copied from the row above{probably}"
    if field == "ring" and len(book.rows_of_ring.get(row.ring, ())) == 1:
        return f"{typed} is on no other row{probably}"
    return f"the {field} of this row is probably another bird's{probably}"


def _renewed(weigher: Weigher, knot: Knot, account: Account) -> Iterator[Finding]:
    """Note birds with a new tag or a new ring and no remark."""
    case, book = weigher.case, weigher.book
    for renewal in account.renewals:
        row, before = knot.rows[renewal.row], knot.rows[renewal.before]
        if renewal.field == "tag" and not weigher.signs.tag_remarked(row, before):
            yield case.blame(
                "tagged_again",
                [At(row.label, "tag")],
                f"Ring {row.ring} had tag {book.printed(before.key)} {_when(before)} and has "
                f"{book.printed(row.key)} {_when(row)}: if it was tagged again, say so in the remarks.",
                [(before.label, "tag")],
            )
        elif renewal.field == "ring" and not weigher.worn(row, before):
            yield case.blame(
                "ringed_again",
                [At(row.label, "ring")],
                f"The bird with tag {book.printed(row.key)} had ring {before.ring} {_when(before)} and has "
                f"{row.ring} {_when(row)}: if its ring was replaced, say so in the remarks.",
                [(before.label, "ring")],
            )


def _entangled(weigher: Weigher, knot: Knot) -> Finding:
    """Blame the cells of a knot of more than two slips: those not of their bird, or all that are shared."""
    case, book = weigher.case, weigher.book
    pairs = Counter((row.ring, row.key) for row in knot.rows)
    rings = defaultdict(set)
    keys = defaultdict(set)
    for row in knot.rows:
        rings[row.key].add(row.ring)
        keys[row.ring].add(row.key)
    tied = [row for row in knot.rows if len(rings[row.key]) > 1 or len(keys[row.ring]) > 1]
    odd = [row for row in tied if pairs[row.ring, row.key] == 1] or tied
    says = (
        f"{len(rings)} tags and {len(keys)} rings are tangled in {len(knot.rows)} rows, "
        f"the first is ring {odd[0].ring} with tag {book.printed(odd[0].key)}: "
        "more than two cells are wrong, compare them with the field sheets."
    )
    changes = untangled(knot, weigher.slips)
    suspects = [_meant_at(case, book, knot, change) for change in changes] or [
        At(row.label, "tag") for row in odd
    ]
    blamed = {at.label for at in suspects}
    return case.blame(
        _outcome(knot), suspects, says, [(row.label, "tag") for row in knot.rows if row.label not in blamed]
    )


def _meant_at(case: Case, book: TagBook, knot: Knot, change: Change) -> At:
    shown = book.printed(change.meant) if change.field == "tag" else change.meant
    p = float(case.limit("untangled"))
    return At(knot.rows[change.row].label, change.field, shown, p, p)


RULE = Rule(
    slug="tag_twice",
    needs={"handlings": ("ring", "tag")},
    check=check,
    heeds=together(RINGINGS, TAG_BOOK, LOSSES),
)
