"""The records of a season with all that a person must know before sending them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.handover.exchange.brood import UNKNOWN_AGE
from audit.handover.exchange.coding import code_round
from audit.handover.exchange.lines import line_of
from audit.handover.exchange.place import NO_POINT, NO_WAY, PLACE_UNKNOWN
from audit.handover.exchange.read_back import hold_against
from audit.handover.exchange.round import lay_round
from audit.handover.exchange.season_checks import season_checks
from audit.handover.exchange.unverified import Unverified, unverified
from audit.refusal import Refusal
from audit.review.wording import counted

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.exchange.caution import Caution, LeftOut
    from audit.handover.exchange.coding import Coded
    from audit.season import Season

__all__ = ["SENT_FORMS", "ExchangeRecords", "exchange_records", "records_of"]

#: Forms in which records are handed out.
SENT_FORMS = ("2000+", "2020")


@dataclass(frozen=True, slots=True)
class ExchangeRecords:
    """Records of a season in the exchange code.

    Attributes
    ----------
    season : str
        Its name.
    coded : tuple of Coded
        Row and record, in the order of the sheet.
    left_out : tuple of LeftOut
        Handlings without a record, and why.
    cautions : tuple of Caution
        What to look at; these records are written all the same.
    to_verify : tuple of Unverified
        Codes and rules to compare with the manual.
    declared : Declarations
        What they were made with.
    """

    season: str
    coded: tuple[Coded, ...]
    left_out: tuple[LeftOut, ...]
    cautions: tuple[Caution, ...]
    to_verify: tuple[Unverified, ...]
    declared: Declarations = field(repr=False)

    @property
    def can_be_sent(self) -> bool:
        """Whether there are records, and a scheme to write into them."""
        return bool(self.coded and self.declared.sender.scheme)

    def lines(self, form: str) -> tuple[str, ...]:
        """Return the records as lines of a form, ``2000+`` or ``2020``.

        Raises
        ------
        Refusal
            Nobody has said to which scheme the season belongs.
        """
        if not self.declared.sender.scheme:
            raise Refusal(
                "No scheme code is declared, and no record goes without one.",
                where="sender.yaml",
                cure="Write 'scheme:' and its three letters into sender.yaml of your own folder.",
            )
        return self.draft(form)

    def draft(self, form: str) -> tuple[str, ...]:
        """Return the same where nobody has said to which scheme the season belongs: that field is empty."""
        return tuple(line_of(one.record, form, self.declared.exchange) for one in self.coded)

    @property
    def told(self) -> tuple[str, ...]:
        """What a person must know, in sentences."""
        return tuple(_told(self))

    def __repr__(self) -> str:
        return "\n".join((f"Season {self.season} in the exchange code.", *self.told))

    def _repr_html_(self) -> str:
        from audit.handover.exchange.page import exchange_tables

        return exchange_tables(self)


def exchange_records(decided: DecidedSeason) -> ExchangeRecords:
    """Make records of a decided season, read them back and hold them against it.

    Raises
    ------
    Refusal
        What was written does not say what the season says: nothing is handed out.
    """
    return records_of(decided.clean, decided.declared)


def records_of(season: Season, declared: Declarations) -> ExchangeRecords:
    """Make records of a clean season, read them back and hold them against it.

    Raises
    ------
    Refusal
        What was written does not say what the season says: nothing is handed out.
    """
    around = lay_round(season, declared)
    coding = code_round(around)
    records = ExchangeRecords(
        season=season.name,
        coded=coding.coded,
        left_out=coding.left_out,
        cautions=(*coding.cautions, *season_checks(coding.coded, around)),
        to_verify=unverified([one.record for one in coding.coded], declared.exchange, declared.species),
        declared=declared,
    )
    if records.can_be_sent:
        for form in SENT_FORMS:
            hold_against("\n".join(records.lines(form)), form, coding.coded, around)
    return records


def _told(records: ExchangeRecords) -> list[str]:
    coded, sender = records.coded, records.declared.sender
    told = []
    if not coded:
        told.append("No handling has both a ring and a day, so there is no record for the scheme.")
    elif not sender.scheme:
        told.append(
            f"{counted(len(coded), 'record')} for the scheme cannot be sent, as no scheme code is declared: "
            "the first field is empty, and the files are drafts. Write 'scheme:' and its three letters into "
            "sender.yaml of your own folder."
        )
    else:
        told.append(f"{counted(len(coded), 'record')} for the scheme, written and read back in two forms.")
    if records.to_verify:
        told.append(
            f"{counted(len(records.to_verify), 'code or rule was', 'codes and rules were')} written from "
            f"memory and not from the manual: compare exchange/to-verify.csv with the current manual before "
            f"you send anything."
        )
    if records.left_out:
        told.append(
            f"{counted(len(records.left_out), 'handling has', 'handlings have')} no record: "
            f"see exchange/left-out.csv."
        )
    if records.cautions:
        told.append(
            f"{counted(len(records.cautions), 'question')} to the records: see exchange/warnings.csv."
        )
    return [*told, *_gaps(records)]


def _gaps(records: ExchangeRecords) -> list[str]:
    found = [one.record for one in records.coded]
    told = []
    if found and all(one.place_code == PLACE_UNKNOWN for one in found):
        told.append(
            "No place code is declared, so the place goes out as not known: write place: code into "
            "sender.yaml of your own folder."
        )
    if found and all(one.coordinates == NO_POINT for one in found):
        told.append(
            "No record has co-ordinates: write latitude and longitude of each box into the table of boxes."
        )
    ages = sum(record.pullus_age == UNKNOWN_AGE["pullus_age"] for record in found)
    if ages:
        told.append(
            f"Of {counted(ages, 'nestling')} the age in days is written as not known; it is not read from "
            f"the wing, which stands in the record itself."
        )
    ways = sum(record.elapsed == NO_WAY["elapsed"] for record in found)
    if ways:
        told.append(
            f"Of {counted(ways, 'later encounter')} the ringing is not known here, so distance, direction "
            f"and time are left to the scheme; earlier seasons would tell."
        )
    if any(record.latitude for record in found) and not records.declared.sender.limits["uncertainty_m"].value:
        told.append(
            "How well the co-ordinates are known is not declared, so they go out as good to 5 km: write "
            "coordinates.uncertainty_m into sender.yaml of your own folder."
        )
    return told
