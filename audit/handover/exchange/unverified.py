"""Every code and rule that was written without having been read: what a person compares with the manual."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.exchange.encounter import NAMES, texts_in
from audit.handover.exchange.place import NO_POINT, PLACE_UNKNOWN
from audit.handover.exchange.ring_padding import FILLER

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from audit.declarations.exchange import Code, ExchangeDeclarations, ExchangeField
    from audit.declarations.species import Species
    from audit.handover.exchange.encounter import Encounter

__all__ = ["Unverified", "unverified"]

_MANUAL = "the current manual of the exchange code"
_SPECIES = "species_mentioned"


@dataclass(frozen=True, slots=True)
class Unverified:
    """A code or rule to compare with the manual.

    Attributes
    ----------
    order : int
        Place of the field in a record; 0 for what concerns all fields.
    field, code, label : str
        Title of the field; what is written (empty for a rule or for numbers); what it means.
    records : int
        Records that hold it.
    grade, source : str
        How well it is known, and where it comes from.
    against : str
        What to compare it with.
    key : str
        Where a team says that it has compared it: keys of ``exchange.yaml``, or the file of a species.
    """

    order: int
    field: str
    code: str
    label: str
    records: int
    grade: str
    source: str
    against: str
    key: str

    @property
    def known(self) -> str:
        """Grade and source in one text."""
        return self.source if self.grade in self.source else f"{self.source}, {self.grade}"


def unverified(
    records: Sequence[Encounter], exchange: ExchangeDeclarations, species: Mapping[str, Species]
) -> tuple[Unverified, ...]:
    """List what was written and not verified, in the order of the fields.

    Parameters
    ----------
    species : mapping of str to Species
        The declared ones: where their codes come from.
    """
    if not records:
        return ()
    columns = {
        name: Counter(texts)
        for name, texts in zip(NAMES, zip(*map(texts_in, records), strict=True), strict=True)
    }
    # the form of 2020 writes dots instead
    columns["coordinates"] += Counter({NO_POINT: sum(bool(record.latitude) for record in records)})
    found = [
        *_codes(columns, exchange),
        *_species(columns, exchange, species),
        *_rules(records, exchange),
    ]
    return tuple(sorted(found, key=lambda one: (one.order, one.code)))


def _codes(columns: Mapping[str, Counter[str]], exchange: ExchangeDeclarations) -> Iterator[Unverified]:
    tables: dict[str, list[ExchangeField]] = {}
    for field in exchange.fields:
        if field.codes:
            tables.setdefault(field.codes, []).append(field)
    for name, fields in tables.items():
        counts: Counter[str] = Counter()
        for field in fields:
            # a record whose fields both hold a code counts once
            counts |= columns[field.name]
        meant: dict[str, tuple[Code, int]] = {}
        for text, count in counts.items():
            code = exchange.codes[name].find(text)
            if code is not None and not code.verified:
                meant[code.code] = (code, meant.get(code.code, (code, 0))[1] + count)
        title = ", ".join(field.title for field in fields)
        for code, count in meant.values():
            key = f"codes.{name}.values.{code.code}" if code.code else f"codes.{name}.numbers"
            yield _line(fields[0].order, title, code, count, f"list for field {fields[0].order}", key)


def _species(
    columns: Mapping[str, Counter[str]], exchange: ExchangeDeclarations, species: Mapping[str, Species]
) -> Iterator[Unverified]:
    order, title = next((field.order, field.title) for field in exchange.fields if field.name == _SPECIES)
    known = {one.euring: one for one in species.values() if one.euring}
    for text, count in columns[_SPECIES].items():
        one = known.get(text)
        if one is None:
            code = exchange.codes["species"].find(text)
            if code is not None and not code.verified:
                yield _line(order, title, code, count, "list of species", f"codes.species.values.{text}")
            continue
        limit = one.limits["euring"]
        if limit.grade != "read":
            label = f"{one.english} ({one.scientific})"
            against = f"{_MANUAL}, list of species"
            key = f"species/{one.slug}.yaml, euring"
            yield Unverified(order, title, text, label, count, limit.grade, limit.source, against, key)


def _rules(records: Sequence[Encounter], exchange: ExchangeDeclarations) -> Iterator[Unverified]:
    fields = {field.name: field for field in exchange.fields}
    for slug, rule in exchange.rules.items():
        applies = _APPLIES.get(slug, _always)
        count = sum(map(applies, records))
        if count and not rule.verified:
            field = fields.get(rule.field)
            order, title = (field.order, field.title) if field else (0, rule.field)
            where = f"field {order}" if field else "list of fields"
            yield Unverified(
                order,
                title,
                "",
                rule.label,
                count,
                rule.grade,
                rule.source,
                f"{_MANUAL}, {where}",
                f"rules.{slug}",
            )


def _line(order: int, title: str, code: Code, count: int, where: str, key: str) -> Unverified:
    return Unverified(
        order, title, code.code, code.label, count, code.grade, code.source, f"{_MANUAL}, {where}", key
    )


def _always(_record: Encounter) -> bool:
    return True


#: Which records a rule of writing concerns; all, where it is not named.
_APPLIES: Mapping[str, Callable[[Encounter], bool]] = {
    "ring_padding": lambda record: FILLER in record.ring,
    "concluded": lambda record: record.species_concluded == record.species_mentioned,
    "place_unknown": lambda record: record.place_code == PLACE_UNKNOWN,
    "line_of_distance": lambda record: bool(record.distance.strip("0-")),
    "measures": lambda record: bool(record.wing or record.mass),
    "free_text": lambda record: bool(record.remarks or record.place_name),
    "decimal_degrees": lambda record: bool(record.latitude) and record.coordinates != NO_POINT,
}
