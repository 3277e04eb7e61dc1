"""A bird that is met again and what it was in earlier seasons: its event, age, species, sex, wing and day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare
from audit.rules.case import At
from audit.rules.earlier_accounts import Account, weigh
from audit.rules.earlier_now import is_pullus
from audit.rules.expected_rings import expected_rings
from audit.rules.species_text import as_written

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.earlier_accounts import Verdict
    from audit.rules.earlier_birds import Meeting
    from audit.rules.earlier_now import Again

__all__ = ["life_of", "says_ringed_always"]


@dataclass(frozen=True, slots=True)
class _Clash:
    """One column in which this season and an earlier one contradict each other.

    Attributes
    ----------
    field : str
    now, then : float
        Chance that this season's cell is wrong; that the earlier one is.
    other : float
        Chance that another bird would show it.
    meant, says : str
        What was probably meant, the sentence.
    """

    field: str
    now: float
    then: float
    other: float
    meant: str
    says: str
    witness: tuple[str, str]


def says_ringed_always(case: Case, again: Again) -> bool:
    """Whether this team writes ``ringed`` for birds that bore a ring, too."""
    events = {
        again.bare[i]: str(again.rings.event[i])
        for i in range(len(again.bare))
        if again.rings.event[i] and again.of_ring(i, again.bare[i])
    }
    ringed = sum(event == "ringed" for event in events.values())
    return bool(len(events) >= case.limit("habit_least") and ringed > case.limit("habit_from") * len(events))


def life_of(case: Case, again: Again, i: int, ages: list[str], *, events: bool) -> Iterator[Finding]:
    """Compare one row, whose ring is known from earlier seasons, with what is known of the bird.

    Parameters
    ----------
    ages : list of str
        Age codes of the season, empty where missing or in doubt.
    events : bool
        Whether the event can be asked about.
    """
    met = again.of_ring(i, again.bare[i])
    if not met:
        yield from _before(case, again, i)
        return
    label = str(again.rings.labels[i])
    if events and again.rings.event[i] == "ringed":
        yield _event(case, again, i, met, ages[i])
        return
    if is_pullus(case, ages[i]) and again.day(i) - met[0].day > case.limit("full_grown_days"):
        yield _nestling(case, again, i, met)
        return
    clashes = [
        clash
        for clash in (
            _age(case, again, i, met, ages[i]),
            _species(case, again, i, met),
            _sex(case, again, i, met),
            _wing(case, again, i, met, ages[i]),
        )
        if clash
    ]
    if not clashes:
        return
    yield from _weighed(case, again, i, met, clashes, label)


# --- ringed, though it was ringed before; a nestling, though it hatched before


def _same_tag(again: Again, i: int, met: tuple[Meeting, ...]) -> bool:
    return any(meeting.tag and again.keys[meeting.tag] == again.key[i] for meeting in met)


def _ring_accounts(case: Case, again: Again, i: int) -> list[Account]:
    """Account for a ring that was meant otherwise: the rings that are missing here, or none that is known."""
    rate = case.share("rates.ring")
    ring = again.bare[i]
    accounts = [
        Account(rate * again.slip(ring, bare(expected.ring), again.above(i)), "ring", expected.ring)
        for expected in expected_rings(again.rings, i)
        if bare(expected.ring) != ring
    ]
    accounts.append(Account(rate * case.share("codes.unknown") * again.chance_of_number(ring), "ring"))
    if again.above(i) == ring:
        accounts.append(Account(rate * case.share("habits.copied"), "ring"))
    return accounts


def _event(case: Case, again: Again, i: int, met: tuple[Meeting, ...], age: str) -> Finding:
    field = case.share("rates.field")
    as_event = field * again.again_share * again.chance_met(i, again.bare[i])
    as_ring = 1.0
    if _same_tag(again, i, met):
        as_ring *= case.share("rates.tag") * float(case.limit("tag_lands"))
    elif again.key[i] and any(meeting.tag for meeting in met):
        as_event *= float(case.limit("tagged_again"))
    if is_pullus(case, age):
        as_event *= field
    elif age:
        as_ring *= float(case.limit("new_and_grown"))
    accounts = [Account(as_event, "event", "re-encountered")]
    accounts += [
        Account(account.weight * as_ring, "ring", account.meant) for account in _ring_accounts(case, again, i)
    ]
    verdict = weigh(accounts)
    suspects = verdict.suspects(case, str(again.rings.labels[i]))
    last = met[-1]
    message = (
        f"Ring {again.typed[i]} is said to be put on now, but was on a bird on {last.date}"
        f"{f', in box {last.box}' if last.box else ''}"
    )
    return case.blame("event", suspects, f"{message}{_clause(suspects)}.", [(last.label, "ring")])


def _nestling(case: Case, again: Again, i: int, met: tuple[Meeting, ...]) -> Finding:
    field = case.share("rates.field")
    as_age = field * again.again_share * again.chance_met(i, again.bare[i])
    as_ring = 1.0
    if _same_tag(again, i, met):
        as_ring = case.share("rates.tag") * float(case.limit("tag_lands"))
    accounts = [Account(as_age, "age", _code(again, i, met))]
    accounts += [
        Account(account.weight * as_ring, "ring", account.meant) for account in _ring_accounts(case, again, i)
    ]
    suspects = weigh(accounts).suspects(case, str(again.rings.labels[i]))
    first = met[0]
    message = f"Ring {again.typed[i]} was on a bird on {first.date} already, which is no nestling any more"
    return case.blame("nestling", suspects, f"{message}{_clause(suspects)}.", [(first.label, "ring")])


def _clause(suspects: list[At]) -> str:
    first = suspects[0]
    if len(suspects) > 1:
        return f": the {first.field} or the {suspects[1].field} is wrong"
    if not first.suggested:
        return f": the {first.field} is wrong"
    return f": {first.field} {first.suggested} was probably meant"


# --- what cannot change


def _weighed(
    case: Case, again: Again, i: int, met: tuple[Meeting, ...], clashes: list[_Clash], label: str
) -> Iterator[Finding]:
    """Weigh one wrong ring against a wrong cell for each contradiction."""
    ring = again.bare[i]
    accounts = []
    if not _same_tag(again, i, met):
        # what another bird would show besides
        other = float(np.prod([clash.other for clash in clashes]))
        rate = case.share("rates.ring") * other
        accounts.append(Account(rate * float(case.limit("ring_lands")) * again.in_use(ring), "ring"))
        for near in again.birds.index.near(ring):
            of_near = again.of_ring(i, near)
            kind = str(again.now.slug[i]) or met[-1].species
            if not of_near or again.here(i, near) or of_near[-1].species not in ("", kind):
                continue
            likelier = again.chance_met(i, near) / max(
                again.chance_met(i, ring), again.chance_of_number(ring)
            )
            weight = rate * again.slip(ring, near, again.above(i)) * likelier
            accounts.append(Account(weight, "ring", again.written(of_near[-1])))
    cells = float(np.prod([clash.now + clash.then for clash in clashes]))
    verdict = weigh([Account(cells), *accounts])
    wrong_ring = verdict.wrong.get("ring", 0.0)
    if wrong_ring >= case.limit("blame_from"):
        suspects = verdict.suspects(case, label)
        says = " and ".join(clash.says for clash in clashes)
        message = f"Ring {again.typed[i]}: {says}: it is probably another bird{_other(suspects)}."
        outcome = "another_bird"
        yield case.blame(outcome, suspects, message, [clash.witness for clash in clashes])
        return
    for clash in clashes:
        p = (1 - wrong_ring) * clash.now / (clash.now + clash.then)
        message = f"Ring {again.typed[i]}: {clash.says}."
        if p > case.limit("blame_from"):
            at = [At(label, clash.field, clash.meant, p)]
            yield case.blame(clash.field.partition("_")[0], at, message, [clash.witness])
        elif (outcome := f"{clash.field}_other") in case.rule.outcomes:
            at = [At(label, clash.field, "", p)]
            yield case.blame(outcome, at, message, [clash.witness])


def _other(suspects: list[At]) -> str:
    return f", {suspects[0].suggested}" if suspects and suspects[0].suggested else ""


def _spans(case: Case) -> dict[str, tuple[int, int]]:
    """Year of hatching, counted from the year of the encounter, by age code: earliest and latest."""
    spans = {}
    for word in case.declared.rules["history"].limits["hatched"].value:
        code, earliest, latest = str(word).split(":")
        spans[code] = (int(earliest), int(latest))
    return spans


def _year(day: int) -> int:
    return int(np.datetime64(day, "D").astype("datetime64[Y]").astype(np.int64))


def _plain_code(text: str) -> str:
    return text.upper().rstrip("J")


def _age(case: Case, again: Again, i: int, met: tuple[Meeting, ...], age: str) -> _Clash | None:
    spans = _spans(case)
    here = spans.get(_plain_code(age))
    told = [meeting for meeting in met if _plain_code(meeting.age) in spans]
    if here is None or not told:
        return None
    year = _year(again.day(i))
    apart = []
    for meeting in told:
        first, last = (_year(meeting.day) + step for step in spans[_plain_code(meeting.age)])
        if first > year + here[1] or last < year + here[0]:
            apart.append(meeting)
    if not apart:
        return None
    wrong = float(case.limit("age_wrong"))
    then = 1.0
    for meeting in apart:
        then *= (
            case.share("rates.field") * float(case.limit("left")) if is_pullus(case, meeting.age) else wrong
        )
    witness = apart[0]
    says = f"age {age} now, but {witness.age} on {witness.date}, and both cannot be true"
    meant = _code(again, i, met)
    return _Clash("age", wrong, then, float(case.limit("other_shows")), meant, says, (witness.label, "age"))


def _code(again: Again, i: int, met: tuple[Meeting, ...]) -> str:
    """Age code that is sure: of a bird ringed as a nestling, hatched last year or before."""
    hatched = [_year(meeting.day) for meeting in met if is_pullus(again.case, meeting.age)]
    if not hatched:
        return ""
    years = _year(again.day(i)) - hatched[0]
    codes = [str(code) for code in again.case.limit("codes_by_year")]
    return codes[min(years, len(codes)) - 1] if years >= 1 else ""


def _species(case: Case, again: Again, i: int, met: tuple[Meeting, ...]) -> _Clash | None:
    kind = str(again.now.slug[i])
    apart = [meeting for meeting in met if meeting.species and meeting.species != kind]
    if not kind or not apart or any(meeting.species == kind for meeting in met):
        return None
    if "species" not in case.frame("handlings").columns:
        return None
    now = case.share("rates.field")
    mates = [str(again.now.slug[j]) for j in again.rings.mates(i)]
    if mates and all(mate == kind for mate in mates):
        # its company was told alike
        now *= case.share("rates.field") / float(case.limit("other_shows"))
    then = (case.share("rates.field") * float(case.limit("left"))) ** len(apart)
    last = apart[-1]
    names = [case.declared.species[slug].english for slug in (kind, last.species)]
    says = f"{names[0]} now, but {names[1]} on {last.date}"
    return _Clash(
        "species",
        now,
        then,
        float(case.limit("other_shows")),
        as_written(case, last.species),
        says,
        (last.label, "species"),
    )


def _sex(case: Case, again: Again, i: int, met: tuple[Meeting, ...]) -> _Clash | None:
    sex = str(again.now.sex[i])
    told = [m for m in met if m.sex.upper() in ("M", "F") and not is_pullus(case, m.age)]
    if sex not in ("M", "F") or not told:
        return None
    apart = [meeting for meeting in told if meeting.sex.upper() != sex]
    if len(apart) < len(told):
        return None
    wrong = float(case.limit("sex_wrong"))
    last = apart[-1]
    says = f"sex {sex} now, but {last.sex} on {last.date}"
    if len(apart) > 1:
        says += f" and at {len(apart) - 1} more meeting{'s' if len(apart) > len('MF') else ''}"
    other = float(case.limit("other_sex"))
    return _Clash("sex", wrong, wrong ** len(apart), other, last.sex.upper(), says, (last.label, "sex"))


def _wing(case: Case, again: Again, i: int, met: tuple[Meeting, ...], age: str) -> _Clash | None:
    wing = float(again.now.wing[i])
    kind = case.declared.species.get(str(again.now.slug[i]))
    adult = None if kind is None else kind.adult.get(("", "wing_mm"))
    if not np.isfinite(wing) or not age or is_pullus(case, age) or adult is None:
        return None
    told = [m for m in met if m.age and not is_pullus(case, m.age) and np.isfinite(m.wing) and m.wing > 0]
    share = float(case.declared.rules["history"].limits["adult_wing_change"].value)
    apart = [meeting for meeting in told if abs(wing - meeting.wing) > share * max(wing, meeting.wing)]
    if not apart or len(apart) < len(told):
        return None
    rate = float(case.limit("wing_wrong"))
    last = apart[-1]

    def odd(size: float) -> float:
        """How much likelier a wing so far from the mean of the species is a slip."""
        away = abs(size - adult.middle) / adult.sd
        return float(np.exp(min(away * away / 2, case.limit("wing_most"))))

    now, then = rate * odd(wing), (rate * float(case.limit("left")) * odd(last.wing)) ** len(apart)
    says = f"wing {wing:g} mm now, but {last.wing:g} mm on {last.date}"
    other = float(case.limit("other_shows"))
    return _Clash("wing_mm", now, then, other, "", says, (last.label, "wing_mm"))


def _before(case: Case, again: Again, i: int) -> Iterator[Finding]:
    """Find a row whose day lies before its bird was first ringed."""
    met = again.birds.of_ring.get(again.bare[i], ())
    if not met or met[0].day >= again.begins or int(again.rings.day[i]) >= met[0].day:
        return
    first = met[0]
    if first.event != "ringed" and not is_pullus(case, first.age):
        return
    day = np.datetime64(int(again.rings.day[i]), "D")
    rate = case.share("rates.ring") * float(case.limit("ring_lands")) * again.in_use(again.bare[i])
    accounts = [Account(case.share("rates.field"), "date"), Account(rate, "ring")]
    verdict: Verdict = weigh(accounts)
    yield case.blame(
        "before",
        verdict.suspects(case, str(again.rings.labels[i])),
        f"Ring {again.typed[i]} was put on on {first.date}, after the day {day} that stands here.",
        [(first.label, "date")],
    )
