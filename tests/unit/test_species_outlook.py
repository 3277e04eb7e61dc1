"""What rules that see a season with other cells in doubt recall of each other, and what nobody asked for."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest
from simulated_broods import mass_at, wing_at
from typed_season import ask, typed_season

from audit.declarations import load_declarations
from audit.rules import history
from audit.rules.birds import birds_of
from audit.rules.case import Case
from audit.rules.companions import learnt
from audit.rules.layouts import Layouts
from audit.rules.outlook import Outlook, outlook_of
from audit.rules.scatter import Grain
from audit.rules.sizes import sizes_of
from audit.rules.species_outlook import species_outlook

DECLARED = load_declarations()
DAY = dt.date(2026, 6, 10)
#: Wings of a small bird beside those of an owl.
SMALL = 0.2
WORKED_OUT = ("wing_ages", "logs_of", "kin_of")


def broods(species: str) -> list[dict[str, Any]]:
    return [
        {
            "date": DAY + dt.timedelta(days=later),
            "box": f"SL-{brood}",
            "species": species,
            "ring": f"SV{brood:02d}{bird:03d}",
            "age": "1",
            "wing_mm": float(
                round(wing_at(30 - 2 * bird + brood + later) * (1 if species == "barn owl" else SMALL))
            ),
            "net_g": float(round(mass_at(30 - 2 * bird + brood + later))),
        }
        for brood in range(3)
        for bird in range(4)
        for later in (0, 10)
    ]


def told(outlook: Outlook) -> list[list[float]]:
    expected = outlook.expected
    return [getattr(expected, name).tolist() for name in expected.__dataclass_fields__]


@pytest.mark.parametrize(
    ("species", "column", "anew"),
    [
        ("barn_owl", "net_g", []),
        ("barn_owl", "wing_mm", ["wing_ages"]),
        ("great_tit", "net_g", ["logs_of"]),
        ("great_tit", "wing_mm", ["logs_of"]),
    ],
)
def test_only_what_rests_on_a_cell_in_doubt_is_worked_out_anew_and_comes_out_as_without_recalling(
    monkeypatch, species, column, anew
):
    layouts = Layouts()
    season = typed_season(DECLARED, handlings=broods(species.replace("_", " ")))
    fine, doubtful = (
        Case(season, DECLARED, DECLARED.rules["growth"], frozenset(cells), layouts)
        for cells in ([], [("handlings!5", column)])
    )
    species_outlook(fine, species, birds_of(fine, fallback="barn_owl"))
    asked = []
    for name in WORKED_OUT:
        was = getattr(learnt, name)
        monkeypatch.setattr(
            learnt, name, lambda *a, was=was, name=name, **k: (asked.append(name), was(*a, **k))[1]
        )
    birds = birds_of(doubtful, fallback="barn_owl")
    recalled = species_outlook(doubtful, species, birds)
    assert asked == anew
    plain = outlook_of(sizes_of(DECLARED.species[species], birds, Grain.from_case(doubtful)), birds)
    np.testing.assert_array_equal(told(recalled), told(plain))
    assert recalled.sizes.company.effects == plain.sizes.company.effects


def test_nothing_is_foretold_of_birds_whose_wings_tell_no_age_to_hold_their_visits_together(monkeypatch):
    def never(*_: object) -> None:
        raise AssertionError

    for name in ("species_outlook", "species_sizes"):
        monkeypatch.setattr(f"audit.rules.lives.{name}", never)
    season = typed_season(DECLARED, handlings=broods("great tit"))
    assert not list(ask(history.RULE, season))
    with pytest.raises(AssertionError):
        list(ask(history.RULE, typed_season(DECLARED, handlings=broods("barn owl"))))
