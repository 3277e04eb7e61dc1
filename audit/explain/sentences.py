"""What is said of a slip in the measures of one handling, with the numbers that led there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.explain.handling import Handling
from audit.explain.surroundings import MEASURES
from audit.intake.wording import listed, with_article
from audit.models.written_number import step_of
from audit.rules.growth_words import expectation
from audit.rules.plain import plain_text
from audit.rules.tare_words import BAG_SLIPS, HOW, sum_says

if TYPE_CHECKING:
    from audit.explain.account import Account
    from audit.explain.surroundings import Surroundings

__all__ = ["Said", "say_either", "say_one"]

_GROSS, _BAG, _NET, _WING = MEASURES
_NAMES = {_GROSS: "gross", _BAG: "bag", _NET: "net", _WING: "wing"}


@dataclass(frozen=True, slots=True)
class Said:
    """An outcome of a rule, and the sentence about it without its full stop."""

    rule: str
    outcome: str
    text: str


def say_one(around: Surroundings, row: int, account: Account, offered: dict[str, str]) -> Said:
    """Say what happened, where one account leads.

    Parameters
    ----------
    offered : dict of str to str
        Value suggested for each wrong cell; empty where none is.
    """
    measures = _Measures(around, row)
    wrong = account.wrong
    if account.kind in BAG_SLIPS:
        return Said("tare", account.kind, f"{measures.sum_says}: {BAG_SLIPS[account.kind]}")
    if account.kind == "exchanged":
        return measures.exchanged(wrong)
    if account.kind in ("tenfold", "kilograms"):
        return measures.scaled(account)
    if account.kind == "carried":
        return measures.carried(account)
    if len(wrong) > 1:
        return measures.together()
    field = next(iter(wrong))
    if field != _WING and measures.whole:
        return measures.unbalanced(field, account, offered[field])
    return measures.alone(field, account, offered[field])


def say_either(around: Surroundings, row: int, fields: list[str], offered: dict[str, str]) -> Said:
    """Say that one of several cells is wrong and a person has to look."""
    measures = _Measures(around, row)
    if measures.broken and _WING not in fields:
        options = [f"{_NAMES[field]} {offered[field]} g" for field in fields if offered[field]]
        tail = f": it would be right with {' or '.join(options)}" if options else ""
        return Said("tare", "arithmetic", f"{measures.sum_says}{tail}")
    either = " or ".join(_SPOKEN.get(field, field) for field in fields)
    column = _WING if _WING in fields and len(set(fields) & {_NET, _GROSS}) == 0 else "mass_g"
    return Said(
        "growth",
        "unclear",
        f"{measures.all_of_them} do not go together: {measures.expected(column)}; either {either} is wrong",
    )


class _Measures:
    """The numbers of one row, as they are told to a person."""

    def __init__(self, around: Surroundings, row: int) -> None:
        self.around = around
        self.row = row
        self.value = dict(zip(MEASURES, around.typed[row], strict=True))
        self.text = {field: plain_text(value) for field, value in self.value.items()}
        self.whole = all(self.text[field] for field in (_GROSS, _BAG, _NET))
        self.broken = bool(around.broken[row])

    @property
    def sum_says(self) -> str:
        return sum_says(self.around.typed[self.row, :3])

    @property
    def mass(self) -> tuple[str, str]:
        """Name and text of the bird's mass: net, or gross less bag."""
        if self.text[_NET]:
            return "net", self.text[_NET]
        return "gross less bag", plain_text(round(self.value[_GROSS] - self.value[_BAG], 2))

    @property
    def all_of_them(self) -> str:
        parts = [f"wing {self.text[_WING]} mm"] if self.text[_WING] else []
        name, value = self.mass
        parts += [f"{name} {value} g"] if value else []
        text = " and ".join(parts)
        return text[:1].upper() + text[1:]

    def expected(self, column: str) -> str:
        there = self.around.outlook(self.row)
        if there is None:
            return "they do not suit the other birds of the season"
        return expectation(self.around.grower, there[0], there[1], column)

    def exchanged(self, wrong: frozenset[str]) -> Said:
        gross, bag, net, wing = (self.text[field] for field in MEASURES)
        if wrong == {_GROSS, _NET}:
            return Said(
                "tare",
                "exchanged",
                f"Gross {gross} g and bag {bag} g add up to net {net} g: gross and net are exchanged",
            )
        if wrong == {_GROSS, _BAG}:
            return Said(
                "tare",
                "exchanged",
                f"Bag {bag} g less gross {gross} g is net {net} g: gross and bag are exchanged",
            )
        if wrong == {_BAG, _NET}:
            return Said(
                "tare",
                "exchanged",
                f"A bag of {bag} g with a bird of {net} g is unlikely: bag and net are exchanged",
            )
        if self.whole and self.broken:
            left = plain_text(round(self.value[_GROSS] - self.value[_BAG], 2))
            return Said(
                "tare",
                "wing_exchanged",
                f"Gross {gross} g less bag {bag} g is {left} g, which stands as the wing, "
                f"and net says {net}: net and wing are exchanged",
            )
        name, mass = ("net", net) if _NET in wrong else ("gross", gross)
        there = self.around.outlook(self.row)
        bird = f" fit {with_article(there[0].sizes.species.english)}" if there else " would fit"
        return Said(
            "growth",
            "columns_exchanged",
            f"{self.all_of_them} stand in each other's column: wing {mass} mm and {name} {wing} g{bird}",
        )

    def scaled(self, account: Account) -> Said:
        there = [field for field in (_GROSS, _BAG, _NET) if field in account.wrong]
        says = listed([f"{_NAMES[field]} {self.text[field]}" for field in there])
        says = says[:1].upper() + says[1:]
        if account.kind == "kilograms":
            beside = f" beside a bag of {self.text[_BAG]} g" if _BAG not in there else ""
            return Said("tare", "unit", f"{says} look like kilograms{beside}")
        return Said("tare", "decimal", f"{says} g are all out by ten")

    def carried(self, account: Account) -> Said:
        meant = {field: plain_text(value) for field, value in account.meant}
        if _BAG in meant:
            return Said(
                "tare",
                "bag_range",
                f"Bag {self.text[_BAG]} g is far from the {meant[_BAG]} g written beside it, "
                "and net was taken from it",
            )
        return Said(
            "growth",
            "mass_for_wing" if self.text[_WING] else "mass",
            f"Net {self.text[_NET]} g is unlikely: {self.expected('mass_g')}; gross was probably meant to be "
            f"{meant[_GROSS]} g{_how(account)}, which leaves {meant[_NET]} g",
        )

    def together(self) -> Said:
        name, mass = self.mass
        outcome = "mass_for_wing" if self.text[_WING] else "mass"
        text = f"{name.capitalize()} {mass} g is unlikely: {self.expected('mass_g')}"
        if self.whole:
            text += "; gross less bag is net, so it went wrong before the subtraction"
        return Said("growth", outcome, text)

    def unbalanced(self, field: str, account: Account, offered: str) -> Said:
        name = _NAMES[field]
        if not offered:
            return Said("tare", "arithmetic", f"{self.sum_says}: {name} is wrong")
        if account.how == "tenfold":
            text = f"{self.sum_says}: the decimal point of {name} slipped, {offered} g would be right"
            return Said("tare", "decimal", text)
        if account.how == "kilograms":
            return Said(
                "tare", "unit", f"{self.sum_says}: {name} looks like kilograms, {offered} g would be right"
            )
        text = f"{self.sum_says}: {name} was probably meant to be {offered} g{_how(account)}"
        return Said("tare", "arithmetic", text)

    def alone(self, field: str, account: Account, offered: str) -> Said:
        name, unit = _NAMES[field], "mm" if field == _WING else "g"
        typed = self.text[field]
        fits = f"; {offered} {unit} would fit{_how(account)}" if offered else ""
        if field == _BAG:
            usual = [plain_text(v) for v in Handling(self.around, self.row).bags_beside()]
            beside = f" beside {usual[0]} g" if usual else ""
            return Said("tare", "bag_range", f"A bag of {typed} g is unlikely{beside}{fits}")
        column = _WING if field == _WING else "mass_g"
        expected = self.expected(column)
        if account.how == "tenfold" and offered:
            small = float(offered) > self.value[field]
            if field == _WING and small and step_of(self.value[field]) < 1:
                text = f"Wing {typed} was typed in centimetres: {expected}; {offered} mm fits"
                return Said("growth", "centimetres", text)
            wrong = "small" if small else "large"
            fits = f"{offered} {unit} fits"
            text = f"{name.capitalize()} {typed} {unit} is ten times too {wrong}: {expected}; {fits}"
            return Said("growth", "tenfold", text)
        outcome = "wing" if field == _WING else "mass_for_wing" if self.text[_WING] else "mass"
        return Said("growth", outcome, f"{name.capitalize()} {typed} {unit} is unlikely: {expected}{fits}")


def _how(account: Account) -> str:
    if account.how == "sign":
        return " (without the minus sign)"
    return f" ({HOW[account.how]})" if account.how in HOW else ""


_SPOKEN = {
    _WING: "the wing",
    _NET: "the net mass",
    _GROSS: "the gross mass",
    _BAG: "the bag",
    "age": "the age code",
    "age_days": "the age",
    "hatch_date": "the hatching date",
    "species": "the species",
    "sex": "the sex",
}
