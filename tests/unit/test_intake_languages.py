"""Whole sheets in other languages, as a German and a French team would type them (invented)."""

from __future__ import annotations

import datetime as dt

import pandas as pd
from sheets import text_file, workbook

from audit.intake import read

DAY = dt.datetime.fromisoformat("2026-05-04")

GERMAN = [
    ("Beringungsliste Sallow Levels 2026",),
    (),
    (
        "Lfd. Nr.",
        "Datum",
        "Uhrzeit",
        "Nistkasten-Nr.",
        "Vogelart",
        "Ringnummer",
        "Bein Ring",
        "Transponder-Nr.",
        "Bein Transponder",
        "Alter",
        "Beutel + Vogel (g)",
        "Beutel leer (g)",
        "Gewicht netto (g)",
        "Flügellänge (mm)",
        "Alter (Tage)",
        "Anzahl Junge",
        "Geschlecht",
        "Beringer",
        "Schreiber",
        "Bemerkungen",
    ),
    (
        1,
        DAY,
        "09:30",
        "SL-01",
        "Schleiereule",
        "SV01001",
        "links",
        "999000000012345",
        "rechts",
        1,
        395,
        22,
        373,
        201,
        42,
        4,
        "unbekannt",
        "AB",
        "IP",
        "alles gut",
    ),
    (
        2,
        DAY,
        "09:34",
        "SL-01",
        "Schleiereule",
        "SV01002",
        "links",
        "999000000012346",
        "rechts",
        1,
        381,
        22,
        359,
        199,
        41,
        4,
        "unbekannt",
        "AB",
        "IP",
        "",
    ),
]

FRENCH = [
    (
        "Date",
        "Heure",
        "N° nichoir",
        "Espèce",
        "N° de bague",
        "Patte bague",
        "Puce électronique",
        "Âge (jours)",
        "Poids brut",
        "Sac",
        "Poids net",
        "Longueur de l'aile",
        "Sexe",
        "Bagueur",
        "Noté par",
        "Remarques",
    ),
    (
        "04/05/2026",
        "09:30",
        "SL-01",
        "Effraie des clochers",
        "SV01001",
        "G",
        "999000000012345",
        "42",
        "395,5",
        "22",
        "373,5",
        "201",
        "inconnu",
        "AB",
        "IP",
        "très calme",
    ),
    (
        "14/05/2026",
        "10:05",
        "SL-02",
        "Effraie des clochers",
        "SV01002",
        "D",
        "999000000012346",
        "41",
        "381",
        "22",
        "359",
        "199",
        "inconnu",
        "AB",
        "IP",
        "",
    ),
]


def test_a_german_workbook_is_read_whole(declared, tmp_path):
    kontrollen = [
        (
            "Datum",
            "Nistkasten",
            "Eier",
            "lebende Junge",
            "tote Junge",
            "Kasten gereinigt",
            "Kontrolliert von",
        ),
        (DAY, "SL-01", 0, 4, 1, "ja", "AB"),
    ]
    kaesten = [("Nistkasten", "Breitengrad", "Längengrad", "Kamera"), ("SL-01", 51.5, -1.25, "nein")]
    ringe = [("Serie", "von", "bis", "ausgegeben an"), ("SV", "01001", "01100", "AB")]
    path = workbook(
        tmp_path / "Beringung 2026.xlsx",
        {"Beringung": GERMAN, "Kontrollen": kontrollen, "Kästen": kaesten, "Ringausgabe": ringe},
    )
    season = read(path, declared)
    assert set(season.tables) == {"handlings", "visits", "boxes", "ring_stock"}
    birds = season.frame("handlings")
    assert list(birds) == [
        "date",
        "time",
        "box",
        "species",
        "ring",
        "ring_leg",
        "tag",
        "tag_leg",
        "age",
        "gross_g",
        "bag_g",
        "net_g",
        "wing_mm",
        "age_days",
        "brood_size",
        "sex",
        "ringer",
        "scribe",
        "remarks",
    ]
    first = birds.loc["Beringung!4"]
    assert (first["ring"], first["tag"], first["ring_leg"], first["tag_leg"]) == (
        "SV01001",
        "999000000012345",
        "L",
        "R",
    )
    assert (first["gross_g"], first["bag_g"], first["net_g"], first["wing_mm"]) == (395, 22, 373, 201)
    assert (first["age"], first["age_days"], first["brood_size"], first["sex"]) == ("1", 42, 4, "U")
    assert season.cell("Beringung!5", "wing_mm").address == "N5"
    assert season.cell("Beringung!5", "wing_mm").column == "Flügellänge (mm)"
    visit = season.frame("visits").loc["Kontrollen!2"]
    assert (visit["alive"], visit["dead"], visit["cleaned"], visit["ringer"]) == (4, 1, True, "AB")
    assert season.frame("boxes").loc["Kästen!2", "latitude"] == 51.5
    assert season.frame("ring_stock").loc["Ringausgabe!2", "first"] == "01001"
    assert season.notices == (
        "Sheet 'Beringung': 'Lfd. Nr.' (A) is not known and not checked; kept as typed.",
    )


def test_a_french_text_file_is_read_whole(declared, tmp_path):
    path = text_file(tmp_path / "baguage.csv", FRENCH, delimiter=";", encoding="cp1252")
    season = read(path, declared)
    birds = season.frame("handlings")
    assert birds.shape == (2, 16)
    last = birds.loc["baguage!3"]
    assert last["date"] == pd.Timestamp("2026-05-14")
    assert (last["box"], last["ring"], last["tag"], last["ring_leg"]) == (
        "SL-02",
        "SV01002",
        "999000000012346",
        "R",
    )
    assert birds["gross_g"].tolist() == [395.5, 381]
    assert season.notices == ("File 'baguage.csv' is not UTF-8; its letters were read as Windows-1252.",)


def test_a_spanish_and_a_dutch_header_are_known(declared, tmp_path):
    spanish = [
        "Fecha",
        "Hora",
        "Caja nido",
        "Especie",
        "Nº anilla",
        "Peso bruto",
        "Bolsa",
        "Peso neto",
        "Longitud alar",
    ]
    dutch = [
        "Datum",
        "Tijd",
        "Nestkast",
        "Soort",
        "Ringnummer",
        "Brutogewicht",
        "Zakje",
        "Nettogewicht",
        "Vleugellengte",
    ]
    row = ["2026-05-04", "09:30", "SL-01", "barn owl", "SV01001", "395", "22", "373", "201"]
    fields = ["date", "time", "box", "species", "ring", "gross_g", "bag_g", "net_g", "wing_mm"]
    for i, header in enumerate((spanish, dutch)):
        season = read(text_file(tmp_path / f"{i}.csv", [header, row]), declared)
        assert list(season.frame("handlings")) == fields


def one(declared, header, rows):
    frame = pd.DataFrame(rows, columns=["date", "box", "ring", *header])
    return read({"handlings": frame}, declared)


def bird(i, *values):
    return ["2026-05-04", "SL-01", f"SV0100{i}", *values]


def test_a_weight_alone_is_the_bird_alone(declared):
    season = one(declared, ["Gewicht"], [bird(1, 373)])
    assert season.frame("handlings")["net_g"].tolist() == [373]
    assert season.notices == ()


def test_a_weight_beside_a_net_mass_is_with_the_bag(declared):
    season = one(declared, ["Gewicht", "Beutel", "Netto"], [bird(1, 395, 22, 373)])
    assert season.frame("handlings")["gross_g"].tolist() == [395]
    assert season.frame("handlings")["net_g"].tolist() == [373]
    assert season.notices == ("Sheet 'handlings': 'Gewicht' was taken as gross_g, because 'Netto' is net_g.",)


def test_a_weight_beside_a_bag_is_said_to_be_doubtful(declared):
    season = one(declared, ["poids", "sac"], [bird(1, 395, 22)])
    assert list(season.frame("handlings"))[-2:] == ["bag_g", "net_g"]
    assert season.notices == (
        (
            "Sheet 'handlings': 'poids' stands beside 'sac' and does not say gross or net; it was taken as "
            "net_g, the bird alone."
        ),
    )


def test_an_age_in_days_is_told_by_its_numbers(declared):
    days = one(declared, ["Alter"], [bird(1, 38), bird(2, 41)])
    assert days.frame("handlings")["age_days"].tolist() == [38, 41]
    assert days.notices == (
        "Sheet 'handlings': 'Alter' was taken as age_days, because the numbers below it are no age codes.",
    )
    codes = one(declared, ["âge"], [bird(1, 1), bird(2, 4)])
    assert codes.frame("handlings")["age"].tolist() == ["1", "4"]


def test_a_german_day_is_no_tag(declared):
    frame = pd.DataFrame([["04.05.2026", "SL-01", "SV01001"]], columns=["Tag", "Kasten", "Ring"])
    season = read({"handlings": frame}, declared)
    assert season.frame("handlings")["date"].tolist() == [pd.Timestamp("2026-05-04")]
    assert season.notices == ("Sheet 'handlings': 'Tag' was taken as date, because dates stand below it.",)


def test_a_status_is_told_by_its_words(declared):
    ringed = one(declared, ["Status"], [bird(1, "new"), bird(2, "retrap")])
    assert "event" in ringed.frame("handlings")
    breeding = one(declared, ["Status"], [bird(1, "breeding"), bird(2, "breeding")])
    assert "event" not in breeding.frame("handlings")
    assert breeding.notices == (
        "Sheet 'handlings': 'Status' (D) is not known and not checked; kept as typed.",
    )
