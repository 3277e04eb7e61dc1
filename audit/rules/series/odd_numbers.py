"""What is wrong with the form of one ring number, and what was probably meant."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from audit.models.ring_number import bare, join_ring, split_ring
from audit.rules.case import At
from audit.rules.expected_rings import Fit, expected_rings, mend_ring
from audit.rules.series.forms import foreign_form, general_form, own_but_for_one, respelled, settled

if TYPE_CHECKING:
    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.expected_rings import Expected, Mend
    from audit.rules.ring_rows import Ringings
    from audit.rules.series.forms import SeriesForms

__all__ = ["odd_number"]

#: Signs that stand in no ring number.
_SIGNS = re.compile(r"[^0-9A-Z./-]+")


def odd_number(
    case: Case, rings: Ringings, forms: SeriesForms, i: int, given: set[str], *, two: bool
) -> Finding | None:
    """Say what is wrong with the form of one odd number, if anything is."""
    text, (stem, width) = str(rings.ring[i]), rings.key[i]
    elsewhere = bool(rings.from_elsewhere[i])
    again = elsewhere or rings.event[i] == "re-encountered"
    alike = respelled(rings, forms, text)
    if rings.key[i] in forms.stems:
        # the digits are in order, so the stem is only written otherwise than on most rings of the series
        mended = join_ring(forms.stems[rings.key[i]], int(rings.serial[i]), width)
        return _hyphen(case, rings, i, mended) if settled(case, rings, forms, i) else None
    if len(alike) == 1 and bare(alike[0]) == bare(text):
        return _hyphen(case, rings, i, alike[0])
    expected = [e for e in expected_rings(rings, i) if e.ring not in given]
    if len(alike) == 1:
        return _letter(case, rings, i, alike[0], expected)
    cleaned = _SIGNS.sub("", text)
    if cleaned != text and len(plain := respelled(rings, forms, cleaned)) == 1:
        message = f"{text} has no form that a ring number has; without its odd signs it is {plain[0]}."
        suspect = At(str(rings.labels[i]), "ring", plain[0], p_fix=case.limit("p_fix_signs"))
        return case.blame("form", [suspect], message)
    mend = mend_ring(rings, i, text, least=Fit.TIP, among=expected, two=two)
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
    if not general_form(case, str(rings.stem[i]), width):
        unknown = elsewhere or not (rings.event[i] or rings.age[i])
        own = own_but_for_one(forms, text)
        if unknown and not (mend or close or own) and foreign_form(case, text):
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


def _hyphen(case: Case, rings: Ringings, i: int, mended: str) -> Finding:
    message = f"Ring {rings.ring[i]} is written {mended} in this series: the hyphen is missing or misplaced."
    return case.blame("hyphen", [At(str(rings.labels[i]), "ring", mended)], message)


def _letter(case: Case, rings: Ringings, i: int, alike: str, expected: list[Expected]) -> Finding | None:
    """Choose the digit for a letter: the one that it resembles, unless another ring is missing here."""
    text = str(rings.ring[i])
    fits = bare(alike) in {bare(e.ring) for e in expected}
    # a ring of another row is known, but is not to be put on once more
    fits |= rings.event[i] != "ringed" and bare(alike) in rings.rows_of_ring
    mend = None if fits else mend_ring(rings, i, text, least=Fit.TIP, among=expected)
    if mend:
        message = (
            f"Ring {text} holds a letter: {mend.ring} was probably meant, the ring that is missing here, "
            f"rather than {alike}."
        )
        return _blame_number(case, rings, i, "letter", message, mend=mend)
    if (
        rings.from_elsewhere[i]
        and not fits
        and len(bare(split_ring(alike)[0])) <= 1
        and foreign_form(case, text)
    ):
        # a ring of another scheme, as likely: the series has no prefix that it would share
        return None
    message = f"Ring {text} holds a letter and a digit that look alike: {alike} was probably meant."
    p_fix = case.limit("p_fix_known" if fits else "p_fix_strange")
    return case.blame("letter", [At(str(rings.labels[i]), "ring", alike, p_fix=p_fix)], message)


def _other_width(case: Case, rings: Ringings, forms: SeriesForms, i: int) -> Finding:
    """Note that a bird from elsewhere bears a ring of an own prefix, but with more or fewer digits."""
    stem, width = rings.key[i]
    message = (
        f"Ring {rings.ring[i]} has {width} digits after {rings.stem[i]}, where this season's rings have "
        f"{forms.usual[stem]}: right for a ring of an older series or of another scheme, else a digit is "
        f"{'missing' if width < forms.usual[stem] else 'too many'}."
    )
    return case.blame("other_width", [At(str(rings.labels[i]), "ring")], message)


def _near_in_season(rings: Ringings, forms: SeriesForms, i: int) -> str:
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
