"""Brood sizes and counts that cannot be read: what siblings, the visit and the birds in the hand say."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd
import pytest
from typed_season import gather

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.explain.unread import mend_unread
from audit.explain.unread_counts import CountBeliefs
from audit.explain.unread_sheet import Tables
from audit.explain.unread_witnesses import Witnesses
from audit.rules import declared as declared_rule
from audit.rules import reading
from audit.rules.plain import plain_text

DECLARED = load_declarations()
DAY = dt.date(2026, 6, 6)


def round_of(sizes: dict[str, list[object]], age: str = "1") -> list[dict[str, Any]]:
    """Young of some boxes, all handled on one day, with the brood size typed for each."""
    rows: list[dict[str, Any]] = []
    for box, typed in sizes.items():
        for size in typed:
            ring = f"SV{1000 + len(rows):05d}"
            rows.append({"date": DAY, "box": box, "ring": ring, "age": age, "brood_size": size})
    return rows


#: Broods of three to six, each with a size that fits; no bird of theirs is in doubt.
OTHERS = {f"SL-{k:02d}": [3 + k % 4] * (3 + k % 4) for k in range(10, 22)}


def season(sizes: dict[str, list[object]], counts: dict[str, object], age: str = "1") -> Any:
    visits = [{"date": DAY, "box": box, "alive": alive} for box, alive in counts.items()]
    tables = {"handlings": round_of({**sizes, **OTHERS}, age)} | ({"visits": visits} if visits else {})
    frames = {name: pd.DataFrame(rows).map(plain_text) for name, rows in tables.items()}
    return read_season(frames, schemas=DECLARED)


def told(sizes: dict[str, list[object]], counts: dict[str, object], age: str = "1") -> tuple[str, str]:
    """What is suggested for the one cell that cannot be read, and the reason in the sentence."""
    read = season(sizes, counts, age)
    gathered = gather(read, DECLARED, [reading.RULE, declared_rule.RULE])
    (finding,) = mend_unread(read, DECLARED, gathered.findings)
    (suspect,) = finding.suspects
    return suspect.suggested, finding.message.partition("; ")[2].partition(" (")[0].rstrip(".")


def test_siblings_tell_the_brood_size() -> None:
    assert told({"SL-01": ["q", 5]}, {}) == ("5", "1 other bird of box SL-01 on 2026-06-06 has brood size 5")
    said = "2 other birds of box SL-01 on 2026-06-06 have brood size 5, and 5 young were counted"
    assert told({"SL-01": ["q", 5, 5]}, {"SL-01": 5} | counted()) == ("5", said)


def counted() -> dict[str, object]:
    """Counts of all other broods, which are their brood sizes."""
    return {box: sizes[0] for box, sizes in OTHERS.items()}


@pytest.mark.parametrize("alive", [3, 6])
def test_the_count_of_the_visit_tells_the_brood_size(alive: int) -> None:
    said = f"{alive} young were counted in box SL-01 on 2026-06-06"
    assert told({"SL-01": ["&"]}, {"SL-01": alive} | counted()) == (str(alive), said)


def test_a_count_typed_twice_tells_nothing() -> None:
    read = season({"SL-01": ["&"]}, {"SL-01": 3} | counted())
    one = beliefs(read).brood_size(0)
    visits = [
        {"date": DAY, "box": box, "alive": n} for box, n in [*counted().items(), ("SL-01", 3), ("SL-01", 4)]
    ]
    frames = {
        name: pd.DataFrame(rows).map(plain_text)
        for name, rows in (("handlings", round_of({"SL-01": ["&"], **OTHERS})), ("visits", visits))
    }
    two = beliefs(read_season(frames, schemas=DECLARED)).brood_size(0)
    assert one is not None
    assert two is not None
    assert chance(one, 3) > 0.8
    assert chance(two, 3) < 0.5


def test_birds_of_a_visit_tell_the_count() -> None:
    counts = {"SL-01": "q"} | counted()
    said = "3 birds of box SL-01 on 2026-06-06 have brood size 5"
    assert told({"SL-01": [5, 5, 5]}, counts) == ("5", said)


def beliefs(read: Any) -> CountBeliefs:
    tables = Tables(read, DECLARED, frozenset())
    sheet = tables.sheet("handlings")
    assert sheet is not None
    return CountBeliefs(Witnesses(tables, sheet))


def chance(belief: Any, k: int) -> float:
    weights = np.exp(belief.log_prior - belief.log_prior.max())
    return float(weights[belief.plain.index(str(k))] / weights.sum())


def test_a_brood_is_no_smaller_than_the_young_in_the_hand() -> None:
    young = beliefs(season({"SL-01": ["&"] * 5}, {})).brood_size(0)
    grown = beliefs(season({"SL-01": ["&"] * 5}, {}, age="6")).brood_size(0)
    assert young is not None
    assert grown is not None
    less = DECLARED.settings["explain.unread.fewer_than_handled"].value
    for k in (3, 4):
        # grown birds are not of the brood
        ratio = chance(young, k) / chance(young, 5) * chance(grown, 5) / chance(grown, k)
        assert ratio == pytest.approx(less)
    assert chance(young, 6) / chance(young, 5) == pytest.approx(chance(grown, 6) / chance(grown, 5))


def test_the_young_in_the_hand_tell_the_brood_size_where_nothing_else_does() -> None:
    found = beliefs(season({"SL-01": ["&", None, None]}, {})).brood_size(0)
    assert found is not None
    assert found.because(3) == "3 young of box SL-01 were handled on 2026-06-06"
    assert found.because(4) == ""


def test_sizes_are_those_of_the_round_and_up_to_twice_the_largest() -> None:
    found = beliefs(season({"SL-01": ["&"]}, {}, age="6")).brood_size(0)
    assert found is not None
    assert found.plain == [str(k) for k in range(13)]
    # half a bird more of each size, as for any share (Jeffreys 1946, as remembered)
    sizes = [size for typed in OTHERS.values() for size in typed]
    expected = (np.bincount(sizes, minlength=13) + 0.5) / (len(sizes) + 6.5)
    assert np.exp(found.log_prior) == pytest.approx(expected)


def test_a_count_beyond_every_brood_makes_no_table_as_long() -> None:
    found = beliefs(season({"SL-01": ["&"], "SL-02": [99]}, {})).brood_size(0)
    assert found is not None
    assert len(found.plain) == 199
    found = beliefs(season({"SL-01": ["&", 4000], "SL-02": [100]}, {})).brood_size(0)
    assert found is not None
    assert len(found.plain) == 13
