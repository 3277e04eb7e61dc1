"""Logs as they come from the field: each is read rightly, or refused with place and cure.

The reads are invented; the ways in which files go wrong are common practice.
"""

from __future__ import annotations

import csv
import datetime as dt

import pytest

from audit.cli import main

HEAD = "box,antenna,detected_at,tag"
TAGS = ("999000000100001", "999000000100020", "040000012345678")


def _reads():
    """Two boxes, three tags in each, six passages a tag, each heard once by both antennas."""
    reads = []
    for place, box in enumerate(("SL-03", "SL-04")):
        for nr, tag in enumerate(TAGS):
            code = f"{int(tag) + 1000 * place:015d}"
            for passage in range(6):
                at = dt.datetime(2026, 5, 18, 21, 3 + 7 * nr, 11, 250_000) + dt.timedelta(
                    minutes=41 * passage
                )
                first, last = ("outer", "inner") if passage % 2 == 0 else ("inner", "outer")
                reads += [(at, box, first, code), (at + dt.timedelta(seconds=1.2), box, last, code)]
    return sorted(reads)


READS = _reads()


def stamp(at):
    return at.isoformat(" ", "milliseconds")


def text(*, sep=",", head=HEAD, moment=stamp, tag=str, antenna=str, line="{}"):
    lines = [
        line.format(sep.join((box, antenna(which), moment(at), tag(code)))) for at, box, which, code in READS
    ]
    return "\n".join([head.replace(",", sep), *lines, ""])


def passed(path, out):
    assert main(["passages", str(path), "--out", str(out)]) == 0
    with (out / "passages.csv").open(encoding="utf-8", newline="") as stream:
        return [
            (row["box"], row["tag"], row["passage_at"], row["direction"]) for row in csv.DictReader(stream)
        ]


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plain")
    (folder / "log.csv").write_text(text(), encoding="utf-8")
    told = passed(folder / "log.csv", folder / "out")
    assert len(told) == 36
    return told


def refused(capsys, path, out):
    assert main(["passages", str(path), "--out", str(out)]) == 2
    said = capsys.readouterr().err
    assert "Traceback" not in said
    assert "cure:" in said
    assert path.name in said
    return " ".join(said.split())


def _holed():
    lines = text().encode().splitlines(keepends=True)
    return b"".join([*lines[:9], b"\0" * 300, *lines[9:20], b"\0" * 40 + b"\n", *lines[20:]])


FORMS = {
    "a mark before the text": text().encode("utf-8-sig"),
    "two bytes a sign": text().encode("utf-16"),
    "two bytes a sign without a mark": text().encode("utf-16-le"),
    "two bytes a sign, the other way round": text().encode("utf-16-be"),
    "two bytes a sign with a mark, the other way round": ("\ufeff" + text()).encode("utf-16-be"),
    "four bytes a sign": text().encode("utf-32"),
    "signs that Latin-1 leaves free": b"# Ger\xe4t \x96 Sal\x80\n" + text().encode(),
    "one bad byte": text(head=f"{HEAD},note", line="{},").encode()
    + f"SL-03,outer,2026-05-18 21:03:11.250,{TAGS[0]},".encode()
    + b"\xff\n",
    "holes of a power loss": _holed(),
    "a comma before fractions too": text(moment=lambda at: stamp(at).replace(".", ",")).encode(),
    "half a day, small letters": text(moment=lambda at: f"{at:%d/%m/%Y %I:%M:%S} {at:%p}".lower()).encode(),
    "lost noughts": text(tag=lambda code: str(int(code))).encode()
    + f"SL-03,outer,2026-05-18 21:17:11.250,{TAGS[2]}\n".encode()
    + f"SL-04,outer,2026-05-18 21:17:11.250,{int(TAGS[2]) + 1000:015d}\n".encode(),
    "blanks in tags": text(tag=lambda code: f"{code[:3]} {code[3:]}").encode(),
    "an apostrophe before tags": text(tag=lambda code: f"'{code}").encode(),
    "tags as numbers with a point": text(tag=lambda code: f"{code}.0").encode(),
    "words around the antenna": text(antenna=lambda which: f"{which} antenna").encode(),
    "blank cells at the end": text(line="{},,").encode(),
}


@pytest.mark.parametrize("form", FORMS)
def test_a_form_gives_the_same(form, plain, tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(FORMS[form])
    told = passed(path, tmp_path / "out")
    whole = "half a day" in form
    wanted = [(box, tag, at[:19] if whole else at, way) for box, tag, at, way in plain]
    assert [(box, tag, at[:19] if whole else at, way) for box, tag, at, way in told] == wanted
    assert path.read_bytes() == FORMS[form]


def test_a_folder_for_each_box_names_it(plain, tmp_path):
    for box in ("SL-03", "SL-04"):
        for antenna in ("outer", "inner"):
            folder = tmp_path / "log" / box
            folder.mkdir(parents=True, exist_ok=True)
            lines = [f"{stamp(at)},{code}" for at, *place, code in READS if place == [box, antenna]]
            (folder / f"{antenna}.csv").write_text("\n".join(["detected_at,tag", *lines]), encoding="utf-8")
    assert passed(tmp_path / "log", tmp_path / "out") == plain


def test_what_is_no_log_is_left_out_and_told_of(plain, tmp_path, capsys):
    folder = tmp_path / "log"
    folder.mkdir()
    (folder / "log.csv").write_text(text(), encoding="utf-8")
    (folder / "notes.txt").write_text("Battery weak at SL-03.\nMouse nest.\n", encoding="utf-8")
    (folder / "visits.csv").write_text("date,time,box,eggs\n2026-05-18,10:00,SL-03,4\n", encoding="utf-8")
    (folder / "new.csv").write_text(f"{HEAD}\n", encoding="utf-8")
    assert passed(folder, tmp_path / "out") == plain
    said = capsys.readouterr().out
    assert "5 lines are no reads" in said
    assert "line 1: this file is no log: Battery weak at SL-03." in said
    assert "line 1: no reads stand below these names of columns" in said


def test_a_log_of_unknown_columns_is_not_left_out(tmp_path, capsys):
    folder = tmp_path / "log"
    folder.mkdir()
    (folder / "log.csv").write_text(text(), encoding="utf-8")
    (folder / "other.csv").write_text("antenna,detected_at,tag\nouter,2026-05-18 21:00:00,999000000100001\n")
    assert main(["passages", str(folder), "--out", str(tmp_path / "out")]) == 2
    assert "the box cannot be found" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (f"{HEAD}\n", "No reads stand below the names of the columns"),
        (text(tag=lambda code: f"{float(code):.2E}"), "A spreadsheet shortened the tag numbers"),
        (text(moment=lambda at: stamp(at) + "+02:00" * (at.minute % 2)), "say their time zone"),
        (text(moment=lambda at: stamp(at)[:-2].replace(".", ",")), "between the seconds and their fractions"),
    ],
)
def test_what_cannot_be_read_rightly_is_refused(content, says, tmp_path, capsys):
    (tmp_path / "log.csv").write_text(content, encoding="utf-8")
    assert says in refused(capsys, tmp_path / "log.csv", tmp_path / "out")


def test_lines_whose_tag_was_shortened_are_told_of(tmp_path, capsys):
    lines = text().splitlines()
    lines[5] = lines[5].rsplit(",", 1)[0] + ",9.99E+14"
    (tmp_path / "log.csv").write_text("\n".join(lines), encoding="utf-8")
    passed(tmp_path / "log.csv", tmp_path / "out")
    assert "line 6: a spreadsheet shortened its tag number" in capsys.readouterr().out


def test_random_bytes_are_no_text(tmp_path, capsys):
    (tmp_path / "log.csv").write_bytes(bytes(range(256)) * 9)
    assert "no text file" in refused(capsys, tmp_path / "log.csv", tmp_path / "out")
