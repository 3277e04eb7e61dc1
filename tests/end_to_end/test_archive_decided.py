"""Files of an archive that are read as `check` reads them: with the decisions beside them, and by visits."""

from __future__ import annotations

import csv

import pandas as pd
from archive_rows import BIRD
from sheets import workbook

import audit
from audit.cli import main
from audit.review.decisions import decide
from audit.review.log import DecisionLog, log_path
from audit.review.places import decided_cell

SLIPS = [{}, {"ring": "SV00002", "net_g": 395.0}, {"ring": "SV00003", "sex": "X"}, {"ring": "SV00004"}]
SUM, SEX = ("net_g", "tare.not_subtracted"), ("sex", "declared.set")


def frame(rows=SLIPS):
    return pd.DataFrame([{**BIRD, **row} for row in rows]).drop(columns=["scheme"])


def told(source, out):
    main(["archive", str(source), "--out", str(out)])
    found = set()
    for path in (out / "findings").glob("season=*/findings.csv"):
        with path.open(encoding="utf-8", newline="") as stream:
            found |= {(line["file"], line["field"], line["rule"]) for line in csv.DictReader(stream)}
    return found


def settle(path, field, row, verb, instead, *, rules=()):
    season = audit.read_season(path)
    label = next(label for label in season.frame("handlings").index if label.endswith(f"!{row}"))
    cell = decided_cell(season, label, field, instead)
    DecisionLog.open(log_path(season)).append(decide("AB", verb, [cell], rules=rules))


def test_what_was_decided_is_not_asked_again(tmp_path):
    """Beside a text file and a workbook; a cell that was kept for another reason is asked about."""
    text, book = tmp_path / "in" / "a" / "2019.csv", tmp_path / "in" / "b" / "2019.xlsx"
    for path in (text, book):
        path.parent.mkdir(parents=True)
    frame().to_csv(text, index=False)
    workbook(book, {"handlings": [list(frame().columns), *frame().to_numpy().tolist()]})
    names = ("a/2019.csv", "b/2019.xlsx, handlings")
    asked = {(name, *one) for name in names for one in (SUM, SEX)}
    assert asked <= told(tmp_path / "in", tmp_path / "out")
    for path, rule in ((text, "declared.set"), (book, "tag_code.shape")):
        settle(path, "net_g", 3, "accept", "373")
        settle(path, "sex", 4, "keep", None, rules=[rule])
    # the folder of results stands from the run before
    assert asked & told(tmp_path / "in", tmp_path / "out") == {(names[1], *SEX)}
    said = (tmp_path / "out" / "summary.txt").read_text(encoding="utf-8")
    assert "What was decided about it stands in the log beside it" in said


def test_days_and_boxes_in_the_first_row_of_each_visit(tmp_path):
    """The same findings as where they stand in every row, and not one more of cells that are missing."""
    rows = [
        {"box": box, "date": f"2019-06-{day:02d}", "ring": f"SV{day:02d}{n:03d}", **slip}
        for day, box in ((1, "SL-01"), (2, "SL-02"), (3, "SL-03"))
        for n, slip in enumerate([{}, {}, {"net_g": 395.0} if day == 2 else {}])
    ]
    (tmp_path / "full").mkdir()
    frame(rows).to_csv(tmp_path / "full" / "2019.csv", index=False)
    by_visits = frame(rows)
    by_visits.loc[by_visits.duplicated(["date", "box"]), ["date", "box"]] = ""
    (tmp_path / "visits").mkdir()
    by_visits.to_csv(tmp_path / "visits" / "2019.csv", index=False)
    full, visits = (told(tmp_path / name, tmp_path / f"out {name}") for name in ("full", "visits"))
    assert ("2019.csv", *SUM) in full
    assert visits == full
    said = (tmp_path / "out visits" / "summary.txt").read_text(encoding="utf-8")
    assert "day and box stand in the first row of each visit" in said
