"""The marked copy: everything else stays, and other programs can read it."""

from __future__ import annotations

import hashlib
import zipfile
from dataclasses import replace

import openpyxl
import pytest
import python_calamine
from lxml import etree
from marked_examples import FIELDS, cell_at, rich_workbook, small_report, small_season

from audit.charts.palette import TONES
from audit.findings import Finding, Report, Suspect
from audit.handover.workbook import write_marked
from audit.refusal import SeasonRefusal

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


def report_on(*blamed, severity="error"):
    findings = tuple(
        Finding(
            "tare.arithmetic",
            severity,
            (Suspect(cell, "9", 0.9, 0.8),),
            f"Look at {cell.address}.",
            identity="a",
        )
        for cell in blamed
    )
    return Report("rich", findings, rows_read=(("handlings", 6),))


@pytest.fixture
def rich(tmp_path):
    path = tmp_path / "rich.xlsx"
    rich_workbook(path)
    return path


@pytest.fixture
def marked(rich, tmp_path):
    target = tmp_path / "rich.marked.xlsx"
    cells = [
        cell_at("handlings", "F3"),  # has a comment, a number format, white text on dark
        cell_at("handlings", "H4"),  # a formula in a column with a format
        cell_at("handlings", "H20"),  # beyond the last row
        cell_at("handlings", "C2"),  # empty, between two others
        cell_at("handlings", "B9"),  # covered by a merged range
        cell_at("it's other", "A2"),  # a sheet without comments
    ]
    write_marked(rich, report_on(*cells), target)
    return target


def test_every_other_part_stays_byte_for_byte(rich, marked):
    may_change = {
        "[Content_Types].xml",
        "xl/workbook.xml",
        "xl/_rels/workbook.xml.rels",
        "xl/styles.xml",
        "xl/worksheets/sheet1.xml",
        "xl/worksheets/sheet2.xml",
        "xl/worksheets/_rels/sheet2.xml.rels",
        "xl/comments1.xml",
        "xl/drawings/vmlDrawing1.vml",
    }
    with zipfile.ZipFile(rich) as before, zipfile.ZipFile(marked) as after:
        kept = set(before.namelist()) - may_change
        assert {
            "xl/charts/chart1.xml",
            "xl/sharedStrings.xml",
            "xl/worksheets/sheet3.xml",
            "xl/comments2.xml",
        } <= kept
        for part in kept:
            assert before.read(part) == after.read(part), part
        assert after.testzip() is None


def test_of_a_marked_sheet_only_style_indices_and_made_cells_differ(rich, marked):
    def bare(path):
        with zipfile.ZipFile(path) as book:
            root = etree.fromstring(book.read("xl/worksheets/sheet1.xml"))
        for cell in list(root.iter(f"{MAIN}c")):
            cell.attrib.pop("s", None)
            if len(cell) == 0:
                cell.getparent().remove(cell)
        for row in list(root.iter(f"{MAIN}row")):
            row.attrib.pop("spans", None)
            if len(row) == 0:
                row.getparent().remove(row)
        return etree.tostring(root)

    assert bare(rich) == bare(marked)


def test_stored_results_of_formulas_stay(rich, marked):
    for path in (rich, marked):
        sheet = openpyxl.load_workbook(path, data_only=True)["handlings"]
        assert [sheet.cell(row, 8).value for row in range(2, 8)] == [319, 320, 321, 322, 323, 324]


def test_cells_are_coloured_framed_and_keep_their_number_format(marked):
    sheet = openpyxl.load_workbook(marked)["handlings"]
    tone = TONES["error"]
    for address, shown in (
        ("F3", "0.00"),
        ("H4", "0.0"),
        ("H20", "0.0"),
        ("C2", "General"),
        ("A9", "General"),
    ):
        cell = sheet[address]
        assert cell.fill.fgColor.rgb == f"FF{tone.fill[1:].upper()}", address
        assert cell.border.left.style == tone.border
        assert cell.number_format == shown
    assert sheet["F3"].font.b
    assert sheet["F3"].font.color.rgb != "FFFFFFFF"
    assert sheet["F4"].fill.fgColor.rgb == "FF204060"
    assert sheet["H4"].value == "=F4-G4"


def test_comments_are_added_and_old_ones_kept(marked):
    book = openpyxl.load_workbook(marked)
    sheet = book["handlings"]
    assert sheet["F3"].comment.text.startswith("Look again.")
    assert "nestproof:\nERROR: Look at F3." in sheet["F3"].comment.text
    assert sheet["F3"].comment.author == "AB"
    assert sheet["H4"].comment.author == "nestproof"
    assert sheet["H4"].comment.text == (
        "ERROR: Look at H4.\nChance that this cell is wrong: 90 %.\nSuggested: 9 (chance 80 %)."
        "\n[tare.arithmetic]"
    )
    assert "Look at B9." in sheet["A9"].comment.text
    assert book["it's other"]["A2"].comment.author == "nestproof"
    assert book["untouched"]["A1"].comment.text == "leave me"


def test_the_drawing_has_one_box_for_each_comment(marked):
    with zipfile.ZipFile(marked) as book:
        for number in (1, 3):
            drawing = etree.fromstring(book.read(f"xl/drawings/vmlDrawing{number}.vml"))
            boxes = drawing.findall("{urn:schemas-microsoft-com:vml}shape")
            excel = "{urn:schemas-microsoft-com:office:excel}"
            places = sorted(
                (int(box.findtext(f".//{excel}Row")), int(box.findtext(f".//{excel}Column"))) for box in boxes
            )
            part = "xl/comments1.xml" if number == 1 else "xl/comments3.xml"
            comments = etree.fromstring(book.read(part)).iter(f"{MAIN}comment")
            cells = sorted(
                (cell.row - 1, cell.column - 1)
                for cell in (openpyxl.Workbook().active[str(c.get("ref"))] for c in comments)
            )
            assert places == cells
            assert len({box.get("id") for box in boxes}) == len(boxes)


def test_parts_that_are_named_exist_and_have_a_type(marked):
    relations = "{http://schemas.openxmlformats.org/package/2006/relationships}"
    with zipfile.ZipFile(marked) as book:
        names = set(book.namelist())
        types = etree.fromstring(book.read("[Content_Types].xml"))
        overrides = {str(o.get("PartName")).lstrip("/") for o in types if o.get("PartName")}
        extensions = {str(o.get("Extension")) for o in types if o.get("Extension")}
        assert overrides <= names
        assert all(
            n in overrides or n.rpartition(".")[2] in extensions for n in names if n != "[Content_Types].xml"
        )
        for name in names:
            if not name.endswith(".rels"):
                continue
            ties = etree.fromstring(book.read(name)).findall(f"{relations}Relationship")
            assert len({tie.get("Id") for tie in ties}) == len(ties)
            for tie in ties:
                target = str(tie.get("Target"))
                assert not target.startswith("/") or target[1:] in names


def test_elements_of_a_sheet_stand_in_the_order_of_the_standard(marked):
    # ISO/IEC 29500-1, CT_Worksheet (from memory): the elements that these sheets use.
    order = [
        *("sheetPr", "dimension", "sheetViews", "sheetFormatPr", "cols", "sheetData", "autoFilter"),
        *("mergeCells", "conditionalFormatting", "dataValidations", "hyperlinks", "pageMargins"),
        *("pageSetup", "drawing", "legacyDrawing"),
    ]
    with zipfile.ZipFile(marked) as book:
        for number in (1, 2, 4):
            root = etree.fromstring(book.read(f"xl/worksheets/sheet{number}.xml"))
            places = [order.index(etree.QName(child).localname) for child in root]
            assert places == sorted(places)
            rows = [int(str(row.get("r"))) for row in root.iter(f"{MAIN}row")]
            assert rows == sorted(set(rows))
            for row in root.iter(f"{MAIN}row"):
                columns = [openpyxl.utils.cell.coordinate_from_string(str(c.get("r")))[0] for c in row]
                numbers = [openpyxl.utils.column_index_from_string(letters) for letters in columns]
                assert numbers == sorted(set(numbers))


def test_the_sheet_of_findings_lists_every_suspect_and_leads_to_it(marked):
    book = openpyxl.load_workbook(marked)
    assert book.sheetnames == ["handlings", "it's other", "untouched", "findings"]
    sheet = book["findings"]
    lines = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=2, max_row=7)]
    assert [line[2] for line in lines] == ["F3", "H4", "H20", "C2", "B9", "A2"]
    assert {line[0] for line in lines} == {"ERROR"}
    assert sheet["C2"].hyperlink.location == "'handlings'!F3"
    assert sheet["C7"].hyperlink.location == "'it''s other'!A2"
    assert sheet["J2"].number_format == "0%"


def test_another_reader_sees_the_same_values(rich, marked):
    before = python_calamine.CalamineWorkbook.from_path(str(rich))
    after = python_calamine.CalamineWorkbook.from_path(str(marked))
    assert after.sheet_names == [*before.sheet_names, "findings"]
    for name in before.sheet_names:
        old = before.get_sheet_by_name(name).to_python()
        assert after.get_sheet_by_name(name).to_python()[: len(old)] == old


def test_the_source_is_not_touched_and_the_copy_does_not_vary(rich, tmp_path):
    digest = hashlib.sha256(rich.read_bytes()).hexdigest()
    for name in ("a.xlsx", "b.xlsx"):
        write_marked(rich, report_on(cell_at("handlings", "F3")), tmp_path / name)
    assert hashlib.sha256(rich.read_bytes()).hexdigest() == digest
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()
    with pytest.raises(SeasonRefusal, match="would replace the file as typed"):
        write_marked(rich, report_on(), rich)


def test_macros_stay_as_they_are(rich, tmp_path):
    source, target = tmp_path / "with macros.xlsm", tmp_path / "out.xlsm"
    with zipfile.ZipFile(rich) as old, zipfile.ZipFile(source, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name))
        new.writestr("xl/vbaProject.bin", b"\x00macros")
    write_marked(source, report_on(cell_at("handlings", "F3")), target)
    with zipfile.ZipFile(target) as book:
        assert book.read("xl/vbaProject.bin") == b"\x00macros"


def test_the_gravest_severity_colours_a_cell_and_the_note_tells_all(rich, tmp_path):
    cell = cell_at("handlings", "G3")
    note = Finding("brood.size", "note", (Suspect(cell, p_error=0.1),), "Worth knowing.")
    error = Finding("tare.arithmetic", "error", (Suspect(cell, p_error=0.9),), "Cannot be.")
    write_marked(rich, Report("rich", (note, error)), tmp_path / "out.xlsx")
    marked = openpyxl.load_workbook(tmp_path / "out.xlsx")["handlings"]["G3"]
    assert marked.fill.fgColor.rgb == f"FF{TONES['error'].fill[1:].upper()}"
    assert marked.comment.text.index("ERROR: Cannot be.") < marked.comment.text.index("NOTE: Worth knowing.")


def test_more_comments_than_a_block_of_shapes_holds(rich, tmp_path):
    cells = [cell_at("handlings", f"J{row}") for row in range(2, 1500)]
    write_marked(rich, report_on(*cells), tmp_path / "out.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "out.xlsx")["handlings"]
    assert sum(sheet.cell(row, 10).comment is not None for row in range(2, 1500)) == 1498
    with zipfile.ZipFile(tmp_path / "out.xlsx") as book:
        assert b'data="1,3,4"' in book.read("xl/drawings/vmlDrawing1.vml")


def test_a_row_without_such_a_column_is_only_listed(rich, tmp_path):
    cell = replace(cell_at("handlings", "F3"), address="3", column="", field="tag")
    write_marked(rich, report_on(cell), tmp_path / "out.xlsx")
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    assert book["findings"]["C2"].value == "3"
    assert book["findings"]["C2"].hyperlink.location == "'handlings'!A3"
    assert "nestproof" not in book["handlings"]["F3"].comment.text


def test_rows_and_cells_without_numbers_are_counted(rich, tmp_path):
    source = tmp_path / "bare.xlsx"
    with zipfile.ZipFile(rich) as old, zipfile.ZipFile(source, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "xl/worksheets/sheet2.xml":
                content = content.replace(b' r="1" spans', b" spans").replace(b' r="2" spans', b" spans")
                content = content.replace(b' r="A1"', b"").replace(b' r="A2"', b"")
            new.writestr(name, content)
    write_marked(
        source, report_on(cell_at("it's other", "A2"), cell_at("it's other", "B2")), tmp_path / "out.xlsx"
    )
    sheet = openpyxl.load_workbook(tmp_path / "out.xlsx")["it's other"]
    assert sheet["A2"].value == "SL-01"
    assert [sheet[a].comment is not None for a in ("A1", "A2", "B2")] == [False, True, True]


def test_a_name_that_is_taken_gives_way(tmp_path):
    source = tmp_path / "taken.xlsx"
    book = openpyxl.Workbook()
    book.active.title = "Findings"
    book.save(source)
    write_marked(source, report_on(cell_at("Findings", "B2", "x")), tmp_path / "out.xlsx")
    assert openpyxl.load_workbook(tmp_path / "out.xlsx").sheetnames == ["Findings", "findings 2"]


def test_a_file_that_is_no_workbook_is_refused(tmp_path):
    source = tmp_path / "locked.xlsx"
    source.write_bytes(b"\xd0\xcf\x11\xe0 not a zip")
    with pytest.raises(SeasonRefusal, match="password"):
        write_marked(source, report_on(), tmp_path / "out.xlsx")


def test_text_as_typed_is_written_afresh_without_a_source(tmp_path):
    season = small_season()
    target = tmp_path / "out.xlsx"
    write_marked(None, small_report(season), target, season)
    book = openpyxl.load_workbook(target)
    assert book.sheetnames == ["handlings", "visits", "findings"]
    sheet = book["handlings"]
    assert [cell.value for cell in sheet[1]] == list(FIELDS)
    assert sheet["E3"].value == "999000000123002"
    assert sheet["J4"].value == '=HYPERLINK("x") <b>bold</b> & so on'
    assert sheet["J4"].data_type == "s"
    assert sheet["H3"].value == "395"
    assert "bag was not subtracted" in sheet["H3"].comment.text
    assert sheet["I6"].fill.fgColor.rgb == f"FF{TONES['suspect'].fill[1:].upper()}"
    assert "What could not be checked" in [cell.value for cell in book["findings"]["A"]]


def test_another_kind_of_source_needs_the_season(tmp_path):
    (tmp_path / "season.csv").write_text("date,box,ring\n", encoding="utf-8")
    with pytest.raises(SeasonRefusal, match="needs the season"):
        write_marked(tmp_path / "season.csv", report_on(), tmp_path / "out.xlsx")


def test_a_csv_file_keeps_its_rows_and_columns(tmp_path, declared):
    source = tmp_path / "handlings.csv"
    source.write_text(
        "Sallow Levels;;;\n;;;\ndate;box;ring;tag\n2026-06-04;SL-01;SV01001;0999000000123001\n",
        encoding="utf-8",
    )
    write_marked(source, report_on(cell_at("handlings", "D4")), tmp_path / "out.xlsx", None, declared)
    sheet = openpyxl.load_workbook(tmp_path / "out.xlsx")["handlings"]
    assert sheet["A1"].value == "Sallow Levels"
    assert [cell.value for cell in sheet[3]] == ["date", "box", "ring", "tag"]
    assert (sheet["D4"].value, sheet["D4"].data_type) == ("0999000000123001", "s")
    assert "Look at D4." in sheet["D4"].comment.text


def test_a_folder_gives_one_sheet_for_each_file(tmp_path, declared):
    long_name = "handlings of the whole Sallow Levels box round"
    for name in (f"{long_name} A", f"{long_name} B"):
        (tmp_path / f"{name}.csv").write_text("date,box,ring\n2026-06-04,SL-01,SV01001\n", encoding="utf-8")
    write_marked(tmp_path, report_on(cell_at(f"{long_name} B", "C2")), tmp_path / "out.xlsx", None, declared)
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    assert all(len(name) <= 31 for name in book.sheetnames)
    assert len(book.sheetnames) == 3
    assert [sheet["C2"].comment is not None for sheet in book.worksheets[:2]] == [False, True]
    assert book["findings"]["C2"].hyperlink.location == f"'{book.sheetnames[1]}'!C2"


def test_an_open_document_is_written_afresh(tmp_path, declared):
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    document = OpenDocumentSpreadsheet()
    table = Table(name="handlings")
    for line in (["date", "box", "ring", "net_g"], ["2026-06-04", "SL-01", "SV01001", "395"]):
        row = TableRow()
        for text in line:
            cell = TableCell(valuetype="string")
            cell.addElement(P(text=text))
            row.addElement(cell)
        table.addElement(row)
    document.spreadsheet.addElement(table)
    source = tmp_path / "season.ods"
    document.save(str(source))
    write_marked(source, report_on(cell_at("handlings", "D2")), tmp_path / "out.xlsx", None, declared)
    sheet = openpyxl.load_workbook(tmp_path / "out.xlsx")["handlings"]
    assert sheet["D2"].value == "395"
    assert sheet["D2"].fill.fgColor.rgb == f"FF{TONES['error'].fill[1:].upper()}"
