"""Pictures of box antennas: a night, when the antennas could be trusted, and how well they heard."""

from __future__ import annotations

from audit.charts import antenna_calendar, antenna_hearing, night
from audit.charts.antenna_calendar import Spell
from audit.charts.antenna_hearing import HeardShare
from audit.charts.night import Crossing, Silence
from audit.charts.still import still

HOUR = 3_600_000
DAY = 24 * HOUR
#: The evening of 2026-05-08.
EVENING = 20_581
NOON = EVENING * DAY + 12 * HOUR


def values(chart):
    tree = chart.to_dict()
    return [tree["datasets"][layer["data"]["name"]] for layer in tree["layer"]]


def test_a_night_goes_from_noon_to_noon():
    crossings = [
        Crossing("A", NOON - 1, "in", 0.99, inferred=False),
        Crossing("A", NOON + 9 * HOUR, "in", 0.99, inferred=False),
        Crossing("A", NOON + 11 * HOUR, "out", 0.9, inferred=True),
        Crossing("A", NOON + DAY, "in", 0.99, inferred=False),
    ]
    drawn = night.chart("SL-01", EVENING, crossings)
    stays, came, went = values(drawn)
    assert stays == [{"bird": "A", "x": 9, "x2": 11}]
    assert [row["when"] for row in came] == ["21:00:00"]
    assert [(row["when"], row["how"]) for row in went] == [("23:00:00", "inferred")]
    assert "night of 2026-05-08: 1 bird, 2 passages: 1 in, 1 out" in drawn.description
    assert "A out at 23:00:00 (inferred)" in drawn.description


def test_a_silence_is_drawn_and_worded_within_the_night():
    crossings = [Crossing("A", NOON + 9 * HOUR, "in", 0.9, inferred=True)]
    silences = [Silence("inner", "dead", NOON - DAY, NOON + 10 * HOUR), Silence("inner", "dead", 0, 1)]
    drawn = night.chart("SL-01", EVENING, crossings, silences)
    assert values(drawn)[0] == [{"x": 0, "x2": 10, "state": "inner dead"}]
    assert "inner dead" in still(drawn)


def test_a_night_without_birds_is_not_drawn():
    assert night.chart("SL-01", EVENING, [Crossing("A", 0, "in", 0.9, inferred=False)]) is None


def test_states_are_told_by_words_as_well():
    spells = [
        Spell("SL-01", "outer", 0, DAY, "awake", 0.9),
        Spell("SL-01", "inner", 0, DAY, "dead", 0.0),
        Spell("SL-02", "outer", 0, DAY, "unknown", float("nan")),
        Spell("SL-02", "inner", 0, DAY, "asleep", float("nan")),
    ]
    drawn = antenna_calendar.chart(spells)
    assert [row["word"] for row in values(drawn)[-1]] == ["dead", "?"]
    assert "SL-01 inner dead from 1970-01-01 00:00 to 1970-01-02 00:00" in drawn.description
    assert antenna_calendar.chart([]) is None


def test_antennas_that_were_dead_are_drawn_first():
    spells = [Spell(f"SL-{nr:02d}", "outer", 0, DAY, "awake", 0.9) for nr in range(1, 6)]
    spells.append(Spell("SL-09", "outer", 0, DAY, "dead", 0.0))
    drawn = antenna_calendar.chart(spells, most=2)
    assert [row["line"] for rows in values(drawn)[:2] for row in rows] == ["SL-01 outer", "SL-09 outer"]
    assert "4 more antennas not drawn" in drawn.title.subtitle


def test_how_well_antennas_heard_is_drawn_with_its_interval():
    shares = [
        HeardShare("SL-10", "outer", 0.9, 0.8, 0.95, 60),
        HeardShare("SL-02", "inner", 0.4, 0.3, 0.51, 1060),
    ]
    drawn = antenna_hearing.chart(shares, 0.95)
    intervals, outer, inner = values(drawn)
    assert [(row["line"], row["low"], row["high"]) for row in intervals] == [
        ("SL-02 inner", 0.3, 0.51),
        ("SL-10 outer", 0.8, 0.95),
    ]
    assert [row["line"] for row in outer] == ["SL-10 outer"]
    assert [row["of"] for row in inner] == ["0.40 of 1,060"]
    # told by shape as well, and in words
    shapes = [layer["mark"]["shape"] for layer in drawn.to_dict()["layer"][1:]]
    assert len(set(shapes)) == 2
    assert "SL-02 inner 0.40 of 1,060, 0.30 to 0.51" in drawn.description
    assert "95 % intervals" in still(drawn)
    assert antenna_hearing.chart([], 0.95) is None


def test_antennas_that_heard_worst_are_drawn_first():
    shares = [HeardShare(f"SL-{nr:02d}", "outer", nr / 10, 0.0, 1.0, 9) for nr in range(1, 6)]
    drawn = antenna_hearing.chart(shares, 0.95, most=2)
    assert [row["line"] for row in values(drawn)[0]] == ["SL-01 outer", "SL-02 outer"]
    assert any("3 more antennas not drawn" in line for line in drawn.title.subtitle)
