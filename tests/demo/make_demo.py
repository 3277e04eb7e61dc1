"""Write the demo season: an invented season, typed in a hurry, with planted slips and a key to them.

Run by hand: ``python tests/demo/make_demo.py``. The tool never reads the key.
"""

from __future__ import annotations

import csv
import datetime as dt
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import xlsxwriter

if TYPE_CHECKING:
    from collections.abc import Callable

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from invented import Row, Style, invented_season

SEED = 20260504
KEY_FOLDER = Path(__file__).resolve().parent
WORKBOOK_FOLDER = KEY_FOLDER.parent.parent / "notebooks" / "demo"
WORKBOOK, KEY = "sallow-levels-2026.xlsx", "planted-slips.csv"

HEADERS = {
    "date": "Date",
    "time": "Time",
    "box": "Box",
    "species": "Species",
    "ring": "Ring no.",
    "ring_leg": "Ring leg",
    "tag": "Tag number",
    "tag_leg": "Tag leg",
    "age": "Age",
    "event": "New/retrap",
    "gross_g": "Bird + bag (g)",
    "bag_g": "Bag (g)",
    "net_g": "Net (g)",
    "wing_mm": "Wing (mm)",
    "brood_size": "Brood size",
    "sex": "Sex",
    "ringer": "Ringer",
    "scribe": "Scribe",
    "remarks": "Remarks",
}
SPECIES = {"barn_owl": "Barn owl", "common_kestrel": "Kestrel", "great_tit": "Great tit"}
EVENTS = {"ringed": "new", "re-encountered": "retrap"}
TITLE_ROWS = 4
WINTER_TIME_DAYS = 3


@dataclass(frozen=True)
class Slip:
    """One planted slip in one cell of the canonical rows."""

    table: str
    index: int
    field: str
    typed: Any
    true: Any
    kind: str


class Planter:
    """Chooses rows that no other slip has touched, and writes the key as it goes."""

    def __init__(self, season: dict[str, list[Row]]) -> None:
        self.season = season
        self.slips: list[Slip] = []
        self.touched: set[int] = set()

    def find(self, wanted: Callable[[int, Row], bool], *, start: int) -> int:
        rows = self.season["handlings"]
        for step in range(len(rows)):
            i = (start + step) % len(rows)
            near = {i - 1, i, i + 1}
            if not near & self.touched and 0 < i < len(rows) - 1 and wanted(i, rows[i]):
                self.touched.add(i)
                return i
        raise LookupError(f"no row left from {start}")

    def put(self, table: str, index: int, field: str, typed: Any, kind: str) -> None:
        row = self.season[table][index]
        self.slips.append(Slip(table, index, field, typed, row[field], kind))
        row[field] = typed


def _swap(text: str, at: int) -> str:
    return text[:at] + text[at + 1] + text[at] + text[at + 2 :]


def live(season: dict[str, list[Row]]) -> None:
    """Let happen what happens in a season and is no slip: it is to be told, and no cell to be blamed.

    The reader stood at winter time until the fourth day; one tag was not read; one bird had lost its tag at
    the second visit and got a new one.
    """
    rows, reads = season["handlings"], season["tag_reads"]
    days = sorted({row["date"] for row in rows})
    for read in reads:
        if read["read_at"].date() < days[WINTER_TIME_DAYS]:
            read["read_at"] -= dt.timedelta(hours=1)
    missed = next(row for row in rows if row["date"] == days[5] and row["tag"])
    reads[:] = [r for r in reads if (r["read_at"].date(), r["tag"]) != (missed["date"], missed["tag"])]
    used = {row["tag"] for row in rows}
    new = next(stock["tag"] for stock in season["tag_stock"] if stock["tag"] not in used)
    bare = next(row for row in reversed(rows) if row["event"] == "re-encountered" and row["tag"])
    for read in reads:
        if (read["read_at"].date(), read["tag"]) == (bare["date"], bare["tag"]):
            read["tag"] = new
    bare["tag"], bare["remarks"] = new, "tag ring lost, new tag fitted"


def plant(season: dict[str, list[Row]]) -> list[Slip]:
    """Put some thirty slips into the season, one kind each."""
    rows = season["handlings"]
    planter = Planter(season)
    find, put = planter.find, planter.put

    def chick(_: int, row: Row) -> bool:
        return row["species"] == "barn_owl" and row["age"] == "1"

    def first_time(i: int, row: Row) -> bool:
        return chick(i, row) and row["event"] == "ringed"

    def inside(i: int, row: Row) -> bool:
        """A first ringing with siblings typed just above and below."""
        return first_time(i, row) and all(
            rows[k]["box"] == row["box"] and rows[k]["date"] == row["date"] and rows[k]["event"] == "ringed"
            for k in (i - 1, i + 1)
        )

    def again(i: int, row: Row) -> bool:
        return chick(i, row) and row["event"] == "re-encountered"

    i = find(first_time, start=5)
    put("handlings", i, "net_g", rows[i]["gross_g"], "bag not subtracted")
    i = find(chick, start=25)
    put("handlings", i, "net_g", rows[i]["gross_g"] - 2 * rows[i]["bag_g"], "bag subtracted twice")
    i = find(chick, start=45)
    put("handlings", i, "net_g", rows[i]["gross_g"] + rows[i]["bag_g"], "bag added")
    i = find(lambda k, r: chick(k, r) and str(int(r["gross_g"]))[1] != str(int(r["gross_g"]))[2], start=60)
    put(
        "handlings",
        i,
        "gross_g",
        float(_swap(str(int(rows[i]["gross_g"])), 1)),
        "neighbouring digits exchanged",
    )
    i = find(chick, start=75)
    put("handlings", i, "bag_g", rows[i]["bag_g"] + 40, "one digit wrong")
    i = find(lambda k, r: chick(k, r) and str(int(r["net_g"]))[0] == "3", start=90)
    put("handlings", i, "net_g", rows[i]["net_g"] - 100, "one digit wrong")
    i = find(lambda k, r: chick(k, r) and r["wing_mm"] > 150, start=105)
    put("handlings", i, "wing_mm", rows[i]["wing_mm"] / 10, "centimetres for millimetres")
    i = find(lambda k, r: chick(k, r) and r["wing_mm"] < 140, start=120)
    put("handlings", i, "wing_mm", rows[i]["wing_mm"] + 200, "one digit wrong")
    i = find(lambda k, r: chick(k, r) and r["wing_mm"] < 120, start=135)
    net, wing = rows[i]["net_g"], rows[i]["wing_mm"]
    put("handlings", i, "net_g", wing, "mass and wing exchanged")
    put("handlings", i, "wing_mm", net, "mass and wing exchanged")

    i = find(lambda k, r: inside(k, r) and r["ring"][-1] not in (r["ring"][-2], "0"), start=12)
    put(
        "handlings",
        i,
        "ring",
        _swap(rows[i]["ring"], len(rows[i]["ring"]) - 2),
        "neighbouring digits exchanged",
    )
    i = find(inside, start=35)
    put("handlings", i, "ring", rows[i]["ring"][:-2] + rows[i]["ring"][-1], "digit lost")
    i = find(lambda k, r: inside(k, r) and "0" in r["ring"], start=55)
    put("handlings", i, "ring", rows[i]["ring"].replace("0", "O", 1), "letter for digit")
    i = find(inside, start=85)
    put("handlings", i, "ring", rows[i - 1]["ring"], "copied from the row above")
    i = find(inside, start=115)
    ring = rows[i]["ring"]
    put("handlings", i, "ring", ring[:-3] + str((int(ring[-3]) + 4) % 10) + ring[-2:], "one digit wrong")
    spent, on_bird = next(
        (k, row["ring"])
        for k, loss in enumerate(season["ring_losses"])
        for row in rows
        if loss["ring"].startswith("SV")
        and row["species"] == "barn_owl"
        and row["event"] == "ringed"
        and sum(a != b for a, b in zip(row["ring"], loss["ring"], strict=False)) == 1
        and row["date"] > loss["date"]
    )
    put("ring_losses", spent, "ring", on_bird, "one digit wrong")

    i = find(first_time, start=150)
    put("handlings", i, "tag", rows[i]["tag"][:9] + rows[i]["tag"][10:], "digit lost")
    i = find(first_time, start=165)
    tag = rows[i]["tag"]
    put("handlings", i, "tag", tag[:11] + str((int(tag[11]) + 3) % 10) + tag[12:], "one digit wrong")
    i = find(first_time, start=180)
    tag = rows[i]["tag"]
    put(
        "handlings",
        i,
        "tag",
        f"{float(tag):.5E}".replace("E+14", "E+14"),
        "shown in powers of ten by a spreadsheet",
    )
    i = find(first_time, start=195)
    put("handlings", i, "tag", "999" + "9" + rows[i]["tag"][4:], "one digit wrong")
    i = find(
        lambda k, r: again(k, r) and again(k + 1, rows[k + 1]) and rows[k + 1]["box"] == r["box"], start=200
    )
    planter.touched.add(i + 1)
    one, two = rows[i]["tag"], rows[i + 1]["tag"]
    put("handlings", i, "tag", two, "tags of two siblings exchanged")
    put("handlings", i + 1, "tag", one, "tags of two siblings exchanged")

    i = find(
        lambda k, r: inside(k, r) and r["date"].day <= 12 and r["date"].day != r["date"].month, start=130
    )
    day = rows[i]["date"]
    put("handlings", i, "date", dt.date(day.year, day.day, day.month), "day and month exchanged")
    i = find(inside, start=220)
    put("handlings", i, "date", rows[i]["date"].replace(year=2025), "wrong year")
    i = find(inside, start=235)
    day = rows[i]["date"]
    put(
        "handlings",
        i,
        "date",
        day.replace(day=day.day - 10 if day.day > 10 else day.day + 10),
        "one digit wrong",
    )
    i = find(lambda k, r: inside(k, r) and r["box"][-2] == "0", start=250)
    put("handlings", i, "box", rows[i]["box"].replace("-0", "-"), "digit lost")
    i = find(inside, start=265)
    other = f"SL-{(int(rows[i]['box'][-2:]) + 29) % 60 + 1:02d}"
    put("handlings", i, "box", other, "another box")
    i = find(inside, start=280)
    put("handlings", i, "brood_size", rows[i]["brood_size"] + 1, "one digit wrong")
    i = find(lambda k, r: inside(k, r) and r["brood_size"] < 10, start=295)
    put("handlings", i, "brood_size", rows[i]["brood_size"] * 11, "digit doubled")
    i = find(inside, start=310)
    put("handlings", i, "species", "common_kestrel", "wrong species")
    i = find(lambda k, r: again(k, r) and r["wing_mm"] > 200, start=325)
    put("handlings", i, "wing_mm", rows[i]["wing_mm"] - 90, "one digit wrong")
    i = find(chick, start=340)
    put("handlings", i, "ring_leg", "L", "legs exchanged")
    i = find(lambda _, r: r["age"] == "4", start=0)
    put("handlings", i, "age", "1", "age code of the row above")
    ringed = {row["box"] for row in rows}
    k = next(
        k
        for k, v in enumerate(season["visits"])
        if v["date"].month >= 10 and v["box"] in ringed and k % 7 == 3
    )
    put("visits", k, "cleaned", False, "tick forgotten")
    return planter.slips


def write_workbook(season: dict[str, list[Row]], path: Path) -> dict[tuple[str, int], int]:
    """Write the messy workbook and return the spreadsheet row of each canonical row."""
    book = xlsxwriter.Workbook(str(path), {"default_date_format": "dd.mm.yyyy"})
    book.set_properties({"title": "Sallow Levels box round 2026", "created": dt.datetime(2026, 11, 1)})
    bold = book.add_format({"bold": True})
    head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True})
    date = book.add_format({"num_format": "dd.mm.yyyy"})
    places: dict[tuple[str, int], int] = {}
    _write_handlings(book, season["handlings"], bold, head, date, places)
    for table, title in (
        ("visits", "Visits"),
        ("boxes", "Boxes"),
        ("ring_stock", "Ring stock"),
        ("ring_losses", "Ring losses"),
        ("tag_stock", "Tag stock"),
        ("tag_reads", "Tag reads"),
    ):
        sheet = book.add_worksheet(title)
        if not season[table]:
            continue
        fields = list(season[table][0])
        for column, field in enumerate(fields):
            sheet.write_string(0, column, field.replace("_", " ").capitalize(), head)
        for i, row in enumerate(season[table]):
            places[table, i] = i + 2
            for column, field in enumerate(fields):
                _write(sheet, i + 1, column, row[field], date)
    book.close()
    return places


def _write_handlings(
    book: Any, rows: list[Row], bold: Any, head: Any, date: Any, places: dict[tuple[str, int], int]
) -> None:
    sheet = book.add_worksheet("Ringing 2026")
    sheet.write_string(0, 0, "Sallow Levels box round", bold)
    sheet.write_string(1, 0, "Ringing and controls, season 2026 - typed from the field sheets by MK")
    for column, header in enumerate(HEADERS.values()):
        sheet.write_string(TITLE_ROWS - 1, column, header, head)
    line = TITLE_ROWS
    above: Row = {}
    for i, row in enumerate(rows):
        if above and (row["box"] != above["box"] and row["date"] != above["date"]) and i % 3:
            line += 1  # a blank row between two pages
            above = {}
        places["handlings", i] = line + 1
        for column, field in enumerate(HEADERS):
            value = row[field]
            if field in ("date", "box") and above and value == above[field] and (i // 40) % 3 == 1:
                value = '"'  # some pages are written with ditto marks
            elif field == "species":
                value = SPECIES[value]
            elif field == "event":
                value = EVENTS[value]
            elif field == "date" and (i // 25) % 4 == 2:
                value = f"{value.day}.{value.month}.{value.year % 100:02d}"
            elif field == "wing_mm" and i % 61 == 7 and value == int(value):
                value = f"{int(value)} mm"
            elif field == "wing_mm" and i % 97 == 11 and value > 100 and value == int(value):
                value = f"{value / 10:g}cm"
            elif field == "wing_mm" and i % 83 == 5:
                value = f"~{value:g}"
            elif field == "net_g" and i % 71 == 9 and row["gross_g"] - row["bag_g"] == value:
                value = f"{row['gross_g']:g}-{row['bag_g']:g}"
            elif field == "gross_g" and i % 59 == 13:
                value = f"{value:g} g"
            elif field == "ring" and i % 43 == 4:
                value = f" {value[:2]} {value[2:]}"
            elif field == "tag" and value and i % 53 == 6:
                value = f"{value[:3]} {value[3:]}"
            _write(sheet, line, column, value, date)
        above = row
        line += 1
    sheet.freeze_panes(TITLE_ROWS, 0)
    sheet.set_column(0, 0, 11)
    sheet.set_column(6, 6, 18)


def _write(sheet: Any, line: int, column: int, value: Any, date: Any) -> None:
    if value is None:
        return
    if isinstance(value, bool):
        sheet.write_string(line, column, "yes" if value else "no")
    elif isinstance(value, dt.datetime):
        sheet.write_string(line, column, value.strftime("%Y-%m-%d %H:%M:%S"))
    elif isinstance(value, dt.date):
        sheet.write_datetime(line, column, dt.datetime(value.year, value.month, value.day), date)
    elif isinstance(value, (int, float)):
        sheet.write_number(line, column, value)
    else:
        sheet.write_string(line, column, str(value))


def main(workbook_folder: Path = WORKBOOK_FOLDER, key_folder: Path = KEY_FOLDER) -> None:
    """Write workbook and key."""
    season = invented_season(SEED, Style())
    live(season)
    slips = plant(season)
    workbook_folder.mkdir(parents=True, exist_ok=True)
    places = write_workbook(season, workbook_folder / WORKBOOK)
    names = {"handlings": "Ringing 2026"}
    with (key_folder / KEY).open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["sheet", "row", "field", "typed", "true", "kind"])
        for slip in sorted(slips, key=lambda s: (s.table, s.index, s.field)):
            sheet = names.get(slip.table, slip.table.replace("_", " ").capitalize())
            writer.writerow(
                [
                    sheet,
                    places[slip.table, slip.index],
                    slip.field,
                    _text(slip.typed),
                    _text(slip.true),
                    slip.kind,
                ]
            )


def _text(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)


if __name__ == "__main__":
    main()
