"""Does each ring number have the form of its series? Every outcome is about one number."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.declarations.species import species_index
from audit.models.ring_number import bare, join_ring, split_ring
from audit.models.spelling import SlipIndex
from audit.models.tag_text import canonical
from audit.rules.case import At
from audit.rules.heeded import RINGINGS, together
from audit.rules.ringings import Fit, Ringings, ringings_of
from audit.rules.rule import Rule
from audit.rules.species_text import as_written

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.ringings import Expected, Key, Mend

__all__ = ["RULE"]

#: Signs that stand in no ring number.
_SIGNS = re.compile(r"[^0-9A-Z./-]+")


@dataclass(frozen=True)
class _Forms:
    """Forms of the season.

    `stems` are the series in use, as written; `usual` the number of digits of each bare stem; `count` how
    many rings have each; `rings` those of a series in use.
    """

    stems: Mapping[Key, str]
    usual: Mapping[str, int]
    count: Counter[Key]
    own: frozenset[str]
    rings: frozenset[str]

    @cached_property
    def index(self) -> SlipIndex:
        """The rings, filed for questions about single slips."""
        return SlipIndex(self.rings)


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find numbers that no ring of this season can bear."""
    rings = ringings_of(case)
    yield from _wrongly_declared(case, rings)
    forms = _forms_of(case, rings)
    found: dict[int, Finding] = {}
    mended: dict[str, str] = {}
    for i, exchanged in _columns_exchanged(case, rings, forms):
        found[i] = exchanged
        mended[str(rings.labels[i])] = exchanged.suspects[0].suggested
    if mended:
        rings = ringings_of(case, mended)
        forms = _forms_of(case, rings)
    open_rows = [i for i in np.flatnonzero(rings.ring != "").tolist() if not _plain(rings, forms, i)]
    two = False
    while open_rows:
        # a ring that could be mended tells where the string has got to, so the others are looked at once more
        before = len(mended)
        for i in open_rows:
            finding = _of_form(case, rings, forms, i, set(mended.values()), two=two)
            if finding:
                found[i] = finding
                suspect = finding.suspects[0]
                if suspect.suggested:
                    mended[suspect.cell.label] = suspect.suggested
        open_rows = [i for i in open_rows if str(rings.labels[i]) not in mended]
        if len(mended) == before and two:
            break
        # two slips at once are thought of last
        two = len(mended) == before
        rings = ringings_of(case, mended)
    yield from found.values()
    yield from _missing(case, rings)
    yield from _species(case, rings, set(found))


def _forms_of(case: Case, rings: Ringings) -> _Forms:
    rows = np.flatnonzero(rings.ring != "").tolist()
    count = Counter(rings.key[i] for i in rows)
    of_stem: dict[str, Counter[int]] = {}
    for (stem, width), n in count.items():
        of_stem.setdefault(stem, Counter())[width] += n
    told = {string.key for string in rings.stock if not string.fault} | set(rings.declared)
    usual: dict[str, int] = {}
    for stem, widths in of_stem.items():
        width, n = widths.most_common(1)[0]
        if n > case.limit("stray_most") and n >= case.limit("width_share") * widths.total():
            usual[stem] = width
    stems = dict(rings.own)
    first_written: dict[Key, str] = {}
    for i in rows:
        first_written.setdefault(rings.key[i], str(rings.stem[i]))
    for key, n in count.items():
        if n > case.limit("stray_most"):
            stems.setdefault(key, first_written[key])
    stems = {key: stem for key, stem in stems.items() if key in told or usual.get(key[0], key[1]) == key[1]}
    for stem, width in told:
        usual.setdefault(stem, width)
    own = frozenset(stem for stem, width in rings.own if (stem, width) in stems)
    whole = frozenset(str(rings.ring[i]) for i in rows if rings.key[i] in stems)
    return _Forms(stems, usual, count, own, whole)


def _columns_exchanged(case: Case, rings: Ringings, forms: _Forms) -> Iterator[tuple[int, Finding]]:
    """Find rows in which ring and tag stand in each other's column."""
    if not case.season.has("handlings", "tag"):
        return
    tags = case.sure("handlings")["tag"].fillna("").to_numpy(dtype=object)
    for i in np.flatnonzero(tags != "").tolist():
        ring, tag = str(rings.ring[i]), str(tags[i])
        stem, digits = split_ring(tag)
        key = (bare(stem), len(digits))
        if key not in forms.stems or not digits or canonical(ring) is None or canonical(tag) is not None:
            continue
        meant = join_ring(forms.stems[key], int(digits), key[1])
        label = str(rings.labels[i])
        message = f"Ring {ring} and tag {tag} stand in each other's column."
        yield i, case.blame("columns", [At(label, "ring", meant), At(label, "tag", ring)], message)


def _plain(rings: Ringings, forms: _Forms, i: int) -> bool:
    stem = forms.stems.get(rings.key[i])
    return stem is not None and stem == rings.stem[i]


def _of_form(
    case: Case, rings: Ringings, forms: _Forms, i: int, given: set[str], *, two: bool
) -> Finding | None:
    """Say what is wrong with the form of one odd number, if anything is."""
    text, (stem, width) = str(rings.ring[i]), rings.key[i]
    elsewhere = bool(rings.from_elsewhere[i])
    again = elsewhere or rings.event[i] == "re-encountered"
    respelled = _respelled(rings, forms, text)
    if rings.key[i] in forms.stems:
        # the digits are in order, so the stem is only written otherwise than on most rings of the series
        mended = join_ring(forms.stems[rings.key[i]], int(rings.serial[i]), width)
        return _hyphen(case, rings, i, mended) if _settled(case, rings, forms, i) else None
    if len(respelled) == 1 and bare(respelled[0]) == bare(text):
        return _hyphen(case, rings, i, respelled[0])
    expected = [e for e in rings.expected(i) if e.ring not in given]
    if len(respelled) == 1:
        return _letter(case, rings, i, respelled[0], expected)
    cleaned = _SIGNS.sub("", text)
    if cleaned != text and len(plain := _respelled(rings, forms, cleaned)) == 1:
        message = f"{text} has no form that a ring number has; without its odd signs it is {plain[0]}."
        suspect = At(str(rings.labels[i]), "ring", plain[0], p_fix=case.limit("p_fix_signs"))
        return case.blame("form", [suspect], message)
    mend = rings.mend(i, text, least=Fit.TIP, among=expected, two=two)
    close = "" if mend else _near_in_season(rings, forms, i)
    if stem in forms.own and forms.usual.get(stem, width) != width and (stem or not again):
        if again and len(stem) == 1 and not (mend or close):
            return None
        if elsewhere and not (mend or close):
            return _other_width(case, rings, forms, i)
        n = forms.count[stem, forms.usual[stem]]
        usual = forms.usual[stem]
        told = f"the other {n} rings of this prefix have {usual}" if n else f"its series has {usual}"
        after = f" after {rings.stem[i]}" if stem else ""
        message = f"Ring {text} has {width} digits{after}, but {told}{_say(mend, close)}."
        return _blame_number(case, rings, i, "digits", message, mend=mend, close=close)
    if not _general(case, str(rings.stem[i]), width):
        unknown = elsewhere or not (rings.event[i] or rings.age[i])
        own = _own_but_for_one(forms, text)
        if unknown and not (mend or close or own) and _foreign(case, text):
            return None
        message = f"{text} has no form that a ring number has{_say(mend, close)}."
        if unknown and not (mend or close) and own:
            # another scheme may have such numbers, so it is less sure
            at = At(str(rings.labels[i]), "ring", p_error=case.limit("p_form_elsewhere"))
            return case.blame("form", [at], message)
        return _blame_number(case, rings, i, "form", message, mend=mend, close=close)
    rare = forms.count[rings.key[i]] <= case.limit("stray_most")
    if rare and not again and mend and (mend.expected.fit > Fit.TIP or mend.kind == "prefix"):
        message = (
            f"No other ring of this season begins like {text}: {mend.clause} from {mend.ring}, "
            f"which is the one that is missing here."
        )
        return _blame_number(case, rings, i, "prefix", message, mend=mend)
    return None


def _settled(case: Case, rings: Ringings, forms: _Forms, i: int) -> bool:
    """Whether nearly all rings of a series are written with the same stem."""
    rows = rings.of_series.get(rings.key[i], np.zeros(0, dtype=np.int64))
    same = int((rings.stem[rows] == forms.stems[rings.key[i]]).sum())
    others = rows.size - same
    rare = others <= 1 or others <= (1 - case.limit("width_share")) * rows.size
    return bool(same >= case.limit("form_least") and rare)


def _hyphen(case: Case, rings: Ringings, i: int, mended: str) -> Finding:
    message = f"Ring {rings.ring[i]} is written {mended} in this series: the hyphen is missing or misplaced."
    return case.blame("hyphen", [At(str(rings.labels[i]), "ring", mended)], message)


def _letter(case: Case, rings: Ringings, i: int, alike: str, expected: list[Expected]) -> Finding | None:
    """Choose the digit for a letter: the one that it resembles, unless another ring is missing here."""
    text = str(rings.ring[i])
    fits = bare(alike) in {bare(e.ring) for e in expected}
    # a ring of another row is known, but is not to be put on once more
    fits |= rings.event[i] != "ringed" and bare(alike) in rings.rows_of_ring
    mend = None if fits else rings.mend(i, text, least=Fit.TIP, among=expected)
    if mend:
        message = (
            f"Ring {text} holds a letter: {mend.ring} was probably meant, the ring that is missing here, "
            f"rather than {alike}."
        )
        return _blame_number(case, rings, i, "letter", message, mend=mend)
    if rings.from_elsewhere[i] and not fits and len(bare(split_ring(alike)[0])) <= 1 and _foreign(case, text):
        # a ring of another scheme, as likely: the series has no prefix that it would share
        return None
    message = f"Ring {text} holds a letter and a digit that look alike: {alike} was probably meant."
    p_fix = case.limit("p_fix_known" if fits else "p_fix_strange")
    return case.blame("letter", [At(str(rings.labels[i]), "ring", alike, p_fix=p_fix)], message)


def _respelled(rings: Ringings, forms: _Forms, text: str) -> list[str]:
    """Rings of the series in use that look the same once hyphens and look-alikes are left out of account."""
    folded = bare(text).translate(rings.look_alikes)
    found = []
    for (stem, width), written in forms.stems.items():
        front = stem.translate(rings.look_alikes)
        serial = folded[len(front) :]
        if folded.startswith(front) and len(serial) == width and serial.isascii() and serial.isdigit():
            found.append(join_ring(written, int(serial), width))
    # a series that is only a look-alike of the number's own stem gives way to the number as spelled
    exact = [ring for ring in found if bare(ring) == bare(text)]
    return exact or found


def _general(case: Case, stem: str, width: int) -> bool:
    form = case.declared.rings.limits
    separators = len(stem) - len(bare(stem))
    return (
        form["form.digits_least"].value <= width <= form["form.digits_most"].value
        and len(bare(stem)) <= form["form.prefix_most"].value
        and separators <= 1
    )


def _foreign(case: Case, text: str) -> bool:
    """Whether a number may be that of a ring of another scheme: letters and digits, few separators."""
    signs = bare(text)
    return (
        signs.isascii()
        and signs.isalnum()
        and len(signs) <= case.limit("foreign_most")
        and sum(sign.isdigit() for sign in signs) >= case.limit("foreign_digits_least")
        and len(text) - len(signs) <= case.limit("foreign_separators_most")
    )


def _own_but_for_one(forms: _Forms, text: str) -> bool:
    """Whether a number is one of an own series but for one sign that is no digit.

    A single letter is the prefix of too many series to tell.
    """
    return any(
        len(stem) > 1
        and bare(text).startswith(stem)
        and len(serial := bare(text)[len(stem) :]) == width
        and sum(not sign.isdigit() for sign in serial) == 1
        for stem, width in forms.stems
    )


def _other_width(case: Case, rings: Ringings, forms: _Forms, i: int) -> Finding:
    """Note that a bird from elsewhere bears a ring of an own prefix, but with more or fewer digits."""
    stem, width = rings.key[i]
    message = (
        f"Ring {rings.ring[i]} has {width} digits after {rings.stem[i]}, where this season's rings have "
        f"{forms.usual[stem]}: right for a ring of an older series or of another scheme, else a digit is "
        f"{'missing' if width < forms.usual[stem] else 'too many'}."
    )
    return case.blame("other_width", [At(str(rings.labels[i]), "ring")], message)


def _near_in_season(rings: Ringings, forms: _Forms, i: int) -> str:
    """Find the only well-formed ring of the same box, else of the season, that is a slip away."""
    if rings.event[i] == "ringed":
        return ""
    text = str(rings.ring[i])
    here = {str(rings.ring[j]) for j in rings.rows_of_box.get(str(rings.box[i]), ())} & forms.rings
    near = [ring for ring in forms.index.near(text) if _may_be(rings, i, ring)]
    among = [ring for ring in near if ring in here] or near
    return among[0] if len(among) == 1 else ""


def _may_be(rings: Ringings, i: int, ring: str) -> bool:
    """Whether the bird of a row may have this ring: a full-grown bird is no nestling of this season."""
    return not rings.grown[i] or any(
        rings.grown[j] or not rings.age[j] for j in rings.rows_of_ring.get(bare(ring), ())
    )


def _say(mend: Mend | None, close: str) -> str:
    if mend:
        return f": {mend.clause} from {mend.ring}, the ring that is missing here"
    return f": {close} is one slip away" if close else ""


def _blame_number(
    case: Case, rings: Ringings, i: int, outcome: str, message: str, *, mend: Mend | None, close: str = ""
) -> Finding:
    label = str(rings.labels[i])
    if mend:
        witnesses = [(str(rings.labels[j]), "ring") for j in mend.expected.beside]
        p_fix = case.limit("p_fix_of_fit")[mend.expected.fit - 1]
        return case.blame(outcome, [At(label, "ring", mend.ring, p_fix=p_fix)], message, witnesses)
    return case.blame(outcome, [At(label, "ring", close)], message)


def _missing(case: Case, rings: Ringings) -> Iterator[Finding]:
    typed = case.season.tables["handlings"].typed["ring"]
    empty = case.frame("handlings")["ring"].isna() & (typed.str.strip() == "")
    told = np.zeros(len(empty), dtype=bool)
    words = "|".join(re.escape(word) for word in case.limit("not_ringed_words"))
    for column in ("remarks", "condition"):
        if case.season.has("handlings", column):
            text = case.frame("handlings")[column]
            told |= text.str.contains(words, case=False, regex=True, na=False).to_numpy(dtype=bool)
    worn = _worn(case, rings)
    for i in np.flatnonzero(empty.to_numpy() & ~told).tolist():
        event = rings.event[i]
        if i in worn:
            j = worn[i]
            message = (
                f"This bird has no ring number; the bird with its tag had ring {rings.ring[j]} "
                f"on {np.datetime64(int(rings.day[j]), 'D')}."
            )
            suspect = At(str(rings.labels[i]), "ring", rings.ring[j], p_fix=case.limit("p_fix_signs"))
            yield case.blame("missing", [suspect], message, [(str(rings.labels[j]), "ring")])
            continue
        holes = [e for e in rings.expected(i) if e.fit == Fit.BETWEEN] if event == "ringed" else []
        hole: Expected | None = holes[0] if len(holes) == 1 else None
        at = At(str(rings.labels[i]), "ring", hole.ring if hole else "")
        missing = f": {hole.ring} is missing from this visit" if hole else ""
        witnesses = [(str(rings.labels[j]), "ring") for j in hole.beside] if hole else []
        if event == "ringed":
            message = f"This bird was ringed, but no ring number is given{missing}."
            yield case.blame("missing", [at], message, witnesses)
        else:
            message = "This bird has no ring number, and no remark says why."
            yield case.blame("not_given", [at], message)


def _worn(case: Case, rings: Ringings) -> dict[int, int]:
    """Rows without a ring whose tag stands on one ring at another visit: the row of that ring."""
    if not case.season.has("handlings", "tag"):
        return {}
    tags = case.sure("handlings")["tag"].fillna("").to_numpy(dtype=object)
    rows_of_tag: dict[str, list[int]] = {}
    for i in np.flatnonzero(tags != "").tolist():
        rows_of_tag.setdefault(str(tags[i]), []).append(i)
    found = {}
    for i in np.flatnonzero((rings.ring == "") & (tags != "")).tolist():
        others = [
            j
            for j in rows_of_tag[str(tags[i])]
            if rings.ring[j] and rings.visit[j] not in (-1, rings.visit[i])
        ]
        if len({bare(str(rings.ring[j])) for j in others}) == 1:
            found[i] = others[0]
    return found


def _wrongly_declared(case: Case, rings: Ringings) -> Iterator[NotRun]:
    """Say where a team's declaration and nearly all of its rings disagree: then the declaration is wrong."""
    for series in case.declared.rings.series.values():
        prefix = bare(series.prefix)
        if not prefix:
            continue
        widths = Counter(
            len(text) - len(prefix)
            for text in (bare(str(ring)) for ring in rings.ring)
            if text.startswith(prefix) and text[len(prefix) :].isdecimal()
        )
        if not widths:
            continue
        width, n = widths.most_common(1)[0]
        if width != series.digits and n >= case.limit("form_least"):
            yield case.not_run(
                "digits",
                f"series '{series.slug}' is declared with {series.digits} digits, but {n} of "
                f"{widths.total()} rings beginning with {series.prefix} have {width}: mend rings.yaml",
            )


def _species(case: Case, rings: Ringings, doubtful: set[int]) -> Iterator[Finding | NotRun]:
    if not case.season.has("handlings", "species"):
        yield case.not_run("species", "'handlings' has no column 'species'")
        return
    named = _species_of(case)
    fitting = {
        (bare(series.prefix), series.digits): series.species
        for series in case.declared.rings.series.values()
        if series.species
    }
    for key, rows in rings.of_series.items():
        told = [i for i in rows.tolist() if named[i]]
        counts = Counter(named[i] for i in told)
        if key in fitting:
            wrong, usual = set(counts) - set(fitting[key]), " or ".join(fitting[key])
        else:
            if len(told) < case.limit("species_least") or len(counts) == 1:
                continue
            usual, n = counts.most_common(1)[0]
            wrong = set(counts) - {usual} if n >= case.limit("species_share") * len(told) else set()
        for i in told:
            if named[i] in wrong and i not in doubtful:
                mates = {named[j] for j in rings.mates(i) if named[j]}
                yield _odd_species(case, rings, i, (named[i], usual, counts[usual]), mates)


def _species_of(case: Case) -> list[str]:
    """Species of each row: slug where the name is known, else the text; empty where missing or in doubt."""
    index = species_index(case.declared.species)
    texts = case.sure("handlings")["species"].fillna("").to_numpy(dtype=object).tolist()
    names = {text: index.resolve(text) or str(text) for text in set(texts)}
    return [names[text] for text in texts]


def _odd_species(
    case: Case, rings: Ringings, i: int, species: tuple[str, str, int], mates: set[str]
) -> Finding:
    odd, usual, n = species
    # a series that fits several species names none
    meant = "" if " or " in usual else as_written(case, usual)
    label, text = str(rings.labels[i]), str(rings.ring[i])
    begins = f"beginning with {rings.stem[i]}" if rings.stem[i] else "of this series"
    odd, usual = odd.replace("_", " "), usual.replace("_", " ")
    habit = f"Ring {text} is on {odd}, but {n} rings {begins} are on {usual}"
    mend = rings.mend(i, text) if not rings.at_home[i] else None
    if mend:
        message = f"{habit}: {mend.clause} from {mend.ring}."
        return case.blame("species", [At(label, "ring", mend.ring, case.limit("p_of_one"))], message)
    witnesses = [(str(rings.labels[j]), "species") for j in rings.mates(i)]
    if mates == {species[1]}:
        message = f"{habit}, and so are the other birds of this visit."
        return case.blame(
            "species", [At(label, "species", meant, case.limit("p_of_one"))], message, witnesses
        )
    message = f"{habit}: the ring or the species is wrong, or the bird got an unusual size."
    return case.blame("species", [At(label, "ring"), At(label, "species", meant)], message, witnesses)


RULE = Rule(
    "ring_series",
    {"handlings": ("ring", "box", "date")},
    check,
    heeds=together(RINGINGS, {"handlings": ("species", "tag", "condition", "remarks")}),
)
