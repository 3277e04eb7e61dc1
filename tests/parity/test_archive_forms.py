"""One archive in several forms, of which only what is sieved is judged: the same findings, line by line."""

from __future__ import annotations

import duckdb
import pandas as pd
import pytest
from archive_rows import AGAIN, BIRD

from audit.archiving import audit_archive

_NUMBERS = ["gross_g", "bag_g", "net_g", "wing_mm"]
#: Names of columns and words as a team may write them.
_NAMES = {
    "date": "Datum",
    "box": "Kasten",
    "species": "Art",
    "ring": "Ring",
    "tag": "Transponder",
    "age": "Alter",
    "event": "Ereignis",
    "sex": "Geschlecht",
    "remarks": "Bemerkungen",
    "gross_g": "brutto",
    "bag_g": "Beutel",
    "net_g": "netto",
    "wing_mm": "Flügel",
    "ring_leg": "Bein Ring",
}
_WORDS = {
    "event": {"ringed": "Erstfang", "re-encountered": "Wiederfang"},
    "sex": {"U": "unbekannt", "F": "Weibchen"},
    "ring_leg": {"L": "links", "R": "rechts"},
    "species": {"barn owl": "Schleiereule"},
}


def seasons():
    """Three years of sixteen boxes: a sum, a wing, a tag and an age that are slips, all else as it may be."""
    for year in (2019, 2020, 2021):
        rows = []
        for number in range(64):
            serial = 100 * (year - 2000) + number
            rows.append(
                {
                    "date": f"{year}-06-{1 + number // 8:02d}",
                    "box": f"SL-{number // 4:02d}",
                    "ring": f"SV{serial:05d}",
                    "tag": f"9990000{serial:08d}",
                    "wing_mm": 176.0 + number % 4,
                }
            )
        rows[5] |= {"net_g": 337.0}
        rows[17] |= {"wing_mm": 17.0}
        rows[40] |= {"age": "7"}
        if year > 2019:
            old = {**AGAIN, "date": f"{year}-06-01", "box": "SL-00", "gross_g": 342.0, "net_g": 320.0}
            rows.append({**old, "ring": "SV01901", "tag": "999000000001901"})
            rows.append({**old, "box": "SL-01", "ring": "SV01909", "tag": "999000000001990"})
        yield year, pd.DataFrame([{**BIRD, "ring_leg": "L", **row} for row in rows]).drop(columns=["scheme"])


def write(frame, path, form):
    if form == "parquet":
        texts = [name for name in frame.columns if name not in _NUMBERS]
        given = frame.astype(dict.fromkeys(texts, "str")).assign(date=pd.to_datetime(frame["date"]))
        duckdb.connect().from_df(given).write_parquet(str(path / "birds.parquet"))
    elif form == "plain":
        frame.to_csv(path / "birds.csv", index=False)
    else:
        words = {name: frame[name].replace(meant) for name, meant in _WORDS.items()}
        numbers = {name: frame[name].map(lambda number: f"{number:g}".replace(".", ",")) for name in _NUMBERS}
        day = pd.to_datetime(frame["date"]).dt.strftime("%d.%m.%Y")
        own = frame.assign(**words, **numbers, date=day).rename(columns=_NAMES)
        own.to_csv(path / "birds.csv", index=False, sep=";")


def lines(folder, form):
    for year, frame in seasons():
        path = folder / form / f"season={year}"
        path.mkdir(parents=True)
        write(frame, path, form)
    done = audit_archive(folder / form, folder / f"{form} audited", whole=False)
    found = done.findings()[["season", "row", "rule", "field", "p_error", "ring", "tag"]]
    return done.audited.looked, sorted(map(tuple, found.to_numpy().tolist()))


@pytest.fixture(scope="module")
def by_columns(tmp_path_factory):
    return lines(tmp_path_factory.mktemp("forms"), "parquet")


def test_there_is_something_to_be_found(by_columns):
    looked, found = by_columns
    assert looked < 64
    assert {(season, row) for season, row, *_ in found} >= {(str(year), "7") for year in (2019, 2020, 2021)}
    assert len(found) > 9


@pytest.mark.parametrize("form", ["plain", "own"])
def test_a_text_in_whatever_words_is_judged_as_columns_are(form, by_columns, tmp_path):
    assert lines(tmp_path, form) == by_columns
