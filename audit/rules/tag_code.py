"""Tag numbers: could this be one, and is it one that the team had."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.iso_code import LARGEST_NATIONAL
from audit.models.ring_number import bare, next_code
from audit.models.tag_text import TagReading, bits_lost, recognise
from audit.rules.case import At
from audit.rules.download import download_of
from audit.rules.earlier_birds import EARLIER, earlier_tags
from audit.rules.heeded import RINGINGS, TAG_BOOK, together
from audit.rules.ringings import ringings_of
from audit.rules.rule import Rule
from audit.rules.tag_book import TagBook, TagRow, open_tag_book
from audit.rules.tag_meant import TagVerdict, weigh_tag

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.tag_meant import MeantTag

__all__ = ["RULE"]

_FIFTEEN_DIGITS = re.compile(r"([0-9]{3})([0-9]{12})")
_DIGITS = re.compile(r"[0-9]+")


@dataclass(frozen=True, slots=True)
class _Fault:
    """What is wrong with a tag as such, and how it reads with letters mended."""

    outcome: str
    clause: str
    mended: str = ""
    p_fix: str = ""


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Judge every tag by its form, then by what the season, the stock and the reader know."""
    book = open_tag_book(case)
    yield from _letters_read(case, book)
    yield from _left_out(case, book)
    if not book.rows:
        return
    test_season = book.test_season
    if test_season:
        yield _test_season(case, book)
    faults: dict[str, _Fault | None] = {}
    sound: list[TagRow] = []
    for row in book.rows:
        if row.tag not in faults:
            faults[row.tag] = _fault(case, book, row, test_season=test_season)
        fault = faults[row.tag]
        if fault is None:
            sound.append(row)
        else:
            yield _blame(case, book, row, fault.outcome, fault.clause, mended=fault.mended, p_fix=fault.p_fix)
    rest: list[TagRow] = []
    for row in sound:
        answer = _unlike(case, book, row)
        if answer is None:
            rest.append(row)
        else:
            yield answer
    counted = list(_counted_on(case, book, rest))
    yield from counted
    done = {suspect.cell.label for finding in counted for suspect in finding.suspects}
    yield from _against_known(case, book, [row for row in rest if row.label not in done])


# --- the season


def _prefix_class(case: Case, key: str) -> str:
    return case.declared.tags.prefix_class(_prefix(key))


def _prefix(key: str) -> int:
    match = _FIFTEEN_DIGITS.fullmatch(key)
    return int(match[1]) if match else -1


def _test_season(case: Case, book: TagBook) -> Finding:
    tests = {row.key for row in book.rows if _prefix_class(case, row.key) == "test"}
    first = next((row for row in book.rows if row.key in tests), book.rows[0])
    return case.blame(
        "test_season",
        [At(first.label, "tag")],
        f"{len(tests)} of {len(book.rings_of)} tags lie in the test range 999, as in a practice season; "
        "on real birds no such tag may be fitted.",
    )


# --- the tag as such


def _fault(case: Case, book: TagBook, row: TagRow, *, test_season: bool) -> _Fault | None:
    """Say what is wrong with a tag whatever the others are; None when nothing is."""
    text = row.tag
    decimal = _FIFTEEN_DIGITS.fullmatch(text)
    zeros = int(case.limit("rounded_zeros"))
    if decimal and text.endswith("0" * zeros):
        return _Fault("rounded", f"ends in {zeros} or more zeros: a spreadsheet has lost its last digits")
    if decimal and int(decimal[2]) > LARGEST_NATIONAL:
        return _Fault(
            "impossible_number",
            f"cannot exist: its last twelve digits may be at most {LARGEST_NATIONAL}",
        )
    readings = _readings(book, text)
    lengths = _lengths(book)
    if _DIGITS.fullmatch(text) and lengths and len(text) not in lengths:
        usual = f"where the others have {lengths[0]}"
        if len(text) + 1 in lengths:
            zero = f"0{text}"
            known = zero in book.stock | book.read or zero[:3] in _prefixes(book, row.key)
            return _Fault(
                "digit_lost",
                f"has {len(text)} digits {usual}: one is missing",
                zero if known and _sensible(case, zero) else "",
                "p_fix_zero",
            )
        if len(text) - 1 in lengths:
            return _Fault("digit_too_many", f"has {len(text)} digits {usual}: one is too many")
    if not readings:
        return _formless(case, book, text)
    iso = readings[0].iso
    if iso is not None and len({reading.key for reading in readings}) == 1:
        slug = case.declared.tags.prefix_class(iso.prefix)
        if slug == "senseless":
            return _Fault(
                "senseless_prefix", f"begins with {iso.prefix:03d}, which is neither a country nor a maker"
            )
        if not case.declared.tags.on_bird(iso.prefix) and not test_season:
            return _Fault(
                "test_tag", f"begins with {iso.prefix:03d}, the test range, which no bird may carry"
            )
    return None


def _readings(book: TagBook, text: str) -> tuple[TagReading, ...]:
    readings = recognise(text)
    return tuple(reading for reading in readings if reading.slug == book.habit) or readings


def _lengths(book: TagBook) -> tuple[int, ...]:
    """Length of the season's tags where they are nothing but digits."""
    return _DIGIT_LENGTHS.get(book.habit or "", ())


#: Number of digits of the purely decimal ways of writing.
_DIGIT_LENGTHS = {
    "iso_decimal": (len("528140000795552"),),
    "em_10_digits": (len("0040856634"),),
    "em_8_digits": (len("07302202"),),
    "em_13_digits": (len("0004335823930"),),
    "em_14_digits": (len("00004335823930"),),
}


def _prefixes(book: TagBook, but: str) -> set[str]:
    return {key[:3] for key in {*book.rings_of, *book.stock} if key != but and _FIFTEEN_DIGITS.fullmatch(key)}


def _sensible(case: Case, text: str) -> bool:
    readings = recognise(text)
    return bool(readings) and all(
        reading.iso is None or case.declared.tags.prefix_class(reading.iso.prefix) != "senseless"
        for reading in readings
    )


def _formless(case: Case, book: TagBook, text: str) -> _Fault:
    """Judge a text that is no tag in any known form: perhaps a letter stands for a digit."""
    decimal_season = bool(_lengths(book))
    for family in ("decimal", "hex"):
        if book.habit and decimal_season != (family == "decimal"):
            continue
        digits = case.declared.tags.digit_for_letter.get(family, {})
        mended = "".join(digits.get(letter, letter) for letter in text)
        if mended == text:
            continue
        fits = [reading.slug for reading in recognise(mended)]
        if book.habit in fits if book.habit else fits:
            letters = "".join(dict.fromkeys(a for a, b in zip(text, mended, strict=True) if a != b))
            said = " and ".join(letters)
            stands = "stands for a digit" if len(letters) == 1 else "stand for digits"
            return _Fault("letter_in_code", f"is no number: {said} {stands}", mended, "p_fix_letter")
    if decimal_season and not _DIGITS.fullmatch(text) and len(text) in _lengths(book):
        return _Fault("letter_in_code", "holds a sign that is no digit")
    usual = case.declared.tags.formats.get(book.habit or "")
    others = f"; the others have {usual.title}" if usual else ""
    return _Fault("no_known_form", f"is no tag number in any known form{others}")


# --- against the kind of the others


def _unlike(case: Case, book: TagBook, row: TagRow) -> Finding | None:
    """Blame a sound tag of another kind than the team fits."""
    tags = case.declared.tags
    readings = _readings(book, row.tag)
    here = readings[0]
    known = row.key in book.stock or row.key in book.read
    foreign = row.event == "re-encountered" and book.first_of_ring(row)
    # A bird re-encountered with the tag that it was given this season is the first handling's matter.
    later = row.event == "re-encountered" and not foreign
    prefixes = tags.expected_prefixes
    if prefixes and here.iso and here.iso.prefix not in prefixes and not (known or foreign or later):
        wanted = ", ".join(f"{prefix:03d}" for prefix in prefixes)
        return _blame(
            case,
            book,
            row,
            "unexpected_prefix",
            f"begins with {here.iso.prefix:03d}, but this team fits tags that begin with {wanted}",
        )
    wanted_formats = tags.expected_formats or ((book.habit,) if book.habit else ())
    if not wanted_formats or any(reading.slug in wanted_formats for reading in readings):
        return None
    title = tags.formats[here.slug].title
    usual = " or ".join(tags.formats[slug].title for slug in wanted_formats)
    printed = book.printed(row.key)
    if known:
        return case.blame(
            "other_writing",
            [At(row.label, "tag", suggested=printed if printed != row.tag else "")],
            f"Tag {row.tag} is the known tag {printed}, written as {title}; the others have {usual}.",
        )
    if foreign:
        return case.blame(
            "other_kind",
            [At(row.label, "tag")],
            f"Tag {row.tag} has {title}, the others of the season {usual}; "
            "it may have been fitted elsewhere.",
        )
    if tags.expected_formats:
        return _blame(
            case, book, row, "unexpected_format", f"has {title}, but this team writes tags as {usual}"
        )
    lost = bits_lost(here.slug)
    short = f" and tells {lost} bits less than the whole code" if lost else ""
    return _blame(
        case, book, row, "unlike_season", f"has {title}{short}, where the others of the season have {usual}"
    )


# --- drawn down


def _counted_on(case: Case, book: TagBook, rows: Sequence[TagRow]) -> Iterator[Finding]:
    """Find tags that only count on from the row above, where neither stock nor the reader has them."""
    pairs = [
        (upper, row)
        for upper, row in pairwise(book.rows)
        if upper.visit == row.visit and row.place == upper.place + 1
    ]
    steps = [row for upper, row in pairs if row.tag == next_code(upper.tag)]
    strange = {
        row.label
        for row in steps
        if not _agreed(book, row) and row.key not in book.read and _told(book, row) and row in rows
    }
    if len(steps) - len(strange) > case.limit("steps_share") * len(pairs):
        return
    run: list[TagRow] = []
    for row in steps:
        if row.label not in strange:
            continue
        if run and (row.place != run[-1].place + 1 or row.visit != run[-1].visit):
            yield _drawn_down(case, book, run)
            run = []
        run.append(row)
    if run:
        yield _drawn_down(case, book, run)


def _told(book: TagBook, row: TagRow) -> bool:
    """Whether stock or reader speak against a tag."""
    return (bool(book.stock) and row.key not in book.stock) or bool(book.waiting(row))


def _drawn_down(case: Case, book: TagBook, run: Sequence[TagRow]) -> Finding:
    """Blame a run of tags that count on; other visits, or the reader in its order, tell what was meant."""
    own = [
        {other.key for other in book.rows_of_ring.get(row.ring, ()) if other.visit != row.visit}
        for row in run
    ]
    waiting = [key for key in book.waiting(run[0]) if book.in_turn(run[0], key, through=run[-1])]
    waiting = [key for key in waiting if book.unused(key)]
    waiting.sort(key=lambda key: book.read_place[run[0].day, key])
    suspects = []
    for k, row in enumerate(run):
        meant = next(iter(own[k])) if len(own[k]) == 1 else waiting[k] if len(waiting) == len(run) else ""
        p_fix = case.limit("p_fix_in_turn") if meant else None
        suspects.append(At(row.label, "tag", book.printed(meant) if meant else "", p_fix=p_fix))
    low, high = (row.label.rpartition("!")[2] for row in (run[0], run[-1]))
    what = f"The tag of row {low} counts" if len(run) == 1 else f"The tags of rows {low} to {high} count"
    return case.blame(
        "counted_on",
        suspects,
        f"{what} on by one from the row above, and neither stock nor reader has "
        f"{'it' if len(run) == 1 else 'them'}: a cell was probably drawn down.",
    )


# --- against stock and reader


def _against_known(case: Case, book: TagBook, rows: Sequence[TagRow]) -> Iterator[Finding | NotRun]:
    """Look for tags that the team cannot have fitted."""
    done: set[str] = set()
    borne = _borne_before(case, book, rows)
    for row in rows:
        if row.key in book.read or _agreed(book, row):
            continue
        unread = bool(book.waiting(row))
        if not unread and (not book.stock or row.key in book.stock):
            continue
        verdict = weigh_tag(case, book, row, sound=True)
        if verdict.p_error < case.limit("blame_from"):
            continue
        if row.label in borne and verdict.meant[0].known_by == "run":
            # of another season, tags begin as they like
            continue
        done.add(row.label)
        if verdict.meant[0].key in book.waiting(row):
            yield _blame(
                case, book, row, "one_slip_from_read", "is not in the download of the reader", verdict=verdict
            )
        else:
            lacking = (
                "is not in the stock list" if book.stock and row.key not in book.stock else "was not read"
            )
            yield _blame(case, book, row, "one_slip_from_known", lacking, verdict=verdict)
    fitted = [row for row in rows if book.fitted(row) and row.label not in done | borne]
    if not book.stock:
        reason = "there is no table 'tag_stock'"
        yield case.not_run("not_in_stock", reason)
        yield from _unlike_batch(case, book, fitted)
        return
    missing = [row for row in fitted if row.key not in book.stock]
    keys = {row.key for row in missing}
    n_fitted = len({row.key for row in fitted})
    few = max(case.limit("stock_missing_few"), case.limit("stock_missing_share") * n_fitted)
    if len(keys) > few or (keys and len(keys) == n_fitted > 1):
        yield case.blame(
            "stock_incomplete",
            [At(missing[0].label, "tag")],
            f"{len(keys)} of {n_fitted} fitted tags are not in the stock list, the first is "
            f"{missing[0].tag}: the list seems incomplete, so tags were not checked against it.",
        )
        yield from _unlike_batch(case, book, fitted)
        return
    in_a_row = _in_a_row(keys, case.limit("batch_gap"))
    for row in missing:
        yield _not_in_stock(case, book, row, in_a_row=row.key in in_a_row)


def _borne_before(case: Case, book: TagBook, rows: Sequence[TagRow]) -> set[str]:
    """Rows of birds that had their tag before this season, or may have: no stock of this season holds it."""
    rings = ringings_of(case)
    put_on = {bare(str(ring)) for ring in rings.ring[rings.first & (rings.event == "ringed")]}
    elsewhere = {
        str(rings.labels[i])
        for i in np.flatnonzero(rings.from_elsewhere).tolist()
        if bare(str(rings.ring[i])) not in put_on
    }
    known = earlier_tags(case, book.habit)
    return elsewhere | {row.label for row in rows if row.key in known}


def _agreed(book: TagBook, row: TagRow) -> list[TagRow]:
    """Rows of other visits in which the ring has the same tag."""
    rows = book.rows_of_ring.get(row.ring, ())
    return [other for other in rows if other.key == row.key and other.visit != row.visit]


def _not_in_stock(case: Case, book: TagBook, row: TagRow, *, in_a_row: bool) -> Finding:
    agreed = _agreed(book, row)
    if row.key in book.read or agreed or in_a_row:
        why = (
            "but the reader has stored it"
            if row.key in book.read
            else f"but this bird has it on {agreed[0].day} too"
            if agreed
            else "nor are its neighbours: a bag of tags seems to be missing from the list"
        )
        return case.blame(
            "missing_from_stock", [At(row.label, "tag")], f"Tag {row.tag} is not in the stock list, {why}."
        )
    return case.blame("not_in_stock", [At(row.label, "tag")], f"Tag {row.tag} is not in the stock list.")


def _in_a_row(keys: set[str], gap: float) -> set[str]:
    """Keys whose number follows another one's closely."""
    by_family = [
        sorted((int(key, base), key) for key in keys if re.fullmatch(form, key))
        for form, base in (("[0-9]{15}", 10), ("[0-9A-F]{10}", 16))
    ]
    found: set[str] = set()
    for numbered in by_family:
        for (one, key), (other, following) in pairwise(numbered):
            if other - one <= gap:
                found |= {key, following}
    return found


def _unlike_batch(case: Case, book: TagBook, fitted: Sequence[TagRow]) -> Iterator[Finding]:
    """Blame a fitted tag whose beginning is one slip from that of nearly all others, and far from them."""
    tags = {row.key for row in fitted if _FIFTEEN_DIGITS.fullmatch(row.key)}
    if len(tags) < case.limit("batch_least"):
        return
    stem = _stem(tags, case.limit("batch_share"))
    if len(stem) <= len("000"):
        return
    inside = [int(key) for key in tags if key.startswith(stem)]
    beginnings = Counter(key[: len(stem)] for key in tags)
    for row in fitted:
        if row.key not in tags or row.key.startswith(stem) or row.key in book.read:
            continue
        beginning = row.key[: len(stem)]
        if beginnings[beginning] > 1:
            continue
        number = int(row.key)
        if min(abs(number - min(inside)), abs(number - max(inside))) < case.limit("batch_distance"):
            continue
        verdict = weigh_tag(case, book, row, sound=True)
        if verdict.p_error < case.limit("blame_from"):
            continue
        best = verdict.meant[0]
        named = best.p >= case.limit("suggest_from")
        yield case.blame(
            "unlike_batch",
            [
                At(
                    row.label,
                    "tag",
                    book.printed(best.key) if named else "",
                    verdict.p_error,
                    best.p,
                    _others(book, verdict.meant),
                )
            ],
            f"Tag {row.tag} begins with {beginning}, but {len(inside)} of {len(tags)} tags fitted this "
            f"season begin with {stem}.",
        )


def _stem(keys: set[str], share: float) -> str:
    """Return the longest beginning that at least this share of the keys has."""
    left = list(keys)
    stem = ""
    for place in range(len(left[0])):
        digit, n = Counter(key[place] for key in left).most_common(1)[0]
        if n < share * len(keys):
            break
        stem += digit
        left = [key for key in left if key[place] == digit]
    return stem


# --- saying it


def _blame(
    case: Case,
    book: TagBook,
    row: TagRow,
    outcome: str,
    clause: str,
    *,
    mended: str = "",
    p_fix: str = "",
    verdict: TagVerdict | None = None,
) -> Finding:
    """Blame one tag cell, with the tag that was most probably meant, where one can be named."""
    p_error = verdict.p_error if verdict else None
    meant = (verdict or weigh_tag(case, book, row)).meant
    probability: float | None = None
    suggested = because = ""
    if meant and meant[0].p >= case.limit("suggest_from"):
        suggested, probability = book.printed(meant[0].key), meant[0].p
        because = f"; {suggested} {_known(book, row, meant[0])}"
        if (rivals := _rivals(case, meant)) > 1:
            names = " and ".join(book.printed(other.key) for other in meant[:rivals])
            because = f"; {names} are as likely"
    elif 1 < (near := _rivals(case, meant)) <= case.limit("counted_most"):
        because = f"; {near} known tags are one slip away"
    elif mended:
        suggested = mended
        probability = float(case.limit(p_fix))
        because = f"; {mended} is probably meant"
    return case.blame(
        outcome,
        [
            At(
                row.label,
                "tag",
                suggested=suggested,
                p_error=p_error,
                p_fix=probability,
                others=_others(book, meant),
            )
        ],
        f"Tag {row.tag} {clause}{because}.",
    )


def _others(book: TagBook, meant: Sequence[MeantTag]) -> list[tuple[object, float]]:
    return [(book.printed(other.key), other.p) for other in meant]


def _rivals(case: Case, meant: Sequence[MeantTag]) -> int:
    """Count the tags that are nearly as likely as the likeliest, with it."""
    return sum(other.p >= case.limit("as_likely") * meant[0].p for other in meant) if meant else 0


def _known(book: TagBook, row: TagRow, meant: MeantTag) -> str:
    if meant.known_by == "bird":
        others = book.rows_of_ring[row.ring]
        day = next(other.day for other in others if other.key == meant.key)
        read = " and was read that day" if meant.key in book.waiting(row) else ""
        return f"is this bird's tag on {day}{read}"
    if meant.known_by == "read":
        return "was read that day and stands on no other row"
    if meant.known_by == "run":
        return "begins like the others of the season"
    where = "in stock" if meant.key in book.stock else "in the download of the reader"
    return f"is {where} and on no other bird"


def _left_out(case: Case, book: TagBook) -> Iterator[Finding]:
    """Find rows without a tag whose tag the reader stored that day."""
    empty = [row for row in book.aside.values() if not row.tag and (row.label, "tag") not in case.doubted]
    waiting = {row.label: book.waiting(row) for row in empty}
    if not any(waiting.values()):
        return
    turns: dict[str, list[str]] = {}
    download = download_of(case)
    for row in empty:
        own = {other.key for other in book.rows_of_ring.get(row.ring, ())} & waiting[row.label]
        if len(own) == 1:
            key = own.pop()
            yield _no_tag(case, book, row, key, "is this bird's tag at another visit", "p_fix_own_read")
            continue
        near = _in_turn(case, book, row)
        turns[row.label] = [key for key in near if book.unused(key) and not download.has_row(row.day, key)]
    claims: dict[tuple[str, str], list[tuple[int, str]]] = defaultdict(list)
    for row in empty:
        for key in turns.get(row.label, ()):
            claims[row.day, key].append((download.nearness(row, key), row.label))
    # a row nearby whose tag is typed wrong, be it as that of the row above, has as good a claim
    for day in sorted({day for day, _ in claims}):
        for row in download.without_read(day):
            if row.label not in turns:
                for key in _in_turn(case, book, row):
                    claims[day, key].append((download.nearness(row, key), row.label))
    for row in empty:
        keys = turns.get(row.label, [])
        if len(keys) == 1 and row.ring and _has_best_claim(claims[row.day, keys[0]], row.label):
            between = "stands on no row and was read between those of the rows around it"
            yield _no_tag(case, book, row, keys[0], between, "p_fix_in_turn")


def _has_best_claim(claims: Sequence[tuple[int, str]], label: str) -> bool:
    """Whether a read stands nearer to a row than to any other."""
    best = max(near for near, _ in claims)
    return [other for near, other in claims if near == best] == [label]


def _in_turn(case: Case, book: TagBook, row: TagRow) -> list[str]:
    """List the tags on no row of the day that were read where a row stands."""
    waiting = book.waiting(row)
    if not waiting:
        return []
    return download_of(case).nearest(row, waiting, [key for key in waiting if book.in_turn(row, key)])


def _no_tag(case: Case, book: TagBook, row: TagRow, key: str, why: str, p: str) -> Finding:
    shown = book.printed(key)
    return case.blame(
        "left_out",
        [At(row.label, "tag", shown, p_fix=case.limit(p))],
        f"No tag is given, but the reader stored {shown} that day, which {why}.",
    )


def _letters_read(case: Case, book: TagBook) -> Iterator[Finding]:
    """Say what was meant by a letter that was taken for the digit it resembles, where another fits better."""
    for reading in case.season.readings:
        row = book.aside.get(reading.label)
        if reading.kind != "letter_in_code" or reading.field != "tag" or row is None:
            continue
        typed = "".join(reading.typed.split()).upper()
        verdict = weigh_tag(case, book, replace(row, tag=typed, key=""))
        if not verdict.meant or verdict.meant[0].key == row.key:
            continue
        letters = " and ".join(dict.fromkeys(sign for sign in typed if sign.isalpha()))
        stand = "stands for a digit" if len(letters) == 1 else "stand for digits"
        yield _blame(
            case,
            book,
            replace(row, tag=typed, key=""),
            "letter_in_code",
            f"is no number: {letters} {stand}",
            verdict=verdict,
        )


RULE = Rule(
    slug="tag_code",
    needs={"handlings": ("ring", "tag")},
    check=check,
    heeds=together(RINGINGS, TAG_BOOK, EARLIER),
)
