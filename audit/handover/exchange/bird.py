"""Species, sex, age, status and measures of a bird as codes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.refusal import Refusal

if TYPE_CHECKING:
    from audit.handover.exchange.handled import Handled
    from audit.handover.exchange.round import Round, Say

__all__ = ["NESTLING", "bird_fields", "is_nestling", "measure_fields"]

#: Age code of a nestling.
NESTLING = "1"
_NO_SPECIES, _NO_SEX, _NO_AGE = "00000", "U", "0"


def is_nestling(one: Handled) -> bool:
    """Whether a bird is a nestling by its age code."""
    return one.age == NESTLING


def bird_fields(one: Handled, around: Round, say: Say) -> dict[str, str]:
    """Write species, sex, age and status.

    Raises
    ------
    Refusal
        No code of this species is declared.
    """
    exchange = around.exchange
    sex = one.sex if one.sex in exchange.codes["sex"].values else _NO_SEX
    age = one.age if one.age in exchange.codes["age"].values else _NO_AGE
    if age == _NO_AGE:
        told = f"The age '{one.age}' is no code" if one.age else "No age is written"
        say("age_not_told", "age_mentioned", f"{told}; it goes out as not recorded.")
    species = _species(one, around)
    if species == _NO_SPECIES:
        say("species_code", "species_mentioned", "No species is written; it goes out as not known.")
    proposed = exchange.code("concluded") == "as mentioned"
    return {
        "species_mentioned": species,
        "species_concluded": species if proposed else _NO_SPECIES,
        "sex_mentioned": sex,
        "sex_concluded": sex if proposed else _NO_SEX,
        "age_mentioned": age,
        "age_concluded": age if proposed else _NO_AGE,
        "status": _status(one, around),
    }


def measure_fields(one: Handled, around: Round, say: Say) -> dict[str, str]:
    """Write wing and net mass."""
    decimals = int(around.exchange.choice("decimals_of_measures"))
    told = {}
    for name, title, unit, value in (("wing", "wing", "mm", one.wing), ("mass", "net mass", "g", one.mass)):
        told[name] = ""
        if value is None:
            continue
        if value <= 0:
            say("measure", name, f"A {title} of {value:g} {unit} is no measure; the field stays empty.")
            continue
        told[name] = f"{value:.{decimals}f}"
        if abs(float(told[name]) - value) > _HAIR:
            say("rounded", name, f"A {title} of {value:.10g} {unit} is written as {told[name]} {unit}.")
    return told


#: Less than any decimal that somebody typed.
_HAIR = 1e-9


def _species(one: Handled, around: Round) -> str:
    if not one.named:
        return _NO_SPECIES
    species = around.declared.species.get(one.species)
    if species is None or not species.euring:
        known = species.english if species else one.named
        raise Refusal(
            f"No species code is declared for '{known}'.",
            where=one.label,
            cure=f"Write its five digits into species/{one.species or 'its_name'}.yaml of your own folder.",
        )
    return species.euring


def _status(one: Handled, around: Round) -> str:
    exchange = around.exchange
    if is_nestling(one):
        return exchange.code("status_nestling")
    nesting = one.age and (one.box, one.day) in around.nesting
    return exchange.code("status_breeding" if nesting else "status_other")
