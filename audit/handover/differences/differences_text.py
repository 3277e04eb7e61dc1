"""What a comparison of two typings says in the terminal."""

from __future__ import annotations

import textwrap
from collections import Counter
from typing import TYPE_CHECKING

from audit.models.interval import wilson
from audit.models.recapture import sentence
from audit.review.missed_errors import estimate
from audit.review.wording import address, counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding
    from audit.models.interval import Share
    from audit.review.decisions import Decision
    from audit.review.double_entry import DoubleEntry
    from audit.review.missed_errors import Rate

__all__ = ["differences_text", "opening", "rate_rows", "wrong_rows"]

_WIDTH = 100
#: Differences that the terminal shows; the files hold all.
_SHOWN = 10
_ALL = 100  # percent


def differences_text(double: DoubleEntry, decisions: Sequence[Decision] = ()) -> str:
    """Say how many rows and cells agree, what differs most, and how many errors were missed.

    Parameters
    ----------
    decisions : sequence of Decision, optional
        About the first typing.
    """
    return "\n".join(line for part in _parts(double, decisions) for line in part)


def opening(double: DoubleEntry) -> str:
    """Count rows and cells in one sentence each."""
    cells, differing = sum(double.compared.values()), len(double.differences)
    rows, files = len(double.rows), f"{double.names[0]} and {double.names[1]}"
    said = [
        f"{counted(rows, 'row')} {'stands' if rows == 1 else 'stand'} in both {files}",
        f"of {counted(cells, 'cell')} compared {differing:,} {'differs' if differing == 1 else 'differ'}",
    ]
    alone = len(double.alone_first), len(double.alone_second)
    lone = [
        f"{counted(number, 'row')} in {name} only"
        for number, name in zip(alone, double.names, strict=True)
        if number
    ]
    return f"{'; '.join([*said, *lone])}."


def rate_rows(double: DoubleEntry, of: Sequence[Rate]) -> list[tuple[str, ...]]:
    """List for each column with a difference: cells compared, those that differ, the share, its interval."""
    level = float(double.declared.settings["double_entry.level"].value)

    def row(rate: Rate) -> tuple[str, ...]:
        share = wilson(rate.differing, rate.cells, level)
        return (
            _column(double, rate),
            f"{rate.cells:,}",
            f"{rate.differing:,}",
            _percent(share.value) if rate.cells else "",
            f"{_percent(share.low)} to {_percent(share.high)}",
        )

    return [row(rate) for rate in of if rate.differing or not rate.field]


def wrong_rows(double: DoubleEntry, of: Sequence[Rate]) -> list[tuple[str, ...]]:
    """List for each column with a difference: cells compared, not decided, wrong in each typing."""

    def told(share: Share) -> str:
        if not share.trials:
            return ""
        return f"{share.hits:,} ({_percent(share.low)} to {_percent(share.high)})"

    return [
        (_column(double, rate), f"{rate.cells:,}", f"{rate.undecided:,}", told(rate.first), told(rate.second))
        for rate in of
        if rate.differing or not rate.field
    ]


def _column(double: DoubleEntry, rate: Rate) -> str:
    if not rate.field:
        return "all columns"
    return rate.field if len(double.tables) == 1 else f"{rate.table} {rate.field}"


def _percent(share: float) -> str:
    return f"{share * _ALL:.2g} %"


def _parts(double: DoubleEntry, decisions: Sequence[Decision]) -> Iterator[list[str]]:
    yield [*_wrapped(opening(double))]
    if double.report.notices:
        yield ["", *(line for notice in double.report.notices for line in _wrapped(notice, "  "))]
    above = double.report.above_notes
    if not above:
        yield ["", "No difference was found."]
        return
    by_field = Counter(double.found[one.identity].field for one in double.differences)
    if by_field:
        yield ["", "By column:", *(f"  {name:<14} {number:>6,}" for name, number in by_field.most_common())]
    yield ["", f"The first {min(len(above), _SHOWN)}:" if len(above) > _SHOWN else "Differences:"]
    for finding in above[:_SHOWN]:
        yield [*_wrapped(_line(finding), "  ")]
    if len(above) > _SHOWN:
        yield [f"  {len(above) - _SHOWN:,} more stand in differences.csv."]
    missed = estimate(double, decisions)
    yield ["", *_wrapped(missed if isinstance(missed, str) else sentence(missed))]
    if not isinstance(missed, str):
        yield _wrapped("This holds only under the assumptions that stand on the page.")
    yield ["", *_wrapped("Settle each against the field sheet, not against the other typing.")]


def _line(finding: Finding) -> str:
    return f"{address(finding.suspects[0])}: {finding.message}"


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=indent,
        subsequent_indent=f"{indent}  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
