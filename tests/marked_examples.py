"""Small seasons, findings and workbooks for tests of what goes out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from typed_season import typed_season

from audit.findings import (
    Cell,
    Finding,
    NotRun,
    Report,
    RowMarks,
    Suspect,
)
from audit.named_findings import identify, join_groups, sort_findings

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from audit.findings import Severity
    from audit.season import Season

FIELDS = ("date", "box", "species", "ring", "tag", "gross_g", "bag_g", "net_g", "wing_mm", "remarks")


def small_season() -> Season:
    """Two broods of an invented round; slips: net not lessened by the bag, a ring digit, a wing in cm."""

    def bird(day, box, number, measures, remarks=None):
        gross, bag, net, wing = measures
        return {
            "date": f"2026-06-{day:02d}",
            "box": box,
            "species": "barn owl",
            "ring": f"SV010{number:02d}",
            "tag": f"9990000001230{number:02d}",
            "gross_g": gross,
            "bag_g": bag,
            "net_g": net,
            "wing_mm": wing,
            "remarks": remarks,
        }

    return typed_season(
        handlings=[
            bird(4, "SL-01", 1, (341, 22, 319, 142)),
            bird(4, "SL-01", 2, (395, 22, 395, 155)),
            bird(4, "SL-01", 3, (352, 22, 330, 149), '=HYPERLINK("x") <b>bold</b> & so on'),
            bird(9, "SL-02", 4, (301, 25, 276, 121)),
            bird(9, "SL-02", 5, (320, 25, 295, 12.9)),
            bird(9, "SL-02", 60, (311, 25, 286, 126)),
        ],
        visits=[
            {"date": "2026-06-04", "box": "SL-01", "alive": 3},
            {"date": "2026-06-09", "box": "SL-02", "alive": 4},
        ],
    )


def found(
    season: Season,
    rule: str,
    severity: Severity,
    at: list[tuple[str, str, str]],
    message: str,
    *,
    p_error: float = 0.9,
    p_fix: float | None = 0.8,
    witnesses: list[tuple[str, str]] | None = None,
    others: Sequence[tuple[str, float]] = (),
) -> Finding:
    return Finding(
        rule,
        severity,
        tuple(
            Suspect(
                season.cell(label, field), suggested, p_error, p_fix if suggested else None, tuple(others)
            )
            for label, field, suggested in at
        ),
        message,
        tuple(season.cell(label, field) for label, field in witnesses or []),
    )


def small_report(season: Season) -> Report:
    findings = [
        found(
            season,
            "tare.not_subtracted",
            "error",
            [("handlings!3", "net_g", "373")],
            "Gross 395 g less bag 22 g is 373 g, but net says 395 g: the bag was not subtracted.",
            p_error=0.95,
            p_fix=0.99,
            witnesses=[("handlings!3", "gross_g"), ("handlings!3", "bag_g")],
        ),
        found(
            season,
            "ring_series.jump",
            "suspect",
            [("handlings!7", "ring", "SV01006")],
            "SV01060 stands between SV01005 and the end of the string: SV01006 would be next.",
            p_error=0.7,
            p_fix=0.6,
            others=[("SV01061", 0.06)],
            witnesses=[("handlings!6", "ring")],
        ),
        found(
            season,
            "growth.wing",
            "suspect",
            [("handlings!6", "wing_mm", "129"), ("handlings!6", "net_g", "")],
            "A wing of 12.9 mm does not go with 295 g; 129 mm does.",
        ),
        found(
            season,
            "brood.size",
            "note",
            [("visits!3", "alive", "")],
            "4 young were counted, 3 were handled.",
            p_error=0.2,
        ),
    ]
    return Report(
        season="test",
        findings=join_groups(identify(sort_findings(findings))),
        not_run=(NotRun("tag_reads", "no table 'tag_reads'"),),
        notices=("handlings: column K <unnamed> was not read.",),
        rows_read=(("handlings", 6), ("visits", 2)),
        rules_run=("tare", "ring_series", "growth", "brood"),
        sources=("schemas",),
    )


def cell_at(sheet: str, address: str, observed: str = "", field: str = "net_g") -> Cell:
    row = int("".join(sign for sign in address if sign.isdigit()))
    return Cell(
        sheet, row, field, address, field, observed, f"{sheet}!{row}", RowMarks("SL-01", "2026-06-04")
    )


def rich_workbook(path: Path) -> None:
    """A workbook that holds what a careless copy loses."""
    import xlsxwriter

    book = xlsxwriter.Workbook(path)
    number = book.add_format(
        {"num_format": "0.00", "bold": True, "font_color": "white", "bg_color": "#204060"}
    )
    column = book.add_format({"num_format": "0.0"})
    sheet = book.add_worksheet("handlings")
    sheet.set_column("H:H", 12, column)
    for place, header in enumerate(FIELDS):
        sheet.write(0, place, header)
    for row in range(1, 7):
        sheet.write(row, 0, f"2026-06-0{row}")
        sheet.write(row, 1, "SL-01")
        sheet.write(row, 3, f"SV0100{row}")
        sheet.write(row, 4, f"99900000012300{row}")
        sheet.write_number(row, 5, 340 + row, number)
        sheet.write_number(row, 6, 22)
        sheet.write_formula(row, 7, f"=F{row + 1}-G{row + 1}", None, 318 + row)
    sheet.write_rich_string(2, 9, "a ", book.add_format({"bold": True}), "bold", " word")
    sheet.write_comment("F3", "Look again.", {"author": "AB"})
    sheet.conditional_format("F2:F7", {"type": "3_color_scale"})
    sheet.data_validation("B2:B7", {"validate": "list", "source": ["SL-01", "SL-02"]})
    sheet.merge_range("A9:C9", "checked by MK")
    sheet.freeze_panes(1, 0)
    sheet.autofilter("A1:J7")
    chart = book.add_chart({"type": "line"})
    chart.add_series({"values": "=handlings!$F$2:$F$7"})
    sheet.insert_chart("L2", chart)
    other = book.add_worksheet("it's other")
    other.write(0, 0, "box")
    other.write(1, 0, "SL-01")
    other.insert_textbox("C3", "a box of text")
    third = book.add_worksheet("untouched")
    third.write_formula(0, 0, "=1+1", None, 2)
    third.write_comment("A1", "leave me")
    book.define_name("weights", "=handlings!$F$2:$F$7")
    book.close()
