"""A hand-made workbook of a round, with all that must stay as it is, and what was decided about it."""

from __future__ import annotations

import csv
import datetime as dt
import re
import zipfile
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import xlsxwriter

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.findings import Report
from audit.handover.clean.decided_season import DecidedSeason
from audit.review.decisions import Decision
from audit.review.places import decided_cell
from audit.review.replay import replay

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from audit.season import Season

declared = cache(load_declarations)

#: When everything was decided.
AT_TIME = "2026-09-01T10:00:00+02:00"
SHEET = "Round 2026"
HEADS = (
    "Date",
    "Time",
    "Box",
    "Ring",
    "Tag",
    "Gross (g)",
    "Bag (g)",
    "Net (g)",
    "Wing (cm)",
    "Fat",
    "Sheet no",
    "Remarks",
)
FIRST, LAST = 3, 14  # rows of the birds; above stand a title with the mass of a bag, and the header


def write_book(path: Path, *, date_1904: bool = False, shared: bool = True) -> Path:
    """Write the workbook: formulas with their results, merged boxes, lists, a chart, a second sheet."""
    book = xlsxwriter.Workbook(path, {"date_1904": date_1904})
    sheet, sums = book.add_worksheet(SHEET), book.add_worksheet("Sums")
    day, clock = book.add_format({"num_format": "dd.mm.yyyy"}), book.add_format({"num_format": "hh:mm"})
    one, head = book.add_format({"num_format": "0.0"}), book.add_format({"bold": True, "bg_color": "#223344"})
    text = book.add_format({"num_format": "@"})
    sheet.write("A1", "Sallow Levels box round 2026")
    sheet.write("L1", 22)
    for column, name in enumerate(HEADS):
        sheet.write(1, column, name, head)
    for number, row in enumerate(range(FIRST, LAST + 1)):
        at = row - 1
        sheet.write_datetime(at, 0, dt.datetime(2026, 6, 1 + number // 3), day)
        sheet.write_datetime(at, 1, dt.time(9, 5 * number), clock)
        if number % 3 == 0:
            sheet.merge_range(at, 2, at + 2, 2, f"SL-0{number // 3 + 1}")
        sheet.write_string(at, 3, f"SV010{number:02}")
        sheet.write_string(at, 4, f"9990000001230{number:02}", text)
        sheet.write_number(at, 5, 300 + number, one)
        sheet.write_number(at, 6, 22)
        net = f"=F{row}-G{row}" if number % 4 else f"=ROUND(F{row}-$L$1,1)"
        sheet.write_formula(at, 7, net, one, 278 + number)
        sheet.write_number(at, 8, 12.5)
        sheet.write_string(at, 9, f"{number},5")
        sheet.write_number(at, 10, 7 + number)
        sheet.write_string(at, 11, "", text)
    sheet.write_comment("F4", "as read twice")
    sheet.data_validation(f"D{FIRST}:D{LAST}", {"validate": "length", "criteria": ">", "value": 3})
    sheet.conditional_format(
        f"F{FIRST}:F{LAST}", {"type": "cell", "criteria": ">", "value": 400, "format": head}
    )
    sheet.autofilter(f"A2:L{LAST}")
    sheet.freeze_panes(2, 0)
    sheet.set_column("D:E", 18)
    area = f"'{SHEET}'!H{FIRST}:H{LAST}"
    for row, (name, formula, result) in enumerate(
        (
            ("mean net", f"=AVERAGE({area})", 283.5),
            ("middle net", f"=MEDIAN({area})", 283.5),
            ("twice the mean", "=B1*2", 567),
            ("rings", f"=COUNTA('{SHEET}'!D{FIRST}:D{LAST})", 12),
            ("nothing to do with it", "=7*6", 42),
        )
    ):
        sums.write(row, 0, name)
        sums.write_formula(row, 1, formula, None, result)
    chart = book.add_chart({"type": "column"})
    chart.add_series({"values": f"={area}"})
    sums.insert_chart("D2", chart)
    book.close()
    if shared:
        _share(path)
    return path


def _share(path: Path) -> None:
    """Let the formulas of rows 4 to 6 share one, and add a chain of calculation, as programs do."""
    with zipfile.ZipFile(path) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    part = "xl/worksheets/sheet1.xml"
    xml = parts[part].decode()
    xml = xml.replace("<f>F4-G4</f>", '<f t="shared" ref="H4:H6" si="0">F4-G4</f>')
    for row in (5, 6):
        xml = xml.replace(f"<f>F{row}-G{row}</f>", '<f t="shared" si="0"/>')
    parts[part] = xml.encode()
    calls = "".join(f'<c r="H{row}" i="1"/>' for row in range(FIRST, LAST + 1))
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    parts["xl/calcChain.xml"] = f'<calcChain xmlns="{space}">{calls}</calcChain>'.encode()
    _add(
        parts,
        "[Content_Types].xml",
        "</Types>",
        '<Override PartName="/xl/calcChain.xml" ContentType="application/'
        'vnd.openxmlformats-officedocument.spreadsheetml.calcChain+xml"/>',
    )
    _add(
        parts,
        "xl/_rels/workbook.xml.rels",
        "</Relationships>",
        '<Relationship Id="rId99" Type="http://schemas.'
        'openxmlformats.org/officeDocument/2006/relationships/calcChain" Target="calcChain.xml"/>',
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in parts.items():
            book.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), content)


def _add(parts: dict[str, bytes], name: str, end: str, entry: str) -> None:
    parts[name] = re.sub(end, entry + end, parts[name].decode()).encode()


def decided(
    source: Any,
    texts: Mapping[tuple[str, str], str | None],
    *,
    verb: str = "amend",
    extra: Iterable[Decision] = (),
    season: Season | None = None,
) -> DecidedSeason:
    """Read a season and decide its cells: (row label, column) -> text, None to keep it."""
    read = season if season is not None else read_season(source, schemas=declared())
    made = [
        Decision(
            identity=f"decision{number}",
            at=AT_TIME,
            who="AB",
            verb="keep" if text is None else verb,
            cells=(decided_cell(read, label, field, text),),
            reason="as in the field notebook",
            rules=("tare.arithmetic",),
            asked="Gross less bag is not net.",
        )
        for number, ((label, field), text) in enumerate(texts.items(), 1)
    ]
    made += extra
    return DecidedSeason(read, replay(read, declared(), made), tuple(made), Report(read.name, ()), declared())


def at(row: int, sheet: str = SHEET) -> str:
    """Row label."""
    return f"{sheet}!{row}"


def true_texts() -> dict[tuple[str, str], str]:
    """Row label and column of each slip planted in the demo season -> what should stand there."""
    with (Path(__file__).parent / "demo" / "planted-slips.csv").open(encoding="utf-8", newline="") as stream:
        lines = list(csv.DictReader(stream))
    return {(f"{line['sheet']}!{line['row']}", line["field"]): line["true"] for line in lines}
