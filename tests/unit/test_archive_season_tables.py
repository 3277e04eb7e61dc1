"""Tables beside the handlings of an archive: whose season each row is, and what cannot be read is told of."""

from __future__ import annotations

import duckdb
import pandas as pd

import audit
from audit.archive.season_tables import SeasonTables

BIRD = {
    "date": "2019-06-01",
    "box": "SL-01",
    "species": "barn owl",
    "age": "1",
    "event": "ringed",
    "gross_g": "395",
    "bag_g": "22",
    "net_g": "373",
    "wing_mm": "180",
}


def write(path, *rows):
    path.parent.mkdir(exist_ok=True)
    frame = pd.DataFrame(rows, dtype="str")
    duckdb.connect().from_df(frame).write_parquet(str(path))


def test_rows_belong_to_their_season_and_team_and_strings_to_all_after_they_were_issued():
    rows = pd.DataFrame(
        {
            "row": [2, 3, 4, 5],
            "season": ["2018", "2019", "2020", ""],
            "scheme": "",
            "team": ["A", "", "A", "B"],
        }
    ).assign(file="x")
    tables = SeasonTables({"visits": rows, "ring_stock": rows})

    def of(name, season, team):
        return tables.of_season(season, "", team).get(name, rows.iloc[:0])["row"].tolist()

    assert of("visits", "2019", "A") == [3]
    assert of("visits", "2019", "B") == [3, 5]
    assert of("visits", "2017", "A") == []
    assert of("ring_stock", "2019", "A") == [2, 3]
    assert list(tables.of_season("2017", "", "A")) == []


def test_a_whole_season_is_judged_by_the_tables_beside_it(tmp_path):
    """A ring that is on a bird and was lost, which the table of losses alone tells of; as `check` says it."""
    source = tmp_path / "archive"
    rows = [{**BIRD, "ring": f"SV{number:05}"} for number in (1, 2, 3, 4)]
    losses = [{"ring": "SV00004", "fate": "lost", "date": "2019-05-01"}]
    write(source / "handlings.parquet", *(row | {"team": "A"} for row in rows))
    write(source / "ring_losses.parquet", *losses)
    # a table that is none is told of, and hinders nothing
    write(source / "visits.parquet", {"date": "2019-06-01", "weather": "rain"})
    found = audit.audit_archive(source, tmp_path / "out")
    assert any("visits.parquet was not read" in notice for notice in found.audited.notices)
    told = found.findings().query("severity != 'note'")
    alone = audit.check({"handlings": pd.DataFrame(rows), "ring_losses": pd.DataFrame(losses)})
    assert {(int(line.row), line.field, line.rule) for line in told.itertuples()} == {
        (line["row"], line["field"], line["rule"]) for line in alone.rows() if line["severity"] != "note"
    }
    assert told[["file", "row", "field"]].to_numpy().tolist() == [["ring_losses.parquet", "2", "ring"]]
