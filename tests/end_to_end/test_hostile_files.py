"""Files that would have the program run, fetch, follow, unpack or overwrite something."""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import zipfile

import openpyxl
import pytest
import xlsxwriter
from end_to_end.season_files import repacked, small_season, snapshot, three_birds, write_season
from sheets import BIRDS, HEADER, opendocument, text_file, workbook

from audit.charts import beside
from audit.intake import program_beside

#: What the process beside the audit runs, whatever the season holds.
DRAWS = program_beside._BEGINS + beside._DRAWS
OLE = bytes.fromhex("D0CF11E0A1B11AE1")
ELSEWHERE = "http://nest.example/"
COLUMNS = ("date", "box", "ring", "gross_g", "bag_g", "net_g", "remarks")


def draws(command):
    """Tell whether a process is this interpreter, shut off from its surroundings, with our own text."""
    own = command[0] == sys.executable and {"-I", "-S", "-c"} <= set(command)
    return own and command[command.index("-c") + 1] == DRAWS


@pytest.fixture
def drawn_here():
    """Left as it is: `shut_off` refuses the process that draws."""


@pytest.fixture(autouse=True)
def shut_off(monkeypatch):
    """No other machine and no other program can be reached; every attempt is kept."""
    tried = []

    def refuse(name):
        def attempt(*args, **_options):
            # what draws pictures is always the same process; refused like all others, it is not missed
            if name == "Popen" and draws(args[-1]):
                raise OSError(name)
            tried.append((name, args[-1:]))
            raise OSError(f"not here: {name}")

        return attempt

    with monkeypatch.context() as patch:
        for name in ("connect", "connect_ex", "sendto"):
            patch.setattr(socket.socket, name, refuse(name))
        for name in ("getaddrinfo", "gethostbyname", "create_connection"):
            patch.setattr(socket, name, refuse(name))
        for name in ("system", "popen", "startfile"):
            patch.setattr(os, name, refuse(name), raising=False)
        patch.setattr(subprocess.Popen, "__init__", refuse("Popen"))
        yield tried
    assert tried == []


def with_formulas(path):
    """Five birds whose net is worked out, and remarks that reach out of the sheet."""
    book = xlsxwriter.Workbook(path, {"strings_to_formulas": False, "strings_to_urls": False})
    sheet = book.add_worksheet("handlings")
    sheet.write_row(0, 0, COLUMNS)
    remarks = (
        (f'=HYPERLINK("{ELSEWHERE}bird","see there")', "see there"),
        (f'=WEBSERVICE("{ELSEWHERE}bird")', "fetched once"),
        ("=cmd|' /C calc'!A0", "done"),
        ("='[other.xlsx]Sheet1'!A1", "taken over"),
        ('=IMAGE("http://nest.example/owl.png")', "an owl"),
    )
    for i, (formula, result) in enumerate(remarks):
        line = i + 1
        gross, bag = 400 - i, 20
        sheet.write_row(line, 0, ("2026-05-04", "SL-01", f"SV0100{i}", gross, bag))
        # the third stored result is not what the formula says: the bag was not taken off when it was saved
        sheet.write_formula(line, 5, f"=D{line + 1}-E{line + 1}", None, gross if i == 2 else gross - bag)
        sheet.write_formula(line, 6, formula, None, result)
    sheet.write_row(6, 0, ("2026-05-04", "SL-01", "SV01005", 390, 20, 370))
    sheet.write_string(6, 6, "=cmd|' /C calc'!A0")
    sheet.write_row(7, 0, ("2026-05-04", "SL-01", "SV01006", 391, 20, 371))
    sheet.write_url(7, 6, f"{ELSEWHERE}bird", string="a link")
    book.close()
    return path


def test_formulas_are_not_run_and_links_not_followed(check, tmp_path):
    told = check(with_formulas(tmp_path / "round.xlsx"))
    assert told.code == 1
    # the stored result is what the person saw, so it is what is checked
    (line,) = told.above_notes
    assert (line["rule"], line["cell"], line["observed"], line["suggested"]) == (
        "tare.not_subtracted",
        "F4",
        "'=D4-E4",
        "378",
    )
    assert "they were not opened, the stored results were taken" in " ".join(told.out.split())
    marked = openpyxl.load_workbook(told.folder / "round.marked.xlsx", data_only=True)
    assert [cell.value for cell in marked["handlings"]["G"]][1:4] == ["see there", "fetched once", "done"]
    # the copy runs nothing that the file as typed did not run
    before = formulas_in(tmp_path / "round.xlsx")
    assert formulas_in(told.folder / "round.marked.xlsx") == before
    assert len(before) == 10


def formulas_in(path):
    return {
        (sheet.title, cell.coordinate): cell.value
        for sheet in openpyxl.load_workbook(path)
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    }


def test_a_link_to_another_workbook_is_not_followed(check, tmp_path):
    part = "xl/externalLinks/externalLink1.xml"
    space = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    ties = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006/relationships"
    source = three_birds(tmp_path, "plain.xlsx")
    with zipfile.ZipFile(source) as archive:
        types = archive.read("[Content_Types].xml").decode()
        relations = archive.read("xl/_rels/workbook.xml.rels").decode()
        book = archive.read("xl/workbook.xml").decode()
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.externalLink+xml"
    path = repacked(
        source,
        tmp_path / "linked.xlsx",
        {
            part: (
                f'<externalLink {space}><externalBook xmlns:r="{ties}" r:id="rId1"/></externalLink>'
            ).encode(),
            "xl/externalLinks/_rels/externalLink1.xml.rels": (
                f'<Relationships xmlns="{package}"><Relationship Id="rId1" Type="{ties}/externalLinkPath" '
                f'Target="{ELSEWHERE}other.xlsx" TargetMode="External"/></Relationships>'
            ).encode(),
            "[Content_Types].xml": types.replace(
                "</Types>", f'<Override PartName="/{part}" ContentType="{kind}"/></Types>'
            ).encode(),
            "xl/_rels/workbook.xml.rels": relations.replace(
                "</Relationships>",
                f'<Relationship Id="rId99" Type="{ties}/externalLink" '
                'Target="/xl/externalLinks/externalLink1.xml"/></Relationships>',
            ).encode(),
            "xl/workbook.xml": re.sub(
                "(<calcPr|</workbook>)",
                f'<externalReferences><externalReference xmlns:r="{ties}" r:id="rId99"/>'
                "</externalReferences>\\1",
                book,
                count=1,
            ).encode(),
        },
    )
    told = check(path)
    assert (told.code, told.err) == (0, "")
    with zipfile.ZipFile(told.folder / "linked.marked.xlsx") as archive:
        assert part in archive.namelist()


def test_typed_text_that_looks_like_a_formula_stays_text_in_every_output(check, tmp_path):
    season = small_season()
    season["handlings"][3] |= {"ring": "=cmd|' /C calc'!A0", "remarks": "@SUM(1)"}
    season["handlings"][5]["wing_mm"] = "+HYPERLINK(1)"
    told = check(write_season(season, tmp_path, "folder of text files"))
    assert told.code == 1
    observed = {line["cell"]: line["observed"] for line in told.above_notes}
    assert observed["E5"] == "'=cmd|' /C calc'!A0"
    assert observed["N7"] == "'+HYPERLINK(1)"
    assert {s["observed"] for f in told.findings for s in f["suspects"]} >= {"=cmd|' /C calc'!A0"}
    assert formulas_in(told.folder / "round.marked.xlsx") == {}


def test_what_was_typed_cannot_run_in_the_page(check, tmp_path):
    season = small_season()
    season["handlings"][3]["wing_mm"] = "<script>alert(1)</script>"
    season["handlings"][5]["box"] = '"><img src=x onerror=alert(1)>'
    page = (check(write_season(season, tmp_path)).folder / "round.report.html").read_text(encoding="utf-8")
    assert "alert(1)" in page
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    assert not re.findall(r"""(?:src|href)\s*=\s*["']?\s*(?:https?:|//)""", page)


def test_macros_are_not_run_and_kept_in_the_copy(check, tmp_path):
    code = OLE + bytes(1000)
    (tmp_path / "vba.bin").write_bytes(code)
    book = xlsxwriter.Workbook(tmp_path / "round.xlsm")
    sheet = book.add_worksheet("handlings")
    for i, row in enumerate((HEADER, *BIRDS)):
        sheet.write_row(i, 0, row)
    book.add_vba_project(str(tmp_path / "vba.bin"))
    book.close()
    told = check(tmp_path / "round.xlsm")
    assert (told.code, told.err) == (0, "")
    assert "The workbook holds macros; they were not run." in told.out
    assert "round.marked.xlsm" in told.written
    with zipfile.ZipFile(told.folder / "round.marked.xlsm") as archive:
        assert archive.read("xl/vbaProject.bin") == code


def entities(body):
    """A document that would unpack to ten thousand million letters, and one that would fetch a file."""
    laughs = "".join(f'<!ENTITY {chr(98 + i)} "{f"&{chr(97 + i)};" * 10}">' for i in range(9))
    return f'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">{laughs}]>{body}'


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
@pytest.mark.parametrize("how", ["unpacks", "fetches"])
def test_entities_are_neither_unpacked_nor_fetched(check, tmp_path, kind, how):
    (tmp_path / "secret.txt").write_text("a word that is nobody's business", encoding="utf-8")
    write = workbook if kind == "xlsx" else opendocument
    source = write(tmp_path / f"plain.{kind}", {"handlings": [HEADER, *BIRDS]})
    part = "xl/worksheets/sheet1.xml" if kind == "xlsx" else "content.xml"
    with zipfile.ZipFile(source) as archive:
        body = re.sub(r"^<\?xml[^>]*\?>", "", archive.read(part).decode())
    body = re.sub(r'<c r="E2"[^>]*>.*?</c>', '<c r="E2" t="inlineStr"><is><t>all well</t></is></c>', body)
    assert "all well" in body
    if how == "unpacks":
        text = entities(body.replace("all well", "&j;"))
    else:
        place = (tmp_path / "secret.txt").as_uri()
        text = f'<!DOCTYPE x [<!ENTITY e SYSTEM "{place}">]>{body.replace("all well", "&e;")}'
    told = check(repacked(source, tmp_path / f"round.{kind}", {part: text.encode()}))
    # refused, or read without what the entity stands for
    assert told.code in (0, 2)
    assert "Traceback" not in told.err
    for path in told.folder.glob("*") if told.folder.exists() else ():
        content = path.read_bytes()
        if path.suffix == ".xlsx":
            with zipfile.ZipFile(path) as archive:
                content = b"".join(archive.read(name) for name in archive.namelist())
        assert b"nobody's business" not in content
        assert b"a" * 1000 not in content


def test_a_cell_at_the_end_of_the_sheet_costs_no_memory_for_all_before_it(check, tmp_path):
    book = openpyxl.load_workbook(three_birds(tmp_path, "near.xlsx"))
    book["handlings"].cell(1_048_576, 16_384, "x")
    book.save(tmp_path / "far.xlsx")
    told = check(tmp_path / "far.xlsx")
    assert (told.code, told.err) == (0, "")
    assert told.tree["rows_read"] == {"handlings": 3}


@pytest.mark.parametrize(
    "name",
    ["Runde '26 – Öland & <Co>.xlsx", "100%s {x}.xlsx", "a\nb.xlsx", "--out.xlsx", "r\udce9union.xlsx"],
)
def test_any_name_that_a_file_can_have(check, tmp_path, name):
    try:
        path = three_birds(tmp_path, "plain.xlsx").rename(tmp_path / name)
    except (OSError, UnicodeEncodeError):
        return  # not on this kind of disk
    told = check(path)
    assert (told.code, told.err) == (0, "")
    stem = path.stem.replace("\udce9", "\ufffd")
    assert told.written == sorted(
        ["findings.csv", "findings.json", f"{stem}.marked.xlsx", f"{stem}.report.html"]
    )
    assert told.tree["season"] == stem


def test_names_with_letters_of_an_old_disk_in_a_folder(check, tmp_path):
    folder = tmp_path / "round"
    folder.mkdir()
    text_file(folder / "handlings.csv", [HEADER, *BIRDS], encoding="cp1252")
    try:
        (folder / "r\udce9union.csv").write_bytes("Größe,Maß\n1,2\n".encode("cp1252"))
    except (OSError, UnicodeEncodeError):
        return  # not on this kind of disk
    told = check(folder)
    assert (told.code, told.err) == (0, "")
    assert any("r\ufffdunion" in notice for notice in told.tree["notices"])


def test_a_result_that_is_a_link_to_the_season_is_not_written_through(nestproof, tmp_path):
    path = three_birds(tmp_path)
    out = tmp_path / "out"
    out.mkdir()
    (out / "round.marked.xlsx").symlink_to(path)
    before = snapshot(tmp_path)
    told = nestproof("check", path, "--out", out, out=out)
    assert told.code == 2
    assert told.err.startswith("nestproof: The result 'round.marked.xlsx' would replace the file as typed.\n")
    assert snapshot(tmp_path) == before


def test_a_season_in_the_folder_of_its_results(nestproof, tmp_path):
    """A workbook may lie in the folder of the results; it stays as it is, and so does what it gives."""
    path = with_formulas(tmp_path / "round.xlsx")
    before = snapshot(tmp_path)["round.xlsx"]
    first = nestproof("check", path, "--out", tmp_path, out=tmp_path).lines
    assert nestproof("check", path, "--out", tmp_path, out=tmp_path).lines == first
    assert snapshot(tmp_path)["round.xlsx"] == before


def test_a_file_that_only_may_be_read(check, tmp_path):
    path = three_birds(tmp_path)
    path.chmod(0o444)
    assert check(path).code == 0
    assert path.stat().st_mode & 0o777 == 0o444


def test_the_marked_copy_can_be_mended_and_checked_in_turn(nestproof, tmp_path):
    path = with_formulas(tmp_path / "round.xlsx")
    first = nestproof("check", path, "--out", tmp_path / "one", out=tmp_path / "one")
    marked = tmp_path / "one" / "round.marked.xlsx"
    again = nestproof("check", marked, "--out", tmp_path / "two", out=tmp_path / "two")
    assert again.lines == first.lines
    notice = "Sheet 'findings' is a list that an earlier audit or handover wrote; it was not read."
    assert notice in again.tree["notices"]


def test_results_of_an_earlier_audit_among_the_files_of_a_season_are_no_birds(check, tmp_path):
    season = small_season()
    season["handlings"][3]["net_g"] = 12.0
    folder = write_season(season, tmp_path, "folder of text files")
    first = check(folder).lines
    shutil.copy(tmp_path / "out" / "findings.csv", folder)
    told = check(folder)
    assert told.lines == first
    assert any(
        "'findings' is a list that an earlier audit or handover wrote" in notice
        for notice in told.tree["notices"]
    )


class TestTerminal:
    """Where the words go: to an old terminal, a program that stops listening, a disk that is full."""

    @pytest.fixture(autouse=True)
    def shut_off(self):
        return []

    @pytest.fixture
    def odd(self, tmp_path):
        rows = [HEADER, ("2026-05-04", "SL-01 ♀", "SV01001", "2ö1", "x")]
        return workbook(tmp_path / "Ö♀.xlsx", {"Ringe ♀": rows})

    def run(self, *words, **options):
        return subprocess.run(
            [sys.executable, "-m", "audit", *map(str, words)],
            stderr=subprocess.PIPE,
            check=False,
            timeout=60,
            **options,
        )

    def test_one_that_knows_few_letters(self, odd, tmp_path):
        done = self.run(
            "check",
            odd,
            "--out",
            tmp_path / "out",
            stdout=subprocess.PIPE,
            env=os.environ | {"PYTHONIOENCODING": "ascii"},
        )
        assert (done.returncode, done.stderr) == (1, b"")
        assert b"2\\xf61" in done.stdout

    def test_one_that_stops_listening(self, odd, tmp_path):
        reads, writes = os.pipe()
        os.close(reads)
        done = self.run("check", odd, "--out", tmp_path / "out", stdout=writes)
        os.close(writes)
        assert (done.returncode, done.stderr) == (1, b"")
        assert (tmp_path / "out" / "findings.json").is_file()

    def test_a_full_disk(self):
        if not os.path.exists("/dev/full"):  # noqa: PTH110 - a device
            return
        with open("/dev/full", "wb") as full:  # noqa: PTH123 - a device
            done = self.run("rules", stdout=full)
        assert done.returncode == 2
        assert done.stderr.decode().splitlines()[0] == (
            "nestproof: What was found cannot be printed: No space left on device."
        )


def test_the_watch_on_this_module_sees_an_attempt(shut_off):
    with pytest.raises(OSError, match="not here"):
        socket.create_connection(("nest.example", 80))
    assert shut_off == [("create_connection", (("nest.example", 80),))]
    shut_off.clear()


def test_nothing_is_left_in_the_folder_for_passing_files(check, tmp_path, monkeypatch):
    passing = tmp_path / "passing"
    passing.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(passing))
    check(write_season(small_season(), tmp_path, "open document"))
    assert list(passing.iterdir()) == []
    shutil.rmtree(passing)
