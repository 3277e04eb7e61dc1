"""Rates of slips and last digits in the season report, held against scipy and pandas."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from decided_demo import AT, decide_season
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from audit.checking import read_season
from audit.handover.season_report.content import Items, Rows, Words
from audit.handover.season_report.typed_cells import typed_cells
from audit.handover.season_report.typing_section import per_thousand, percent, typing_section
from audit.models.interval import exact
from audit.review.decisions import Decision
from audit.review.places import decided_cell


@given(
    st.integers(0, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
    st.sampled_from((0.8, 0.95)),
)
@settings(max_examples=40)
def test_the_exact_interval_is_that_of_scipy(counts, confidence):
    hits, trials = counts
    share = exact(hits, trials, confidence)
    if not trials:
        assert (share.low, share.high) == (0.0, 1.0)
        return
    # scipy.stats.binomtest: Clopper-Pearson
    wanted = stats.binomtest(hits, trials).proportion_ci(confidence, method="exact")
    assert share.low == pytest.approx(wanted.low, abs=1e-9)
    assert share.high == pytest.approx(wanted.high, abs=1e-9)


def test_the_exact_interval_in_a_published_case():
    # Newcombe 1998, Statistics in Medicine 17, 857-872, table I, 81 of 263 and 0 of 20 (from memory)
    share = exact(81, 263, 0.95)
    assert (round(share.low, 4), round(share.high, 4)) == (0.2527, 0.3676)
    assert round(exact(0, 20, 0.95).high, 4) == 0.1684
    with pytest.raises(ValueError, match="no share"):
        exact(3, 2, 0.95)


def test_shares_are_worded():
    assert per_thousand(exact(0, 0, 0.95)) == percent(exact(0, 0, 0.95)) == "–"
    assert per_thousand(exact(0, 100, 0.95)).startswith("0 (0 to ")
    assert percent(exact(1, 5, 0.95)) == "20 % (1 to 72)"


def season_of(rows, declared):
    return read_season({"handlings": pd.DataFrame(rows).fillna("").astype("str")}, schemas=declared)


def birds(**more):
    return [
        {"date": "2026-06-10", "box": f"SL-{i:02}", "ring": f"SV01{i:03}", "wing_mm": str(100 + i), **more}
        for i in range(1, 41)
    ]


def log_of(season, *cells):
    """One decision for each sequence of (row, column, text)."""
    return [
        Decision(
            f"d{i}",
            AT,
            "ZZ",
            "amend",
            tuple(decided_cell(season, f"handlings!{r}", f, t) for r, f, t in some),
        )
        for i, some in enumerate(cells)
    ]


def test_cells_and_slips_are_counted_by_scribe(declared):
    rows = birds()
    for i, row in enumerate(rows):
        row["scribe"] = ("MK", "AB", "", "IP")[i % 4]
        row["ringer"] = "AB"
        row["net_g"] = "300" if i % 2 else ""
    season = season_of(rows, declared)
    # rows 2 and 6 are MK's, row 3 AB's: one slip in two cells, an empty cell filled, a scribe put right
    log = log_of(
        season,
        [(2, "wing_mm", "99"), (6, "wing_mm", "98")],
        [(2, "net_g", "290")],
        [(3, "wing_mm", "97")],
        [(5, "scribe", "AB")],
    )
    column, counts = typed_cells(decide_season(season, declared, log))
    assert column == "scribe"
    frame = pd.DataFrame(rows)
    written = (frame != "").sum(axis=1)
    who = frame["scribe"].copy()
    who[3] = "AB"
    expected = written.groupby(who).sum()
    expected["MK"] += 1
    assert [one.who for one in counts] == ["AB", "IP", "MK", ""]
    assert {one.who: one.found.trials for one in counts} == expected.to_dict()
    assert {one.who: (one.found.hits, one.slips) for one in counts} == {
        "AB": (2, 2),
        "IP": (0, 0),
        "MK": (3, 2),
        "": (0, 0),
    }


@pytest.mark.parametrize(
    ("more", "column", "words"), [({"ringer": "AB"}, "ringer", "No scribe"), ({}, "", "Neither")]
)
def test_without_a_scribe_the_ringer_stands_in(more, column, words, declared):
    decided = decide_season(season_of(birds(**more), declared), declared)
    assert typed_cells(decided)[0] == column
    assert words in " ".join(one.text for one in typing_section(decided) if isinstance(one, Words))


def digits_of(decided):
    (rows,) = [
        one for one in typing_section(decided) if isinstance(one, Rows) and one.caption.startswith("Last")
    ]
    return pd.DataFrame(list(rows.lines), columns=list(rows.heads)).set_index("read by")


def test_last_digits_are_those_of_pandas_and_scipy(declared):
    rng = np.random.default_rng(3)
    wings = rng.integers(60, 230, 400)
    # one hand rounds every third wing to fives
    wings[200::3] = wings[200::3] // 5 * 5
    rows = [
        {"date": "2026-06-10", "box": f"SL-{i:03}", "ring": f"SV{i:05}", "age": "1", "wing_mm": str(wing)}
        for i, wing in enumerate(wings)
    ]
    for i, row in enumerate(rows):
        row["ringer"] = "ZZ" if i < 200 else "AB"
    decided = decide_season(season_of(rows, declared), declared)
    told = digits_of(decided)
    assert told.index.tolist() == ["AB", "ZZ"]
    for name, mine in (("ZZ", wings[:200]), ("AB", wings[200:])):
        counts = pd.Series(mine % 10).value_counts().reindex(range(10), fill_value=0)
        line = told.loc[name]
        assert [int(line[str(digit)]) for digit in range(10)] == counts.tolist()
        fives = counts[[0, 5]].sum()
        ends = stats.binomtest(int(fives), 200).proportion_ci(0.95, method="exact")
        assert line["0 or 5 (95 %)"] == f"{fives / 2:.0f} % ({ends.low * 100:.0f} to {ends.high * 100:.0f})"
        # every bird alone in its visit, so nothing is allowed for
        chance = stats.chisquare(counts).pvalue
        assert line["chance"] == ("< 0.001" if chance < 0.001 else f"{chance:.3f}")
    text = " ".join(one.text for one in typing_section(decided) if isinstance(one, Words))
    assert "wing by AB." in text
    assert "by ZZ" not in text


def test_few_values_are_not_judged(declared):
    some = birds(ringer="AB", age="1")[:12]
    rows = [{**row, "wing_mm": str(100 + 7 * i)} for i, row in enumerate(some)]
    told = digits_of(decide_season(season_of(rows, declared), declared))
    assert told.loc["AB", "chance"] == "too few"


def test_it_is_written_kindly_with_sources(declared):
    decided = decide_season(season_of(birds(scribe="AB"), declared), declared)
    blocks = list(typing_section(decided))
    text = " ".join(one.text for one in blocks if isinstance(one, Words))
    assert text.startswith("Everybody slips.")
    assert "not who made it" in text
    listed = " ".join(" ".join(one.texts) for one in blocks if isinstance(one, Items))
    # Garza et al. 2025: 29 and 14 of 10,000 fields; Barchard et al. 2020: 0.55 to 3.6 %
    for told in (
        "2.9 of 1,000",
        "1.4 of 1,000",
        "5.5 to 36 of 1,000",
        "Garza et al. 2025",
        "Barchard et al. 2020",
    ):
        assert told in listed
    for word in ("best", "worst of", "rank", "blame", "fault"):
        assert word not in f"{text} {listed}".lower().replace("next best", "")
