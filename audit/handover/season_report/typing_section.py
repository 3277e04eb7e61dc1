"""The section on typing: last digits that are favoured, and how often a slip was found. No ranking."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.wording import clipped
from audit.handover.season_report.content import NAME, Heading, Items, Rows, Words
from audit.handover.season_report.typed_cells import typed_cells
from audit.models.interval import exact
from audit.review.wording import counted
from audit.rules.case import Case
from audit.rules.digits import habits_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.season_report.content import Block
    from audit.handover.season_report.typed_cells import Typed
    from audit.models.interval import Share
    from audit.rules.digits import Habit

__all__ = ["per_thousand", "percent", "typing_section"]

_THOUSAND, _ALL = 1000, 100
_FIVE, _TEN = 5, 10
_MEASURES = {"wing_mm": "wing", "gross_g": "gross mass", "net_g": "net mass"}


def typing_section(decided: DecidedSeason) -> Iterator[Block]:
    """Tell how last digits spread and where slips were found."""
    yield Heading("Writing and typing")
    yield Words(
        "Everybody slips. These numbers are here to find out what helps, not who is better: they are in the "
        "order of the alphabet, and few values or cells give wide intervals in which people cannot be told "
        "apart."
    )
    yield from _slips(decided)
    yield from _digits(decided)


def _slips(decided: DecidedSeason) -> Iterator[Block]:
    column, counts = typed_cells(decided)
    level = round(float(decided.declared.settings["season_report.confidence"].value) * _ALL)
    heads = {"scribe": "written by", "ringer": "ringed by"}
    if len(counts) > 1:
        counts = (*counts, _all(counts, level / _ALL))
    yield Rows(
        "Handlings: cells in which a slip was found and mended by decision",
        (
            heads.get(column, "rows"),
            "cells written",
            "cells changed",
            "in decisions",
            f"changed of 1,000 ({level} % interval)",
        ),
        tuple(
            (
                clipped(one.who, NAME) or ("nobody named" if column else "all"),
                f"{one.found.trials:,}",
                f"{one.found.hits:,}",
                f"{one.slips:,}",
                per_thousand(one.found),
            )
            for one in counts
        ),
        numbers=frozenset((1, 2, 3, 4)),
        total=len(counts) > 1,
    )
    told = [
        (
            "A changed cell tells where a slip was found, not who made it: it may have happened in the "
            "field, on the sheet or at the keyboard. Slips that nobody found are not among them."
        )
    ]
    if column == "ringer":
        told.append("No scribe was written, so the rows are those of each ringer.")
    elif not column:
        told.append("Neither scribe nor ringer was written, so all rows stand together.")
    moved = sum(one.found.hits for one in counts[: -1 if len(counts) > 1 else None])
    slips = sum(one.slips for one in counts[: -1 if len(counts) > 1 else None])
    if moved > slips:
        told.append(
            f"One slip moved several cells here ({counted(moved, 'cell')} in {counted(slips, 'decision')}), "
            "so the true interval is wider than the one written."
        )
    told.append(
        "The interval is the exact one for a share (Clopper & Pearson 1934, Biometrika 26, 404-413): from "
        "the quantile of a beta distribution with k and n \N{MINUS SIGN} k + 1 to that with k + 1 and n "
        "\N{MINUS SIGN} k, k changed of n."
    )
    yield Words(" ".join(told))
    yield Words("What others found, and what helps:")
    yield Items(tuple(_published(decided.declared)))


def _all(counts: tuple[Typed, ...], confidence: float) -> Typed:
    from audit.handover.season_report.typed_cells import Typed

    found = exact(sum(one.found.hits for one in counts), sum(one.found.trials for one in counts), confidence)
    return Typed("all", found, sum(one.slips for one in counts))


def _published(declared: Declarations) -> Iterator[str]:
    def limit(name: str) -> tuple[list[float], str]:
        one = declared.settings[f"season_report.published.{name}"]
        values = one.value if isinstance(one.value, list) else [one.value]
        return [float(value) for value in values], one.source

    one, source = limit("one_person")
    yield f"{_rate(one[0])} of 1,000 fields wrong ({_rate(one[1])} to {_rate(one[2])}). {_sentence(source)}"
    research, source = limit("research")
    yield f"{_rate(research[0])} to {_rate(research[1])} of 1,000. {_sentence(source)}"
    two, source = limit("two_persons")
    yield (
        f"A second typing helps: {_rate(two[0])} of 1,000 are left ({_rate(two[1])} to {_rate(two[2])}). "
        f"{_sentence(source)}"
    )
    seen, source = limit("seen_by_eye")
    yield f"Looking through a sheet finds about {seen[0] * _ALL:.0f} % of its errors. {_sentence(source)}"
    read = declared.settings["season_report.published.read_aloud"]
    yield _sentence(f"{read.value}: {read.source}")
    yield (
        "In the field: the scribe says each ring and number back before it is written, and net is worked out "
        "on the spot. Common practice."
    )


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _rate(share: float) -> str:
    """Write a published rate as it was published, to two digits."""
    return f"{share * _THOUSAND:.2g}"


def _counted_rate(share: float) -> str:
    rate = share * _THOUSAND
    return "0" if not rate else f"{rate:.2f}" if rate < 1 else f"{rate:.1f}"


def per_thousand(share: Share) -> str:
    """Write a share per thousand with its interval.

    Examples
    --------
    >>> per_thousand(exact(3, 1000, 0.95))
    '3.0 (0.62 to 8.7)'
    """
    if not share.trials:
        return "–"
    value, low, high = map(_counted_rate, (share.value, share.low, share.high))
    return f"{value} ({low} to {high})"


def percent(share: Share) -> str:
    """Write a share in percent with its interval.

    Examples
    --------
    >>> percent(exact(3, 10, 0.95))
    '30 % (7 to 65)'
    """
    if not share.trials:
        return "–"
    value, low, high = (round(part * _ALL) for part in (share.value, share.low, share.high))
    return f"{value} % ({low} to {high})"


def _digits(decided: DecidedSeason) -> Iterator[Block]:
    season, declared = decided.clean, decided.declared
    case = Case(season, declared, declared.rules["digits"])
    habits = sorted(
        habits_of(case, 1), key=lambda one: (list(_MEASURES).index(one.measure), one.observer, one.unit)
    )
    if not habits:
        yield Words(
            "Last digits could not be looked at: no wing or mass stands in a row that names who read it, or "
            "the values differ too little."
        )
        return
    confidence = float(declared.settings["season_report.confidence"].value)
    level = round(confidence * _ALL)
    least = int(case.limit("least_values"))
    digits = tuple(str(digit) for digit in range(_TEN))
    yield Rows(
        "Last digits as they were read, by ringer; a fair spread gives each digit a tenth, and 0 or 5 "
        "together 20 %",
        ("measure", "read by", "n", *digits, f"0 or 5 ({level} %)", "chance"),
        tuple(
            (
                f"{_MEASURES[one.measure]}, {one.unit:g} {'mm' if one.measure == 'wing_mm' else 'g'}",
                clipped(one.observer, NAME),
                f"{one.found.n:,}",
                *(f"{count:,}" for count in one.found.counts),
                percent(exact(one.found.counts[0] + one.found.counts[_FIVE], one.found.n, confidence)),
                _chance(one, least),
            )
            for one in habits
        ),
        numbers=frozenset(range(2, _TEN + 5)),
    )
    favoured = [one for one in habits if _is_favoured(one, case, least)]
    told = [
        (
            "Chance is that of a spread at least as uneven from a hand that favours no digit (Pearson's "
            "chi-square, 9 degrees of freedom, siblings of a visit allowed for as in Rao & Scott 1981). "
            f"Several are looked at together, so only a chance below {case.limit('p_value'):g} of {least} "
            "values or more is spoken of here."
        )
    ]
    if favoured:
        told.append(
            "Some last digits are written more often than others in "
            + "; ".join(f"{_MEASURES[one.measure]} by {clipped(one.observer, NAME)}" for one in favoured)
            + ". That is easily done in a hurry or in poor light; a second look at the last digit helps."
        )
    else:
        told.append("No last digit is favoured beyond that.")
    told.append(
        "Left out are values of an instrument that is marked in coarser steps, and of birds that differ too "
        "little for their last digits to be even by nature."
    )
    yield Words(" ".join(told))


def _chance(one: Habit, least: int) -> str:
    if one.found.n < least:
        return "too few"
    return "< 0.001" if one.found.p_value < 1 / _THOUSAND else f"{one.found.p_value:.3f}"


def _is_favoured(one: Habit, case: Case, least: int) -> bool:
    found = one.found
    return (
        found.n >= least
        and found.p_value < case.limit("p_value")
        and found.index >= case.limit("least_index")
    )
