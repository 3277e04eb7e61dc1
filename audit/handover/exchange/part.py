"""The records as files: two forms to send, tables to check, and a page to read first."""

from __future__ import annotations

import re
from functools import partial
from typing import TYPE_CHECKING

from audit.handover.exchange.encounter import NAMES
from audit.handover.exchange.page import exchange_page
from audit.handover.exchange.records import SENT_FORMS, exchange_records
from audit.handover.file_stem import file_stem
from audit.handover.part import Part
from audit.handover.table_file import write_table
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from audit.handover.clean.decided_season import DecidedSeason
    from audit.handover.exchange.records import ExchangeRecords

__all__ = ["LEFT_OUT_COLUMNS", "VERIFY_COLUMNS", "WARNING_COLUMNS", "exchange_part"]

#: Columns of ``to-verify.csv``, in order. Only ever extended at the end.
VERIFY_COLUMNS = (
    "order",
    "field",
    "code",
    "label",
    "records",
    "grade",
    "source",
    "compare_with",
    "marked_at",
)

#: Columns of ``left-out.csv``, in order. Only ever extended at the end.
LEFT_OUT_COLUMNS = ("sheet", "row", "box", "date", "ring", "why")

#: Columns of ``warnings.csv``, in order. Only ever extended at the end.
WARNING_COLUMNS = ("sheet", "row", "reference", "check", "field", "question", "basis", "grade")

_FILES = {"2000+": "2000plus", "2020": "2020"}


def exchange_part(decided: DecidedSeason) -> Part:
    """Make the files for the ringing scheme, all in the folder ``exchange``.

    ``<season>-2000plus.txt`` and ``<season>-2020.txt`` hold one record to a line, UTF-8, in sheet order; they
    end in ``.draft.txt``, their first field empty, where no scheme code is declared. Beside them are
    ``records.csv``, ``to-verify.csv``, ``warnings.csv``, ``left-out.csv`` and ``check-before-sending.html``.

    Raises
    ------
    audit.refusal.Refusal
        What was written does not say what the season says when it is read back.
    """
    records = exchange_records(decided)
    files: dict[str, Callable[[Path], object]] = {}
    if records.coded:
        ending, lines = ("txt", records.lines) if records.can_be_sent else ("draft.txt", records.draft)
        name = re.sub(r"[^\w.-]+", "-", file_stem(records.season)).strip("-.") or "season"
        for form in SENT_FORMS:
            text = "".join(f"{line}\n" for line in lines(form))
            files[f"exchange/{name}-{_FILES[form]}.{ending}"] = partial(_write_text, text=text)
    tables = {"records": _records, "to-verify": _to_verify, "warnings": _warnings, "left-out": _left_out}
    for title, rows in tables.items():
        files[f"exchange/{title}.csv"] = partial(write_table, rows=list(rows(records)))
    files["exchange/check-before-sending.html"] = partial(_write_text, text=exchange_page(records))
    return Part("Records for the ringing scheme", files, records.told)


def _records(records: ExchangeRecords) -> Iterator[Sequence[object]]:
    yield ("sheet", "row", *(field.title for field in records.declared.exchange.fields))
    for one in records.coded:
        yield (*split_label(one.row.label), *(getattr(one.record, name) for name in NAMES))


def _to_verify(records: ExchangeRecords) -> Iterator[Sequence[object]]:
    yield VERIFY_COLUMNS
    for one in records.to_verify:
        yield (
            *(one.order, one.field, one.code, one.label, one.records, one.grade, one.source),
            *(one.against, one.key),
        )


def _warnings(records: ExchangeRecords) -> Iterator[Sequence[object]]:
    yield WARNING_COLUMNS
    titles = {field.name: field.title for field in records.declared.exchange.fields}
    for one in records.cautions:
        check = records.declared.exchange.checks[one.check]
        place = split_label(one.label)
        title = titles.get(one.field, one.field)
        yield (*place, one.reference, one.check, title, one.said, check.basis, check.grade)


def _left_out(records: ExchangeRecords) -> Iterator[Sequence[object]]:
    yield LEFT_OUT_COLUMNS
    for one in records.left_out:
        yield (*split_label(one.label), one.box, one.date, one.ring, one.why)


def _write_text(path: Path, *, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
